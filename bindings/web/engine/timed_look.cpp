// One reading by the time of light: buckets and phasors, or pulses and photons.
#include <algorithm>
#include <cmath>

#include "bindings/web/engine/look.hpp"
#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/drawing/flight_words.hpp"
#include "sim/drawing/phase_plot.hpp"
#include "sim/flight/phase_shift.hpp"
#include "sim/record/json_number.hpp"

namespace spotwright::web {

namespace {

using base::mm, base::ns, base::MHz;

// Whole periods below the distance that was read, by its way through the air of calibration.
Json wraps_of(const TimedPose& pose, double frequency, double phase, const sensor::RawReading& reading) {
    if (reading.validity != reading::Validity::valid) return nullptr;
    const double reach = pose.setup.scenario.mount.reference_distance + reading.displacement;
    const double turns = 2.0 * frequency * reach * pose.setup.instrument.assumed_index / base::speed_of_light;
    return std::round(turns - phase / (2.0 * base::pi));
}

Json list_of(std::span<const double> values) {
    Json list = Json::array();
    for (const double value : values) list.push_back(value);
    return list;
}

Answer look_at_phases(const TimedPose& pose, const sensor::PhasePlan& plan, std::int64_t index,
                      const sensor::RawReading& reading) {
    const scenario::Scenario& s = pose.setup.scenario;
    const std::vector<double> charges = drawing::read_charges(pose.setup, pose.still, index);
    const auto buckets = static_cast<std::size_t>(s.flight.buckets);
    Json frequencies = Json::array();
    for (std::size_t f = 0; f < s.flight.modulation.size(); ++f) {
        const auto of_this = [&](const std::vector<double>& all) {
            return std::span(all).subspan(f * buckets, buckets);
        };
        const flight::Demodulated found = flight::demodulate(of_this(charges));
        const double frequency = s.flight.modulation[f];
        frequencies.push_back({{"frequency_MHz", frequency / MHz},
                               {"charges_e", list_of(of_this(charges))},
                               {"expected_e", list_of(of_this(plan.electrons))},
                               {"phase_rad", found.phase},
                               {"amplitude_e", found.amplitude},
                               {"offset_e", found.offset},
                               {"wraps", wraps_of(pose, frequency, found.phase, reading)},
                               {"period_mm", sensor::distance_per_delay(s) / frequency / mm}});
    }
    return {{{"kind", "phase"}, {"frequencies", frequencies}, {"full_well_e", s.detector.full_well}}, {}};
}

// Of what is far longer than its pulse, only the surroundings of the light are worth a look.
struct TimeWindow {
    double from = 0.0;
    double to = 0.0;
};

TimeWindow window_of(const flight::Light& light, double margin, const TimeWindow& listened) {
    if (light.arrivals.empty()) return listened;
    const TimeWindow wanted{light.arrivals.front().delay - margin, light.arrivals.back().delay + margin};
    if (wanted.to < listened.from || wanted.from > listened.to) return listened;
    return {std::max(wanted.from, listened.from), std::min(wanted.to, listened.to)};
}

// Samples of a run that lie in a window, several taken together by `of_group` where they are very many.
struct Samples {
    std::vector<double> time_ns;
    std::vector<std::size_t> first;
    std::size_t together = 1;
};

Samples samples_in(const TimeWindow& window, double first, double step, std::size_t count) {
    constexpr std::size_t most = 1200;
    const auto index = [&](double time) {
        return static_cast<std::size_t>(std::clamp((time - first) / step, 0.0, static_cast<double>(count)));
    };
    const std::size_t begin = index(window.from);
    const std::size_t end = index(window.to);
    Samples samples;
    samples.together = (end - begin) / most + 1;
    for (std::size_t i = begin; i + samples.together <= end; i += samples.together) {
        const double middle = static_cast<double>(i) + 0.5 * static_cast<double>(samples.together - 1);
        samples.time_ns.push_back((first + middle * step) / ns);
        samples.first.push_back(i);
    }
    return samples;
}

template <class Value>
std::vector<double> sums(const Samples& samples, const Value& value) {
    std::vector<double> list;
    for (const std::size_t first : samples.first) {
        double sum = 0.0;
        for (std::size_t i = first; i < first + samples.together; ++i) sum += value(i);
        list.push_back(sum);
    }
    return list;
}

Answer look_at_pulse(const TimedPose& pose, const flight::PulsePlan& plan, std::int64_t index) {
    const auto seed = static_cast<std::uint64_t>(pose.setup.scenario.seed);
    const double end = plan.first + plan.step * static_cast<double>(plan.signal.size());
    const double margin = 8.0 * flight::signal_deviation(plan.receiver);
    const Samples samples =
        samples_in(window_of(pose.still.light, margin, {plan.first, end}), plan.first, plan.step, plan.signal.size());
    const double share = 1.0 / static_cast<double>(samples.together);
    Answer answer;
    answer.json = {{"kind", "pulse"},
                   {"threshold", plan.receiver.threshold},
                   {"arrival_ns", record::json_number(flight::pulse_time(plan, seed, index, 0), ns)},
                   {"counts", nullptr}};
    answer.arrays = {
        {{"time_ns"}, samples.time_ns},
        {{"signal"}, sums(samples, [&](std::size_t i) { return share * static_cast<double>(plan.signal[i]); })}};
    return answer;
}

Answer look_at_photons(const TimedPose& pose, const flight::CountingPlan& plan, std::int64_t index) {
    const flight::PhotonCounter& counter = plan.counter;
    const std::vector<std::int64_t> counts =
        flight::count_photons(plan, static_cast<std::uint64_t>(pose.setup.scenario.seed), index);
    const double margin = 12.0 * counter.deviation + 20.0 * counter.bin;
    const Samples samples = samples_in(window_of(pose.still.light, margin, {counter.gate_begin, counter.gate_end}),
                                       counter.gate_begin + 0.5 * counter.bin, counter.bin, plan.mean.size());
    const auto expected = [&](std::size_t i) {
        return static_cast<double>(counter.pulses) * (plan.cumulative[i] - (i == 0 ? 0.0 : plan.cumulative[i - 1]));
    };
    Answer answer;
    answer.json = {{"kind", "pulse"},
                   {"threshold", nullptr},
                   {"arrival_ns", record::json_number(flight::time_of(plan, counts).time, ns)}};
    answer.arrays = {{{"time_ns"}, samples.time_ns},
                     {{"signal"}, sums(samples, expected)},
                     {{"counts"}, sums(samples, [&](std::size_t i) { return static_cast<double>(counts[i]); })}};
    return answer;
}

}  // namespace

Answer look_at_timed(const TimedPose& pose, std::int64_t index) {
    const sensor::RawReading reading = sensor::take_reading(pose.setup, pose.still, index);
    const sensor::FlightPlan plan = sensor::plan_of_reading(pose.setup, pose.still, index);
    Answer answer = std::visit(
        base::Cases{[&](const sensor::PhasePlan& phases) { return look_at_phases(pose, phases, index, reading); },
                    [&](const flight::PulsePlan& pulse) { return look_at_pulse(pose, pulse, index); },
                    [&](const flight::CountingPlan& photons) { return look_at_photons(pose, photons, index); }},
        plan);
    answer.json["unambiguous_mm"] = pose.setup.instrument.unambiguous_distance / mm;
    answer.json["mm_per_ns"] = sensor::distance_per_delay(pose.setup.scenario) * ns / mm;
    answer.json.update(reading_json(reading, drawing::explanation(pose.setup, pose.still, reading),
                                    pose.still.true_displacement, pose.still.timing));
    return answer;
}

}  // namespace spotwright::web
