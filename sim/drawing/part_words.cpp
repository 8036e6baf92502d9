#include "sim/drawing/part_words.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/drawing/mounting_sheet.hpp"
#include "sim/drawing/svg_canvas.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::um, base::degree;
using scenario::Curvature, scenario::Direction, scenario::ShapeKind;

std::string length(double value) {
    return number(value / mm) + " mm";
}

// Where the edge, axis or crest stands; nothing where it stands in the beam.
std::string beside_beam(Direction direction, double position) {
    if (position == 0.0) return "";
    return fmt::format("at {} = {} mm", direction == Direction::across ? "x" : "y", signed_number(position / mm));
}

std::string beside_beam(const scenario::Pair& position) {
    if (position[0] == 0.0 && position[1] == 0.0) return "";
    return fmt::format("at x, y = {}, {} mm", signed_number(position[0] / mm), signed_number(position[1] / mm));
}

// What it is, of what size and where, line by line; lines may be empty.
std::vector<std::string> shape_texts(const scenario::Target& t) {
    switch (t.shape) {
        case ShapeKind::plane:
            break;
        case ShapeKind::step:
            return {fmt::format("step {} mm", signed_number(t.step.height / mm)),
                    beside_beam(t.step.edge, t.step.position)};
        case ShapeKind::cylinder:
            return {fmt::format("{}, radius {}", t.cylinder.curvature == Curvature::convex ? "roll" : "trough",
                                length(t.cylinder.radius)),
                    beside_beam(t.cylinder.axis, t.cylinder.position)};
        case ShapeKind::sphere:
            return {fmt::format("{}, radius {}", t.sphere.curvature == Curvature::convex ? "ball" : "hollow",
                                length(t.sphere.radius)),
                    beside_beam(t.sphere.position)};
        case ShapeKind::groove:
            return {fmt::format("groove {}°", number(t.groove.opening / degree)), length(t.groove.depth) + " deep",
                    beside_beam(t.groove.axis, t.groove.position)};
        case ShapeKind::wave:
            return {"wave ±" + length(t.wave.amplitude), "period " + length(t.wave.period),
                    beside_beam(t.wave.axis, t.wave.position)};
        case ShapeKind::relief:
            return {"relief", beside_beam(t.relief.position)};
        case ShapeKind::post:
            return {fmt::format("post {} by {}, {} high", length(t.post.width[0]), length(t.post.width[1]),
                                length(t.post.height)),
                    beside_beam(t.post.position)};
        case ShapeKind::plate:
            return {fmt::format("plate, {} thick", length(t.plate.thickness)),
                    t.plate.backing == "none" ? "" : fmt::format("behind it {}", t.plate.backing)};
    }
    return {};
}

// What covers some of the surface, and what varies over it, line by line.
std::vector<std::string> marking_texts(const scenario::Target& t) {
    std::vector<std::string> lines;
    const scenario::Pattern& p = t.pattern;
    if (p.kind != scenario::PatternKind::none) {
        constexpr std::array words{"none", "border", "bars", "dots", "hatching", "weave", "grain", "patch", "picture"};
        lines.push_back(fmt::format("{} of {}", words.at(static_cast<std::size_t>(p.kind)), p.material));
    }
    if (t.texture.deviation > 0.0) {
        lines.push_back(
            fmt::format("texture ±{} %, {}", number(100.0 * t.texture.deviation), length(t.texture.length)));
    }
    if (t.feed_marks.spacing > 0.0) lines.push_back("feed marks every " + length(t.feed_marks.spacing));
    return lines;
}

// The displacement of the lit place, where it is not that of the reference surface.
std::string lit_text(const scenario::Scenario& s) {
    constexpr double least = 0.1 * um;
    const auto lit = sensor::lit_displacement(s, s.target.displacement);
    if (!lit || std::abs(*lit - s.target.displacement) < least) return "";
    return fmt::format("lit at s = {} mm", signed_number(*lit / mm));
}

// What of a long shape runs along this plane; nothing where it runs across.
std::string parallel_words(const scenario::Scenario& s) {
    const scenario::Target& t = s.target;
    const auto words = [](Direction direction, const char* what) {
        return direction == Direction::parallel ? std::string(what) : std::string();
    };
    switch (t.shape) {
        case ShapeKind::step:
            return words(t.step.edge, "The edge of the step runs");
        case ShapeKind::cylinder:
            return words(t.cylinder.axis, "The axis of the part runs");
        case ShapeKind::groove:
            return words(t.groove.axis, "The groove runs");
        case ShapeKind::wave:
            return words(t.wave.axis, "The crests run");
        case ShapeKind::relief:
            return s.target.relief.heights.y.empty() ? words(t.relief.axis, "The profile of the relief runs")
                                                     : std::string();
        case ShapeKind::plane:
        case ShapeKind::sphere:
        case ShapeKind::plate:
        case ShapeKind::post:
            break;
    }
    return "";
}

}  // namespace

bool is_plain(const scenario::Scenario& s) {
    return s.target.shape == ShapeKind::plane;
}

std::vector<std::string> part_lines(const scenario::Scenario& s, bool with_detail) {
    std::vector<std::string> lines{
        fmt::format("part: s = {} mm{}", signed_number(s.target.displacement / mm), with_detail ? " (detail B)" : "")};
    std::vector<std::string> words_of_part = shape_texts(s.target);
    if (!is_plain(s)) words_of_part.insert(words_of_part.begin(), lit_text(s));
    words_of_part.push_back(s.target.material);
    for (const std::string& words : marking_texts(s.target)) words_of_part.push_back(words);
    for (const std::string& words : words_of_part) {
        if (words.empty()) continue;
        const std::vector<std::string> wrapped = wrap(words, body_size, column_width);
        lines.insert(lines.end(), wrapped.begin(), wrapped.end());
    }
    if (s.target.tilt[0] != 0.0) lines.push_back("tilt " + angle_text(s.target.tilt[0]));
    return lines;
}

std::vector<std::string> part_remarks(const scenario::Scenario& s, const Mounting& m) {
    std::vector<std::string> remarks;
    const std::string parallel = parallel_words(s);
    if (!parallel.empty()) remarks.push_back(parallel + " along this plane, which cuts the part at one level.");
    if (s.target.shape == ShapeKind::sphere && s.target.sphere.position[1] != 0.0) {
        remarks.push_back("The plane does not pass through the centre: the circle drawn is smaller than the part's.");
    }
    if (!m.part) {
        remarks.push_back(
            fmt::format("The part at s = {} mm is not drawn: it stands far outside the range{} or shows its back.",
                        signed_number(s.target.displacement / mm), is_plain(s) ? "" : " or beside the beam"));
    } else if (m.part->sight.hidden_at) {
        remarks.push_back(m.part->sight.seen.empty() ? "×: the part hides its lit spot from the whole lens."
                                                     : "×: the part hides its lit spot from the centre of the lens.");
    } else if (!m.part->image) {
        remarks.push_back("The image of the part's spot misses the array.");
    }
    return remarks;
}

}  // namespace spotwright::drawing
