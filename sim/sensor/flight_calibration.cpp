// How a time-of-flight sensor is built and calibrated.
#include <boost/math/interpolators/makima.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/detector/array.hpp"
#include "sim/flight/air.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/sensor/flight_delay.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::sensor {

namespace {

using base::Cases;
using base::mm, base::pi, base::speed_of_light;
using scenario::PhaseShift, scenario::Pulsed, scenario::Triangulation;

// Way of the light on the beam's axis to a square part and back. [m]
double axis_path(const FlightSetup& i, double displacement) {
    const emitter::Beam& beam = i.instrument.optics.beam;
    const auto hit = target::meet(target::square_plane(displacement), {beam.face, beam.direction});
    if (!hit) return 2.0 * (i.scenario.mount.reference_distance + displacement);
    const Eigen::Vector3d lens = receiver::aperture_point(i.instrument.optics.receiver, 0.0, 0.0);
    return hit->distance + (lens - beam.face - hit->distance * beam.direction).norm();
}

[[noreturn]] void reject_calibration(const FlightSetup& i, double displacement) {
    scenario::reject(i.scenario, "mount.range_mm",
                     fmt::format("calibration on {} fails at {:.4g} mm: no reading", i.scenario.reading.calibrated_on,
                                 displacement / mm),
                     "a range over which the reference's light reaches the detector and can be timed");
}

// The reference's light over the range: by the spot model at some places, between them interpolated, its mean way by
// how much longer it is than that on the beam's axis.
class ReferenceLight {
public:
    ReferenceLight(const FlightSetup& setup, double from, double to, int threads) : setup_(setup) {
        const scenario::Scenario& s = setup.scenario;
        const target::Surface tile = target::make_opaque_surface(s.reading.reference, s.emitter.wavelength);
        std::vector<double> places(count);
        std::vector<double> rates(count);
        std::vector<double> longer(count);
        base::parallel_for(count, threads, [&](std::int64_t k) {
            const auto n = static_cast<std::size_t>(k);
            places[n] = std::lerp(from, to, static_cast<double>(k) / static_cast<double>(count - 1));
            const flight::Received received =
                flight::receive(setup.instrument.optics, target::square_plane(places[n]), tile, s.reading.reference);
            for (const flight::Arrival& arrival : received.light.arrivals) rates[n] += arrival.rate;
            if (rates[n] > 0.0) longer[n] = received.mean_path - axis_path(setup, places[n]);
        });
        min_rate_ = 1e-6 * *std::max_element(rates.begin(), rates.end());
        std::vector<double> same_places = places;
        rate_ = std::make_shared<Interpolated>(std::move(places), std::move(rates));
        longer_ = std::make_shared<Interpolated>(std::move(same_places), std::move(longer));
    }

