#include "sim/drawing/pulse_plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/drawing/page.hpp"
#include "sim/drawing/flight_plots.hpp"
#include "sim/drawing/profile_axes.hpp"

namespace spotwright::drawing {

namespace {

using base::ns, base::mm;

constexpr double per_ns = 1.0 / ns;  // electrons per nanosecond. [e/s]

// What is drawn of a time axis. [s]
struct TimeWindow {
    double from = 0.0;
    double to = 1.0;
};

// All of the light and `margin` to either side of it, as far as the sensor listens.
TimeWindow window_about(const flight::Light& light, double margin, const TimeWindow& listened) {
    if (light.arrivals.empty()) return listened;
    TimeWindow window{light.arrivals.front().delay - margin, light.arrivals.back().delay + margin};
    if (window.to < listened.from || window.from > listened.to) return listened;
    return {std::max(window.from, listened.from), std::min(window.to, listened.to)};
}

// One drawn sample of what the comparator sees.
struct PulseSample {
    double time = 0.0;       // [s]
    double signal = 0.0;     // V. [e/s]
    double deviation = 0.0;  // of noise. [e/s]
    double timed = 0.0;      // f V(t) - V(t - D) + offset of a constant fraction. [e/s]
};

double noise_at(const flight::PulsePlan& plan, std::size_t i) {
    double variance = 0.0;
    for (std::size_t k = 0; k < plan.response.size(); ++k) {
        const double weighted =
            static_cast<double>(plan.response[k]) * static_cast<double>(plan.white_deviation[i + k]);
        variance += weighted * weighted;
    }
    return std::sqrt(variance);
}

PulseSample sample_at(const flight::PulsePlan& plan, std::size_t i) {
    const flight::PulseReceiver& r = plan.receiver;
    const auto delay = static_cast<std::size_t>(std::lround(r.fraction_delay / plan.step));
    const auto signal = [&plan](std::size_t k) { return static_cast<double>(plan.signal[k]); };
    const double earlier = i >= delay ? signal(i - delay) : 0.0;
    return {plan.first + static_cast<double>(i) * plan.step, signal(i), noise_at(plan, i),
            r.fraction * signal(i) - earlier + r.comparator_offset};
}

// Samples within a window; where there are too many, the highest of each group.
std::vector<PulseSample> samples_in(const flight::PulsePlan& plan, const TimeWindow& window) {
    constexpr std::size_t most = 1200;
    const auto count = static_cast<double>(plan.signal.size());
    const auto index = [&plan, count](double time) {
        return static_cast<std::size_t>(std::clamp(std::ceil((time - plan.first) / plan.step), 0.0, count));
    };
    const std::size_t first = index(window.from);
    const std::size_t last = index(window.to);
    const std::size_t group = (last - first) / most + 1;
    std::vector<PulseSample> samples;
    for (std::size_t i = first; i < last; i += group) {
        const auto begin = plan.signal.begin() + static_cast<std::ptrdiff_t>(i);
        const auto end = plan.signal.begin() + static_cast<std::ptrdiff_t>(std::min(i + group, last));
        samples.push_back(
            sample_at(plan, static_cast<std::size_t>(std::max_element(begin, end) - plan.signal.begin())));
    }
    return samples;
}

Panel plot_of_times(const Box& area, const TimeWindow& window, double low, double high, std::string name) {
    constexpr double margin = 0.05;
    Panel panel;
    panel.box = {area.left, area.top + axis_height + 8.0, area.right, area.bottom - axis_height};
    panel.left = window.from;
    panel.right = window.to;
    panel.bottom = low - (low < 0.0 ? margin * (high - low) : 0.0);
    constexpr double room_for_words = 0.14;
    panel.top = high + room_for_words * (high - low);
    panel.name = std::move(name);
    return panel;
}

void draw_time_scales(Canvas& canvas, const sensor::FlightSetup& setup, const Panel& panel) {
    draw_scale_below(canvas, panel, {ns, "time, ns"});
    const double time_per_distance = 2.0 * setup.instrument.assumed_index / base::speed_of_light;
    draw_scale_above(canvas, panel, {time_per_distance * mm, "light from, mm"});
}

std::string in_ns(double time) {
    return number(time / ns, 6) + "\u00A0ns";
}

void draw_band(Canvas& canvas, const Panel& panel, const std::vector<PulseSample>& samples) {
    std::vector<Vector2> outline;
    std::vector<Vector2> back;
    for (const PulseSample& s : samples) {
        outline.emplace_back(panel.x(s.time), panel.y(s.signal + s.deviation));
        back.emplace_back(panel.x(s.time), panel.y(s.signal - s.deviation));
    }
    outline.insert(outline.end(), back.rbegin(), back.rend());
    canvas.polygon(outline, palette::beam, {palette::beam, 0.4}, "noise-band");
}

void draw_curve_of(Canvas& canvas, const Panel& panel, const std::vector<PulseSample>& samples,
                   double PulseSample::*value, const Pen& pen, const std::string& id) {
    std::vector<Vector2> points;
    for (const PulseSample& s : samples) points.emplace_back(panel.x(s.time), panel.y(s.*value));
    canvas.polyline(points, pen, id);
}

// A line at the time, and what it is beside its upper end, on the side with more room.
void draw_found_time(Canvas& canvas, const Panel& panel, double time, const std::string& words) {
    draw_place_line(canvas, panel, time, {palette::ink, 1.3, dash::chain}, "found-time");
    const bool on_left = panel.x(time) > 0.5 * (panel.box.left + panel.box.right);
    TextStyle style{small_size, on_left ? Anchor::end : Anchor::start};
    style.halo = true;
    canvas.text({panel.x(time) + (on_left ? -6.0 : 6.0), panel.box.top + 14.0}, words, style);
}

}  // namespace

void draw_pulse(Canvas& canvas, const sensor::FlightSetup& setup, const flight::PulsePlan& plan,
                const flight::Light& light, const Box& area) {
    const flight::PulseReceiver& r = plan.receiver;
    const bool fraction = r.timing == scenario::PulseTiming::constant_fraction;
    const double margin = 5.0 * flight::signal_deviation(r) + (fraction ? r.fraction_delay : 0.0);
    const double end = plan.first + static_cast<double>(plan.signal.size()) * plan.step;
    const TimeWindow window = window_about(light, margin, {plan.first, end});
    const std::vector<PulseSample> samples = samples_in(plan, window);
    double low = 0.0;
    double high = r.threshold;
    for (const PulseSample& s : samples) {
        low = std::min({low, s.signal - s.deviation, fraction ? s.timed : 0.0});
        high = std::max({high, s.signal + s.deviation, fraction ? s.timed : 0.0});
    }
    const Panel panel = plot_of_times(area, window, low, high, "pulse");
    draw_plot_frame(canvas, panel);
    draw_level_line(canvas, panel, 0.0, {palette::grey, 0.9}, "zero");
    draw_band(canvas, panel, samples);
    draw_level_line(canvas, panel, r.threshold, {palette::near_end, 1.4, dash::dashed}, "threshold");
    if (fraction)
        draw_curve_of(canvas, panel, samples, &PulseSample::timed, {palette::far_end, 1.6, dash::dotted}, "timed");
    draw_curve_of(canvas, panel, samples, &PulseSample::signal, {palette::beam_edge, 1.8}, "signal");
    const auto time = flight::noiseless_time(plan);
    if (time && *time >= window.from && *time <= window.to) {
        draw_found_time(canvas, panel, *time, "fires at " + in_ns(*time));
        canvas.circle({panel.x(*time), panel.y(fraction ? 0.0 : r.threshold)}, 4.0, palette::paper,
                      {palette::ink, 1.4});
    }
    draw_scale_beside(canvas, panel, {per_ns, "signal, e/ns"}, {page_margin, area.top + 6.0});
    draw_time_scales(canvas, setup, panel);
    draw_named_levels(canvas, panel,
                      {{r.threshold, {fraction ? "armed from" : "threshold", number(r.threshold / per_ns) + " e/ns"}},
                       {0.0, {"noise, sd", number(plan.constant_deviation / per_ns) + " e/ns"}}},
                      page_width - page_margin);
    std::vector<KeyEntry> key{{"signal without noise", {palette::beam_edge, 1.8}},
                              {"one standard deviation", {palette::beam, 0.4}, palette::beam}};
    if (fraction) key.push_back({"fraction less delayed signal", {palette::far_end, 1.6, dash::dotted}});
    draw_plot_key(canvas, key, page_width - page_margin, area.top - 13.0);
}

namespace {

// Counts of bins, some of them taken together.
struct CountBins {
    double first = 0.0;  // time at which the first begins. [s]
    double width = 0.0;  // [s]
    std::size_t together = 1;
    std::vector<double> expected;
    std::vector<double> counted;
};

CountBins bins_in(const flight::CountingPlan& plan, const std::vector<std::int64_t>& counts, const TimeWindow& window) {
    constexpr std::size_t most = 320;
    const flight::PhotonCounter& c = plan.counter;
    const auto size = static_cast<double>(plan.mean.size());
    const auto index = [&c, size](double time) {
        return static_cast<std::size_t>(std::clamp((time - c.gate_begin) / c.bin, 0.0, size));
    };
    CountBins bins;
    const std::size_t begin = index(window.from);
    const std::size_t end = index(window.to);
    bins.together = (end - begin) / most + 1;
    bins.first = c.gate_begin + static_cast<double>(begin) * c.bin;
    bins.width = static_cast<double>(bins.together) * c.bin;
    for (std::size_t i = begin; i + bins.together <= end; i += bins.together) {
        const std::size_t last = i + bins.together - 1;
        const double before = i == 0 ? 0.0 : plan.cumulative[i - 1];
        bins.expected.push_back(static_cast<double>(c.pulses) * (plan.cumulative[last] - before));
        double counted = 0.0;
        for (std::size_t k = i; k <= last; ++k) counted += static_cast<double>(counts[k]);
        bins.counted.push_back(counted);
    }
    return bins;
}

std::vector<Vector2> steps_of(const Panel& panel, const CountBins& bins, const std::vector<double>& values) {
    std::vector<Vector2> steps;
    for (std::size_t i = 0; i < values.size(); ++i) {
        const double left = bins.first + static_cast<double>(i) * bins.width;
        steps.emplace_back(panel.x(left), panel.y(values[i]));
        steps.emplace_back(panel.x(left + bins.width), panel.y(values[i]));
    }
    return steps;
}

}  // namespace

void draw_photons(Canvas& canvas, const sensor::FlightSetup& setup, const flight::CountingPlan& plan,
                  const flight::Light& light, std::int64_t index, const Box& area) {
    const flight::PhotonCounter& c = plan.counter;
    constexpr double deviations = 12.0;
    const TimeWindow window = window_about(light, deviations * c.deviation + 20.0 * c.bin, {c.gate_begin, c.gate_end});
    const std::vector<std::int64_t> counts =
        flight::count_photons(plan, static_cast<std::uint64_t>(setup.scenario.seed), index);
    const CountBins bins = bins_in(plan, counts, window);
    const double background = static_cast<double>(c.pulses) * plan.background * static_cast<double>(bins.together);
    double high = std::max(1.0, background);
    for (const std::vector<double>* values : {&bins.expected, &bins.counted}) {
        for (const double value : *values) high = std::max(high, value);
    }
    const Panel panel = plot_of_times(area, window, 0.0, high, "counts");
    std::vector<Vector2> outline = steps_of(panel, bins, bins.expected);
    if (!outline.empty()) {
        outline.emplace_back(outline.back().x(), panel.y(0.0));
        outline.emplace_back(outline.front().x(), panel.y(0.0));
        canvas.polygon(outline, palette::beam, {palette::beam_edge, 0.8}, "expected-counts");
        canvas.polyline(steps_of(panel, bins, bins.counted), {palette::ink, 1.0}, "counts");
    }
    draw_plot_frame(canvas, panel);
    draw_level_line(canvas, panel, background, {palette::near_end, 1.4, dash::dashed}, "background");
    const char* how = c.pile_up_corrected ? ", pile-up corrected" : "";
    if (const auto time = flight::time_of(plan, counts).time; time && *time >= window.from && *time <= window.to) {
        draw_found_time(canvas, panel, *time, "found at " + in_ns(*time) + how);
    }
    draw_scale_beside(canvas, panel, {1.0, fmt::format("photons in {} ps", number(bins.width / base::ps, 5))},
                      {page_margin, area.top + 6.0});
    draw_time_scales(canvas, setup, panel);
    draw_named_levels(canvas, panel, {{background, {"constant light", number(background, 3)}}},
                      page_width - page_margin);
    draw_plot_key(canvas,
                  {{"this reading", {palette::ink, 1.0}},
                   {"expected", {palette::beam_edge, 0.8}, palette::beam},
                   {"constant light alone", {palette::near_end, 1.4, dash::dashed}}},
                  page_width - page_margin, area.top - 13.0);
}

}  // namespace spotwright::drawing
