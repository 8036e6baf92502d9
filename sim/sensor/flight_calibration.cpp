// How a time-of-flight sensor is built and calibrated.
#include <boost/math/interpolators/makima.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>

#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/flight/air.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/sensor/flight_delay.hpp"

namespace spotwright::sensor {

namespace {

using base::mm, base::pi, base::speed_of_light;
using scenario::Principle;

// Way of the light on the beam's axis to a square part and back. [m]
double axis_path(const FlightInstrument& i, double displacement) {
    const auto hit = target::meet(target::square_plane(displacement), {i.beam.face, i.beam.direction});
    if (!hit) return 2.0 * (i.scenario.mount.reference_distance + displacement);
    return hit->distance + receiver::path_to_lens(i.receiver, i.beam.face + hit->distance * i.beam.direction);
}

[[noreturn]] void reject_calibration(const FlightInstrument& i, double displacement) {
    scenario::reject(i.scenario, "mount.range_mm",
                     fmt::format("calibration on {} fails at {:.4g} mm: no reading", i.scenario.reading.calibrated_on,
                                 displacement / mm),
                     "a range over which the reference's light reaches the detector and can be timed");
}

// The reference's light over the range: rates by the spot model at some places, between them interpolated; ways exact.
class ReferenceLight {
public:
    ReferenceLight(const FlightInstrument& instrument, double from, double to, int threads) : instrument_(instrument) {
        const scenario::Scenario& s = instrument.scenario;
        const target::Surface tile = target::make_surface(s.reference, s.emitter.wavelength);
        std::vector<double> places(count);
        std::vector<double> rates(count);
        base::parallel_for(count, threads, [&](std::int64_t k) {
            const auto n = static_cast<std::size_t>(k);
            places[n] = std::lerp(from, to, static_cast<double>(k) / static_cast<double>(count - 1));
            const flight::Received received =
                flight::receive(s, instrument.beam, instrument.receiver, target::square_plane(places[n]), tile);
            for (const flight::Arrival& arrival : received.light.arrivals) rates[n] += arrival.rate;
            if (k == 0) constant_rate_ = received.light.constant_rate;
        });
        least_rate_ = 1e-6 * *std::max_element(rates.begin(), rates.end());
        rate_ = std::make_shared<boost::math::interpolators::makima<std::vector<double>>>(std::move(places),
                                                                                          std::move(rates));
    }

