#include "sim/drawing/shelf.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <optional>

#include "sim/base/units.hpp"
#include "sim/drawing/housing_view.hpp"
#include "sim/drawing/mounting_view.hpp"
#include "sim/drawing/page.hpp"
#include "sim/sensor/housing.hpp"
#include "sim/sensor/summary.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::um;
using Eigen::Vector2d;

// What of a sensor is drawn, from the emitter face: x towards the receiver, y away from the part. [m]
struct ShelfSensor {
    sensor::Summary summary;
    std::array<Vector2d, 4> body;  // front left, front right, back right, back left
    bool body_is_known = true;
    Vector2d lens = Vector2d::Zero();
    std::array<Vector2d, 3> places;  // near end, reference, far end on the beam
    std::array<double, 3> distance{};
    bool by_flight = false;

    [[nodiscard]] double reach() const { return -places[2].y(); }
    [[nodiscard]] double height() const { return body[2].y(); }
    [[nodiscard]] double left() const { return std::min({body[0].x(), places[2].x(), 0.0}); }
    [[nodiscard]] double right() const { return std::max({body[1].x(), places[2].x(), lens.x()}); }
};

ShelfSensor shelf_sensor(const scenario::Scenario& s) {
    ShelfSensor drawn;
    drawn.summary = sensor::summary_of(s);
    drawn.by_flight = !std::holds_alternative<scenario::Triangulation>(s.principle);
    const Vector2d beam(std::sin(s.emitter.angle), std::cos(s.emitter.angle));
    const Vector2d face = s.mount.reference_distance * beam;
    const std::array<double, 3> displacements{s.mount.range[0], 0.0, s.mount.range[1]};
    for (std::size_t i = 0; i < displacements.size(); ++i) {
        drawn.distance.at(i) = s.mount.reference_distance + displacements.at(i) / beam.y();
        drawn.places.at(i) = -drawn.distance.at(i) * beam;
    }
    drawn.lens =
        drawn.by_flight
            ? Vector2d(s.flight.baseline * Vector2d(beam.y(), -beam.x()))
            : Vector2d(s.receiver.distance * Vector2d(std::sin(s.receiver.angle), std::cos(s.receiver.angle)) - face);
    if (const auto body = sensor::body_of(s)) {
        for (std::size_t i = 0; i < body->size(); ++i) drawn.body.at(i) = body->at(i) - face;
        return drawn;
    }
    // Around beam and lens, for want of anything better.
    drawn.body_is_known = false;
    const double aperture = s.receiver.aperture.in_plane;
    const double left = std::min(0.0, drawn.lens.x()) - aperture;
    const double right = std::max(0.0, drawn.lens.x()) + aperture;
    const double height = std::max(0.7 * (right - left), drawn.lens.y());
    drawn.body = {Vector2d(left, 0.0), Vector2d(right, 0.0), Vector2d(right, height), Vector2d(left, height)};
    return drawn;
}

double size_of(const ShelfSensor& s) {
    return s.height() + s.reach();
}

// Sizes that count: time of flight is broken at the reach of the others.
std::vector<double> drawn_sizes(std::span<const ShelfSensor> sensors) {
    double longest = 0.0;
    for (const ShelfSensor& s : sensors) {
        if (!s.by_flight) longest = std::max(longest, size_of(s));
    }
    std::vector<double> sizes;
    for (const ShelfSensor& s : sensors) {
        sizes.push_back(s.by_flight && longest > 0.0 ? std::min(size_of(s), longest) : size_of(s));
    }
    return sizes;
}

ShelfPanels panels_of(std::span<const ShelfSensor> sensors) {
    const std::vector<double> sizes = drawn_sizes(sensors);
    std::vector<std::size_t> order(sensors.size());
    std::iota(order.begin(), order.end(), 0U);
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
        return sizes[a] != sizes[b] ? sizes[a] < sizes[b] : size_of(sensors[a]) < size_of(sensors[b]);
    });
    ShelfPanels panels;
    const std::size_t most = std::min(order.size(), 2 * most_in_panel);
    panels.left_out.assign(order.begin() + static_cast<std::ptrdiff_t>(most), order.end());
    order.resize(most);
    constexpr std::size_t one_panel = 3;
    std::size_t best = 0;
    double least = 1e300;
    for (std::size_t split = 0; split < order.size(); ++split) {
        if (order.size() > one_panel && split == 0) continue;
        if (order.size() <= one_panel && split > 0) break;
        if (split > most_in_panel || order.size() - split > most_in_panel) continue;
        double cost = 0.0;
        for (std::size_t i = 0; i < order.size(); ++i) {
            cost += std::log(sizes[order[i < split ? split - 1 : order.size() - 1]] / sizes[order[i]]);
        }
        if (cost >= least) continue;
        least = cost;
        best = split;
    }
    const auto middle = order.begin() + static_cast<std::ptrdiff_t>(best);
    panels.near.assign(order.begin(), middle);
    panels.far.assign(middle, order.end());
    return panels;
}

