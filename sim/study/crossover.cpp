#include "sim/study/crossover.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/flight/unwrap.hpp"
#include "sim/measure/read.hpp"
#include "sim/reading/smoothing.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::study {

namespace {

using base::Cases;
using base::mm, base::pi, base::speed_of_light;
using scenario::PhaseShift, scenario::Pulsed, scenario::Triangulation;

constexpr double range_share = 0.05;  // of the distance, to either side

// Time that the wanted response leaves to one reading. [s]
double time_for_reading(const scenario::Scenario& s) {
    return s.requirement.response / static_cast<double>(reading::step_response_readings(s.reading));
}

// Focused on the part, from the radius that the scenario's beam has at the emitter's face.
void focus(const scenario::Scenario& from, double distance, scenario::Scenario& s) {
    const emitter::Beam beam = sensor::beam_of(from);
    for (const int axis : {0, 1}) {
        const double at_face = emitter::radius_at(beam, axis, 0.0);
        const double waist = beam.beam_quality * beam.wavelength * distance / (pi * at_face);
        s.emitter.waist_radius[static_cast<std::size_t>(axis)] = std::min(waist, at_face);
    }
    s.emitter.waist_displacement = 0.0;
}

void expose_automatically(scenario::Scenario& s) {
    constexpr double shortest = 1e-12;
    const double longest = time_for_reading(s);
    s.exposure.mode = scenario::ExposureMode::automatic;
    s.exposure.exposure = shortest;
    s.exposure.period = {std::min(s.exposure.period[0], longest), longest};
}

// What both sensors have in common at a distance.
scenario::Scenario pointed_at(const scenario::Scenario& from, double distance) {
    if (from.reading.reference.index) {
        scenario::reject(from, "reading.calibrated_on",
                         "a specular mount sees the mirror's light at one distance alone, and is not pointed farther",
                         "a matt reference");
    }
    scenario::Scenario s = from;
    s.mount.reference_distance = distance;
    s.target.displacement = 0.0;
    focus(from, distance, s);
    expose_automatically(s);
    s.run.model = scenario::LightModel::spot;
    if (s.run.speckle != scenario::SpeckleModel::off) s.run.speckle = scenario::SpeckleModel::statistical;
    constexpr std::int64_t patches = 40;
    constexpr std::int64_t readings = 320;
    s.run.patches = std::min(s.run.patches, patches);
    s.run.readings = readings + reading::step_response_readings(s.reading);
    return s;
}

void check_focus(const scenario::Scenario& s, double to_lens) {
    if (s.receiver.focal_length < to_lens) return;
    scenario::reject(s, "receiver.focal_length_mm",
                     fmt::format("a lens of {:.4g} mm cannot be focused on a part {:.4g} mm away",
                                 s.receiver.focal_length / mm, to_lens / mm),
                     "less than the distance");
}

// The scenario's own where it times light, else by phase.
scenario::Principle timed_principle(const scenario::Scenario& s) {
    return std::visit(Cases{[](Triangulation) -> scenario::Principle { return PhaseShift{}; },
                            [](PhaseShift own) -> scenario::Principle { return own; },
                            [](Pulsed own) -> scenario::Principle { return own; }},
                      s.principle);
}

// Pulses of light as the mean power of it. [W]
double mean_power(const scenario::Scenario& s) {
    const auto continuous = [&s](Triangulation) { return s.emitter.power; };
    const auto modulated = [&s](PhaseShift) { return s.emitter.power; };
    const auto of_pulses = [&s](Pulsed) {
        return s.emitter.power * sensor::pulse_duration(s.flight.pulse) * s.flight.pulse_rate;
    };
    return std::visit(Cases{continuous, modulated, of_pulses}, s.principle);
}

// How far off noise may read, with room to spare. [m]
double room_for_noise(const scenario::Scenario& s) {
    const auto of_phases = [&s](PhaseShift) {
        constexpr double share = 1.0 / 40.0;  // four deviations where the phase of a reading is uncertain by 0.04 rad
        const double highest = *std::max_element(s.flight.modulation.begin(), s.flight.modulation.end());
        return share * speed_of_light / (2.0 * highest);
    };
    const auto of_pulses = [&s](Pulsed) { return 0.5 * speed_of_light * s.flight.pulse; };
    const auto untimed = [](Triangulation) { return 0.0; };
    return std::visit(Cases{of_phases, of_pulses, untimed}, s.principle);
}

// What a reading says, or why it says nothing.
ErrorAtDistance outcome_of(const measure::ReadResult& result) {
    const measure::SeriesStatistics& statistics = result.statistics;
    ErrorAtDistance error;
    error.valid_share = measure::valid_share(statistics);
    if (result.verdict.level != measure::Level::unreadable) {
        error.uncertainty = result.verdict.expanded_uncertainty;
        error.largest = name_of(result.verdict.contributions.front());
        return error;
    }
    const auto invalid = std::max_element(statistics.validity.begin() + 1, statistics.validity.end());
    if (*invalid > 0) {
        const auto validity = static_cast<reading::Validity>(invalid - statistics.validity.begin());
        error.obstacle = reading::name_of(validity);
        std::replace(error.obstacle.begin(), error.obstacle.end(), '_', ' ');
    } else {
        error.obstacle = "few outputs";
    }
    error.reason = in_words(result.verdict.reasons.front());
    return error;
}

ErrorAtDistance not_built(const base::ScenarioError& error) {
    const base::Problem& first = error.problems().front();
    const std::string& key = first.location.key;
    const char* word = key == "receiver.focal_length_mm" ? "out of focus"
                       : key == "reading.calibrated_on"  ? "specular mount"
                                                         : "cannot be built";
    return {{}, {}, 0.0, word, first.message};
}

using SensorAt = scenario::Scenario (*)(const scenario::Scenario&, double);

ErrorAtDistance error_at(const scenario::Scenario& s, double distance, SensorAt sensor_at, int threads) {
    try {
        return outcome_of(measure::read(sensor::set_up(sensor_at(s, distance), threads), {threads, {}, {}}));
    } catch (const base::ScenarioError& error) {
        return not_built(error);
    } catch (const base::DomainError& error) {
        return {{}, {}, 0.0, "beyond the models", error.what()};
    }
}

// Logarithm of triangulation's uncertainty over that of time of flight; none unless both read.
std::optional<double> advantage(const CrossoverPoint& point) {
    if (!point.triangulation.uncertainty || !point.flight.uncertainty) return std::nullopt;
    return std::log(*point.triangulation.uncertainty / *point.flight.uncertainty);
}

}  // namespace

