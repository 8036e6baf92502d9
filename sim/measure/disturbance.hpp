// What moves readings of a sensor while neither part nor sensor changes: hot air in the light, a mount that shakes.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/detector/exposure.hpp"
#include "sim/receiver/hot_air.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::measure {

/// Standard deviations of outputs. [m]
struct DisturbedOutputs {
    double hot_air = 0.0;
    double mount = 0.0;
};

/// What is added to the displacement of each reading, as a function of time alone: waves, each as an exposure leaves
/// it. Equation (air.5).
class Disturbance {
public:
    /// Nothing is added.
    Disturbance() = default;

    /// Of a sensor before the scenario's part; without hot air and vibration of the mount nothing is added.
    explicit Disturbance(const sensor::TriangulationSetup& setup);

    /// Of a sensor that times light: the vibration of its mount. Hot air turns the beam by microradians, which shifts
    /// what is timed by less than a micrometre.
    explicit Disturbance(const sensor::FlightSetup& setup);

    [[nodiscard]] bool any() const { return !waves_.empty(); }

    /// Mean over an exposure. [m]
    [[nodiscard]] double at(double begin, double exposure) const;

    /// Adds it to a valid reading.
    void add_to(sensor::RawReading& reading, double begin, double exposure) const;

    /// Of outputs under a moving average of that many readings; a median is left out. [m]
    [[nodiscard]] DisturbedOutputs deviations(const detector::Timing& timing, std::int64_t average) const;

private:
    void add_mount(const scenario::Motion& motion);
    std::vector<receiver::Drift> waves_;
    std::size_t of_air_ = 0;  // so many of them, the first
};

/// Air over the part and the light through it, as a sensor before its part has them.
[[nodiscard]] receiver::HotAir hot_air_of(const scenario::Scenario& scenario);
[[nodiscard]] receiver::AirPaths air_paths_of(const sensor::TriangulationSetup& setup);

struct ReadResult;

/// Notes in a result what a disturbance makes of its outputs, and takes out of its bias what it happened to be.
void note_disturbance(const scenario::Scenario& scenario, const Disturbance& disturbance,
                      const detector::Timing& timing, ReadResult& result);

/// The scenario in calm air on a mount at rest.
[[nodiscard]] scenario::Scenario undisturbed(scenario::Scenario scenario);

}  // namespace spotwright::measure
