#include "sim/drawing/profile.hpp"

#include <fmt/format.h>

#include <array>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/drawing/page.hpp"
#include "sim/drawing/profile_axes.hpp"
#include "sim/drawing/profile_words.hpp"
#include "sim/drawing/speckle_strip.hpp"
#include "sim/sensor/layout.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::degree;

constexpr double plot_left = page_margin + 56.0;
constexpr double plot_right = page_width - page_margin - 126.0;
constexpr double lower_half = 410.0;     // where mounting and words begin
constexpr double high_light = 104.0;     // of the strip of speckled light
constexpr double low_light = 82.0;       // the same where words go below the panels
constexpr double room_for_light = 50.0;  // that the lower half gives to it
constexpr double words_left = 664.0;

// What the profile is drawn from.
struct Profile {
    Canvas& canvas;
    const sensor::TriangulationSetup& setup;
    const ArrayReading& array;
    SignalRange range;
    std::vector<PixelWindow> windows;                    // that are enlarged
    const sensor::SpeckleStatistics* speckle = nullptr;  // whose light is drawn, if any
    std::string about_light = {};
    double light_height = high_light;
    double room_below = 0.0;  // for words about the light, where there is none beside it
};

std::string caption_of(const scenario::Scenario& s) {
    std::string caption =
        fmt::format("One reading of {} at s = {} mm", s.target.material, signed_number(s.target.displacement / mm));
    if (s.target.tilt[0] != 0.0 || s.target.tilt[1] != 0.0) {
        caption += fmt::format(", tilt {}° in plane, {}° out of plane", number(s.target.tilt[0] / degree),
                               number(s.target.tilt[1] / degree));
    }
    return caption;
}

// Marks of the picture, from the right side on.
void draw_key(Canvas& canvas, const ArrayReading& array, double right, double baseline) {
    const auto entry = [&canvas, &right, baseline](std::string_view name) {
        right -= text_width(name, small_size);
        canvas.text({right, baseline}, name, {small_size});
        right -= 8.0;
        return Vector2(right, baseline - 3.8);
    };
    const auto swatch = [&canvas](const Vector2& end, double width, const char* fill, const Pen& pen) {
        const std::array box{Vector2(end.x() - width, end.y() - 5.0), Vector2(end.x(), end.y() - 5.0),
                             Vector2(end.x(), end.y() + 5.0), Vector2(end.x() - width, end.y() + 5.0)};
        canvas.polygon(box, fill, pen);
    };
    constexpr double gap = 18.0;
    draw_true_place(canvas, entry("true place") - Vector2(4.0, 0.0));
    right -= 8.0 + gap;
    if (array.peaks.size() > 1) {
        canvas.circle(entry("rejected peak") - Vector2(6.0, 0.0), 6.0, palette::paper, {palette::ink, 1.1});
        right -= 12.0 + gap;
    }
    if (chosen_peak(array) != nullptr) {
        canvas.circle(entry("chosen peak") - Vector2(6.0, 0.0), 6.0, palette::beam_edge, {palette::beam_edge, 1.1});
        right -= 12.0 + gap;
    }
    if (std::any_of(array.saturated.begin(), array.saturated.end(), [](std::uint8_t flag) { return flag != 0; })) {
        swatch(entry("saturated pixels"), 16.0, palette::beam_edge, {palette::beam_edge, 0.6});
        right -= 16.0 + gap;
    }
    swatch(entry("expected, without noise"), 16.0, palette::beam, {palette::beam_edge, 0.7});
    right -= 16.0 + gap;
    const Vector2 end = entry("this reading");
    canvas.line(end - Vector2(22.0, 0.0), end, {palette::ink, 1.2});
}

// The value of the reading stands over everything else, so it is written last.
void draw_panel(const Profile& profile, const Panel& panel) {
    draw_signals(profile.canvas, panel, profile.array, profile.range);
    draw_chosen(profile.canvas, panel, profile.array, value_of(profile.array), 0.5 * (plot_left + plot_right));
    draw_flags(profile.canvas, panel, profile.array, panel.box.top + value_room + 0.5 * flag_room);
}

