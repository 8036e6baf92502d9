// One combination of what is not known of a part and its surroundings, and the error a sensor makes then.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <vector>

#include "sim/sensor/sensor.hpp"
#include "sim/sensor/speckle.hpp"

namespace spotwright::study {

struct Draw {
    double displacement = 0.0;          ///< of the part. [m]
    scenario::Pair tilt{0.0, 0.0};      ///< of the part. [rad]
    scenario::Pair position{0.0, 0.0};  ///< by which its markings are shifted under the beam: x, y. [m]
    double temperature = 0.0;           ///< of the sensor. [K]
    double ambient = 1.0;               ///< light of the surroundings over that at which the background was measured
};

/// What else differs between readings of a drawn part.
struct Realisation {
    std::optional<std::int64_t> patch;    ///< of the surface, > 0; none: without speckle
    std::optional<std::int64_t> reading;  ///< whose noise is drawn, background included; none: without noise
};

/// What the scenario says.
[[nodiscard]] Draw nominal_draw(const scenario::Scenario& scenario);

/// Error of one output as a function of a draw: a reading, or as many as average and median ask for, less the truth;
/// none where it is invalid. [m]
class ErrorModel {
public:
    explicit ErrorModel(sensor::Setup setup);

    /// Without noise and speckle.
    [[nodiscard]] std::optional<double> error_at(const Draw& draw) const;

    /// One for each chance; the light of the draw is worked out once.
    [[nodiscard]] std::vector<std::optional<double>> errors_at(const Draw& draw,
                                                               std::span<const Realisation> chances) const;

    [[nodiscard]] const sensor::Setup& setup() const { return setup_; }
    [[nodiscard]] bool speckles() const;

    /// Amplitude of the lamps' flicker over their mean light, as exposure and average leave it; 0 for time of flight,
    /// whose noise of timing has it. [1]
    [[nodiscard]] double flicker_amplitude() const;

private:
    [[nodiscard]] std::vector<std::optional<double>> errors_of(const sensor::TriangulationSetup& setup,
                                                               const Draw& draw,
                                                               std::span<const Realisation> chances) const;
    [[nodiscard]] std::vector<std::optional<double>> errors_of(const sensor::FlightSetup& setup, const Draw& draw,
                                                               std::span<const Realisation> chances) const;
    void apply_speckle(const sensor::TriangulationSetup& setup, double displacement, std::int64_t patch,
                       receiver::SpeckleWorkspace& workspace, sensor::Pose& pose) const;

    sensor::Setup setup_;
    std::optional<sensor::Pose> nominal_pose_;  ///< of the part as the scenario has it, without speckle; triangulation
    std::optional<sensor::Speckle> speckle_;    ///< of that part; triangulation
};

/// Readings that one output rests on, as far as they are simulated: windows longer than this count as this long.
inline constexpr std::int64_t longest_window = 1024;

/// The last output of a window of readings; none where it is invalid. [m]
[[nodiscard]] std::optional<double> output_of(const scenario::Reading& options,
                                              const std::function<sensor::RawReading(std::int64_t index)>& take);

}  // namespace spotwright::study
