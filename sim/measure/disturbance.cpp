#include "sim/measure/disturbance.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/measure/moving_response.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::measure {

namespace {

using base::pi;

double squares_of(const std::vector<receiver::Drift>& waves, std::size_t from, std::size_t to,
                  const detector::Timing& timing, std::int64_t average) {
    double sum = 0.0;
    for (std::size_t i = from; i < to; ++i) {
        const double frequency = waves[i].angular_frequency / (2.0 * pi);
        const double left = waves[i].amplitude * exposure_response(frequency, timing.exposure) *
                            average_response(frequency, average, timing.period);
        sum += 0.5 * left * left;
    }
    return sum;
}

}  // namespace

receiver::HotAir hot_air_of(const scenario::Scenario& s) {
    const scenario::Surroundings& around = s.surroundings;
    const double room = s.mount.reference_distance + s.target.displacement;
    return {around.hot_air_structure, std::clamp(around.hot_air_height, 0.0, std::max(room, 0.0)),
            around.hot_air_scales[0], around.hot_air_scales[1]};
}

receiver::AirPaths air_paths_of(const sensor::TriangulationSetup& setup) {
    const scenario::Scenario& s = setup.scenario;
    const sensor::Instrument& i = setup.instrument;
    const target::Part part = sensor::part_of(s, s.target.displacement);
    const auto hit = target::meet(part, {i.beam.face, i.beam.direction});
    const double way = hit ? hit->distance : s.mount.reference_distance + s.target.displacement;
    receiver::AirPaths paths;
    paths.beam_radius = emitter::radius_at(i.beam, 0, way);
    // A rectangular lens counts as the round one of its area.
    paths.aperture_radius = std::sqrt(receiver::area_of(i.receiver.aperture) / pi);
    paths.lens_distance = i.receiver.object_distance + s.target.displacement / std::cos(i.receiver.angle);
    paths.beam_angle = i.receiver.emitter_angle;
    paths.view_angle = i.receiver.angle;
    return paths;
}

scenario::Scenario undisturbed(scenario::Scenario s) {
    s.surroundings.hot_air_structure = 0.0;
    s.motion.mount_vibration = 0.0;
    return s;
}

Disturbance::Disturbance(const sensor::TriangulationSetup& setup) {
    const scenario::Surroundings& around = setup.scenario.surroundings;
    if (around.hot_air_structure > 0.0) {
        waves_ = receiver::wander_in_time(hot_air_of(setup.scenario), air_paths_of(setup), around.hot_air_speed,
                                          static_cast<std::uint64_t>(setup.scenario.seed));
    }
    of_air_ = waves_.size();
    add_mount(setup.scenario.motion);
}

Disturbance::Disturbance(const sensor::FlightSetup& setup) {
    add_mount(setup.scenario.motion);
}

void Disturbance::add_mount(const scenario::Motion& motion) {
    if (motion.mount_vibration > 0.0) {
        // A sine from time 0 on, as that of a part.
        waves_.push_back({2.0 * pi * motion.mount_vibration_frequency, motion.mount_vibration, -0.5 * pi});
    }
}

double Disturbance::at(double begin, double exposure) const {
    double sum = 0.0;
    for (const receiver::Drift& wave : waves_) {
        const double half = 0.5 * wave.angular_frequency * exposure;
        const double left = half > 1e-9 ? std::sin(half) / half : 1.0;
        sum += wave.amplitude * left * std::cos(wave.angular_frequency * (begin + 0.5 * exposure) + wave.phase);
    }
    return sum;
}

void Disturbance::add_to(sensor::RawReading& reading, double begin, double exposure) const {
    if (waves_.empty() || reading.validity != reading::Validity::valid) return;
    reading.displacement += at(begin, exposure);
}

DisturbedOutputs Disturbance::deviations(const detector::Timing& timing, std::int64_t average) const {
    return {std::sqrt(squares_of(waves_, 0, of_air_, timing, average)),
            std::sqrt(squares_of(waves_, of_air_, waves_.size(), timing, average))};
}

}  // namespace spotwright::measure