// Scales of the panels and what there is to say over them all.
void draw_axes(const Profile& profile, const std::vector<Panel>& panels) {
    Canvas& canvas = profile.canvas;
    const sensor::TriangulationSetup& setup = profile.setup;
    draw_signal_axis(canvas, panels.front(), profile.range, page_margin);
    for (const Panel& panel : panels) {
        draw_pixel_axis(canvas, panel);
        draw_displacement_axis(canvas, panel, setup.instrument.calibration, profile.array, setup.scenario.mount);
    }
    const Box& last = panels.back().box;
    canvas.text({last.right + names_gap, last.top - 7.0}, "displacement s, mm", {small_size});
    canvas.text({last.right + names_gap, last.bottom + 15.0}, "pixel", {small_size});
    draw_level_names(canvas, panels.back(), profile.array, profile.range, page_width - page_margin);
    const Box& first = panels.front().box;
    const TextStyle style{heading_size, Anchor::middle, true, true};
    canvas.text({0.5 * (first.left + first.right), first.top + value_room},
                absence(setup.scenario.reading.choose, profile.array), style);
}

// The whole array, slim, with what is enlarged below outlined.
void draw_strip(const Profile& profile, const Box& box, const std::vector<PixelWindow>& windows) {
    Canvas& canvas = profile.canvas;
    const auto pixels = static_cast<std::int64_t>(profile.array.net.size());
    const Panel strip = make_panel({0, pixels}, profile.range, flag_room, box, "whole");
    draw_signals(canvas, strip, profile.array, profile.range);
    draw_chosen(canvas, strip, profile.array, {}, 0.0);
    draw_flags(canvas, strip, profile.array, box.top + 0.5 * flag_room);
    const sensor::TriangulationSetup& setup = profile.setup;
    draw_displacement_axis(canvas, strip, setup.instrument.calibration, profile.array, setup.scenario.mount);
    canvas.text({box.right + names_gap, box.top - 7.0}, "displacement s, mm", {small_size});
    canvas.text({box.left - 7.0, box.bottom - 2.0}, "pixel 0", {small_size, Anchor::end});
    canvas.text({box.right + names_gap, box.bottom - 2.0}, fmt::format("pixel {}", pixels - 1), {small_size});
    for (const PixelWindow& window : windows) {
        const double left = strip.x(static_cast<double>(window.first) - 0.5);
        const double right = strip.x(static_cast<double>(window.last) - 0.5);
        const std::array outline{Vector2(left, box.top), Vector2(right, box.top), Vector2(right, box.bottom + 4.0),
                                 Vector2(left, box.bottom + 4.0)};
        canvas.polygon(outline, "none", {palette::ink, 1.0});
    }
}

// From the outlined stretch of the strip to its enlargement, which begins at `corner`.
void draw_connectors(Canvas& canvas, const Box& strip, const Panel& whole, const Panel& panel, double corner) {
    const Pen thin{palette::grey, 0.7};
    const double top = strip.bottom + 4.0;
    for (const auto& [pixel, x] : {std::pair(panel.left, panel.box.left), std::pair(panel.right, panel.box.right)}) {
        const std::array line{Vector2(whole.x(pixel), top), Vector2(x, corner), Vector2(x, panel.box.top)};
        canvas.polyline(line, thin);
    }
}

// Panels side by side, pixels equally wide in all of them; of the whole array where nothing is enlarged.
std::vector<Panel> make_panels(const Profile& profile, const Box& area) {
    constexpr double gap = 34.0;
    constexpr double headroom = value_room + flag_room;
    const auto pixels = static_cast<std::int64_t>(profile.array.net.size());
    if (profile.windows.empty()) return {make_panel({0, pixels}, profile.range, headroom, area, "whole")};
    std::int64_t total = 0;
    for (const PixelWindow& window : profile.windows) total += window.last - window.first;
    const double width = area.right - area.left - gap * static_cast<double>(profile.windows.size() - 1);
    const double per_pixel = width / static_cast<double>(total);
    std::vector<Panel> panels;
    Box box = area;
    for (const PixelWindow& window : profile.windows) {
        box.right = box.left + per_pixel * static_cast<double>(window.last - window.first);
        panels.push_back(make_panel(window, profile.range, headroom, box, fmt::format("{}", panels.size())));
        box.left = box.right + gap;
    }
    return panels;
}

