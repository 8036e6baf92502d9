#include "sim/study/drift.hpp"

#include <math.h>

#include <boost/math/interpolators/pchip.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <memory>

#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/paths.hpp"
#include "sim/sensor/temperature.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/base/cases.hpp"

namespace spotwright::study {

namespace {

using base::room_temperature;

constexpr double swing = 5.0;  // K, to either side of 20 C: what a hall goes through in a day

struct Places {
    double near;
    double here;
    double far;
};

Places places_of(const scenario::Scenario& s) {
    const auto [near, far] = s.mount.range;
    return {near, std::clamp(s.target.displacement, near, far), far};
}

double read_at(const sensor::Setup& reference, double temperature, double displacement) {
    const sensor::Setup warm = at_temperature(reference, temperature);
    const auto found = noiseless_reading(warm, displacement);
    if (found) return *found;
    scenario::reject(scenario_of(reference), "mount.range_mm",
                     fmt::format("the reference cannot be read at {:.4g} mm and {:.3g} C", displacement / base::mm,
                                 temperature - base::zero_celsius),
                     "a range that drifts no farther than the calibration reaches beyond it");
}

// Straight through the readings on either side of 20 C. The ends of the range are looked at a little inside, where the
// drift cannot carry the spot out of the calibration.
DriftCause cause_of(const sensor::Setup& reference, std::string name) {
    const Places places = places_of(scenario_of(reference));
    const double inset = 0.02 * (places.far - places.near);
    const auto per_kelvin = [&](double displacement) {
        return (read_at(reference, room_temperature + swing, displacement) -
                read_at(reference, room_temperature - swing, displacement)) /
               (2.0 * swing);
    };
    const double here = std::clamp(places.here, places.near + inset, places.far - inset);
    return {std::move(name), per_kelvin(places.near + inset), per_kelvin(here), per_kelvin(places.far - inset)};
}

// Sensors in which one thing alone depends on temperature.
struct Alone {
    std::string name;
    scenario::Scenario scenario;
    bool acts = true;
};

std::vector<Alone> triangulation_causes(const scenario::Scenario& s) {
    using scenario::Thermal;
    struct Entry {
        const char* name;
        double Thermal::*member;
    };
    constexpr std::array entries{
        Entry{"expansion of the housing", &Thermal::housing_expansion},
        Entry{"expansion of the array", &Thermal::array_expansion},
        Entry{"focal length", &Thermal::focal_length_change},
        Entry{"shift of the lens", &Thermal::lens_shift},
        Entry{"shift of the array", &Thermal::array_shift},
        Entry{"pointing of the beam", &Thermal::pointing},
        Entry{"bending of the housing", &Thermal::bending},
        Entry{"wavelength", &Thermal::wavelength_change},
    };
    std::vector<Alone> list;
    for (const Entry& entry : entries) {
        Alone alone{entry.name, s, s.thermal.*entry.member != 0.0};
        for (const Entry& each : entries) alone.scenario.thermal.*each.member = 0.0;
        alone.scenario.thermal.*entry.member = s.thermal.*entry.member;
        list.push_back(std::move(alone));
    }
    return list;
}

// Of timed light the air depends on temperature whatever the sensor; the electronics are what is left.
std::vector<Alone> flight_causes(const scenario::Scenario& s) {
    Alone air{"air", s, true};
    air.scenario.flight.delay_drift = 0.0;
    return {std::move(air)};
}

std::vector<DriftCause> causes_of(const sensor::Setup& reference, int threads) {
    const scenario::Scenario& s = scenario_of(reference);
    std::vector<Alone> alone =
        std::visit(base::Cases{[&s](const sensor::TriangulationSetup&) { return triangulation_causes(s); },
                               [&s](const sensor::FlightSetup&) { return flight_causes(s); }},
                   reference);
    alone.push_back({"all together", s, true});
    std::vector<DriftCause> causes(alone.size());
    base::parallel_for(static_cast<std::int64_t>(alone.size()), threads, [&](std::int64_t i) {
        const Alone& one = alone[static_cast<std::size_t>(i)];
        DriftCause& cause = causes[static_cast<std::size_t>(i)];
        cause.name = one.name;
        if (one.acts) cause = cause_of(with_part(reference, one.scenario), one.name);
    });
    const auto add_electronics = [&causes](const sensor::FlightSetup&) {
        const DriftCause& air = causes.front();
        const DriftCause& all = causes.back();
        causes.insert(causes.end() - 1,
                      {"delay of the electronics", all.near - air.near, all.here - air.here, all.far - air.far});
    };
    std::visit(base::Cases{[](const sensor::TriangulationSetup&) {}, add_electronics}, reference);
    return causes;
}

// Error of a reading against temperature, from a few temperatures that span the path.
std::function<double(double)> error_against_temperature(const sensor::Setup& reference, double displacement,
                                                        double coldest, double warmest, int threads) {
    constexpr std::int64_t count = 9;
    constexpr double min_span = 1e-3;  // K: a path that stands still is a straight line too
    const double middle = 0.5 * (coldest + warmest);
    const double half = 0.5 * std::max(warmest - coldest, min_span);
    std::vector<double> temperatures(count);
    std::vector<double> errors(count);
    const double at_calibration = read_at(reference, room_temperature, displacement);
    base::parallel_for(count, threads, [&](std::int64_t i) {
        const auto k = static_cast<std::size_t>(i);
        temperatures[k] = middle + half * (2.0 * static_cast<double>(i) / (count - 1) - 1.0);
        errors[k] = read_at(reference, temperatures[k], displacement) - at_calibration;
    });
    const double first = temperatures.front();
    const double last = temperatures.back();
    using Curve = boost::math::interpolators::pchip<std::vector<double>>;
    const auto curve = std::make_shared<Curve>(std::move(temperatures), std::move(errors));
    return [curve, first, last](double temperature) { return (*curve)(std::clamp(temperature, first, last)); };
}

// Errors along the path, at even times.
struct ErrorPath {
    std::vector<double> time;
    std::vector<double> temperature;
    std::vector<double> here;  // of the reading where the part stands
    std::vector<double> zero;  // of that at the reference point, to which the sensor is set
};

// That of the file, or of a sensor that warms up where nothing else changes: six of its slow time constants, 0.25 % of
// the rise are left.
scenario::TemperaturePath path_of(const scenario::Scenario& s) {
    if (!s.surroundings.temperatures.time.empty()) return s.surroundings.temperatures;
    const double slowest = std::max(s.thermal.warm_up_times[0], s.thermal.warm_up_times[1]);
    return {{0.0, 6.0 * slowest}, {s.surroundings.temperature, s.surroundings.temperature}};
}

bool warms_up(const scenario::Scenario& s) {
    constexpr double noticed = 1e-3;  // K
    return scenario::warm_up_left(s.thermal, s.surroundings.running) > noticed;
}

ErrorPath error_path(const sensor::Setup& reference, int threads) {
    const scenario::Scenario& s = scenario_of(reference);
    const scenario::TemperaturePath path = path_of(s);
    constexpr std::size_t steps = 4096;
    ErrorPath result;
    for (std::size_t i = 0; i <= steps; ++i) {
        const double when =
            std::lerp(path.time.front(), path.time.back(), static_cast<double>(i) / static_cast<double>(steps));
        const double running = s.surroundings.running + when - path.time.front();
        result.time.push_back(when);
        result.temperature.push_back(scenario::value_at(path.time, path.temperature, when) -
                                     scenario::warm_up_left(s.thermal, running));
    }
    const auto [coldest, warmest] = std::minmax_element(result.temperature.begin(), result.temperature.end());
    const Places places = places_of(s);
    const double zero = std::clamp(0.0, places.near, places.far);
    const auto here = error_against_temperature(reference, places.here, *coldest, *warmest, threads);
    const auto at_zero = error_against_temperature(reference, zero, *coldest, *warmest, threads);
    for (const double temperature : result.temperature) {
        result.here.push_back(here(temperature));
        result.zero.push_back(at_zero(temperature));
    }
    return result;
}

// What is left of the errors when the zero is set at an interval; endless: never.
std::vector<double> after_resets(const ErrorPath& path, double interval) {
    std::vector<double> left = path.here;
    if (interval == endless) return left;
    double set = path.zero.front();
    double done = 0.0;
    for (std::size_t i = 0; i < left.size(); ++i) {
        const double resets = std::floor((path.time[i] - path.time.front()) / interval * (1.0 + 1e-12));
        if (resets > done) {
            // The last reset fell between two steps: its error lies on the straight line between theirs.
            const double when = path.time.front() + resets * interval;
            set = scenario::value_at(path.time, path.zero, when);
            done = resets;
        }
        left[i] -= set;
    }
    return left;
}

ResetInterval residual(const ErrorPath& path, double interval) {
    ResetInterval result{interval, 0.0, 0.0};
    const std::vector<double> left = after_resets(path, interval);
    for (const double error : left) {
        result.rms += error * error / static_cast<double>(left.size());
        result.largest = std::max(result.largest, std::abs(error));
    }
    result.rms = std::sqrt(result.rms);
    return result;
}

std::vector<ResetInterval> residuals(const ErrorPath& path, std::optional<double> own) {
    const double whole = path.time.back() - path.time.front();
    std::vector<double> intervals{endless};
    for (int halving = 0; halving <= 6; ++halving) intervals.push_back(std::ldexp(whole, -halving));
    if (own && std::find(intervals.begin(), intervals.end(), *own) == intervals.end()) intervals.push_back(*own);
    std::sort(intervals.begin(), intervals.end(), std::greater<>());
    std::vector<ResetInterval> list;
    list.reserve(intervals.size());
    for (const double interval : intervals) list.push_back(residual(path, interval));
    return list;
}

}  // namespace

DriftStudy drift_study(const sensor::Setup& setup, int threads) {
    const sensor::Setup reference = before_reference(setup);
    const scenario::Scenario& s = scenario_of(reference);
    DriftStudy study;
    study.causes = causes_of(reference, threads);
    if (s.surroundings.temperatures.time.empty() && !warms_up(s)) return study;
    const ErrorPath path = error_path(reference, threads);
    const std::vector<double> left = after_resets(path, s.reading.zero_reset.value_or(endless));
    for (std::size_t i = 0; i < path.time.size(); ++i) {
        study.path.push_back({path.time[i], path.temperature[i], path.here[i], left[i]});
    }
    study.resets = residuals(path, s.reading.zero_reset);
    return study;
}

}  // namespace spotwright::study