    [[nodiscard]] flight::Light at(double displacement) const {
        const double rate = (*rate_)(displacement);
        if (rate <= min_rate_) reject_calibration(setup_, displacement);
        const double path = axis_path(setup_, displacement) + (*longer_)(displacement);
        const double delay = path * setup_.instrument.assumed_index / speed_of_light;
        const double dark = detector::dark_current_at(setup_.scenario.detector, base::room_temperature);
        flight::Light light{{{delay, rate}}, dark};
        return with_crosstalk(setup_.scenario, std::move(light));
    }

private:
    using Interpolated = boost::math::interpolators::makima<std::vector<double>>;
    static constexpr std::int64_t count = 33;
    const FlightSetup& setup_;
    std::shared_ptr<Interpolated> rate_;
    std::shared_ptr<Interpolated> longer_;  // [m]
    double min_rate_ = 0.0;                 // below it next to nothing of the reference's light reaches the detector
};

// Constants that are taken out of phases or times, seen at the anchor.
void take_out_constants(FlightSetup& i, const ReferenceLight& reference, double exposure) {
    const double delay = axis_path(i, i.instrument.anchor) * i.instrument.assumed_index / speed_of_light;
    const flight::Light light = reference.at(i.instrument.anchor);
    i.instrument.reference_rate = light.arrivals.back().rate;  // crosstalk comes before it
    const auto plan = plan_of(i, light, exposure);
    i.instrument.reference_reach = reach_of(i, delay);
    const auto of_phases = [&](PhaseConstants& constants) {
        const std::vector<flight::Demodulated> all = demodulated(i.scenario, std::get<PhasePlan>(plan).electrons);
        for (std::size_t f = 0; f < all.size(); ++f) {
            if (!(all[f].amplitude > 0.0)) reject_calibration(i, i.instrument.anchor);
            constants.offset[f] = all[f].phase - 2.0 * pi * i.scenario.flight.modulation[f] * delay;
        }
    };
    const auto of_pulses = [&](PulseConstants& constants) {
        const auto time = noiseless_delay(i, plan, 0.0);
        if (!time) reject_calibration(i, i.instrument.anchor);
        constants.offset = *time - delay;
    };
    std::visit(Cases{of_phases, of_pulses}, i.instrument.constants);
}

// The reference at the anchor behind an attenuator; light inside the housing does not pass it.
flight::Light attenuated(flight::Light light, double share) {
    light.arrivals.back().rate *= share;
    return light;
}

EchoFound echo_at(const FlightSetup& i, const flight::Light& reference, double share) {
    constexpr double one_second = 1.0;
    const auto echo = noiseless_echo(i, plan_of(i, attenuated(reference, share), one_second), 0.0);
    if (echo) return *echo;
    scenario::reject(i.scenario, "flight.intensity_range",
                     fmt::format("the reference gives no reading at {:.3g} of its light: no correction", share),
                     "a range over which its echo can be timed", "a higher least value");
}

// The table of corrections: the reference at the anchor, at intensities in even ratios.
void make_intensity_table(FlightSetup& i, const ReferenceLight& reference) {
    const std::int64_t count = i.scenario.flight.intensity_points;
    if (count == 0) return;
    const auto [least, most] = i.scenario.flight.intensity_range;
    const flight::Light light = reference.at(i.instrument.anchor);
    const double delay = axis_path(i, i.instrument.anchor) * i.instrument.assumed_index / speed_of_light;
    const auto share_at = [&, low = least, high = most](double place) {
        return low * std::pow(high / low, place / static_cast<double>(count - 1));
    };
    std::vector<double> strengths;
    std::vector<double> delays;
    for (std::int64_t k = 0; k < count; ++k) {
        const EchoFound echo = echo_at(i, light, share_at(static_cast<double>(k)));
        strengths.push_back(echo.strength);
        delays.push_back(echo.delay - delay);
    }
    try {
        i.instrument.intensity_table.emplace(std::move(strengths), std::move(delays));
    } catch (const base::DomainError&) {
        scenario::reject(i.scenario, "flight.intensity_range",
                         "the strength of the echo does not grow with the light all over the range",
                         "a range over which it does", "less light at its upper end, or fewer points");
    }
    for (std::int64_t k = 0; k + 1 < count; ++k) {
        const EchoFound between = echo_at(i, light, share_at(static_cast<double>(k) + 0.5));
        IntensityTable& table = *i.instrument.intensity_table;
        table.left = std::max(table.left, std::abs(between.delay - delay - table.delay_at(between.strength)));
    }
}

// Points for each period of the finest cyclic error, or a few dozen.
std::int64_t points_over(const FlightSetup& i, double span) {
    constexpr double least = 65.0;
    constexpr double most = 4097.0;
    const auto by_phase = [&](const PhaseConstants&) {
        const std::vector<double>& modulation = i.scenario.flight.modulation;
        const double highest = *std::max_element(modulation.begin(), modulation.end());
        const double period = speed_of_light / (2.0 * static_cast<double>(i.scenario.flight.buckets) * highest);
        constexpr double points_in_period = 32.0;
        return std::clamp(std::ceil(points_in_period * span / period), least, most);
    };
    const auto by_pulses = [&](const PulseConstants&) { return least; };
    return static_cast<std::int64_t>(std::visit(Cases{by_phase, by_pulses}, i.instrument.constants));
}

void calibrate(FlightSetup& i, int threads) {
    const auto [near, far] = i.scenario.mount.range;
    const double overreach = calibration_overreach * (far - near);
    const ReferenceLight reference(i, near - overreach, far + overreach, threads);
    constexpr double one_second = 1.0;  // without noise, charges of any size have the same phase
    take_out_constants(i, reference, one_second);
    make_intensity_table(i, reference);
    if (i.scenario.flight.calibration == scenario::FlightCalibration::offset) return;
    const std::int64_t count = points_over(i, far - near);
    std::vector<reading::CalibrationPoint> points(static_cast<std::size_t>(count));
    std::vector<bool> found(static_cast<std::size_t>(count));
    for (std::int64_t k = 0; k < count; ++k) {
        const auto n = static_cast<std::size_t>(k);
        const double share = static_cast<double>(k) / static_cast<double>(count - 1);
        const double displacement = std::lerp(near - overreach, far + overreach, share);
        const auto delay = noiseless_delay(i, plan_of(i, reference.at(displacement), one_second), 0.0);
        if (!delay) reject_calibration(i, displacement);
        points[n] = {displacement, reach_of(i, *delay)};
    }
    try {
        i.instrument.calibration.emplace(points);
    } catch (const base::DomainError&) {
        scenario::reject(
            i.scenario, "mount.range_mm", "readings of the reference do not rise all along the range",
            "a range over which they do",
            std::visit(Cases{[](const PhaseConstants&) {
                                 return "the cyclic error runs against the distance: sine light lowers it";
                             },
                             [](const PulseConstants&) {
                                 return "light of the near end may be too strong: less power, or a farther "
                                        "near end";
                             }},
                       i.instrument.constants));
    }
}

// @param cure  What covers a longer range.
void check_length(const FlightSetup& i, const char* key, const char* cure) {
    const double unambiguous = i.instrument.unambiguous_distance;
    const double most = unambiguous / (1.0 + 2.0 * search_overreach);
    const auto [near, far] = i.scenario.mount.range;
    if (far - near <= most) return;
    scenario::reject(
        i.scenario, "mount.range_mm",
        fmt::format("a range of {:.6g} mm is longer than what {} leaves unambiguous", (far - near) / mm, key),
        fmt::format("at most {:.6g} mm", most / mm), cure);
}

void check_unwrapping(const FlightSetup& i) {
    const scenario::Scenario& s = i.scenario;
    constexpr double min_distance = 0.02;  // cycles: no measurement tells less apart
    try {
        if (flight::min_wrap_distance(s.flight.modulation, i.instrument.search) >= min_distance) return;
    } catch (const base::DomainError& error) {
        scenario::reject(s, "flight.modulation_MHz", error.what(), "");
    }
    scenario::reject(
        s, "flight.modulation_MHz",
        "frequencies without a common unwrapping: within the range there are distances whose phases are alike",
        "frequencies in the ratio of small whole numbers, or a shorter range",
        "such as 20 and 16 MHz, in the ratio 5 to 4");
}

void check_range(const FlightSetup& i) {
    const auto of_phases = [&i](const PhaseConstants&) {
        check_length(i, "flight.modulation_MHz",
                     "a second frequency with a small common divisor, or a lower one, covers more");
        check_unwrapping(i);
    };
    const auto of_pulses = [&i](const PulseConstants&) {
        check_length(i, "flight.pulse_rate_kHz", "fewer pulses a second cover more");
    };
    std::visit(Cases{of_phases, of_pulses}, i.instrument.constants);
}

using Constants = std::variant<PhaseConstants, PulseConstants>;

// Before anything is taken out.
Constants no_constants(const scenario::Scenario& s) {
    const auto of_phases = [&s](PhaseShift) -> Constants {
        PhaseConstants constants;
        for (std::size_t f = 0; f < s.flight.modulation.size(); ++f) {
            constants.contrast.push_back(std::abs(flight::harmonic(modulation_of(s, f), 1)));
            if (constants.contrast.back() > 0.0) continue;
            scenario::reject(s, "flight.modulation_depth", "light that is not modulated has no phase", "value > 0");
        }
        constants.offset.assign(s.flight.modulation.size(), 0.0);
        return constants;
    };
    const auto of_pulses = [](Pulsed) -> Constants { return PulseConstants{}; };
    const auto of_none = [](Triangulation) -> Constants {
        throw base::InternalError("a sensor that times light, of another principle");
    };
    return std::visit(Cases{of_phases, of_pulses, of_none}, s.principle);
}

}  // namespace