// Speckled light over the panels that show some of it, from `top` down the page.
std::vector<SpeckleStrip> make_strips(const Profile& profile, const std::vector<Panel>& panels, double top) {
    std::vector<SpeckleStrip> strips;
    if (profile.speckle == nullptr) return strips;
    for (const Panel& panel : panels) {
        const auto strip = make_strip(*profile.speckle->image, profile.speckle->size, profile.setup.scenario.detector,
                                      panel, top, top + profile.light_height);
        if (strip) strips.push_back(*strip);
    }
    return strips;
}

// Room for words beside the speckled light, if there is enough.
std::optional<Box> room_beside(const SpeckleStrip& strip, const std::vector<Panel>& panels, std::string_view words) {
    const auto panel = std::find_if(panels.begin(), panels.end(),
                                    [&strip](const Panel& candidate) { return candidate.name == strip.name; });
    constexpr double gap = 14.0;
    constexpr double scale_across = 54.0;
    const Box left{panel->box.left + gap, strip.box.top, strip.box.left - scale_across - gap, strip.box.bottom};
    const Box right{strip.box.right + gap, strip.box.top, panel->box.right - gap, strip.box.bottom};
    const Box& wider = right.right - right.left > left.right - left.left ? right : left;
    constexpr double narrow = 120.0;
    const double width = wider.right - wider.left;
    if (width < narrow || sentences_height({std::string(words)}, width) > strip.box.bottom - strip.box.top)
        return std::nullopt;
    return wider;
}

// What is to be drawn of the speckled light, decided before any place down the page is known.
void plan_light(Profile& profile, const measure::ReadResult& result) {
    if (!result.speckle || !result.speckle->image) return;
    profile.speckle = &*result.speckle;
    const std::vector<Panel> panels = make_panels(profile, {plot_left, 0.0, plot_right, lower_half});
    const std::vector<SpeckleStrip> strips = make_strips(profile, panels, 0.0);
    if (strips.empty()) {
        profile.speckle = nullptr;
        return;
    }
    profile.about_light = speckle_caption(*profile.speckle, profile.setup.scenario.detector);
    if (room_beside(strips.front(), panels, profile.about_light)) return;
    profile.light_height = low_light;
    profile.room_below = sentences_height({profile.about_light}, page_width - 2.0 * page_margin) + 3.0;
}

void draw_speckle(const Profile& profile, const std::vector<Panel>& panels, double top, double bottom) {
    const std::vector<SpeckleStrip> strips = make_strips(profile, panels, top);
    for (const SpeckleStrip& strip : strips) {
        draw_light(profile.canvas, strip, *profile.speckle->image, profile.setup.scenario.detector);
    }
    draw_scales(profile.canvas, strips.front(), panels.back().box.right + names_gap, page_width - page_margin);
    Box room{page_margin, bottom - profile.room_below, page_width - page_margin, bottom};
    if (profile.room_below == 0.0) room = *room_beside(strips.front(), panels, profile.about_light);
    room.top += small_spacing;
    draw_sentences(profile.canvas, std::array{profile.about_light}, room);
}

