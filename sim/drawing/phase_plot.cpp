#include "sim/drawing/phase_plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/flight/phase_shift.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/detector/array.hpp"
#include "sim/drawing/page.hpp"
#include "sim/drawing/flight_plots.hpp"
#include "sim/drawing/profile_axes.hpp"

namespace spotwright::drawing {

namespace {

using base::pi;

// Charges of one frequency and what is made of them.
struct BucketSet {
    double frequency = 0.0;
    std::vector<double> charge;     // [e]
    std::vector<double> deviation;  // of each, expected. [e]
    flight::Demodulated found;
    double phase_deviation = 0.0;  // [rad]
    std::size_t full = 0;          // buckets at full well: the wave is not known where there are any
};

std::vector<BucketSet> bucket_sets(const sensor::FlightSetup& setup, const sensor::FlightPose& pose,
                                   std::int64_t index) {
    const scenario::Scenario& s = setup.scenario;
    const std::vector<double> charges = read_charges(setup, pose, index);
    const std::vector<double>& mean = std::get<sensor::PhasePlan>(pose.plan).electrons;
    const double dark = sensor::dark_variance(s.detector);
    const auto buckets = static_cast<std::size_t>(s.flight.buckets);
    std::vector<BucketSet> sets;
    for (std::size_t f = 0; f < s.flight.modulation.size(); ++f) {
        BucketSet set;
        set.frequency = s.flight.modulation[f];
        for (std::size_t k = f * buckets; k < (f + 1) * buckets; ++k) {
            set.charge.push_back(charges[k]);
            set.deviation.push_back(std::sqrt(mean[k] + dark));
        }
        set.found = flight::demodulate(set.charge);
        const flight::Demodulated expected = flight::demodulate(std::span(mean).subspan(f * buckets, buckets));
        set.phase_deviation = flight::phase_deviation(expected, s.flight.buckets, dark);
        set.full = static_cast<std::size_t>(
            std::count_if(set.charge.begin(), set.charge.end(), [&s](double c) { return c >= s.detector.full_well; }));
        sets.push_back(std::move(set));
    }
    return sets;
}

double background_of(const scenario::Scenario& s, const sensor::FlightPose& pose) {
    return pose.light.constant_rate * s.flight.gate_share *
           flight::slot_time(pose.timing.exposure, s.flight.buckets, s.flight.taps);
}

// Room for all charges and waves; for full well where they come near it.
SignalRange charge_range(const std::vector<BucketSet>& sets, double background, double full_well) {
    SignalRange range{0.0, std::max(background, 1.0), false};
    for (const BucketSet& set : sets) {
        if (set.full == 0) {
            range.high = std::max(range.high, set.found.offset + set.found.amplitude);
            range.low = std::min(range.low, set.found.offset - set.found.amplitude);
        }
        for (std::size_t k = 0; k < set.charge.size(); ++k) {
            const double deviation = set.charge[k] < full_well ? set.deviation[k] : 0.0;
            range.high = std::max(range.high, set.charge[k] + deviation);
            range.low = std::min(range.low, set.charge[k] - deviation);
        }
    }
    constexpr double near = 0.45;
    if (range.high > near * full_well) {
        range.shows_saturation = true;
        range.high = std::max(range.high, full_well);
    }
    return range;
}

// Quarters of a turn.
void draw_phase_axis(Canvas& canvas, const Panel& panel) {
    constexpr std::array names{"0", "π/2", "π", "3π/2", "2π"};
    canvas.open_group("phase-axis-" + panel.name);
    for (std::size_t i = 0; i < names.size(); ++i) {
        const double x = panel.x(0.5 * pi * static_cast<double>(i));
        canvas.line({x, panel.box.bottom}, {x, panel.box.bottom + 4.0}, {palette::grey, 0.9});
        canvas.text({x, panel.box.bottom + 15.0}, names[i], {small_size, Anchor::middle});
    }
    canvas.close_group();
}

void draw_wave(Canvas& canvas, const Panel& panel, const flight::Demodulated& found) {
    constexpr int segments = 90;
    std::vector<Vector2> points;
    for (int i = 0; i <= segments; ++i) {
        const double turn = 2.0 * pi * i / segments;
        points.emplace_back(panel.x(turn), panel.y(found.offset + found.amplitude * std::cos(turn - found.phase)));
    }
    canvas.polyline(points, {palette::beam_edge, 1.8}, "wave-" + panel.name);
}

void draw_charges(Canvas& canvas, const Panel& panel, const BucketSet& set, double full_well) {
    canvas.open_group("charges-" + panel.name);
    for (std::size_t k = 0; k < set.charge.size(); ++k) {
        const double x = panel.x(2.0 * pi * static_cast<double>(k) / static_cast<double>(set.charge.size()));
        const Pen pen{palette::ink, 1.2};
        const bool is_full = set.charge[k] >= full_well;
        if (!is_full) {
            const double upper = panel.y(set.charge[k] + set.deviation[k]);
            const double lower = panel.y(set.charge[k] - set.deviation[k]);
            canvas.line({x, upper}, {x, lower}, pen);
            for (const double end : {upper, lower}) canvas.line({x - 3.5, end}, {x + 3.5, end}, pen);
        }
        canvas.circle({x, panel.y(set.charge[k])}, 3.2, is_full ? palette::ink : palette::paper, pen);
    }
    canvas.close_group();
}

void draw_bucket_set(Canvas& canvas, const Panel& panel, const BucketSet& set, double background, double full_well) {
    draw_plot_frame(canvas, panel);
    draw_level_line(canvas, panel, 0.0, {palette::grey, 0.9}, "zero-" + panel.name);
    draw_level_line(canvas, panel, background, {palette::near_end, 1.2, dash::dashed}, "background-" + panel.name);
    draw_level_line(canvas, panel, full_well, {palette::ink, 1.4, dash::chain}, "full-well-" + panel.name);
    if (set.full == 0) draw_wave(canvas, panel, set.found);
    if (set.full == 0)
        draw_place_line(canvas, panel, set.found.phase, {palette::beam_edge, 1.2, dash::dotted}, "phase-" + panel.name);
    draw_charges(canvas, panel, set, full_well);
    draw_phase_axis(canvas, panel);
    canvas.text({panel.box.left, panel.box.top - 21.0}, number(set.frequency / base::MHz, 6) + " MHz",
                {body_size, Anchor::start, true});
    const std::string phase =
        set.full > 0 ? fmt::format("{} of {} at full well", set.full, set.charge.size())
                     : fmt::format("φ = {} ± {} rad", number(set.found.phase), number(set.phase_deviation, 2));
    canvas.text({panel.box.left, panel.box.top - 7.0}, phase, {small_size});
}

}  // namespace

std::vector<double> read_charges(const sensor::FlightSetup& setup, const sensor::FlightPose& pose, std::int64_t index) {
    const sensor::FlightPlan of_reading = plan_of_reading(setup, pose, index);
    const auto* plan = std::get_if<sensor::PhasePlan>(&of_reading);
    if (plan == nullptr) throw base::InternalError("charges of a pose without a phase measurement");
    const scenario::Scenario& s = setup.scenario;
    const flight::BucketNoise noise{s.detector.read_noise, s.detector.full_well,
                                    1.0 / detector::make_digitiser(s.detector).gain,
                                    static_cast<std::uint64_t>(s.seed)};
    std::vector<double> charges(plan->electrons.size());
    flight::draw_buckets(plan->electrons, noise, index, charges);
    return charges;
}

void draw_phases(Canvas& canvas, const sensor::FlightSetup& setup, const sensor::FlightPose& pose, std::int64_t index,
                 const Box& area) {
    const scenario::Scenario& s = setup.scenario;
    const double full_well = s.detector.full_well;
    const double background = background_of(s, pose);
    const std::vector<BucketSet> sets = bucket_sets(setup, pose, index);
    const SignalRange range = charge_range(sets, background, full_well);
    constexpr double gap = 30.0;
    const auto count = static_cast<double>(sets.size());
    const double width = (area.right - area.left - gap * (count - 1.0)) / count;
    const double margin = 0.04 * (range.high - range.low);
    Panel panel;
    panel.box = {area.left, area.top + 36.0, area.left + width, area.bottom - axis_height};
    panel.left = -0.12;  // rad, so that the first point is not on the frame
    panel.right = 2.0 * pi + 0.12;
    panel.bottom = range.low - (range.low < 0.0 ? margin : 0.0);
    panel.top = range.high + margin;
    for (std::size_t f = 0; f < sets.size(); ++f) {
        panel.name = fmt::format("{}", f);
        if (f == 0) draw_scale_beside(canvas, panel, {1.0, "signal, e"}, {page_margin, panel.box.top - 7.0});
        draw_bucket_set(canvas, panel, sets[f], background, full_well);
        if (f + 1 == sets.size()) break;
        panel.box.left = panel.box.right + gap;
        panel.box.right = panel.box.left + width;
    }
    canvas.text({panel.box.right + names_gap, panel.box.bottom + 15.0}, "bucket, rad", {small_size});
    std::vector<std::string> well{"full well", electrons(full_well)};
    if (!range.shows_saturation) well.insert(well.begin(), "off the scale:");
    draw_named_levels(canvas, panel, {{full_well, well}, {background, {"background", electrons(background)}}},
                      page_width - page_margin);
}

}  // namespace spotwright::drawing