std::vector<ShelfSensor> shelf_sensors(std::span<const scenario::Scenario> sensors) {
    std::vector<ShelfSensor> list;
    for (const scenario::Scenario& s : sensors) list.push_back(shelf_sensor(s));
    return list;
}

// Sizes on the page. [page units]
constexpr double axis_width = 52.0;
constexpr double names_height = 30.0;
constexpr double row = 13.5;
constexpr double spot_room = 30.0;
constexpr double foot_height = 3.0 * row + spot_room + 14.0;
constexpr double heading_height = 26.0;
constexpr double bar_half_width = 4.0;

// One panel in the making.
struct Panel {
    Canvas& canvas;
    Box area;
    double scale = 1.0;       // page units per metre
    double spot_scale = 1.0;  // page units per metre
    double line = 0.0;        // of all fronts, down the page
    double deepest = 0.0;     // below it, of what is drawn. [m]
    double column = 0.0;

    [[nodiscard]] double lowest() const { return line + deepest * scale; }
};

struct Column {
    const Panel& panel;
    const ShelfSensor& sensor;
    double left = 0.0;
    double right = 0.0;
    Vector2 face;

    [[nodiscard]] Vector2 at(const Vector2d& point) const { return View{panel.scale, face}.at(point); }
};

std::string ratio_text(double scale) {
    constexpr double units_per_mm = page_width / 297.0;
    const double on_paper = scale * mm / units_per_mm;
    return on_paper >= 1.0 ? number(on_paper, 2) + " : 1" : "1 : " + number(1.0 / on_paper, 2);
}

std::string length_in_column(double length) {
    return number(length / mm, 4) + " mm";
}

void draw_body(const Column& c) {
    std::vector<Vector2> corners;
    for (const Vector2d& corner : c.sensor.body) corners.push_back(c.at(corner));
    Canvas& canvas = c.panel.canvas;
    canvas.polygon(corners, palette::housing, {palette::ink, 1.0, c.sensor.body_is_known ? dash::solid : dash::dotted},
                   "body-" + c.sensor.summary.name);
    const auto window = [&](const Vector2d& centre, double width) {
        const Vector2d half(0.5 * width, 0.0);
        if (width > 0.0) canvas.line(c.at(centre - half), c.at(centre + half), {palette::near_end, 2.6});
    };
    window({0.0, 0.0}, c.sensor.summary.housing.window[0]);
    const Vector2d& reference = c.sensor.places[1];
    const Vector2d to_lens = c.sensor.lens - reference;
    const double share = to_lens.y() > 0.0 ? -reference.y() / to_lens.y() : 1.0;
    const Vector2d at_front = reference + share * to_lens;
    window({at_front.x(), 0.0}, c.sensor.summary.housing.window[1]);
    canvas.line(c.at(reference.y() < -c.panel.deepest ? Vector2d(0.0, -c.panel.deepest) : reference), c.at(at_front),
                {palette::faint, 0.8});
}

// From a place on the beam to another, hatched across so that it shows in grey print, too.
void draw_bar_between(Canvas& canvas, const Vector2& from, const Vector2& to) {
    const Vector2 along = (to - from).norm() > 0.0 ? Vector2((to - from).normalized()) : Vector2(0.0, 1.0);
    const Vector2 half = bar_half_width * Vector2(-along.y(), along.x());
    const std::array corners{Vector2(from + half), Vector2(from - half), Vector2(to - half), Vector2(to + half)};
    canvas.polygon(corners, palette::beam, {palette::beam_edge, 0.9});
}

void draw_distance(const Column& c, const Vector2& at, const std::string& words) {
    TextStyle style{small_size};
    style.halo = true;
    constexpr double beside = bar_half_width + 5.0;
    const bool fits = at.x() + beside + text_width(words, small_size) <= c.right;
    style.anchor = fits ? Anchor::start : Anchor::end;
    c.panel.canvas.text(at + Vector2(fits ? beside : -beside, 3.8), words, style);
}

