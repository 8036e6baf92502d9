#include "sim/sensor/flight_instrument.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/detector/array.hpp"
#include "sim/flight/air.hpp"
#include "sim/flight/thrown.hpp"
#include "sim/receiver/ambient.hpp"
#include "sim/sensor/flight_delay.hpp"
#include "sim/sensor/flight_neighbour.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::sensor {

using base::Cases;
using base::pi, base::speed_of_light;
using scenario::PhaseShift, scenario::Pulsed, scenario::Triangulation;

flight::Modulation modulation_of(const scenario::Scenario& s, std::size_t frequency) {
    return {s.flight.waveform,
            s.flight.modulation.at(frequency),
            s.flight.modulation_depth,
            s.flight.bandwidth,
            s.flight.buckets,
            s.flight.gate_share,
            s.flight.taps};
}

flight::PulseReceiver pulse_receiver_of(const scenario::Scenario& s) {
    flight::PulseReceiver r;
    const double scale = s.detector.quantum_efficiency / base::photon_energy(s.emitter.wavelength);
    r.timing = s.flight.timing;
    r.width = s.flight.pulse;
    r.bandwidth = s.flight.bandwidth;
    r.amplifier_noise = s.flight.noise * scale;
    r.threshold = s.flight.threshold_ratio * r.amplifier_noise;
    r.fraction = s.flight.fraction;
    r.fraction_delay = s.flight.fraction_delay;
    r.comparator_offset = s.flight.comparator_offset * scale;
    r.comparator_charge = s.flight.comparator_energy * scale;
    r.saturation = s.flight.saturation * scale;
    r.recovery = s.flight.recovery;
    r.excess_noise = flight::avalanche_excess_noise(s.flight.avalanche_gain, s.flight.ionisation_ratio);
    r.jitter = s.flight.jitter;
    r.digitiser_step = s.flight.digitiser;
    r.pulses = s.flight.pulses;
    r.measures_width = s.flight.intensity_points > 0;
    return r;
}

double distance_per_delay(const scenario::Scenario& s) {
    return speed_of_light / (2.0 * flight::group_index(flight::Air{}, s.emitter.wavelength));
}

double unambiguous_distance(const scenario::Scenario& s) {
    const auto by_phase = [&s](PhaseShift) { return flight::unambiguous_delay(s.flight.modulation); };
    const auto by_pulses = [&s](Pulsed) { return 1.0 / s.flight.pulse_rate; };
    const auto untimed = [](Triangulation) { return std::numeric_limits<double>::infinity(); };
    return distance_per_delay(s) * std::visit(Cases{by_phase, by_pulses, untimed}, s.principle);
}

double pulse_duration(double full_width) {
    return full_width * std::sqrt(pi / (4.0 * std::log(2.0)));
}

namespace {

// Of each frequency, or of all pulses together.
detector::Timing timing_of(const FlightSetup& i, const flight::Light& light) {
    const scenario::Scenario& s = i.scenario;
    const auto by_phase = [&](const PhaseConstants&) {
        const auto count = static_cast<double>(s.flight.modulation.size());
        scenario::Exposure each = s.exposure;
        for (double& period : each.period) period /= count;
        const std::vector<double> charges = charges_per_second(s, light);
        const double brightest = *std::max_element(charges.begin(), charges.end());
        detector::Timing timing = detector::settled_timing(each, s.detector.full_well, brightest);
        timing.period *= count;
        return timing;
    };
    const auto by_pulses = [&](const PulseConstants&) {
        const double sending = static_cast<double>(s.flight.pulses) / s.flight.pulse_rate;
        return detector::Timing{sending, std::max(sending, s.exposure.period[0])};
    };
    return std::visit(Cases{by_phase, by_pulses}, i.instrument.constants);
}

}  // namespace

FlightPose make_flight_pose(const FlightSetup& i, double displacement) {
    const scenario::Scenario& s = i.scenario;
    FlightPose pose;
    pose.displacement = displacement;
    pose.true_displacement = lit_displacement(s, displacement).value_or(displacement);
    const target::Part part = part_of(s, displacement);
    const target::Surface surface = surface_of(s);
    pose.received = flight::receive(i.instrument.optics, part, surface, s.target.made_of);
    if (s.run.model == scenario::LightModel::ray) {
        pose.received = flight::with_thrown_light(std::move(pose.received), i.instrument.optics, part, surface,
                                                  s.run.rays, static_cast<std::uint64_t>(s.seed));
    }
    const AmbientRates around = ambient_rates(s, i.instrument.optics.receiver, beam_of(s), part);
    pose.lamp_rate = around.lamps;
    pose.received.light.constant_rate =
        around.both() + detector::dark_current_at(s.detector, scenario::sensor_temperature(s));
    pose.neighbour = neighbour_of(i, part, surface);
    if (pose.neighbour) pose.received.light.constant_rate += pose.neighbour->mean_rate;
    pose.light = light_of(i, pose, pose.received.light);
    const double mean_delay = pose.received.mean_path * i.index / speed_of_light;
    pose.beyond = pose.received.received_power > 0.0 &&
                  (mean_delay < i.instrument.search.least || mean_delay > i.instrument.search.greatest);
    pose.timing = timing_of(i, pose.light);
    pose.plan = plan_of(i, pose.light, pose.timing.exposure);
    plan_alone(i, pose);
    return pose;
}

