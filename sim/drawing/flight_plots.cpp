#include "sim/drawing/flight_plots.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/drawing/page.hpp"
#include "sim/drawing/profile_axes.hpp"

namespace spotwright::drawing {

namespace {

constexpr double plot_tick = 4.0;
constexpr Pen plot_tick_pen{palette::grey, 0.9};

// Values of a scale along the panel, near enough to each other that a few of them are there, and their labels apart.
std::vector<double> values_along(const Panel& panel, double unit) {
    const double low = panel.left / unit;
    const double high = panel.right / unit;
    constexpr double gap = 14.0;
    const double width = panel.box.right - panel.box.left;
    for (double most = width / 40.0; most >= 1.0; most -= 1.0) {
        std::vector<double> values = round_values(low, high, most);
        double widest = 0.0;
        for (const double value : values) widest = std::max(widest, text_width(number(value, 7), small_size));
        if ((widest + gap) * static_cast<double>(values.size()) <= width) return values;
    }
    return {};
}

void draw_scale_along(Canvas& canvas, const Panel& panel, const Scale& scale, bool above) {
    const double edge = above ? panel.box.top : panel.box.bottom;
    const double down = above ? -1.0 : 1.0;
    const double baseline = above ? edge - 7.0 : edge + 15.0;
    canvas.open_group((above ? "upper-axis-" : "lower-axis-") + panel.name);
    for (const double value : values_along(panel, scale.unit)) {
        const double x = panel.x(value * scale.unit);
        canvas.line({x, edge}, {x, edge + down * plot_tick}, plot_tick_pen);
        canvas.text({x, baseline}, number(value, 7), {small_size, Anchor::middle});
    }
    canvas.close_group();
    canvas.text({panel.box.right + names_gap + 8.0, baseline}, scale.name, {small_size});
}

}  // namespace

void draw_plot_frame(Canvas& canvas, const Panel& panel) {
    const Box& box = panel.box;
    const std::array frame{Vector2(box.left, box.top), Vector2(box.right, box.top), Vector2(box.right, box.bottom),
                           Vector2(box.left, box.bottom)};
    canvas.polygon(frame, "none", {palette::grey, 0.9}, "frame-" + panel.name);
}

void draw_scale_below(Canvas& canvas, const Panel& panel, const Scale& scale) {
    draw_scale_along(canvas, panel, scale, false);
}

void draw_scale_above(Canvas& canvas, const Panel& panel, const Scale& scale) {
    draw_scale_along(canvas, panel, scale, true);
}

void draw_scale_beside(Canvas& canvas, const Panel& panel, const Scale& scale, const Vector2& name_at) {
    constexpr double spacing = 26.0;
    const double x = panel.box.left;
    const double intervals = std::max(2.0, (panel.box.bottom - panel.box.top) / spacing);
    canvas.open_group("signal-axis-" + panel.name);
    for (const double value : round_values(panel.bottom / scale.unit, panel.top / scale.unit, intervals)) {
        const double y = panel.y(value * scale.unit);
        canvas.line({x - plot_tick, y}, {x, y}, plot_tick_pen);
        canvas.text({x - 7.0, y + 3.8}, with_thousands(value), {small_size, Anchor::end});
    }
    canvas.close_group();
    canvas.text(name_at, scale.name, {small_size});
}

void draw_named_levels(Canvas& canvas, const Panel& panel, std::vector<NamedLevel> levels, double right) {
    constexpr double spacing = 12.0;
    const double x = panel.box.right + names_gap;
    std::sort(levels.begin(), levels.end(), [](const NamedLevel& a, const NamedLevel& b) { return a.value > b.value; });
    std::vector<double> wanted;
    std::vector<double> sizes;
    for (NamedLevel& level : levels) {
        std::vector<std::string> wrapped;
        for (const std::string& line : level.lines) {
            for (std::string& part : wrap(line, small_size, right - x)) wrapped.push_back(std::move(part));
        }
        level.lines = std::move(wrapped);
        wanted.push_back(panel.y(std::clamp(level.value, panel.bottom, panel.top)));
        sizes.push_back(spacing * static_cast<double>(level.lines.size()) + 6.0);
    }
    const std::vector<double> centres = spread(wanted, sizes, panel.box.top + 2.0, panel.box.bottom);
    for (std::size_t i = 0; i < levels.size(); ++i) {
        if (levels[i].value >= panel.bottom && levels[i].value <= panel.top) {
            const std::array leader{Vector2(panel.box.right, wanted[i]), Vector2(panel.box.right + 6.0, wanted[i]),
                                    Vector2(x - 3.0, centres[i])};
            canvas.polyline(leader, {palette::grey, 0.7});
        }
        double baseline = centres[i] - 0.5 * spacing * static_cast<double>(levels[i].lines.size() - 1) + 3.8;
        for (const std::string& line : levels[i].lines) {
            canvas.text({x, baseline}, line, {small_size});
            baseline += spacing;
        }
    }
}

void draw_plot_key(Canvas& canvas, const std::vector<KeyEntry>& entries, double right, double baseline) {
    constexpr double gap = 18.0;
    constexpr double length = 20.0;
    for (auto entry = entries.rbegin(); entry != entries.rend(); ++entry) {
        right -= text_width(entry->name, small_size);
        canvas.text({right, baseline}, entry->name, {small_size});
        const double end = right - 7.0;
        if (entry->fill != nullptr) {
            const std::array box{Vector2(end - length, baseline - 9.0), Vector2(end, baseline - 9.0),
                                 Vector2(end, baseline + 1.0), Vector2(end - length, baseline + 1.0)};
            canvas.polygon(box, entry->fill, entry->pen);
        } else {
            canvas.line({end - length, baseline - 4.0}, {end, baseline - 4.0}, entry->pen);
        }
        right = end - length - gap;
    }
}

void draw_level_line(Canvas& canvas, const Panel& panel, double value, const Pen& pen, const std::string& id) {
    if (value < panel.bottom || value > panel.top) return;
    const std::array line{Vector2(panel.box.left, panel.y(value)), Vector2(panel.box.right, panel.y(value))};
    canvas.polyline(line, pen, id);
}

void draw_place_line(Canvas& canvas, const Panel& panel, double value, const Pen& pen, const std::string& id) {
    if (value < panel.left || value > panel.right) return;
    const std::array line{Vector2(panel.x(value), panel.box.top), Vector2(panel.x(value), panel.box.bottom)};
    canvas.polyline(line, pen, id);
}

}  // namespace spotwright::drawing