// Beam and range; where these go on past the panel, with a break.
void draw_beam_and_range(const Column& c) {
    Canvas& canvas = c.panel.canvas;
    const ShelfSensor& s = c.sensor;
    const bool is_broken = s.reach() > c.panel.deepest * (1.0 + 1e-9);
    const Vector2 near = c.at(s.places[0]);
    const Vector2 end = is_broken ? Vector2(c.face.x(), c.panel.lowest()) : c.at(s.places[2]);
    canvas.polyline(std::array{c.face, end}, {palette::beam_edge, 1.2}, "beam-" + s.summary.name);
    canvas.open_group("range-" + s.summary.name);
    if (is_broken) {
        constexpr double gap = 7.0;
        constexpr double rest = 20.0;  // of the bar below the break
        const double wanted = end.y() - rest - gap;
        const Vector2 start(near.x(), std::min(near.y(), wanted - 8.0));
        draw_bar_between(canvas, start, {near.x(), wanted});
        draw_bar_between(canvas, {near.x(), wanted + gap}, end);
        for (const double y : {wanted, wanted + gap}) {
            draw_break_line(canvas, {near.x() - 12.0, y}, {near.x() + 12.0, y});
        }
        draw_distance(c, start, length_in_column(s.distance[0]));
        draw_distance(c, end, length_in_column(s.distance[2]));
    } else {
        draw_bar_between(canvas, near, end);
        const Vector2 reference = c.at(s.places[1]);
        canvas.line(reference - Vector2(bar_half_width + 2.0, 0.0), reference + Vector2(bar_half_width + 2.0, 0.0),
                    {palette::ink, 1.0});
        constexpr double two_labels = 15.0;
        if (end.y() - near.y() >= two_labels) {
            draw_distance(c, near, length_in_column(s.distance[0]));
            draw_distance(c, end, length_in_column(s.distance[2]));
        } else {
            draw_distance(c, 0.5 * (near + end),
                          fmt::format("{} to {}", number(s.distance[0] / mm, 4), length_in_column(s.distance[2])));
        }
    }
    canvas.close_group();
}

std::string spot_words(const scenario::Pair& spot) {
    constexpr double same = 0.01;
    if (std::abs(spot[0] - spot[1]) <= same * spot[0]) return number(spot[0] / um, 3) + " µm";
    return fmt::format("{} × {} µm", number(spot[0] / um, 3), number(spot[1] / um, 3));
}

std::string kind_of(const ShelfSensor& s) {
    return s.by_flight ? s.summary.principle : s.summary.specular ? "specular mount" : "diffuse mount";
}

void draw_column_foot(const Column& c) {
    Canvas& canvas = c.panel.canvas;
    const ShelfSensor& s = c.sensor;
    double baseline = c.panel.area.bottom - foot_height + row;
    const double room = c.right - c.left;
    for (const std::string& words :
         {"at " + length_in_column(s.summary.reference_distance), kind_of(s), "spot " + spot_words(s.summary.spot)}) {
        canvas.text({c.left, baseline}, wrap(words, small_size, room).front(), {small_size});
        baseline += row;
    }
    const Vector2 half(0.5 * s.summary.spot[0] * c.panel.spot_scale, 0.5 * s.summary.spot[1] * c.panel.spot_scale);
    const Vector2 centre(c.left + 0.5 * spot_room, c.panel.area.bottom - 0.5 * spot_room - 4.0);
    constexpr int corners = 48;
    std::vector<Vector2> outline;
    for (int i = 0; i < corners; ++i) {
        const double angle = 2.0 * base::pi * i / corners;
        outline.emplace_back(centre + Vector2(half.x() * std::cos(angle), half.y() * std::sin(angle)));
    }
    canvas.polygon(outline, palette::beam_edge, {palette::beam_edge, 0.3}, "spot-" + s.summary.name);
}

void draw_column(const Column& c) {
    const std::vector<std::string> name = wrap(c.sensor.summary.name, body_size, c.right - c.left);
    double baseline = c.panel.area.top + heading_height + 11.0;
    for (std::size_t i = 0; i < std::min<std::size_t>(name.size(), 2); ++i) {
        c.panel.canvas.text({c.left, baseline}, name[i], {body_size, Anchor::start, true});
        baseline += 14.0;
    }
    draw_body(c);
    draw_beam_and_range(c);
    draw_column_foot(c);
}