double index_of_air(const scenario::Scenario& s) {
    const scenario::Surroundings& around = s.surroundings;
    try {
        return flight::group_index(
            {around.temperature, around.pressure, around.humidity, flight::Air{}.carbon_dioxide_fraction},
            s.emitter.wavelength);
    } catch (const base::DomainError& error) {
        scenario::reject(s, "surroundings.humidity", error.what(), "");
    }
}

FlightInstrument make_flight_instrument(const scenario::Scenario& s, int threads) {
    FlightSetup i;
    i.scenario = s;
    FlightInstrument& instrument = i.instrument;
    instrument.keys = scenario::sensor_keys(s);
    instrument.optics = timed_optics_of(s);
    instrument.assumed_index = i.index = flight::group_index(flight::Air{}, s.emitter.wavelength);
    const auto [near, far] = s.mount.range;
    instrument.anchor = std::clamp(0.0, near, far);
    instrument.constants = no_constants(s);
    const double beyond = search_overreach * (far - near);
    const double to_delay = instrument.assumed_index / speed_of_light;
    instrument.search = {std::max(axis_path(i, near - beyond), 0.0) * to_delay, axis_path(i, far + beyond) * to_delay};
    instrument.unambiguous_distance = unambiguous_distance(s);
    check_range(i);
    calibrate(i, threads);
    return instrument;
}

FlightSetup set_up(const FlightInstrument& instrument, const scenario::Scenario& s) {
    if (scenario::sensor_keys(s) != instrument.keys) throw base::InternalError("another sensor than its scenario's");
    return {instrument, s, index_of_air(s)};
}

}  // namespace spotwright::sensor
