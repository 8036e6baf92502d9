// What the model says of a part when its light or its tilt is changed, for logs to be held against.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <variant>
#include <vector>

#include "sim/bench/log.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::bench {

/// Outputs of the part where it stands, at so much light; it may show one patch of its surface or another.
struct SeriesAtLight {
    double valid_share = 0.0;
    std::optional<double>
        variance;                 ///< of outputs of one patch, mean over patches; none where too few are valid. [m^2]
    double variance_error = 0.0;  ///< standard uncertainty for a patch that is not known. [m^2]
    std::optional<double> share;  ///< mean peak as a share of full well; triangulation. [1]
    double share_error = 0.0;     ///< standard uncertainty for a patch that is not known. [1]
};

/// The scenario's part, whose light can be turned up and down as if it reflected more or less.
class PartAtLight {
public:
    /// @param threads  0: all cores.
    PartAtLight(const sensor::Setup& setup, int threads);

    /// @param factor  Of the light from the part, that of the lamps included; > 0.
    [[nodiscard]] SeriesAtLight at(double factor) const;

private:
    // A setup and the poses of the patches looked at.
    template <class SetupOfIt, class PoseOfIt>
    struct Posed {
        SetupOfIt setup;
        std::vector<PoseOfIt> poses;
    };
    using AnyPosed =
        std::variant<Posed<sensor::TriangulationSetup, sensor::Pose>, Posed<sensor::FlightSetup, sensor::FlightPose>>;

    AnyPosed posed_;
    int threads_;
};

/// The same sensor with an array whose pixels are alike: the specimen on the bench is another one.
[[nodiscard]] sensor::Setup without_specimen(const sensor::Setup& setup, int threads);

/// Errors of the part at some displacements without noise and speckle, tilted in the mounting plane, mean over the
/// phases of the spot within a pixel; none where it cannot be read. [m]
/// @param in_plane_tilt  [rad]
[[nodiscard]] std::vector<std::optional<double>> errors_at_tilt(const sensor::Setup& setup, double in_plane_tilt,
                                                                std::span<const double> displacements, int threads);

/// A log as the scenario's sensor would record it: `run.readings` outputs of full windows over time.
[[nodiscard]] BenchLog simulated_time_log(const sensor::Setup& setup, int threads);

/// Up and down over the range, at each place the mean of 64 readings. @param places  At least three.
[[nodiscard]] BenchLog simulated_linearity_log(const sensor::Setup& setup, int places, int threads);

}  // namespace spotwright::bench