double triangulation_baseline(const scenario::Scenario& s) {
    return s.receiver.distance * std::sin(s.receiver.angle - s.emitter.angle);
}

scenario::Scenario triangulation_at(const scenario::Scenario& from, double distance) {
    scenario::Scenario s = pointed_at(from, distance);
    const double baseline = triangulation_baseline(from);
    s.principle = Triangulation{};
    s.emitter.power = mean_power(from);
    s.receiver.angle = s.emitter.angle + std::atan2(baseline, distance);
    s.receiver.distance = std::hypot(baseline, distance);
    s.receiver.detector_tilt.reset();
    check_focus(s, s.receiver.distance);
    const receiver::MeasurableRange limits = receiver::measurable_range(sensor::receiver_of(s), distance);
    // An end of the array asks for room for half the spot, and the calibration reaches past the range.
    constexpr double room = 0.8;
    s.mount.range = {std::max(-range_share * distance, room * limits.near),
                     std::min(range_share * distance, room * limits.far)};
    return s;
}

scenario::Scenario flight_at(const scenario::Scenario& from, double distance) {
    scenario::Scenario s = pointed_at(from, distance);
    s.principle = timed_principle(from);
    check_focus(s, std::hypot(s.flight.baseline, distance));
    const double pulses = std::max(std::floor(time_for_reading(s) * s.flight.pulse_rate), 1.0);
    if (pulses < static_cast<double>(s.flight.pulses)) s.flight.pulses = static_cast<std::int64_t>(pulses);
    constexpr double unambiguous_share = 0.4;
    constexpr double nearest_share = 0.4;
    constexpr double farthest_share = 4.0;
    const double half = std::min(std::max(range_share * distance, room_for_noise(s)),
                                 unambiguous_share * sensor::unambiguous_distance(s));
    s.mount.range = {-std::min(half, nearest_share * distance), std::min(half, farthest_share * distance)};
    return s;
}

CrossoverPoint crossover_point(const scenario::Scenario& s, double distance, int threads) {
    return {distance, error_at(s, distance, triangulation_at, threads), error_at(s, distance, flight_at, threads)};
}

std::optional<double> crossover_distance(std::span<const CrossoverPoint> points) {
    const CrossoverPoint* better = nullptr;  // last at which triangulation is
    const CrossoverPoint* next = nullptr;    // first after it at which it is not
    for (const CrossoverPoint& point : points) {
        const auto difference = advantage(point);
        if (!difference) continue;
        if (*difference < 0.0) {
            better = &point;
            next = nullptr;
        } else if (better != nullptr && next == nullptr) {
            next = &point;
        }
    }
    if (next == nullptr) return std::nullopt;
    const double below = -*advantage(*better);
    const double above = *advantage(*next);
    const double share = below / (below + above);
    return better->distance * std::pow(next->distance / better->distance, share);
}

CrossoverStudy crossover_study(const scenario::Scenario& s, const CrossoverOptions& options) {
    if (!(options.nearest > 0.0) || !(options.farthest > options.nearest) || options.count < 2) {
        throw base::InternalError("a study of distances needs an interval and two of them");
    }
    CrossoverStudy study;
    study.baseline = triangulation_baseline(s);
    study.flight_principle = timed_principle(s);
    study.power = mean_power(s);
    const auto last = static_cast<double>(options.count - 1);
    for (std::int64_t k = 0; k < options.count; ++k) {
        const double share = static_cast<double>(k) / last;
        const double distance = options.nearest * std::pow(options.farthest / options.nearest, share);
        study.points.push_back(crossover_point(s, distance, options.threads));
        if (options.progress) options.progress(k + 1, options.count);
    }
    study.crossover = crossover_distance(study.points);
    return study;
}

}  // namespace spotwright::study