FlightPose under_patch(const FlightSetup& i, const FlightPose& smooth, std::int64_t patch) {
    const scenario::Scenario& s = i.scenario;
    FlightPose pose = smooth;
    // Places of the surface get patterns of their own.
    const std::int64_t place =
        std::llround(s.target.patch[0] / base::um) * 1000003 + std::llround(s.target.patch[1] / base::um);
    pose.light =
        light_of(i, pose, flight::speckled(smooth.received, static_cast<std::uint64_t>(s.seed), (place << 24) + patch));
    pose.plan = plan_of(i, pose.light, pose.timing.exposure);
    plan_alone(i, pose);
    return pose;
}

std::optional<double> noiseless_reading(const FlightSetup& i, const FlightPose& pose) {
    const FlightPlan& plan = pose.neighbour && pose.neighbour->alone ? *pose.neighbour->alone : pose.plan;
    const auto delay = noiseless_delay(i, plan, i.scenario.reading.threshold * i.scenario.detector.full_well);
    if (!delay || pose.beyond) return std::nullopt;
    return displacement_of(i, *delay);
}

double brightest_bucket(const FlightPose& pose) {
    const auto of_phases = [](const PhasePlan& plan) {
        return *std::max_element(plan.electrons.begin(), plan.electrons.end());
    };
    const auto no_bucket = [](const flight::PulsePlan&) { return 0.0; };
    const auto no_well = [](const flight::CountingPlan&) { return 0.0; };
    return std::visit(Cases{of_phases, no_bucket, no_well}, pose.plan);
}

double brightness_of(const FlightSetup& i, const FlightPose& pose) {
    double rate = 0.0;
    for (const flight::Arrival& arrival : pose.received.light.arrivals) rate += arrival.rate;
    return rate / i.instrument.reference_rate;
}

namespace {

using reading::Validity;

// Whether a delay is that of the part less whole unambiguous distances, to a hundredth of one.
bool repeats(const FlightSetup& i, const FlightPose& pose, double delay) {
    const double reach = pose.received.mean_path * i.index / (2.0 * i.instrument.assumed_index);
    const double turns = (reach - reach_of(i, delay)) / i.instrument.unambiguous_distance;
    return std::abs(turns) > 0.5 && std::abs(turns - std::round(turns)) < 0.01;
}

// Validity and delay of one reading.
RawReading timed(const FlightSetup& i, const FlightPose& pose, RawReading raw, double delay) {
    if (raw.validity != Validity::valid) return raw;
    if (pose.beyond) {
        raw.validity = repeats(i, pose, delay) ? Validity::ambiguous : Validity::out_of_range;
    } else if (const auto displacement = displacement_of(i, delay)) {
        raw.displacement = *displacement;
    } else {
        raw.validity = Validity::out_of_range;
    }
    return raw;
}

RawReading by_phase(const FlightSetup& i, const FlightPose& pose, const PhasePlan& plan, std::int64_t index) {
    const scenario::Scenario& s = i.scenario;
    std::vector<double> charges(plan.electrons.size());
    const flight::BucketNoise noise{s.detector.read_noise, s.detector.full_well,
                                    1.0 / detector::make_digitiser(s.detector).gain,
                                    static_cast<std::uint64_t>(s.seed)};
    const bool saturated = flight::draw_buckets(plan.electrons, noise, index, charges);
    const PhaseResult result = phase_result(i, charges, s.reading.threshold * s.detector.full_well);
    RawReading raw{
        saturated ? Validity::saturated : result.validity, result.phase, 0.0, static_cast<float>(result.amplitude), {}};
    return timed(i, pose, raw, corrected(i, result.delay, strength_of_phases(result.amplitude, plan.exposure)));
}

RawReading by_pulses(const FlightSetup& i, const FlightPose& pose, const flight::PulsePlan& plan, std::int64_t index) {
    const flight::PulseReading pulses = pulses_of_reading(i, pose, plan, index);
    RawReading raw{Validity::valid, pulses.time, 0.0, static_cast<float>(pulses.fired), {}};
    if (pulses.fired == 0) {
        raw.validity = Validity::no_peak;
    } else if (2 * pulses.fired < i.scenario.flight.pulses) {
        raw.validity = Validity::too_dark;
    }
    const double delay = pulses.time - std::get<PulseConstants>(i.instrument.constants).offset;
    return timed(i, pose, raw, corrected(i, delay, pulses.width));
}

RawReading by_photons(const FlightSetup& i, const FlightPose& pose, const flight::CountingPlan& plan,
                      std::int64_t index) {
    const std::vector<std::int64_t> counts = counts_of_reading(i, pose, plan, index);
    const flight::CountReading found = flight::time_of(plan, counts);
    const auto detected = static_cast<float>(found.detected_share * static_cast<double>(i.scenario.flight.pulses));
    RawReading raw{found.time ? Validity::valid : Validity::no_peak, found.time.value_or(0.0), 0.0, detected, {}};
    const double delay = found.time.value_or(0.0) - std::get<PulseConstants>(i.instrument.constants).offset;
    return timed(i, pose, raw, corrected(i, delay, strength_of_photons(found.photons)));
}

RawReading by_plan(const FlightSetup& i, const FlightPose& pose, const FlightPlan& plan, std::int64_t index) {
    return std::visit(Cases{[&](const PhasePlan& phases) { return by_phase(i, pose, phases, index); },
                            [&](const flight::PulsePlan& pulses) { return by_pulses(i, pose, pulses, index); },
                            [&](const flight::CountingPlan& photons) { return by_photons(i, pose, photons, index); }},
                      plan);
}

bool is_flickering(const FlightSetup& i, const FlightPose& pose) {
    return i.scenario.surroundings.flicker_depth > 0.0 && pose.lamp_rate > 0.0;
}

}  // namespace

