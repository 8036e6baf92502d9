#include "sim/drawing/svg_canvas.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <optional>

#include "sim/base/units.hpp"

namespace spotwright::drawing {

namespace {

std::string coordinates(std::span<const Vector2> points) {
    std::string list;
    for (const Vector2& p : points) list += fmt::format("{}{:.3f},{:.3f}", list.empty() ? "" : " ", p.x(), p.y());
    return list;
}

std::string stroke(const Pen& pen) {
    const std::string dashes = *pen.dash == '\0' ? "" : fmt::format(" stroke-dasharray=\"{}\"", pen.dash);
    return fmt::format("stroke=\"{}\" stroke-width=\"{:.3g}\"{}", pen.colour, pen.width, dashes);
}

std::string identifier(std::string_view id) {
    return id.empty() ? "" : fmt::format("id=\"{}\" ", id);
}

const char* word_of(Anchor anchor) {
    switch (anchor) {
        case Anchor::middle:
            return "middle";
        case Anchor::end:
            return "end";
        case Anchor::start:
            break;
    }
    return "start";
}

Vector2 on_circle(const Vector2& centre, double radius, double angle) {
    return centre + radius * Vector2(std::sin(angle), -std::cos(angle));
}

std::vector<Vector2> on_arc(const Vector2& centre, double radius, double from, double to) {
    constexpr int segments = 24;
    std::vector<Vector2> points;
    for (int i = 0; i <= segments; ++i) points.push_back(on_circle(centre, radius, from + (to - from) * i / segments));
    return points;
}

std::vector<Vector2> text_outline(const Vector2& at, std::string_view words, const TextStyle& style) {
    const Vector2 along(std::cos(style.turn_deg * base::degree), std::sin(style.turn_deg * base::degree));
    const Vector2 down(-along.y(), along.x());
    const Vector2 width = text_width(words, style.size) * along;
    const double before = style.anchor == Anchor::start ? 0.0 : style.anchor == Anchor::middle ? 0.5 : 1.0;
    const Vector2 start = at - before * width + 0.25 * style.size * down;
    const Vector2 height = 1.1 * style.size * down;
    return {start, start + width, start + width - height, start - height};
}

}  // namespace

void Canvas::line(const Vector2& from, const Vector2& to, const Pen& pen) {
    fmt::format_to(std::back_inserter(body_), "<line x1=\"{:.3f}\" y1=\"{:.3f}\" x2=\"{:.3f}\" y2=\"{:.3f}\" {}/>\n",
                   from.x(), from.y(), to.x(), to.y(), stroke(pen));
    covered_.push_back({{from, to}, false});
}

void Canvas::polyline(std::span<const Vector2> points, const Pen& pen, std::string_view id) {
    fmt::format_to(std::back_inserter(body_),
                   "<polyline {}points=\"{}\" fill=\"none\" stroke-linejoin=\"round\" {}/>\n", identifier(id),
                   coordinates(points), stroke(pen));
    covered_.push_back({{points.begin(), points.end()}, false});
}

void Canvas::polygon(std::span<const Vector2> points, const char* fill, const Pen& pen, std::string_view id) {
    fmt::format_to(std::back_inserter(body_), "<polygon {}points=\"{}\" fill=\"{}\" stroke-linejoin=\"round\" {}/>\n",
                   identifier(id), coordinates(points), fill, stroke(pen));
    covered_.push_back({{points.begin(), points.end()}, true});
}

void Canvas::circle(const Vector2& centre, double radius, const char* fill, const Pen& pen) {
    fmt::format_to(std::back_inserter(body_), "<circle cx=\"{:.3f}\" cy=\"{:.3f}\" r=\"{:.3f}\" fill=\"{}\" {}/>\n",
                   centre.x(), centre.y(), radius, fill, stroke(pen));
    covered_.push_back({on_arc(centre, radius, 0.0, 2.0 * base::pi), true});
}

void Canvas::rectangles(std::span<const Box> boxes, const char* fill, std::string_view id) {
    if (boxes.empty()) return;
    Box all = boxes.front();
    std::string outline;
    for (const Box& box : boxes) {
        const auto hundredths = [](double value) { return std::round(value * 100.0) / 100.0; };
        const double left = hundredths(box.left);
        const double top = hundredths(box.top);
        const double width = hundredths(hundredths(box.right) - left);
        fmt::format_to(std::back_inserter(outline), "M{},{}h{}v{}h{}z", left, top, width,
                       hundredths(hundredths(box.bottom) - top), -width);
        all = {std::min(all.left, box.left), std::min(all.top, box.top), std::max(all.right, box.right),
               std::max(all.bottom, box.bottom)};
    }
    fmt::format_to(std::back_inserter(body_), "<path {}d=\"{}\" fill=\"{}\"/>\n", identifier(id), outline, fill);
    covered_.push_back(
        {{{all.left, all.top}, {all.right, all.top}, {all.right, all.bottom}, {all.left, all.bottom}}, true});
}

void Canvas::strokes(std::span<const std::array<Vector2, 2>> strokes, const Pen& pen) {
    if (strokes.empty()) return;
    std::string path;
    for (const auto& [from, to] : strokes) {
        fmt::format_to(std::back_inserter(path), "M{:.2f},{:.2f}L{:.2f},{:.2f}", from.x(), from.y(), to.x(), to.y());
        covered_.push_back({{from, to}, false});
    }
    fmt::format_to(std::back_inserter(body_), "<path d=\"{}\" fill=\"none\" {}/>\n", path, stroke(pen));
}

void Canvas::lens(const Vector2& rim, const Vector2& other_rim, const Vector2& bulge) {
    // A quadratic curve reaches half way to its control point.
    const Vector2 centre = 0.5 * (rim + other_rim);
    const Vector2 one = centre + 2.0 * bulge;
    const Vector2 other = centre - 2.0 * bulge;
    fmt::format_to(std::back_inserter(body_),
                   "<path id=\"lens\" d=\"M{:.3f},{:.3f} Q{:.3f},{:.3f} {:.3f},{:.3f} Q{:.3f},{:.3f} {:.3f},{:.3f} Z\" "
                   "fill=\"{}\" {}/>\n",
                   rim.x(), rim.y(), one.x(), one.y(), other_rim.x(), other_rim.y(), other.x(), other.y(), rim.x(),
                   rim.y(), palette::glass, stroke({palette::ink, 1.2}));
    covered_.push_back({{rim, centre + bulge, other_rim, centre - bulge}, true});
}

void Canvas::arc(const Vector2& centre, double radius, double from, double to, const Pen& pen) {
    const Vector2 start = on_circle(centre, radius, from);
    const Vector2 end = on_circle(centre, radius, to);
    const int large = std::abs(to - from) > base::pi ? 1 : 0;
    fmt::format_to(std::back_inserter(body_),
                   "<path d=\"M{:.3f},{:.3f} A{:.3f},{:.3f} 0 {} {} {:.3f},{:.3f}\" fill=\"none\" {}/>\n", start.x(),
                   start.y(), radius, radius, large, to > from ? 1 : 0, end.x(), end.y(), stroke(pen));
    covered_.push_back({on_arc(centre, radius, from, to), false});
}

void Canvas::arrow_head(const Vector2& tip, const Vector2& direction, const char* colour) {
    constexpr double length = 8.0;
    constexpr double half_width = 2.4;
    const Vector2 along = direction.normalized();
    const Vector2 across(-along.y(), along.x());
    const std::array corners{tip, Vector2(tip - length * along + half_width * across),
                             Vector2(tip - length * along - half_width * across)};
    polygon(corners, colour, {colour, 0.3});
}

void Canvas::text(const Vector2& at, std::string_view words, const TextStyle& style) {
    std::string attributes = fmt::format("x=\"{:.3f}\" y=\"{:.3f}\" font-size=\"{:g}\" fill=\"{}\"", at.x(), at.y(),
                                         style.size, style.colour);
    if (style.anchor != Anchor::start) attributes += fmt::format(" text-anchor=\"{}\"", word_of(style.anchor));
    if (style.bold) attributes += " font-weight=\"bold\"";
    if (style.halo)
        attributes += " stroke=\"#ffffff\" stroke-width=\"5\" stroke-linejoin=\"round\" paint-order=\"stroke\"";
    if (style.turn_deg != 0.0) {
        attributes += fmt::format(" transform=\"rotate({:.3f} {:.3f} {:.3f})\"", style.turn_deg, at.x(), at.y());
    }
    fmt::format_to(std::back_inserter(body_), "<text {}>{}</text>\n", attributes, escape(words));
    covered_.push_back({text_outline(at, words, style), true});
}

void Canvas::open_group(std::string_view id, std::string_view attributes) {
    body_ += "<g";
    if (!id.empty()) fmt::format_to(std::back_inserter(body_), " id=\"{}\"", id);
    if (!attributes.empty()) fmt::format_to(std::back_inserter(body_), " {}", attributes);
    body_ += ">\n";
}

void Canvas::title(std::string_view words) {
    fmt::format_to(std::back_inserter(body_), "<title>{}</title>\n", escape(words));
}

void Canvas::close_group() {
    body_ += "</g>\n";
}

std::string Canvas::document(const Vector2& size, const Vector2& size_mm, std::string_view title) const {
    return fmt::format(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0:g}mm\" height=\"{1:g}mm\" viewBox=\"0 0 {2:g} {3:g}\" "
        "font-family=\"sans-serif\">\n"
        "<title>{4}</title>\n<rect width=\"{2:g}\" height=\"{3:g}\" fill=\"{5}\"/>\n{6}</svg>\n",
        size_mm.x(), size_mm.y(), size.x(), size.y(), escape(title), palette::paper, body_);
}

