#include "sim/sensor/flight_delay.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/detector/array.hpp"

namespace spotwright::sensor {

namespace {

using base::Cases;
using base::pi, base::speed_of_light;
using scenario::PhaseShift, scenario::Pulsed, scenario::PulseTiming, scenario::Triangulation;

double electrons_per_joule(const scenario::Scenario& s) {
    return s.detector.quantum_efficiency / base::photon_energy(s.emitter.wavelength);
}

std::size_t frequencies_of(const scenario::Scenario& s) {
    return s.flight.modulation.size();
}

}  // namespace

flight::Light with_crosstalk(const scenario::Scenario& s, flight::Light light) {
    const bool counts = std::visit(
        Cases{[](Triangulation) { return false; }, [](PhaseShift) { return true; }, [](Pulsed) { return false; }},
        s.principle);
    if (!counts || s.flight.crosstalk == 0.0) return light;
    const flight::Arrival inside{s.flight.crosstalk_path / speed_of_light, s.flight.crosstalk * electrons_per_joule(s)};
    light.arrivals.insert(light.arrivals.begin(), inside);
    return light;
}

flight::Light as_delayed(const FlightSetup& i, flight::Light light) {
    const scenario::Scenario& s = i.scenario;
    const double drift = s.flight.delay_drift * (scenario::sensor_temperature(s) - base::room_temperature);
    for (flight::Arrival& arrival : light.arrivals) {
        arrival.delay = (arrival.delay * i.index + drift) * (1.0 + s.flight.clock_error);
    }
    return light;
}

flight::Light as_timed(const FlightSetup& i, flight::Light light) {
    return with_crosstalk(i.scenario, as_delayed(i, std::move(light)));
}

std::vector<double> charges_per_second(const scenario::Scenario& s, const flight::Light& light) {
    std::vector<double> all;
    for (std::size_t f = 0; f < frequencies_of(s); ++f) {
        const std::vector<double> charges = flight::bucket_electrons(modulation_of(s, f), light, 1.0);
        all.insert(all.end(), charges.begin(), charges.end());
    }
    return all;
}

std::vector<flight::Demodulated> demodulated(const scenario::Scenario& s, std::span<const double> charges) {
    std::vector<flight::Demodulated> all;
    const auto buckets = static_cast<std::size_t>(s.flight.buckets);
    for (std::size_t f = 0; f < frequencies_of(s); ++f) {
        all.push_back(flight::demodulate(charges.subspan(f * buckets, buckets)));
    }
    return all;
}

namespace {

// Phases less their constants, with the deviations that the light as a whole leaves them: frequencies weigh as their
// contrasts do, whatever the noise of one reading, so that calibration and reading weigh them alike.
std::vector<flight::PhaseReading> phases_of(const FlightSetup& i, const std::vector<flight::Demodulated>& all) {
    const scenario::Scenario& s = i.scenario;
    const auto& constants = std::get<PhaseConstants>(i.instrument.constants);
    double amplitude = 0.0;
    double offset = 0.0;
    double contrast = 0.0;
    for (std::size_t f = 0; f < all.size(); ++f) {
        amplitude += all[f].amplitude;
        offset += all[f].offset / static_cast<double>(all.size());
        contrast += constants.contrast[f];
    }
    std::vector<flight::PhaseReading> phases;
    for (std::size_t f = 0; f < all.size(); ++f) {
        const flight::Demodulated expected{0.0, std::max(amplitude * constants.contrast[f] / contrast, 1e-9), offset};
        const double deviation = flight::phase_deviation(expected, s.flight.buckets, dark_variance(s.detector));
        const double turned = all[f].phase - constants.offset[f];
        const double turns = 2.0 * pi;
        phases.push_back({s.flight.modulation[f], turned - turns * std::floor(turned / turns),
                          std::clamp(deviation, 1e-9, flight::guessed_phase_deviation)});
    }
    return phases;
}

}  // namespace

PhaseResult phase_result(const FlightSetup& i, std::span<const double> charges, double min_amplitude) {
    const std::vector<flight::Demodulated> all = demodulated(i.scenario, charges);
    PhaseResult result;
    result.phase = all.front().phase;
    result.amplitude = std::min_element(all.begin(), all.end(), [](const auto& a, const auto& b) {
                           return a.amplitude < b.amplitude;
                       })->amplitude;
    if (result.amplitude <= min_amplitude) {
        result.validity = reading::Validity::too_dark;
        return result;
    }
    const auto unwrapped = flight::unwrap(phases_of(i, all), i.instrument.search);
    if (!unwrapped) return result;
    result.delay = unwrapped->delay;
    result.validity =
        unwrapped->wrap_risk > i.scenario.flight.wrap_risk ? reading::Validity::ambiguous : reading::Validity::valid;
    return result;
}

namespace {

flight::PhotonCounter photon_counter_of(const FlightSetup& i) {
    const scenario::Scenario& s = i.scenario;
    flight::PhotonCounter counter;
    const double pulse = s.flight.pulse / (2.0 * std::sqrt(2.0 * std::log(2.0)));
    counter.deviation = std::hypot(pulse, s.flight.jitter);
    counter.bin = std::max(s.flight.digitiser, 1e-12);
    counter.gate_begin = std::max(i.instrument.search.least - 6.0 * counter.deviation, 0.0);
    counter.gate_end = i.instrument.search.greatest + 6.0 * counter.deviation;
    counter.pulses = s.flight.pulses;
    counter.pile_up_corrected = s.flight.pile_up_corrected;
    return counter;
}

// The comparator is listened to while light of the range may come.
flight::PulseReceiver gated_receiver_of(const FlightSetup& i) {
    flight::PulseReceiver receiver = pulse_receiver_of(i.scenario);
    const double margin = 9.0 * flight::signal_deviation(receiver) + receiver.fraction_delay;
    receiver.gate_begin = i.instrument.search.least - margin;  // a strong pulse fires early on its rise
    receiver.gate_end = i.instrument.search.greatest + margin;
    return receiver;
}

// Delays as electronics have them whose own delay grows with the light, (flight.10).
flight::Light walked(const FlightSetup& i, flight::Light light) {
    double rate = 0.0;
    for (const flight::Arrival& arrival : light.arrivals) rate += arrival.rate;
    if (!(rate > 0.0 && i.instrument.reference_rate > 0.0)) return light;
    const double delay = i.scenario.flight.walk * std::log10(rate / i.instrument.reference_rate);
    for (flight::Arrival& arrival : light.arrivals) arrival.delay += delay;
    return light;
}

}  // namespace

FlightPlan plan_of(const FlightSetup& i, const flight::Light& light, double exposure) {
    const scenario::Scenario& s = i.scenario;
    const char* key = "";  // that an error is about
    const auto of_phases = [&](const PhaseConstants&) -> FlightPlan {
        key = "flight.waveform";
        PhasePlan plan{charges_per_second(s, s.flight.walk != 0.0 ? walked(i, light) : light), exposure};
        for (double& charge : plan.electrons) charge *= exposure;
        return plan;
    };
    const auto of_pulses = [&](const PulseConstants&) -> FlightPlan {
        key = "flight.timing";
        if (s.flight.timing == PulseTiming::photon_counting) {
            return flight::make_counting_plan(photon_counter_of(i), light, pulse_duration(s.flight.pulse));
        }
        return flight::make_pulse_plan(gated_receiver_of(i), light);
    };
    try {
        return std::visit(Cases{of_phases, of_pulses}, i.instrument.constants);
    } catch (const base::DomainError& error) {
        scenario::reject(s, key, error.what(), "");
    }
}

double strength_of_phases(double amplitude, double exposure) {
    return std::log10(std::max(amplitude / exposure, 1e-300));
}

double strength_of_photons(double photons) {
    return std::log10(std::max(photons, 1e-300));
}

double corrected(const FlightSetup& i, double delay, double strength) {
    return i.instrument.intensity_table ? delay - i.instrument.intensity_table->delay_at(strength) : delay;
}

std::optional<EchoFound> noiseless_echo(const FlightSetup& i, const FlightPlan& plan, double min_amplitude) {
    const auto of_phases = [&](const PhasePlan& phase) -> std::optional<EchoFound> {
        const PhaseResult result = phase_result(i, phase.electrons, min_amplitude);
        if (result.validity != reading::Validity::valid) return std::nullopt;
        return EchoFound{result.delay, strength_of_phases(result.amplitude, phase.exposure)};
    };
    const auto offset = [&i] { return std::get<PulseConstants>(i.instrument.constants).offset; };
    const auto of_pulses = [&](const flight::PulsePlan& pulses) -> std::optional<EchoFound> {
        const auto time = flight::noiseless_time(pulses);
        if (!time) return std::nullopt;
        return EchoFound{*time - offset(), pulses.receiver.measures_width ? flight::noiseless_width(pulses) : 0.0};
    };
    const auto of_photons = [&](const flight::CountingPlan& photons) -> std::optional<EchoFound> {
        const flight::CountReading found = flight::noiseless_count(photons);
        if (!found.time) return std::nullopt;
        return EchoFound{*found.time - offset(), strength_of_photons(found.photons)};
    };
    return std::visit(Cases{of_phases, of_pulses, of_photons}, plan);
}

std::optional<double> noiseless_delay(const FlightSetup& i, const FlightPlan& plan, double min_amplitude) {
    const auto echo = noiseless_echo(i, plan, min_amplitude);
    if (!echo) return std::nullopt;
    return corrected(i, echo->delay, echo->strength);
}

double reach_of(const FlightSetup& i, double delay) {
    return delay * speed_of_light / (2.0 * i.instrument.assumed_index);
}

std::optional<double> displacement_of(const FlightSetup& i, double delay) {
    const double reach = reach_of(i, delay);
    if (i.instrument.calibration) return i.instrument.calibration->displacement(reach);
    const double displacement =
        i.instrument.anchor + (reach - i.instrument.reference_reach) * std::cos(i.scenario.emitter.angle);
    const auto [near, far] = i.scenario.mount.range;
    const double overreach = calibration_overreach * (far - near);
    if (displacement < near - overreach || displacement > far + overreach) return std::nullopt;
    return displacement;
}

}  // namespace spotwright::sensor