void draw_array(const Profile& profile, double top, double bottom) {
    Canvas& canvas = profile.canvas;
    const Box area{page_margin, top, page_width - page_margin, bottom};
    const double line = draw_heading(canvas, area, "Detail A: signal along the array");
    draw_key(canvas, profile.array, area.right, area.top + heading_size);
    const bool has_light = profile.speckle != nullptr;
    const Box plot{plot_left, line + 4.0, plot_right, area.bottom - profile.room_below};

    constexpr double connectors = 14.0;
    const Box slim{plot.left, plot.top + axis_height, plot.right, plot.top + axis_height + (has_light ? 40.0 : 48.0)};
    const double light = profile.windows.empty() ? plot.top + 6.0 : slim.bottom + 4.0 + connectors;
    const double above_panels = has_light ? light + profile.light_height : profile.windows.empty() ? plot.top : light;
    const std::vector<Panel> panels =
        make_panels(profile, {plot.left, above_panels + axis_height, plot.right, plot.bottom - axis_height});
    if (!profile.windows.empty()) {
        draw_strip(profile, slim, profile.windows);
        const auto pixels = static_cast<std::int64_t>(profile.array.net.size());
        const Panel whole = make_panel({0, pixels}, profile.range, flag_room, slim, "whole");
        for (const Panel& panel : panels) draw_connectors(canvas, slim, whole, panel, light);
    }
    for (const Panel& panel : panels) draw_panel(profile, panel);
    draw_axes(profile, panels);
    if (has_light) draw_speckle(profile, panels, light, area.bottom);
}

void draw_words(Canvas& canvas, const sensor::TriangulationSetup& setup, const sensor::Pose& pose,
                const measure::ReadResult& result, const ArrayReading& array, std::int64_t index, double top) {
    Box area{words_left, top, page_width - page_margin, page_lowest};
    const double width = area.right - area.left;
    const std::vector<Row> rows = rows_of(setup.scenario, result);
    std::vector<std::string> reasons;
    for (const measure::Reason& reason : result.verdict.reasons) reasons.push_back(in_print(in_words(reason)));
    std::vector<std::string> about{explanation(setup, pose, array)};

    // What decides is said whatever else is to be said: the first reason, and why this reading is what it is.
    constexpr double headings = 2.0 * (20.0 + 18.0) + 20.0;
    double room = area.bottom - area.top - headings - row_spacing * static_cast<double>(rows.size());
    room -= sentences_height({reasons.front()}, width) + sentences_height(about, width);
    const std::vector<std::string> peaks = sentences_with_room(list_of_peaks(setup, array), width, room);
    room -= sentences_height(peaks, width) - sentences_height({reasons.front()}, width);
    about.insert(about.end(), peaks.begin(), peaks.end());
    reasons = sentences_with_room(reasons, width, room);

    draw_level_mark(canvas, {area.right - 8.0, area.top + 9.0}, result.verdict.level);
    area.top = draw_section(canvas, area, fmt::format("Verdict: {}", measure::name_of(result.verdict.level)), reasons);
    area.top = draw_section(
        canvas, area,
        fmt::format("Reading {} of {}: {}", index, result.statistics.readings, words_of(array.result.validity)), about);
    draw_rows(canvas, rows, area, draw_heading(canvas, area, "All readings"));
}

void draw_scene(Canvas& canvas, const scenario::Scenario& s, double top) {
    const sensor::Layout layout = sensor::make_layout(s);
    const Mounting mounting = make_mounting(s, layout);
    const double foot = page_height - 98.0;
    const double right = words_left - 24.0;
    const MountingNotes notes =
        draw_mounting(canvas, s, layout, mounting, {page_margin, top, right, foot - 8.0}, false);
    static_cast<void>(draw_foot(canvas, notes, {page_margin, foot, right, page_lowest}));
}

}  // namespace

std::string draw_profile(const sensor::TriangulationSetup& setup, const sensor::Pose& pose,
                         const measure::ReadResult& result, std::int64_t index) {
    if (index < 0) throw base::DomainError("index of a reading", static_cast<double>(index), "0 or more");
    const scenario::Scenario& s = setup.scenario;
    const ArrayReading array = analyse(setup, pose, index);
    Canvas canvas;
    const std::string title = s.title.empty() ? "One reading" : s.title;
    const double caption = draw_title(canvas, title);
    draw_caption(canvas, caption_of(s), caption);
    Profile profile{canvas, setup, array, signal_range(array), windows_to_enlarge(array)};
    plan_light(profile, result);
    const double lower = lower_half + (profile.speckle != nullptr ? room_for_light : 0.0);
    draw_array(profile, caption + 16.0, lower - 16.0);
    draw_scene(canvas, s, lower);
    draw_words(canvas, setup, pose, result, array, index, lower);
    return page_of(canvas, title);
}

}  // namespace spotwright::drawing