    [[nodiscard]] flight::Light at(double displacement) const {
        const double rate = (*rate_)(displacement);
        if (rate <= least_rate_) reject_calibration(instrument_, displacement);
        const double delay = axis_path(instrument_, displacement) * instrument_.assumed_index / speed_of_light;
        flight::Light light{{{delay, rate}}, constant_rate_};
        return with_crosstalk(instrument_.scenario, std::move(light));
    }

private:
    static constexpr std::int64_t count = 33;
    const FlightInstrument& instrument_;
    std::shared_ptr<boost::math::interpolators::makima<std::vector<double>>> rate_;
    double constant_rate_ = 0.0;
    double least_rate_ = 0.0;  // below it next to nothing of the reference's light reaches the detector
};

// Constants that are taken out of phases or times, seen at the anchor.
void take_out_constants(FlightInstrument& i, const ReferenceLight& reference, double exposure) {
    const double delay = axis_path(i, i.anchor) * i.assumed_index / speed_of_light;
    const auto plan = plan_of(i, reference.at(i.anchor), exposure);
    i.reference_reach = reach_of(i, delay);
    if (const auto* phase = std::get_if<PhasePlan>(&plan)) {
        const std::vector<flight::Demodulated> all = demodulated(i.scenario, phase->electrons);
        for (std::size_t f = 0; f < all.size(); ++f) {
            if (!(all[f].amplitude > 0.0)) reject_calibration(i, i.anchor);
            i.phase_offset[f] = all[f].phase - 2.0 * pi * i.scenario.flight.modulation[f] * delay;
        }
        return;
    }
    const auto time = noiseless_delay(i, plan, 0.0);
    if (!time) reject_calibration(i, i.anchor);
    i.time_offset = *time - delay;
}

// Points for each period of the finest cyclic error, or a few dozen.
std::int64_t points_over(const FlightInstrument& i, double span) {
    constexpr double least = 65.0;
    constexpr double most = 4097.0;
    if (i.scenario.principle != Principle::phase_shift) return static_cast<std::int64_t>(least);
    const double highest = *std::max_element(i.scenario.flight.modulation.begin(), i.scenario.flight.modulation.end());
    const double period = speed_of_light / (2.0 * static_cast<double>(i.scenario.flight.buckets) * highest);
    constexpr double points_in_period = 32.0;
    return static_cast<std::int64_t>(std::clamp(std::ceil(points_in_period * span / period), least, most));
}

void calibrate(FlightInstrument& i, int threads) {
    const auto [near, far] = i.scenario.mount.range;
    const double overreach = calibration_overreach * (far - near);
    const ReferenceLight reference(i, near - overreach, far + overreach, threads);
    constexpr double one_second = 1.0;  // without noise, charges of any size have the same phase
    take_out_constants(i, reference, one_second);
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
        i.calibration.emplace(points);
    } catch (const base::DomainError&) {
        scenario::reject(i.scenario, "mount.range_mm", "readings of the reference do not rise all along the range",
                         "a range over which they do",
                         i.scenario.principle == Principle::phase_shift
                             ? "the cyclic error runs against the distance: sine light lowers it"
                             : "light of the near end may be too strong: less power, or a farther near end");
    }
}

void reject_length(const FlightInstrument& i, const std::string& key, double unambiguous) {
    const double most = unambiguous / (1.0 + 2.0 * search_overreach);
    const auto [near, far] = i.scenario.mount.range;
    if (far - near <= most) return;
    scenario::reject(
        i.scenario, "mount.range_mm",
        fmt::format("a range of {:.6g} mm is longer than what {} leaves unambiguous", (far - near) / mm, key),
        fmt::format("at most {:.6g} mm", most / mm),
        i.scenario.principle == Principle::phase_shift
            ? "a second frequency with a small common divisor, or a lower one, covers more"
            : "fewer pulses a second cover more");
}

void check_unwrapping(FlightInstrument& i) {
    const scenario::Scenario& s = i.scenario;
    i.unambiguous_distance = unambiguous_distance(s);
    if (s.principle == Principle::pulsed) {
        reject_length(i, "flight.pulse_rate_kHz", i.unambiguous_distance);
        return;
    }
    reject_length(i, "flight.modulation_MHz", i.unambiguous_distance);
    constexpr double least_distance = 0.02;  // cycles: no measurement tells less apart
    try {
        if (flight::least_wrap_distance(s.flight.modulation, i.search) >= least_distance) return;
    } catch (const base::DomainError& error) {
        scenario::reject(s, "flight.modulation_MHz", error.what(), "");
    }
    scenario::reject(
        s, "flight.modulation_MHz",
        "frequencies without a common unwrapping: within the range there are distances whose phases are alike",
        "frequencies in the ratio of small whole numbers, or a shorter range",
        "such as 20 and 16 MHz, in the ratio 5 to 4");
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
    FlightInstrument i;
    i.scenario = s;
    i.beam = emitter::make_beam(s);
    i.receiver = flight::make_receiver(s);
    i.assumed_index = flight::group_index(flight::Air{}, s.emitter.wavelength);
    i.index = index_of_air(s);
    const auto [near, far] = s.mount.range;
    i.anchor = std::clamp(0.0, near, far);
    for (std::size_t f = 0; f < s.flight.modulation.size(); ++f) {
        i.contrast.push_back(std::abs(flight::harmonic(modulation_of(s, f), 1)));
        if (s.principle == Principle::phase_shift && !(i.contrast.back() > 0.0)) {
            scenario::reject(s, "flight.modulation_depth", "light that is not modulated has no phase", "value > 0");
        }
    }
    i.phase_offset.assign(s.flight.modulation.size(), 0.0);
    const double beyond = search_overreach * (far - near);
    const double to_delay = i.assumed_index / speed_of_light;
    i.search = {std::max(axis_path(i, near - beyond), 0.0) * to_delay, axis_path(i, far + beyond) * to_delay};
    check_unwrapping(i);
    calibrate(i, threads);
    return i;
}

}  // namespace spotwright::sensor