// Distances from the fronts, as lines across the panel.
void draw_shelf_axis(const Panel& panel) {
    const double step = round_step(34.0 / panel.scale / mm);
    for (int i = 0; i * step * mm <= panel.deepest * (1.0 + 1e-9); ++i) {
        const double y = panel.line + i * step * mm * panel.scale;
        panel.canvas.line({panel.area.left + axis_width - 8.0, y}, {panel.area.right, y},
                          i == 0 ? Pen{palette::ink, 1.4} : Pen{palette::faint, 0.7});
        panel.canvas.text({panel.area.left + axis_width - 12.0, y + 3.8}, number(i * step, 4) + (i == 0 ? " mm" : ""),
                          {small_size, Anchor::end});
    }
}

// A scale at which both the columns and the longest sensor fit.
Panel make_panel(Canvas& canvas, const Box& area, const std::vector<const ShelfSensor*>& sensors) {
    Panel panel{canvas, area, 1.0, 1.0, 0.0, 0.0, 0.0};
    double height = 0.0;
    double width = 0.0;
    double spot = 0.0;
    for (const ShelfSensor* s : sensors) {
        if (!s->by_flight) panel.deepest = std::max(panel.deepest, s->reach());
        height = std::max(height, s->height());
        width = std::max(width, s->right() - s->left());
        spot = std::max({spot, s->summary.spot[0], s->summary.spot[1]});
    }
    if (panel.deepest == 0.0) {
        for (const ShelfSensor* s : sensors) panel.deepest = std::max(panel.deepest, s->reach());
    }
    constexpr double widest_column = 190.0;
    constexpr double margin = 12.0;
    panel.column = std::min((area.right - area.left - axis_width) / static_cast<double>(sensors.size()), widest_column);
    const double room = area.bottom - area.top - heading_height - names_height - foot_height - margin;
    panel.scale = std::min(room / (height + panel.deepest), (panel.column - margin) / width);
    panel.line = area.top + heading_height + names_height + height * panel.scale;
    panel.spot_scale = spot_room / spot;
    return panel;
}

void draw_panel(Canvas& canvas, const Box& area, std::span<const ShelfSensor> all,
                const std::vector<std::size_t>& which) {
    if (which.empty()) return;
    std::vector<const ShelfSensor*> sensors;
    for (const std::size_t i : which) sensors.push_back(&all[i]);
    const Panel panel = make_panel(canvas, area, sensors);
    canvas.open_group("", fmt::format("data-units-per-mm=\"{:.6f}\" data-spot-units-per-mm=\"{:.6f}\"",
                                      panel.scale * mm, panel.spot_scale * mm));
    draw_heading(
        canvas, area,
        fmt::format("Sensors to {}; spots below to {}", ratio_text(panel.scale), ratio_text(panel.spot_scale)));
    draw_shelf_axis(panel);
    double left = area.left + axis_width;
    for (const ShelfSensor* s : sensors) {
        constexpr double gap = 8.0;
        const double face = left - s->left() * panel.scale;
        draw_column({panel, *s, left, left + panel.column - gap, {face, panel.line}});
        left += panel.column;
    }
    canvas.close_group();
}

}  // namespace

ShelfPanels shelf_panels(std::span<const scenario::Scenario> sensors) {
    return panels_of(shelf_sensors(sensors));
}

std::string draw_shelf(std::span<const scenario::Scenario> sensors, const std::string& title) {
    const std::vector<ShelfSensor> all = shelf_sensors(sensors);
    const ShelfPanels panels = panels_of(all);
    Canvas canvas;
    const double caption = draw_title(canvas, title);
    std::string words =
        "Fronts of all housings stand at one line; distances from there in mm. Bars: measuring ranges. Zigzag: broken.";
    if (!panels.left_out.empty()) {
        words = fmt::format("{} sensors that reach farthest are left out. ", panels.left_out.size()) + words;
    }
    draw_caption(canvas, words, caption);
    const Box area{page_margin, caption + 8.0, page_width - page_margin, page_lowest};
    if (panels.near.empty()) {
        draw_panel(canvas, area, all, panels.far);
    } else {
        const double middle = 0.5 * (area.top + area.bottom);
        draw_panel(canvas, {area.left, area.top, area.right, middle - 4.0}, all, panels.near);
        draw_panel(canvas, {area.left, middle + 4.0, area.right, area.bottom}, all, panels.far);
    }
    return page_of(canvas, title);
}

}  // namespace spotwright::drawing
