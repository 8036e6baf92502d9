#include "sim/sensor/flight_neighbour.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/errors.hpp"
#include "sim/flight/receive.hpp"
#include "sim/sensor/flight_delay.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::sensor {

namespace {

using base::Cases;
using scenario::NeighbourTiming, scenario::PulseTiming;

// Depth within the other's spot counts little beside its unknown clock; what tells two steps of a part apart stays.
constexpr std::size_t most_arrivals = 4;

double rate_of(const flight::Light& light) {
    double rate = 0.0;
    for (const flight::Arrival& arrival : light.arrivals) rate += arrival.rate;
    return rate;
}

// What its light is in the mean over all phases between the clocks. Of photons only the first of a pulse counts. [1/s]
double mean_rate_of(const FlightSetup& i, double rate) {
    const scenario::Scenario& s = i.scenario;
    const double lit = s.neighbour.exposure / s.neighbour.period;
    const auto by_phase = [&](const PhaseConstants&) { return rate * lit; };
    const auto by_pulses = [&](const PulseConstants&) {
        // A comparator does not see pulses as constant light.
        if (s.flight.timing != PulseTiming::photon_counting) return 0.0;
        return -std::expm1(-rate * pulse_duration(s.flight.pulse)) * lit * s.neighbour.pulse_rate;
    };
    return std::visit(Cases{by_phase, by_pulses}, i.instrument.constants);
}

double pulse_interval_of(const FlightSetup& i) {
    return 1.0 / i.scenario.flight.pulse_rate;
}

}  // namespace

std::optional<TimedNeighbour> neighbour_of(const FlightSetup& i, const target::Part& part,
                                           const target::Surface& surface) {
    const scenario::Scenario& s = i.scenario;
    const scenario::Neighbour& n = s.neighbour;
    if (n.power == 0.0 || n.timing == NeighbourTiming::alternating) return std::nullopt;
    if (std::abs(n.wavelength - s.emitter.wavelength) > 0.5 * s.receiver.filter_width) return std::nullopt;
    flight::TimedOptics optics = i.instrument.optics;
    optics.beam.power = n.power;
    optics.beam.face += Eigen::Vector3d(n.position[0], n.position[1], 0.0);
    const flight::Received received = flight::receive(optics, part, surface, s.target.made_of);
    const flight::Light seen = as_delayed(i, flight::with_at_most(received.light, most_arrivals));
    if (seen.arrivals.empty()) return std::nullopt;
    TimedNeighbour neighbour;
    neighbour.has_clock = n.timing == NeighbourTiming::free;
    neighbour.light.arrivals = seen.arrivals;
    neighbour.light.period = n.period;
    neighbour.light.exposure = n.exposure;
    neighbour.light.frequency = n.modulation;
    neighbour.light.pulse_interval = 1.0 / n.pulse_rate;
    if (neighbour.has_clock) neighbour.mean_rate = mean_rate_of(i, rate_of(seen));
    return neighbour;
}

flight::Light light_of(const FlightSetup& i, const FlightPose& pose, const flight::Light& received) {
    flight::Light light = as_timed(i, received);
    if (!pose.neighbour || pose.neighbour->has_clock) return light;
    const std::vector<flight::Arrival>& more = pose.neighbour->light.arrivals;
    light.arrivals.insert(light.arrivals.end(), more.begin(), more.end());
    std::stable_sort(light.arrivals.begin(), light.arrivals.end(),
                     [](const flight::Arrival& a, const flight::Arrival& b) { return a.delay < b.delay; });
    return light;
}

void plan_alone(const FlightSetup& i, FlightPose& pose) {
    if (!has_clock(pose) || !std::holds_alternative<flight::CountingPlan>(pose.plan)) return;
    flight::Light light = pose.light;
    light.constant_rate = std::max(0.0, light.constant_rate - pose.neighbour->mean_rate);
    pose.neighbour->alone = plan_of(i, light, pose.timing.exposure);
}

bool has_clock(const FlightPose& pose) {
    return pose.neighbour && pose.neighbour->has_clock;
}