std::string Canvas::element(const Vector2& size, std::string_view attributes) const {
    return fmt::format(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0:g}\" height=\"{1:g}\" viewBox=\"0 0 {0:g} {1:g}\" "
        "font-family=\"sans-serif\" {2}>\n{3}</svg>\n",
        size.x(), size.y(), attributes, body_);
}

namespace {

constexpr double arrow_room = 22.0;
constexpr double value_room = 14.0;  // an arrow head and some line
constexpr double overshoot = 5.0;

// Share of the way at which a value of this length crosses no other line: the middle, or as near to it as may be.
std::optional<double> clear_share(const Dimension& d, double length, double needed) {
    const auto room_at = [&d, length, needed](double share) {
        const double half = 0.5 * needed / length;
        return share - half > 0.0 && share + half < 1.0 &&
               std::none_of(d.crossed.begin(), d.crossed.end(),
                            [share, half](double c) { return std::abs(c - share) < half; });
    };
    for (const double aside : {0.0, 0.06, 0.12, 0.18, 0.24, 0.3, 0.36}) {
        if (room_at(0.5 + aside)) return 0.5 + aside;
        if (room_at(0.5 - aside)) return 0.5 - aside;
    }
    return std::nullopt;
}

// The value that stands in the line, and where.
struct ValueInLine {
    std::string value;
    double width;
    double share;
};

std::optional<ValueInLine> value_in_line(const Dimension& d, double length) {
    for (const std::string& value : d.values) {
        const double width = text_width(value, body_size);
        if (const auto share = clear_share(d, length, width + 2.0 * value_room))
            return ValueInLine{value, width, *share};
    }
    const double width = text_width(d.values.back(), body_size);
    if (width + 2.0 * value_room > length) return std::nullopt;
    return ValueInLine{d.values.back(), width, 0.5};
}

double readable_turn_deg(const Vector2& along) {
    const double turn = std::atan2(along.y(), along.x()) / base::degree;
    constexpr double upside_down = 89.9;  // vertical text reads upwards
    if (turn > upside_down) return turn - 180.0;
    if (turn <= -90.1) return turn + 180.0;
    return turn;
}

}  // namespace

