#include "sim/drawing/averaging_chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/drawing/page.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::ms, base::um;
using study::AveragedError;

constexpr Box plot{page_margin + 58.0, 122.0, page_width - page_margin - 226.0, 606.0};
constexpr Pen grid_pen{palette::faint, 0.6};

// Both scales are logarithmic.
struct Axes {
    double most = 1.0;  // average at the right side
    double low = 1.0;   // error at the lower side. [m]
    double high = 10.0;

    [[nodiscard]] double x(double average) const {
        const double share = most > 1.0 ? std::log(average) / std::log(most) : 0.0;
        return std::lerp(plot.left + 14.0, plot.right - 14.0, share);
    }
    [[nodiscard]] double y(double error) const {
        return std::lerp(plot.bottom, plot.top, std::log(error / low) / std::log(high / low));
    }
};

// 1, 2 and 5 times powers of ten between the ends. [um]
std::vector<double> round_errors(double low, double high) {
    std::vector<double> values;
    const double slack = 1.0 + 1e-9;
    for (auto power = static_cast<int>(std::floor(std::log10(low))); power <= std::log10(high); ++power) {
        for (const double factor : {1.0, 2.0, 5.0}) {
            const double value = factor * std::pow(10.0, power);
            if (value * slack >= low && value <= high * slack) values.push_back(value);
        }
    }
    return values;
}

// A line of the chart.
struct Curve {
    const char* id;
    double AveragedError::*error;
    Pen pen;
    std::string name;
};

std::array<Curve, 3> curves() {
    return {{{"still", &AveragedError::still, {palette::ink, 2.2}, "part stands still"},
             {"moved", &AveragedError::moved, {palette::beam_edge, 2.2}, "part moved on between readings"},
             {"noise", &AveragedError::noise, {palette::grey, 1.6, dash::dashed}, "noise alone"}}};
}

// A guide of slope -1/2 beside the line of the moved part, where no other line runs.
double guide_start(std::span<const AveragedError> errors) {
    const AveragedError& first = errors.front();
    constexpr double aside = 1.7;
    return first.noise < first.moved / (aside * aside) ? first.moved / aside : first.moved * aside;
}

Axes axes_of(std::span<const AveragedError> errors) {
    Axes axes;
    axes.most = static_cast<double>(errors.back().average);
    const double guide = guide_start(errors);
    double low = guide / std::sqrt(axes.most);
    double high = guide;
    for (const AveragedError& error : errors) {
        for (const double size : {error.still, error.moved, error.noise}) {
            if (!(size > 0.0)) continue;
            low = std::min(low, size);
            high = std::max(high, size);
        }
    }
    constexpr double margin = 1.25;
    axes.low = low / margin;
    axes.high = high * margin;
    return axes;
}

std::string micrometres(double size) {
    return number(size / um, 2) + "\u00A0µm";
}

void draw_scales(Canvas& canvas, const Axes& axes, std::span<const AveragedError> errors) {
    canvas.open_group("error-axis");
    for (const double value : round_errors(axes.low / um, axes.high / um)) {
        const double y = axes.y(value * um);
        canvas.line({plot.left, y}, {plot.right, y}, grid_pen);
        canvas.text({plot.left - 8.0, y + 3.8}, number(value), {small_size, Anchor::end});
    }
    canvas.close_group();
    canvas.open_group("average-axis");
    for (const AveragedError& error : errors) {
        const double x = axes.x(static_cast<double>(error.average));
        canvas.line({x, plot.top}, {x, plot.bottom}, grid_pen);
        canvas.text({x, plot.bottom + 17.0}, fmt::format("{}", error.average), {body_size, Anchor::middle});
    }
    canvas.close_group();
    for (const AveragedError& error : errors) {
        canvas.text({axes.x(static_cast<double>(error.average)), plot.bottom + 33.0},
                    number(error.response_time / ms, 3),
                    {small_size, Anchor::middle, false, false, 0.0, palette::grey});
    }
    const std::array frame{Vector2(plot.left, plot.top), Vector2(plot.left, plot.bottom),
                           Vector2(plot.right, plot.bottom), Vector2(plot.right, plot.top),
                           Vector2(plot.left, plot.top)};
    canvas.polyline(frame, {palette::grey, 0.9}, "frame");
    canvas.text({page_margin, plot.top - 10.0}, "root mean square error of outputs, µm", {small_size});
    canvas.text({plot.right + 14.0, plot.bottom + 17.0}, "readings averaged", {small_size});
    canvas.text({plot.right + 14.0, plot.bottom + 33.0}, "step followed in, ms",
                {small_size, Anchor::start, false, false, 0.0, palette::grey});
}

void draw_guide(Canvas& canvas, const Axes& axes, std::span<const AveragedError> errors) {
    const double start = guide_start(errors);
    const std::array line{Vector2(axes.x(1.0), axes.y(start)),
                          Vector2(axes.x(axes.most), axes.y(start / std::sqrt(axes.most)))};
    canvas.polyline(line, {palette::grey, 1.2, dash::dotted}, "guide");
}

