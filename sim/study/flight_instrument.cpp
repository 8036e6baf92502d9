#include "sim/study/flight_instrument.hpp"

#include <boost/math/interpolators/makima.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/detector/array.hpp"
#include "sim/flight/air.hpp"
#include "sim/receiver/gather.hpp"

namespace spotwright::study {

namespace {

using base::mm, base::pi, base::speed_of_light;
using scenario::Principle, scenario::PulseTiming;

constexpr double room_temperature = 20.0 + base::zero_celsius;  // of calibration. [K]
// Share of the span by which delays beyond the calibration are still looked at, so that noise finds them outside of it
// and not a period away.
constexpr double search_overreach = 2.0 * calibration_overreach;

double electrons_per_joule(const scenario::Scenario& s) {
    return s.detector.quantum_efficiency / base::photon_energy(s.emitter.wavelength);
}

std::size_t frequencies_of(const scenario::Scenario& s) {
    return s.flight.modulation.size();
}

// Adds the light inside the housing, which only a phase tells from the part's.
flight::Light with_crosstalk(const scenario::Scenario& s, flight::Light light) {
    if (s.principle != Principle::phase_shift || s.flight.crosstalk == 0.0) return light;
    const flight::Arrival inside{s.flight.crosstalk_path / speed_of_light, s.flight.crosstalk * electrons_per_joule(s)};
    light.arrivals.insert(light.arrivals.begin(), inside);
    return light;
}

// Delays as the electronics have them: in air, behind their own drift, told by their own clock.
flight::Light as_timed(const FlightInstrument& i, flight::Light light) {
    const scenario::Scenario& s = i.scenario;
    const double drift = s.flight.delay_drift * (s.surroundings.temperature - room_temperature);
    for (flight::Arrival& arrival : light.arrivals) {
        arrival.delay = (arrival.delay * i.index + drift) * (1.0 + s.flight.clock_error);
    }
    return with_crosstalk(s, std::move(light));
}

// Charges of all buckets of all frequencies in one second each. [e]
std::vector<double> charges_per_second(const scenario::Scenario& s, const flight::Light& light) {
    std::vector<double> all;
    for (std::size_t f = 0; f < frequencies_of(s); ++f) {
        const std::vector<double> charges = flight::bucket_electrons(modulation_of(s, f), light, 1.0);
        all.insert(all.end(), charges.begin(), charges.end());
    }
    return all;
}

// What the sensor makes of charges.
struct PhaseResult {
    reading::Validity validity = reading::Validity::no_peak;
    double phase = 0.0;      // at the first frequency. [rad]
    double amplitude = 0.0;  // least of all frequencies. [e]
    double delay = 0.0;      // [s]
};

std::vector<flight::Demodulated> demodulated(const scenario::Scenario& s, std::span<const double> charges) {
    std::vector<flight::Demodulated> all;
    const auto buckets = static_cast<std::size_t>(s.flight.buckets);
    for (std::size_t f = 0; f < frequencies_of(s); ++f) {
        all.push_back(flight::demodulate(charges.subspan(f * buckets, buckets)));
    }
    return all;
}

// Phases less their constants, with the deviations that the light as a whole leaves them: frequencies weigh as their
// contrasts do, whatever the noise of one reading, so that calibration and reading weigh them alike.
std::vector<flight::PhaseReading> phases_of(const FlightInstrument& i, const std::vector<flight::Demodulated>& all) {
    const scenario::Scenario& s = i.scenario;
    double amplitude = 0.0;
    double offset = 0.0;
    double contrast = 0.0;
    for (std::size_t f = 0; f < all.size(); ++f) {
        amplitude += all[f].amplitude;
        offset += all[f].offset / static_cast<double>(all.size());
        contrast += i.contrast[f];
    }
    std::vector<flight::PhaseReading> phases;
    for (std::size_t f = 0; f < all.size(); ++f) {
        const flight::Demodulated expected{0.0, std::max(amplitude * i.contrast[f] / contrast, 1e-9), offset};
        const double deviation = flight::phase_deviation(expected, s.flight.buckets, dark_variance(s.detector));
        const double turned = all[f].phase - i.phase_offset[f];
        const double turns = 2.0 * pi;
        phases.push_back({s.flight.modulation[f], turned - turns * std::floor(turned / turns),
                          std::clamp(deviation, 1e-9, flight::guessed_phase_deviation)});
    }
    return phases;
}

PhaseResult phase_result(const FlightInstrument& i, std::span<const double> charges, double least_amplitude) {
    const std::vector<flight::Demodulated> all = demodulated(i.scenario, charges);
    PhaseResult result;
    result.phase = all.front().phase;
    result.amplitude = std::min_element(all.begin(), all.end(), [](const auto& a, const auto& b) {
                           return a.amplitude < b.amplitude;
                       })->amplitude;
    if (result.amplitude <= least_amplitude) {
        result.validity = reading::Validity::too_dark;
        return result;
    }
    const auto unwrapped = flight::unwrap(phases_of(i, all), i.search);
    if (!unwrapped) return result;
    result.delay = unwrapped->delay;
    result.validity =
        unwrapped->wrap_risk > i.scenario.flight.wrap_risk ? reading::Validity::ambiguous : reading::Validity::valid;
    return result;
}

flight::PhotonCounter photon_counter_of(const FlightInstrument& i) {
    const scenario::Scenario& s = i.scenario;
    flight::PhotonCounter counter;
    const double pulse = s.flight.pulse / (2.0 * std::sqrt(2.0 * std::log(2.0)));
    counter.deviation = std::hypot(pulse, s.flight.jitter);
    counter.bin = std::max(s.flight.digitiser, 1e-12);
    counter.gate_begin = std::max(i.search.least - 6.0 * counter.deviation, 0.0);
    counter.gate_end = i.search.greatest + 6.0 * counter.deviation;
    counter.pulses = s.flight.pulses;
    counter.pile_up_corrected = s.flight.pile_up_corrected;
    return counter;
}

// The comparator is listened to while light of the range may come.
flight::PulseReceiver gated_receiver_of(const FlightInstrument& i) {
    flight::PulseReceiver receiver = pulse_receiver_of(i.scenario);
    const double margin = 9.0 * flight::signal_deviation(receiver) + receiver.fraction_delay;
    receiver.gate_begin = i.search.least - margin;  // a strong pulse fires early on its rise
    receiver.gate_end = i.search.greatest + margin;
    return receiver;
}

using Plan = std::variant<PhasePlan, flight::PulsePlan, flight::CountingPlan>;

Plan plan_of(const FlightInstrument& i, const flight::Light& light, double exposure) {
    const scenario::Scenario& s = i.scenario;
    try {
        if (s.principle == Principle::phase_shift) {
            PhasePlan plan{charges_per_second(s, light)};
            for (double& charge : plan.electrons) charge *= exposure;
            return plan;
        }
        if (s.flight.timing == PulseTiming::photon_counting) {
            return flight::make_counting_plan(photon_counter_of(i), light, pulse_duration(s.flight.pulse));
        }
        return flight::make_pulse_plan(gated_receiver_of(i), light);
    } catch (const base::DomainError& error) {
        scenario::reject(s, s.principle == Principle::phase_shift ? "flight.waveform" : "flight.timing", error.what(),
                         "");
    }
}

// Delay that the sensor finds without noise; its own constants are taken out.
std::optional<double> noiseless_delay(const FlightInstrument& i, const Plan& plan, double least_amplitude) {
    if (const auto* phase = std::get_if<PhasePlan>(&plan)) {
        const PhaseResult result = phase_result(i, phase->electrons, least_amplitude);
        if (result.validity != reading::Validity::valid) return std::nullopt;
        return result.delay;
    }
    const auto* pulse = std::get_if<flight::PulsePlan>(&plan);
    const auto time =
        pulse ? flight::noiseless_time(*pulse) : flight::noiseless_time(std::get<flight::CountingPlan>(plan));
    if (!time) return std::nullopt;
    return *time - i.time_offset;
}

double reach_of(const FlightInstrument& i, double delay) {
    return delay * speed_of_light / (2.0 * i.assumed_index);
}

std::optional<double> displacement_of(const FlightInstrument& i, double delay) {
    const double reach = reach_of(i, delay);
    if (i.calibration) return i.calibration->displacement(reach);
    const double displacement = i.anchor + (reach - i.reference_reach) * std::cos(i.scenario.emitter.angle);
    const auto [near, far] = i.scenario.mount.range;
    const double overreach = calibration_overreach * (far - near);
    if (displacement < near - overreach || displacement > far + overreach) return std::nullopt;
    return displacement;
}

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
    } catch (const base::DomainError& error) {
        scenario::reject(i.scenario, "mount.range_mm", error.what(), "",
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
    const double half_speed = speed_of_light / (2.0 * i.assumed_index);
    if (s.principle == Principle::pulsed) {
        i.unambiguous_distance = half_speed / s.flight.pulse_rate;
        reject_length(i, "flight.pulse_rate_kHz", i.unambiguous_distance);
        return;
    }
    i.unambiguous_distance = half_speed * flight::unambiguous_delay(s.flight.modulation);
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

flight::Modulation modulation_of(const scenario::Scenario& s, std::size_t frequency) {
    return {s.flight.waveform,         s.flight.modulation.at(frequency),
            s.flight.modulation_depth, s.flight.bandwidth,
            s.flight.buckets,          s.flight.gate_share};
}

flight::PulseReceiver pulse_receiver_of(const scenario::Scenario& s) {
    flight::PulseReceiver r;
    const double scale = electrons_per_joule(s);
    r.timing = s.flight.timing;
    r.width = s.flight.pulse;
    r.bandwidth = s.flight.bandwidth;
    r.amplifier_noise = s.flight.noise * scale;
    r.threshold = s.flight.threshold_ratio * r.amplifier_noise;
    r.fraction = s.flight.fraction;
    r.fraction_delay = s.flight.fraction_delay;
    r.comparator_offset = s.flight.comparator_offset * scale;
    r.jitter = s.flight.jitter;
    r.digitiser_step = s.flight.digitiser;
    r.pulses = s.flight.pulses;
    return r;
}

double pulse_duration(double full_width) {
    return full_width * std::sqrt(pi / (4.0 * std::log(2.0)));
}

namespace {

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

}  // namespace

FlightInstrument make_flight_instrument(const scenario::Scenario& s, int threads) {
    FlightInstrument i;
    i.scenario = s;
    i.beam = emitter::make_beam(s);
    i.receiver = flight::make_receiver(s);
    i.assumed_index = flight::group_index(flight::Air{}, s.emitter.wavelength);
    i.index = index_of_air(s);
    const auto [near, far] = s.mount.range;
    i.anchor = std::clamp(0.0, near, far);
    for (std::size_t f = 0; f < frequencies_of(s); ++f) {
        i.contrast.push_back(std::abs(flight::harmonic(modulation_of(s, f), 1)));
        if (s.principle == Principle::phase_shift && !(i.contrast.back() > 0.0)) {
            scenario::reject(s, "flight.modulation_depth", "light that is not modulated has no phase", "value > 0");
        }
    }
    i.phase_offset.assign(frequencies_of(s), 0.0);
    const double beyond = search_overreach * (far - near);
    const double to_delay = i.assumed_index / speed_of_light;
    i.search = {std::max(axis_path(i, near - beyond), 0.0) * to_delay, axis_path(i, far + beyond) * to_delay};
    check_unwrapping(i);
    calibrate(i, threads);
    return i;
}

FlightPose make_flight_pose(const FlightInstrument& i, double displacement) {
    const scenario::Scenario& s = i.scenario;
    FlightPose pose;
    pose.displacement = displacement;
    pose.true_displacement = target::lit_displacement(s, displacement).value_or(displacement);
    pose.received = flight::receive(s, i.beam, i.receiver, target::make_part(s, displacement), target::surface_of(s));
    pose.light = as_timed(i, pose.received.light);
    const double mean_delay = pose.received.mean_path * i.index / speed_of_light;
    pose.beyond = pose.received.received_power > 0.0 && (mean_delay < i.search.least || mean_delay > i.search.greatest);
    if (s.principle == Principle::phase_shift) {
        const auto count = static_cast<double>(frequencies_of(s));
        scenario::Exposure each = s.exposure;
        for (double& period : each.period) period /= count;
        const std::vector<double> charges = charges_per_second(s, pose.light);
        const double brightest = *std::max_element(charges.begin(), charges.end());
        pose.timing = detector::settled_timing(each, s.detector.full_well, brightest);
        pose.timing.period *= count;
    } else {
        const double sending = static_cast<double>(s.flight.pulses) / s.flight.pulse_rate;
        pose.timing = {sending, std::max(sending, s.exposure.period[0])};
    }
    pose.plan = plan_of(i, pose.light, pose.timing.exposure);
    return pose;
}

FlightPose under_patch(const FlightInstrument& i, const FlightPose& smooth, std::int64_t patch) {
    const scenario::Scenario& s = i.scenario;
    FlightPose pose = smooth;
    // Places of the surface get patterns of their own.
    const std::int64_t place =
        std::llround(s.target.patch[0] / base::um) * 1000003 + std::llround(s.target.patch[1] / base::um);
    pose.light =
        as_timed(i, flight::speckled(smooth.received, static_cast<std::uint64_t>(s.seed), (place << 24) + patch));
    pose.plan = plan_of(i, pose.light, pose.timing.exposure);
    return pose;
}

std::optional<double> noiseless_reading(const FlightInstrument& i, const FlightPose& pose) {
    const auto delay = noiseless_delay(i, pose.plan, i.scenario.reading.threshold * i.scenario.detector.full_well);
    if (!delay || pose.beyond) return std::nullopt;
    return displacement_of(i, *delay);
}

double brightest_bucket(const FlightPose& pose) {
    if (const auto* phase = std::get_if<PhasePlan>(&pose.plan)) {
        return *std::max_element(phase->electrons.begin(), phase->electrons.end());
    }
    return 0.0;
}

namespace {

using reading::Validity;

// Validity and delay of one reading.
RawReading timed(const FlightInstrument& i, const FlightPose& pose, RawReading raw, double delay) {
    if (raw.validity != Validity::valid) return raw;
    if (pose.beyond) {
        raw.validity = Validity::ambiguous;
    } else if (const auto displacement = displacement_of(i, delay)) {
        raw.displacement = *displacement;
    } else {
        raw.validity = Validity::out_of_range;
    }
    return raw;
}

RawReading by_phase(const FlightInstrument& i, const FlightPose& pose, const PhasePlan& plan, std::int64_t index) {
    const scenario::Scenario& s = i.scenario;
    std::vector<double> charges(plan.electrons.size());
    const flight::BucketNoise noise{s.detector.read_noise, s.detector.full_well,
                                    1.0 / detector::make_digitiser(s.detector).gain,
                                    static_cast<std::uint64_t>(s.seed)};
    const bool saturated = flight::draw_buckets(plan.electrons, noise, index, charges);
    const PhaseResult result = phase_result(i, charges, s.reading.threshold * s.detector.full_well);
    RawReading raw{
        saturated ? Validity::saturated : result.validity, result.phase, 0.0, static_cast<float>(result.amplitude), {}};
    return timed(i, pose, raw, result.delay);
}

RawReading by_pulses(const FlightInstrument& i, const FlightPose& pose, const flight::PulsePlan& plan,
                     std::int64_t index) {
    const flight::PulseReading pulses = flight::send_pulses(plan, static_cast<std::uint64_t>(i.scenario.seed), index);
    RawReading raw{Validity::valid, pulses.time, 0.0, static_cast<float>(pulses.fired), {}};
    if (pulses.fired == 0) {
        raw.validity = Validity::no_peak;
    } else if (2 * pulses.fired < i.scenario.flight.pulses) {
        raw.validity = Validity::too_dark;
    }
    return timed(i, pose, raw, pulses.time - i.time_offset);
}

RawReading by_photons(const FlightInstrument& i, const FlightPose& pose, const flight::CountingPlan& plan,
                      std::int64_t index) {
    const std::vector<std::int64_t> counts =
        flight::count_photons(plan, static_cast<std::uint64_t>(i.scenario.seed), index);
    const flight::CountReading found = flight::time_of(plan, counts);
    const auto detected = static_cast<float>(found.detected_share * static_cast<double>(i.scenario.flight.pulses));
    RawReading raw{found.time ? Validity::valid : Validity::no_peak, found.time.value_or(0.0), 0.0, detected, {}};
    return timed(i, pose, raw, found.time.value_or(0.0) - i.time_offset);
}

}  // namespace

RawReading take_reading(const FlightInstrument& i, const FlightPose& pose, std::int64_t index) {
    if (const auto* phase = std::get_if<PhasePlan>(&pose.plan)) return by_phase(i, pose, *phase, index);
    if (const auto* pulse = std::get_if<flight::PulsePlan>(&pose.plan)) return by_pulses(i, pose, *pulse, index);
    return by_photons(i, pose, std::get<flight::CountingPlan>(pose.plan), index);
}

}  // namespace spotwright::study
