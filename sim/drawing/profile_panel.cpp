#include "sim/drawing/profile_panel.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "sim/drawing/mounting_view.hpp"

namespace spotwright::drawing {

namespace {

constexpr double flag_radius = 7.5;
constexpr std::size_t most_flags = 8;
constexpr double flag_gap = 3.0;

// Pixels that a panel shows, as indices.
std::pair<std::size_t, std::size_t> pixels_of(const Panel& panel) {
    return {static_cast<std::size_t>(std::lround(panel.left + 0.5)),
            static_cast<std::size_t>(std::lround(panel.right + 0.5))};
}

// The signal as steps, one for each pixel; where pixels are narrower than the pen, least and greatest of a few.
std::vector<Vector2> steps(const Panel& panel, std::span<const float> signal) {
    constexpr double pixels_of_a_pen = 1.7;
    const auto group = static_cast<std::size_t>(std::max(1.0, std::floor(pixels_of_a_pen / panel.units_per_pixel())));
    const auto [first, last] = pixels_of(panel);
    const auto y = [&panel](float value) {
        return panel.y(std::clamp(static_cast<double>(value), panel.bottom, panel.top));
    };
    std::vector<Vector2> points;
    for (std::size_t k = first; k < last; k += group) {
        const std::size_t end = std::min(k + group, last);
        const double left = panel.x(static_cast<double>(k) - 0.5);
        const double right = panel.x(static_cast<double>(end) - 0.5);
        if (group == 1) {
            points.emplace_back(left, y(signal[k]));
            points.emplace_back(right, y(signal[k]));
            continue;
        }
        const auto some = signal.subspan(k, end - k);
        const auto [least, greatest] = std::minmax_element(some.begin(), some.end());
        points.emplace_back(0.5 * (left + right), y(least < greatest ? *least : *greatest));
        points.emplace_back(0.5 * (left + right), y(least < greatest ? *greatest : *least));
    }
    return points;
}

void draw_rectangle(Canvas& canvas, const Box& box, const char* fill, const Pen& pen) {
    const std::array corners{Vector2(box.left, box.top), Vector2(box.right, box.top), Vector2(box.right, box.bottom),
                             Vector2(box.left, box.bottom)};
    canvas.polygon(corners, fill, pen);
}

void draw_signal_level(Canvas& canvas, const Panel& panel, double signal, const Pen& pen, const std::string& id) {
    const std::array line{Vector2(panel.box.left, panel.y(signal)), Vector2(panel.box.right, panel.y(signal))};
    canvas.polyline(line, pen, id);
}

// Pixels past an end of the range, greyed.
void draw_outside(Canvas& canvas, const Panel& panel, const ArrayReading& array) {
    if (!array.near_end || !array.far_end) return;
    const auto [low, high] = std::minmax({*array.near_end, *array.far_end});
    const Pen none{palette::housing, 0.2};
    if (low > panel.left) {
        Box box = panel.box;
        box.right = panel.x(std::min(low, panel.right));
        draw_rectangle(canvas, box, palette::housing, none);
    }
    if (high < panel.right) {
        Box box = panel.box;
        box.left = panel.x(std::max(high, panel.left));
        draw_rectangle(canvas, box, palette::housing, none);
    }
}

void draw_range_end(Canvas& canvas, const Panel& panel, const std::optional<double>& pixel, const Pen& pen) {
    if (!pixel || *pixel <= panel.left || *pixel >= panel.right) return;
    const double x = panel.x(*pixel);
    canvas.line({x, panel.box.top}, {x, panel.box.bottom}, pen);
}

void draw_expected(Canvas& canvas, const Panel& panel, const ArrayReading& array) {
    const std::vector<Vector2> line = steps(panel, array.expected);
    std::vector<Vector2> area = line;
    area.emplace_back(line.back().x(), panel.y(0.0));
    area.emplace_back(line.front().x(), panel.y(0.0));
    canvas.polygon(area, palette::beam, {palette::beam, 0.2}, "expected-" + panel.name);
    canvas.polyline(line, {palette::beam_edge, 0.7});
}

// Runs of saturated pixels, filled; to be seen even where background alone saturates them.
void draw_saturated(Canvas& canvas, const Panel& panel, const ArrayReading& array) {
    constexpr double visible = 6.0;
    const auto [first, last] = pixels_of(panel);
    canvas.open_group("saturated-" + panel.name);
    for (std::size_t k = first; k < last;) {
        if (array.saturated[k] == 0) {
            ++k;
            continue;
        }
        std::size_t end = k;
        double highest = 0.0;
        while (end < last && array.saturated[end] != 0) {
            highest = std::max(highest, static_cast<double>(array.net[end]));
            ++end;
        }
        draw_rectangle(canvas,
                       {panel.x(static_cast<double>(k) - 0.5), std::min(panel.y(highest), panel.y(0.0) - visible),
                        panel.x(static_cast<double>(end) - 0.5), panel.y(0.0)},
                       palette::beam_edge, {palette::beam_edge, 0.6});
        k = end;
    }
    canvas.close_group();
}

}  // namespace

SignalRange signal_range(const ArrayReading& array) {
    constexpr double near_saturation = 0.25;  // a peak this high is judged against full well at a glance
    const auto [least, greatest] = std::minmax_element(array.net.begin(), array.net.end());
    const double highest = static_cast<double>(*greatest);
    SignalRange range;
    range.shows_saturation = highest >= near_saturation * array.saturation;
    range.high = std::max(highest, 1.15 * array.threshold);
    if (range.shows_saturation) range.high = std::max(range.high, array.saturation);
    range.low = std::min(static_cast<double>(*least), -0.03 * range.high);
    return range;
}

Panel make_panel(const PixelWindow& window, const SignalRange& range, double headroom, const Box& box,
                 std::string name) {
    Panel panel;
    panel.box = box;
    panel.left = static_cast<double>(window.first) - 0.5;
    panel.right = static_cast<double>(window.last) - 0.5;
    panel.bottom = range.low;
    const double height = box.bottom - box.top;
    panel.top = range.low + (range.high - range.low) * height / (height - headroom);
    panel.name = std::move(name);
    return panel;
}

void draw_signals(Canvas& canvas, const Panel& panel, const ArrayReading& array, const SignalRange& range) {
    draw_rectangle(canvas, panel.box, palette::paper, {palette::paper, 0.2});
    draw_outside(canvas, panel, array);
    draw_expected(canvas, panel, array);
    draw_saturated(canvas, panel, array);
    draw_signal_level(canvas, panel, 0.0, {palette::grey, 0.7}, "zero-" + panel.name);
    draw_signal_level(canvas, panel, array.threshold, {palette::ink, 0.9, dash::dashed}, "threshold-" + panel.name);
    if (range.shows_saturation) {
        draw_signal_level(canvas, panel, array.saturation, {palette::beam_edge, 1.1, dash::chain},
                          "saturation-" + panel.name);
    }
    draw_range_end(canvas, panel, array.near_end, end_pens[0]);
    draw_range_end(canvas, panel, array.far_end, end_pens[2]);
    canvas.polyline(steps(panel, array.net), {palette::ink, 1.2}, "signal-" + panel.name);
    const std::array outline{Vector2(panel.box.left, panel.box.top), Vector2(panel.box.left, panel.box.bottom),
                             Vector2(panel.box.right, panel.box.bottom), Vector2(panel.box.right, panel.box.top),
                             Vector2(panel.box.left, panel.box.top)};
    canvas.polyline(outline, {palette::grey, 0.9}, "frame-" + panel.name);
}

void draw_chosen(Canvas& canvas, const Panel& panel, const ArrayReading& array, const std::string& words,
                 double middle_of_page) {
    const reading::LocatedPeak* chosen = chosen_peak(array);
    if (chosen == nullptr) return;
    const double pixel = location_of(*chosen);
    if (pixel <= panel.left || pixel >= panel.right) return;
    const double x = panel.x(pixel);
    if (chosen->spot.validity == reading::Validity::valid) {
        const std::array line{Vector2(x, panel.box.bottom), Vector2(x, panel.box.top)};
        canvas.polyline(line, part_pen, "located-" + panel.name);
    }
    if (words.empty()) return;
    TextStyle style{body_size, x < middle_of_page ? Anchor::start : Anchor::end};
    style.halo = true;
    canvas.text({x + (x < middle_of_page ? 7.0 : -7.0), panel.box.top + value_room - 3.0}, words, style);
}

namespace {

struct Flag {
    double x = 0.0;
    double peak_top = 0.0;  ///< of the highest pixel, down the page
    std::string number;
    bool chosen = false;

