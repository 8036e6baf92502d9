#include "sim/drawing/profile_axes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/units.hpp"

namespace spotwright::drawing {

namespace {

using base::mm;

constexpr double tick_length = 4.0;
constexpr Pen tick_pen{palette::grey, 0.9};
constexpr double label_gap = 10.0;  // between two labels of one row

// Labels in a row that have found a place.
class LabelRow {
public:
    LabelRow(double left, double right) : left_(left), right_(right) {}

    // Whether a label of this width has room around x; if so, it is taken.
    bool reserve(double x, double width) {
        const double from = x - 0.5 * width;
        const double to = x + 0.5 * width;
        if (from < left_ || to > right_) return false;
        for (const auto& [low, high] : taken_) {
            if (from < high + label_gap && to > low - label_gap) return false;
        }
        taken_.push_back({from, to});
        return true;
    }

private:
    double left_;
    double right_;
    std::vector<std::array<double, 2>> taken_;
};

}  // namespace

std::string with_thousands(double value) {
    return apart_by_thousands(number(value));
}

std::string electrons(double value) {
    const double rounded = std::abs(value) < 1e4 ? value : std::round(value / 10.0) * 10.0;
    return with_thousands(std::abs(value) < 100.0 ? value : std::round(rounded)) + "\u00A0e";
}

std::vector<double> round_values(double low, double high, double most) {
    if (!(high > low) || most < 1.0) return {};
    const double step = round_step((high - low) / most);
    constexpr double rounding = 1e-9;  // of a step, so that the ends are not lost
    std::vector<double> values;
    const auto first = static_cast<std::int64_t>(std::ceil(low / step - rounding));
    const auto last = static_cast<std::int64_t>(std::floor(high / step + rounding));
    for (std::int64_t i = first; i <= last; ++i) values.push_back(static_cast<double>(i) * step);
    return values;
}

void draw_signal_axis(Canvas& canvas, const Panel& panel, const SignalRange& range, double left) {
    constexpr double spacing = 26.0;
    const double x = panel.box.left;
    const double height = panel.y(0.0) - panel.y(range.high);
    canvas.open_group("signal-axis-" + panel.name);
    constexpr double a_little_more = 1.01;  // full well less a trace of background still has its number
    const double intervals = std::max(2.0, height / spacing);  // fewer would show no scale
    for (const double value : round_values(0.0, a_little_more * range.high, intervals)) {
        const double y = panel.y(value);
        canvas.line({x - tick_length, y}, {x, y}, tick_pen);
        canvas.text({x - 7.0, y + 3.8}, with_thousands(value), {small_size, Anchor::end});
    }
    canvas.close_group();
    canvas.text({left, panel.box.top - 6.0}, "signal, e", {small_size});
}

void draw_pixel_axis(Canvas& canvas, const Panel& panel) {
    const double width = panel.box.right - panel.box.left;
    constexpr double spacing = 56.0;
    LabelRow row(panel.box.left - 16.0, panel.box.right + 16.0);
    canvas.open_group("pixel-axis-" + panel.name);
    for (const double value : round_values(panel.left, panel.right, width / spacing)) {
        const double x = panel.x(value);
        const std::string label = number(value, 6);
        if (value != std::round(value) || !row.reserve(x, text_width(label, small_size))) continue;
        canvas.line({x, panel.box.bottom}, {x, panel.box.bottom + tick_length}, tick_pen);
        canvas.text({x, panel.box.bottom + 15.0}, label, {small_size, Anchor::middle});
    }
    canvas.close_group();
}

namespace {

struct Tick {
    double x;
    std::string label;
};

// Ends of the range first: where there is not room for all, they stay.
std::vector<Tick> displacement_ticks(const Panel& panel, const reading::Calibration& calibration,
                                     const ArrayReading& array, const scenario::Mount& mount) {
    std::vector<Tick> ticks;
    const auto add = [&ticks, &panel](const std::optional<double>& pixel, std::string label) {
        if (!pixel || *pixel <= panel.left || *pixel >= panel.right) return;
        ticks.push_back({panel.x(*pixel), std::move(label)});
    };
    add(array.near_end, "near end " + signed_number(mount.range[0] / mm));
    add(array.far_end, "far end " + signed_number(mount.range[1] / mm));

    const double left = std::max(panel.left, calibration.lowest());
    const double right = std::min(panel.right, calibration.highest());
    if (right <= left) return ticks;
    const auto [low, high] = std::minmax({*calibration.displacement(left), *calibration.displacement(right)});
    constexpr double spacing = 74.0;
    for (const double value : round_values(low / mm, high / mm, (panel.x(right) - panel.x(left)) / spacing)) {
        add(calibration.position(value * mm), signed_number(value, 6));
    }
    return ticks;
}

void draw_truth(Canvas& canvas, const Panel& panel, const ArrayReading& array) {
    if (!array.truth || *array.truth <= panel.left || *array.truth >= panel.right) return;
    draw_true_place(canvas, {panel.x(*array.truth), panel.box.top});
}

}  // namespace

void draw_true_place(Canvas& canvas, const Vector2& at) {
    constexpr double half = 5.0;
    const std::array diamond{Vector2(at.x(), at.y() - half), Vector2(at.x() + 0.8 * half, at.y()),
                             Vector2(at.x(), at.y() + half), Vector2(at.x() - 0.8 * half, at.y())};
    canvas.polygon(diamond, palette::paper, {palette::ink, 1.1});
}

void draw_displacement_axis(Canvas& canvas, const Panel& panel, const reading::Calibration& calibration,
                            const ArrayReading& array, const scenario::Mount& mount) {
    LabelRow row(panel.box.left - 2.0, panel.box.right + 2.0);
    canvas.open_group("displacement-axis-" + panel.name);
    const std::vector<Tick> ticks = displacement_ticks(panel, calibration, array, mount);
    for (const Tick& tick : ticks) {
        if (!row.reserve(tick.x, text_width(tick.label, small_size))) continue;
        canvas.line({tick.x, panel.box.top - tick_length}, {tick.x, panel.box.top}, tick_pen);
        canvas.text({tick.x, panel.box.top - 7.0}, tick.label, {small_size, Anchor::middle});
    }
    canvas.close_group();
    if (ticks.empty() && panel.box.right - panel.box.left > text_width("outside the calibration", small_size)) {
        canvas.text({0.5 * (panel.box.left + panel.box.right), panel.box.top - 7.0}, "outside the calibration",
                    {small_size, Anchor::middle});
    }
    draw_truth(canvas, panel, array);
}

void draw_level_names(Canvas& canvas, const Panel& panel, const ArrayReading& array, const SignalRange& range,
                      double right) {
    struct Name {
        bool on_scale;
        double y;
        std::vector<std::string> lines;
    };
    const double x = panel.box.right + names_gap;
    std::vector<Name> names;
    const double background = array.full_well - array.saturation;
    constexpr double little = 0.005;  // of full well
    std::vector<std::string> saturation{"full well", electrons(array.saturation)};
    if (background > little * array.full_well) {
        saturation = {"saturation", electrons(array.saturation), "above background", electrons(background)};
    }
    if (range.shows_saturation) {
        names.push_back({true, panel.y(array.saturation), saturation});
    } else {
        saturation.insert(saturation.begin(), "off the scale:");
        names.push_back({false, panel.box.top, saturation});
    }
    const double share = array.threshold / array.full_well;
    names.push_back({true,
                     panel.y(array.threshold),
                     {"threshold", fmt::format("{}, {} %", electrons(array.threshold), number(100.0 * share, 3))}});

    std::sort(names.begin(), names.end(), [](const Name& a, const Name& b) { return a.y < b.y; });
    std::vector<double> wanted;
    std::vector<double> sizes;
    for (Name& name : names) {
        std::vector<std::string> wrapped;
        for (const std::string& line : name.lines) {
            for (std::string& part : wrap(line, small_size, right - x)) wrapped.push_back(std::move(part));
        }
        name.lines = std::move(wrapped);
        wanted.push_back(name.y);
        sizes.push_back(12.0 * static_cast<double>(name.lines.size()) + 6.0);
    }
    const std::vector<double> centres = spread(wanted, sizes, panel.box.top + 4.0, panel.box.bottom + 6.0);
    for (std::size_t i = 0; i < names.size(); ++i) {
        if (names[i].on_scale) {
            const std::array leader{Vector2(panel.box.right, names[i].y), Vector2(panel.box.right + 6.0, names[i].y),
                                    Vector2(x - 3.0, centres[i])};
            canvas.polyline(leader, {palette::grey, 0.7});
        }
        double baseline = centres[i] - 6.0 * static_cast<double>(names[i].lines.size() - 1) + 3.8;
        for (const std::string& line : names[i].lines) {
            canvas.text({x, baseline}, line, {small_size});
            baseline += 12.0;
        }
    }
}

}  // namespace spotwright::drawing
