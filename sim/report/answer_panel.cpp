// The first screen of a report: the answer at a glance.
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "sim/base/typeset.hpp"
#include "sim/base/words.hpp"
#include "sim/drawing/svg_canvas.hpp"
#include "sim/record/text.hpp"
#include "sim/report/sections.hpp"

namespace spotwright::report {

namespace {

using drawing::Anchor, drawing::Canvas, drawing::Pen, drawing::Vector2;
using measure::Level;

// Colours that differ in lightness too; word and sign say the same without them.
const char* colour_of(Level level) {
    static constexpr std::array<const char*, 4> colours{"#12603a", "#8a5a00", "#a3261a", "#3f4753"};
    return colours[static_cast<std::size_t>(level)];
}

// The sign of a level, as in the pictures: full, half, empty, crossed out.
std::string sign_of(Level level) {
    constexpr double size = 34.0;
    constexpr double radius = 14.0;
    const Vector2 centre(0.5 * size, 0.5 * size);
    const Pen pen{colour_of(level), 3.0};
    Canvas canvas;
    canvas.circle(centre, radius, level == Level::stable ? colour_of(level) : drawing::palette::paper, pen);
    if (level == Level::marginal) canvas.circle(centre, 0.45 * radius, colour_of(level), pen);
    if (level == Level::unreadable) {
        const Vector2 slant(0.7 * radius, 0.7 * radius);
        canvas.line(centre - slant, centre + slant, pen);
        canvas.line(centre - Vector2(slant.x(), -slant.y()), centre + Vector2(slant.x(), -slant.y()), pen);
    }
    return canvas.element({size, size}, "class=\"sign\" aria-hidden=\"true\"");
}

struct Bar {
    double left = 8.0;
    double right = 472.0;
    double most = 1.0;  // error at the right end. [m]
    [[nodiscard]] double at(double error) const { return left + (right - left) * std::min(error / most, 1.0); }
};

// A limit: a stroke through the bar, its name above.
void draw_limit(Canvas& canvas, const Bar& bar, double limit, std::string_view name, Anchor anchor) {
    const double x = bar.at(limit);
    canvas.line({x, 24.0}, {x, 56.0}, {drawing::palette::ink, 1.4});
    const double beside = anchor == Anchor::start ? -2.0 : 2.0;
    canvas.text({x + beside, 16.0}, fmt::format("{} {}", name, base::length_text(limit, 4)),
                {drawing::body_size, anchor});
}

// Tolerance, allowed and found error on one scale; what is found beyond twice the tolerance is cut off and says so.
std::string bar_of(const scenario::Requirement& requirement, std::optional<double> found, Level level) {
    const double allowed = measure::allowed_error(requirement);
    const double tolerance = requirement.tolerance;
    const double largest = std::max(allowed, tolerance);
    constexpr double margin = 1.12;
    Bar bar;
    bar.most = std::clamp(margin * found.value_or(0.0), margin * largest, 2.0 * largest);
    Canvas canvas;
    canvas.rectangles(std::array{drawing::Box{bar.left, 32.0, bar.right, 48.0}}, "#eceff2");
    canvas.rectangles(std::array{drawing::Box{bar.left, 32.0, bar.at(tolerance), 48.0}}, "#cfd6de");
    canvas.rectangles(std::array{drawing::Box{bar.left, 32.0, bar.at(allowed), 48.0}}, "#aeb9c5");
    if (found) {
        canvas.rectangles(std::array{drawing::Box{bar.left, 36.0, bar.at(*found), 44.0}}, colour_of(level));
        const bool beyond = *found > bar.most;
        if (beyond) canvas.arrow_head({bar.right + 7.0, 40.0}, {1.0, 0.0}, colour_of(level));
        const bool on_left = bar.at(*found) < 0.5 * (bar.left + bar.right);
        canvas.text({bar.at(*found), 70.0}, fmt::format("found {}", base::uncertainty_text(*found)),
                    {drawing::body_size, on_left ? Anchor::start : Anchor::end, true});
    }
    if (allowed != tolerance) draw_limit(canvas, bar, allowed, "allowed", Anchor::start);
    draw_limit(canvas, bar, tolerance, "tolerance", allowed < 0.7 * tolerance ? Anchor::end : Anchor::start);
    const std::string description =
        fmt::format("Bar of errors: allowed {}, tolerance {}, found {}", base::length_text(allowed, 4),
                    base::length_text(tolerance, 4), found ? base::uncertainty_text(*found) : std::string("none"));
    return canvas.element({480.0, 78.0}, fmt::format("class=\"bar\" role=\"img\" aria-label=\"{}\"",
                                                     drawing::escape(base::typeset(description))));
}

std::string line(std::string_view head, const std::string& words) {
    if (words.empty()) return {};
    return fmt::format("<dt>{}</dt><dd>{}</dd>\n", head, drawing::escape(words));
}

std::string figure(const ReportContent& content) {
    if (content.mounting_figure.empty()) return {};
    return fmt::format("<figure class=\"small\">\n{}</figure>\n",
                       html_drawing(content.mounting_figure, "small-", "The mounting to scale"));
}

}  // namespace

std::string answer_panel(const ReportContent& content) {
    const std::optional<Answer> answer = answer_of(content);
    if (!answer) return {};
    const measure::Verdict& verdict = answer->verdict;
    std::string text = fmt::format("<div class=\"answer {}\">\n<div>\n", measure::name_of(verdict.level));
    text += fmt::format("<p class=\"verdict\">{}<strong>Verdict: {}</strong></p>\n", sign_of(verdict.level),
                        drawing::escape(answer->headline));
    text += html_paragraph(answer->explanation + ".", "why");
    text += bar_of(content.scenario.requirement, answer->uncertainty, verdict.level);
    std::string lines = line("largest cause", answer->largest);
    if (!answer->reasons.empty()) lines += line("because", answer->reasons.front());
    lines += line("try first", answer->next);
    lines += line("holds for", std::string(measure::name_of(verdict.covers)));
    return text + "<dl>\n" + lines + "</dl>\n</div>\n" + figure(content) + "</div>\n";
}

}  // namespace spotwright::report