double draw_dimension(Canvas& canvas, const Dimension& d) {
    const Pen thin{palette::grey, 0.8};
    const Vector2 from = d.from + d.offset;
    const Vector2 to = d.to + d.offset;
    const Vector2 outward = d.offset.normalized();
    canvas.line(d.from + d.from_gap * outward, from + overshoot * outward, thin);
    canvas.line(d.to + d.to_gap * outward, to + overshoot * outward, thin);

    const double length = (to - from).norm();
    const Vector2 along = (to - from) / length;
    const bool arrows_fit = length > 2.0 * arrow_room;
    const double side = arrows_fit ? 1.0 : -1.0;
    const Vector2 reach = arrows_fit ? Vector2(0.0, 0.0) : Vector2(arrow_room * along);
    canvas.arrow_head(from, -side * along);
    canvas.arrow_head(to, side * along);

    constexpr double half_height = 4.0;
    if (const auto inside = value_in_line(d, length)) {
        const double turn = readable_turn_deg(along);
        const double turn_rad = turn * base::degree;
        const Vector2 down(-std::sin(turn_rad), std::cos(turn_rad));
        const Vector2 middle = from + inside->share * length * along;
        const Vector2 half_gap = (0.5 * inside->width + 2.0) * along;
        canvas.line(from, middle - half_gap, thin);
        canvas.line(middle + half_gap, to, thin);
        TextStyle style{body_size, Anchor::middle};
        style.halo = true;
        style.turn_deg = turn;
        canvas.text(middle + half_height * down, inside->value, style);
        return middle.y() - 0.5 * (inside->width * std::abs(along.y()) + body_size * std::abs(along.x()));
    }
    canvas.line(from - reach, to + reach, thin);
    const Vector2 past = to + past_end_of_dimension * along + Vector2(0.0, half_height);
    canvas.text(past, d.values.back(), {body_size, along.x() < -0.3 ? Anchor::end : Anchor::start});
    return past.y() - body_size;
}

}  // namespace spotwright::drawing