    // Circles hold two digits; longer numbers stand in a box.
    [[nodiscard]] bool is_round() const { return number.size() < 3; }
    [[nodiscard]] double half_width() const {
        return is_round() ? flag_radius : 0.5 * text_width(number, small_size) + 2.0;
    }
};

// Flags of the peaks in the panel, from its left side on; of the highest only, where there are many.
std::vector<Flag> flags_of(const Panel& panel, const ArrayReading& array) {
    std::vector<Flag> flags;
    for (std::size_t i = 0; i < array.peaks.size(); ++i) {
        const reading::LocatedPeak& peak = array.peaks[i];
        const double place = location_of(peak);
        if (place <= panel.left || place >= panel.right) continue;
        const double height = static_cast<double>(array.net[peak.window.highest]);
        flags.push_back({panel.x(place), panel.y(height), fmt::format("{}", i), peak.chosen});
    }
    if (flags.size() > most_flags) {
        std::stable_sort(flags.begin(), flags.end(), [](const Flag& a, const Flag& b) {
            return a.chosen != b.chosen ? a.chosen : a.peak_top < b.peak_top;
        });
        flags.resize(most_flags);
    }
    std::sort(flags.begin(), flags.end(), [](const Flag& a, const Flag& b) { return a.x < b.x; });
    return flags;
}

}  // namespace

void draw_flags(Canvas& canvas, const Panel& panel, const ArrayReading& array, double centre) {
    const std::vector<Flag> flags = flags_of(panel, array);
    std::vector<double> wanted;
    std::vector<double> sizes;
    for (const Flag& flag : flags) {
        wanted.push_back(flag.x);
        sizes.push_back(2.0 * flag.half_width() + flag_gap);
    }
    const std::vector<double> places = spread(wanted, sizes, panel.box.left, panel.box.right);
    for (std::size_t i = 0; i < flags.size(); ++i) {
        const Flag& flag = flags[i];
        const Vector2 at(places[i], centre);
        const double below = centre + flag_radius;
        if (flag.peak_top > below + 3.0) canvas.line({places[i], below}, {flag.x, flag.peak_top}, {palette::grey, 0.8});
        const char* fill = flag.chosen ? palette::beam_edge : palette::paper;
        const Pen rim{flag.chosen ? palette::beam_edge : palette::ink, 1.1};
        if (flag.is_round()) {
            canvas.circle(at, flag_radius, fill, rim);
        } else {
            const Vector2 half(flag.half_width(), flag_radius);
            draw_rectangle(canvas, {at.x() - half.x(), at.y() - half.y(), at.x() + half.x(), at.y() + half.y()}, fill,
                           rim);
        }
        TextStyle style{small_size, Anchor::middle, true};
        if (flag.chosen) style.colour = palette::paper;
        canvas.text(at + Vector2(0.0, 3.8), flag.number, style);
    }
}

}  // namespace spotwright::drawing