RawReading take_reading(const FlightSetup& i, const FlightPose& pose, std::int64_t index) {
    if (!is_flickering(i, pose) && !has_clock(pose)) return by_plan(i, pose, pose.plan, index);
    return by_plan(i, pose, plan_of_reading(i, pose, index), index);
}

double start_of_bucket(const scenario::Scenario& s, double exposure, std::size_t bucket) {
    const auto buckets = static_cast<std::size_t>(s.flight.buckets);
    const std::size_t frequency = bucket / buckets;
    const std::int64_t slot =
        flight::slot_of_bucket(static_cast<std::int64_t>(bucket % buckets), s.flight.buckets, s.flight.taps);
    return static_cast<double>(frequency) * exposure +
           static_cast<double>(slot) * flight::slot_time(exposure, s.flight.buckets, s.flight.taps);
}

FlightPlan plan_of_reading(const FlightSetup& i, const FlightPose& pose, std::int64_t index) {
    const bool flickers = is_flickering(i, pose);
    if (!flickers && !has_clock(pose)) return pose.plan;
    const scenario::Scenario& s = i.scenario;
    const double begin = begin_of_reading(pose, index);
    const auto change = [&](double from, double duration) {
        return receiver::flicker_factor(s.surroundings, from, duration) - 1.0;
    };
    const auto of_buckets = [&](const PhasePlan& mean) -> FlightPlan {
        PhasePlan plan = mean;
        if (has_clock(pose)) meet_neighbour(i, pose, begin, plan);
        if (!flickers) return plan;
        const double duration = flight::slot_time(pose.timing.exposure, s.flight.buckets, s.flight.taps);
        const double collected = s.flight.gate_share * duration * pose.lamp_rate;
        for (std::size_t k = 0; k < plan.electrons.size(); ++k) {
            const double more = collected * change(begin + start_of_bucket(s, pose.timing.exposure, k), duration);
            plan.electrons[k] = std::max(0.0, plan.electrons[k] + more);
        }
        return plan;
    };
    const auto of_pulses = [&](const auto&) -> FlightPlan {
        if (!flickers) return pose.neighbour->alone.value_or(pose.plan);
        flight::Light light = pose.light;
        const double more = pose.lamp_rate * change(begin, pose.timing.exposure);
        const double spread = has_clock(pose) ? pose.neighbour->mean_rate : 0.0;
        light.constant_rate = std::max(0.0, light.constant_rate + more - spread);
        return plan_of(i, light, pose.timing.exposure);
    };
    return std::visit(Cases{of_buckets, of_pulses}, pose.plan);
}

}  // namespace spotwright::sensor