void draw_curve(Canvas& canvas, const Axes& axes, std::span<const AveragedError> errors, const Curve& curve) {
    std::vector<Vector2> points;
    for (const AveragedError& error : errors) {
        const double size = error.*curve.error;
        if (size > 0.0) points.emplace_back(axes.x(static_cast<double>(error.average)), axes.y(size));
    }
    if (points.empty()) return;
    canvas.polyline(points, curve.pen, curve.id);
    for (const Vector2& point : points) canvas.circle(point, 3.0, palette::paper, {curve.pen.colour, 1.4});
}

// Names at the right ends of the lines, with the value there.
void draw_names(Canvas& canvas, const Axes& axes, std::span<const AveragedError> errors) {
    struct Name {
        double y;
        std::vector<std::string> lines;
        const char* colour;
    };
    const double left = plot.right + 14.0;
    const double right = page_width - page_margin;
    const AveragedError& last = errors.back();
    std::vector<Name> names;
    for (const Curve& curve : curves()) {
        const double size = last.*curve.error;
        if (!(size > 0.0)) continue;
        names.push_back({axes.y(size),
                         wrap(fmt::format("{}: {}", curve.name, micrometres(size)), body_size, right - left),
                         curve.pen.colour});
    }
    names.push_back(
        {axes.y(guide_start(errors) / std::sqrt(axes.most)), {"falls as 1/√(readings averaged)"}, palette::grey});
    std::sort(names.begin(), names.end(), [](const Name& a, const Name& b) { return a.y < b.y; });
    std::vector<double> wanted;
    std::vector<double> sizes;
    constexpr double spacing = 15.0;
    for (const Name& name : names) {
        wanted.push_back(name.y);
        sizes.push_back(spacing * static_cast<double>(name.lines.size()) + 4.0);
    }
    const std::vector<double> centres = spread(wanted, sizes, plot.top, plot.bottom);
    for (std::size_t i = 0; i < names.size(); ++i) {
        const std::array leader{Vector2(plot.right - 10.0, names[i].y), Vector2(left - 3.0, centres[i])};
        canvas.polyline(leader, {palette::grey, 0.6});
        double baseline = centres[i] - 0.5 * spacing * static_cast<double>(names[i].lines.size() - 1) + 4.0;
        for (const std::string& line : names[i].lines) {
            canvas.text({left, baseline}, line, {body_size, Anchor::start, false, false, 0.0, names[i].colour});
            baseline += spacing;
        }
    }
}

std::vector<std::string> sentences(std::span<const AveragedError> errors) {
    const AveragedError& first = errors.front();
    const AveragedError& last = errors.back();
    const double lowered = first.still / last.still;
    constexpr double by_half = 2.0;
    std::vector<std::string> list;
    if (lowered < by_half && last.average > first.average) {
        list.push_back(fmt::format(
            "The error that averaging does not cure: while the part stands still, every reading sees the same speckle, "
            "so that {} readings leave {} of {}. Noise alone would fall to {}.",
            last.average, micrometres(last.still), micrometres(first.still), micrometres(last.noise)));
    } else {
        list.push_back(fmt::format(
            "Noise is the larger part of the error here: averaging {} readings lowers it from {} to {} even while the "
            "part stands still.",
            last.average, micrometres(first.still), micrometres(last.still)));
    }
    list.push_back(fmt::format(
        "Where each reading meets another patch of the surface, speckle is drawn anew like noise, and averaging lowers "
        "both: to {}.",
        micrometres(last.moved)));
    list.emplace_back(
        "Errors count from the mean over all patches: a bias that is the same wherever the beam lands is left out, and "
        "no average lowers it.");
    return list;
}

}  // namespace

std::string draw_averaging(const scenario::Scenario& s, std::span<const AveragedError> errors) {
    Canvas canvas;
    const std::string title = s.title.empty() ? "Averaging" : s.title;
    const double caption = draw_title(canvas, title);
    draw_caption(canvas,
                 fmt::format("Averaging readings of {} at s = {} mm: a part that stands still, and one that moves on",
                             s.target.material, signed_number(s.target.displacement / mm)),
                 caption);
    if (errors.empty()) {
        canvas.text({page_margin, plot.top + 20.0}, "No valid outputs: there is nothing to average.", {heading_size});
        return page_of(canvas, title);
    }
    const Axes axes = axes_of(errors);
    draw_scales(canvas, axes, errors);
    draw_guide(canvas, axes, errors);
    for (const Curve& curve : curves()) draw_curve(canvas, axes, errors, curve);
    draw_names(canvas, axes, errors);
    draw_sentences(canvas, sentences(errors), {page_margin, plot.bottom + 64.0, page_width - page_margin, page_lowest});
    return page_of(canvas, title);
}

}  // namespace spotwright::drawing