double begin_of_reading(const FlightPose& pose, std::int64_t index) {
    return pose.start + static_cast<double>(index) * pose.timing.period;
}

void meet_neighbour(const FlightSetup& i, const FlightPose& pose, double begin, PhasePlan& plan) {
    const scenario::Scenario& s = i.scenario;
    const auto buckets = static_cast<std::size_t>(s.flight.buckets);
    const double exposure = pose.timing.exposure;
    const double spread =
        s.flight.gate_share * flight::slot_time(exposure, s.flight.buckets, s.flight.taps) * pose.neighbour->mean_rate;
    for (double& charge : plan.electrons) charge = std::max(0.0, charge - spread);
    for (std::size_t f = 0; f < s.flight.modulation.size(); ++f) {
        flight::add_neighbour(modulation_of(s, f), pose.neighbour->light, begin + static_cast<double>(f) * exposure,
                              exposure, std::span(plan.electrons).subspan(f * buckets, buckets));
    }
}

namespace {

// What the pulses of a reading need to know of the other's clock.
template <class Take>
auto met_by_pulses(const FlightSetup& i, const Take& take) {
    try {
        return take();
    } catch (const base::DomainError& error) {
        scenario::reject(i.scenario, "neighbour.pulse_rate_kHz", error.what(), "");
    }
}

}  // namespace

flight::PulseReading pulses_of_reading(const FlightSetup& i, const FlightPose& pose, const flight::PulsePlan& plan,
                                       std::int64_t index) {
    const auto seed = static_cast<std::uint64_t>(i.scenario.seed);
    if (!has_clock(pose)) return flight::send_pulses(plan, seed, index);
    return met_by_pulses(i, [&] {
        return flight::send_pulses(plan, pose.light, pose.neighbour->light, pulse_interval_of(i),
                                   begin_of_reading(pose, index), seed, index);
    });
}

std::vector<std::int64_t> counts_of_reading(const FlightSetup& i, const FlightPose& pose,
                                            const flight::CountingPlan& plan, std::int64_t index) {
    const auto seed = static_cast<std::uint64_t>(i.scenario.seed);
    if (!has_clock(pose)) return flight::count_photons(plan, seed, index);
    return flight::count_photons(plan, pose.neighbour->light, pulse_duration(i.scenario.flight.pulse),
                                 pulse_interval_of(i), begin_of_reading(pose, index), seed, index);
}

std::optional<double> noiseless_reading_at(const FlightSetup& i, const FlightPose& pose, std::int64_t index) {
    const double least = i.scenario.reading.threshold * i.scenario.detector.full_well;
    const FlightPlan plan = plan_of_reading(i, pose, index);
    const auto echo = noiseless_echo(i, plan, least);
    if (!echo || pose.beyond) return std::nullopt;
    if (!has_clock(pose)) return displacement_of(i, corrected(i, echo->delay, echo->strength));
    const double begin = begin_of_reading(pose, index);
    const flight::NeighbourLight& other = pose.neighbour->light;
    const auto of_phases = [&](const PhasePlan&) { return std::optional(echo->delay); };
    const auto less_offset = [&](std::optional<double> time) {
        if (time) *time -= std::get<PulseConstants>(i.instrument.constants).offset;
        return time;
    };
    const auto of_pulses = [&](const flight::PulsePlan& pulses) {
        return met_by_pulses(i, [&] {
            return less_offset(flight::noiseless_time(pulses, pose.light, other, pulse_interval_of(i), begin));
        });
    };
    const auto of_photons = [&](const flight::CountingPlan& photons) {
        return less_offset(flight::noiseless_time(photons, other, pulse_duration(i.scenario.flight.pulse),
                                                  pulse_interval_of(i), begin));
    };
    const std::optional<double> delay = std::visit(Cases{of_phases, of_pulses, of_photons}, plan);
    if (!delay) return std::nullopt;
    return displacement_of(i, corrected(i, *delay, echo->strength));
}

namespace {

// Multiples of the powers of 1 / x, x^4 = x + 1, fill the cube evenly (M. Roberts' generalisation of the golden ratio,
// from memory).
std::array<double, 3> phases_between_clocks(std::int64_t number) {
    constexpr std::array<double, 3> steps{0.8191725133961645, 0.6710436067037893, 0.5497004779019703};
    std::array<double, 3> place{};
    for (std::size_t k = 0; k < place.size(); ++k) {
        const double at = 0.5 + static_cast<double>(number + 1) * steps[k];
        place[k] = at - std::floor(at);
    }
    return place;
}

// Mean of a window of readings, by so many of them at most, spread evenly.
std::optional<double> output_at(const FlightSetup& i, const FlightPose& pose, std::int64_t most) {
    const std::int64_t window = i.scenario.reading.average;
    const std::int64_t readings = std::min(window, most);
    double sum = 0.0;
    double count = 0.0;
    for (std::int64_t k = 0; k < readings; ++k) {
        if (const auto found = noiseless_reading_at(i, pose, k * window / readings)) {
            sum += *found;
            count += 1.0;
        }
    }
    return count > 0.0 ? std::optional(sum / count) : std::nullopt;
}

// The pose without a second sensor that is synchronised.
FlightPose without_neighbour(const FlightSetup& i, FlightPose pose) {
    pose.neighbour.reset();
    pose.light = light_of(i, pose, pose.received.light);
    pose.plan = plan_of(i, pose.light, pose.timing.exposure);
    return pose;
}

}  // namespace

std::vector<double> neighbour_errors(const FlightSetup& i, const FlightPose& pose) {
    if (!pose.neighbour) return {};
    if (!pose.neighbour->has_clock) {
        const auto with = noiseless_reading(i, pose);
        const auto without = noiseless_reading(i, without_neighbour(i, pose));
        return with && without ? std::vector{*with - *without} : std::vector<double>{};
    }
    const auto alone = noiseless_reading(i, pose);
    if (!alone) return {};
    const bool by_phase = std::holds_alternative<PhasePlan>(pose.plan);
    const std::int64_t outputs = by_phase ? 128 : 64;
    const std::int64_t most_readings = by_phase ? 128 : 16;
    std::vector<double> errors;
    FlightPose met = pose;
    for (std::int64_t k = 0; k < outputs; ++k) {
        const auto [lit, turn, pulse] = phases_between_clocks(k);
        met.neighbour->light.lit_from = lit;
        met.neighbour->light.turn = turn;
        met.neighbour->light.pulse_from = pulse;
        if (const auto found = output_at(i, met, most_readings)) errors.push_back(*found - *alone);
    }
    return errors;
}

BeatOfNeighbour worst_beat(const scenario::Scenario& s, const FlightPose& pose) {
    const flight::NeighbourLight& light = pose.neighbour->light;
    const bool clock = pose.neighbour->has_clock;
    double other = 0.0;
    for (const flight::Arrival& arrival : light.arrivals) other += arrival.rate;
    const double own = rate_of(pose.light) - (clock ? 0.0 : other);
    BeatOfNeighbour worst;
    if (!(own > 0.0)) return worst;
    for (const double frequency : s.flight.modulation) {
        BeatOfNeighbour beat{other / own, clock ? light.frequency - frequency : 0.0, 1.0};
        if (clock) beat.kept = flight::kept_share(light, 0.0, pose.timing.exposure, beat.difference);
        if (beat.kept >= worst.kept) worst = beat;
    }
    return worst;
}

double pulses_met(const FlightPose& pose) {
    if (!has_clock(pose)) return 1.0;
    const auto of_phases = [](const PhasePlan&) { return 0.0; };
    const auto of_pulses = [](const flight::PulsePlan& p) { return p.receiver.gate_end - p.receiver.gate_begin; };
    const auto of_photons = [](const flight::CountingPlan& p) { return p.counter.gate_end - p.counter.gate_begin; };
    return flight::gate_share_met(pose.neighbour->light,
                                  std::visit(Cases{of_phases, of_pulses, of_photons}, pose.plan));
}

}  // namespace spotwright::sensor
