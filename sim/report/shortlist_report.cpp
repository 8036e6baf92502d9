#include "sim/report/shortlist_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/base/version.hpp"
#include "sim/base/words.hpp"
#include "sim/drawing/comparison.hpp"
#include "sim/drawing/svg_canvas.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/record/text.hpp"
#include "sim/report/embedded_report.hpp"
#include "sim/report/html.hpp"

namespace spotwright::report {

namespace {

using base::degree, base::mm, base::ms;
using study::RankedSensor;

const std::filesystem::path& checked_page(const std::filesystem::path& out) {
    static_cast<void>(record::checked_extension(out, {".html"}));
    return out;
}

std::string title_of_job(const scenario::Job& job) {
    if (!job.title.empty()) return record::one_line(job.title);
    return record::one_line(std::filesystem::path(job.file).filename().string());
}

std::string page_head(const std::string& title) {
    return fmt::format(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'sha256-{}'; img-src "
        "data:; base-uri 'none'; form-action 'none'\">\n"
        "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
        "<link rel=\"icon\" href=\"data:,\">\n<title>{}</title>\n<style>{}</style>\n</head>\n",
        style_hash(), drawing::escape(title), report_style());
}

std::string verdict_word(const RankedSensor& ranked) {
    return ranked.computed ? std::string(measure::name_of(ranked.level)) : "ruled out";
}

std::string section(const char* id, const char* heading, const std::string& body) {
    if (body.empty()) return {};
    return fmt::format("<section id=\"{}\">\n<h2>{}</h2>\n{}</section>\n", id, heading, body);
}

std::string mount_cell(const RankedSensor& ranked) {
    std::string words = ranked.setup.specular ? "specular" : "diffuse";
    if (ranked.setup.tilt != 0.0) words += fmt::format(", tilted {:+.3g} deg", ranked.setup.tilt / degree);
    return words;
}

std::string answer(const study::Shortlist& list) {
    std::size_t stable = 0;
    for (const RankedSensor& each : list.sensors) {
        if (each.computed && each.level == measure::Level::stable && each.shortcomings.empty()) ++stable;
    }
    const RankedSensor& first = list.sensors.front();
    std::string words =
        fmt::format("{} of {} sensors read{} all parts stably.", stable, list.sensors.size(), stable == 1 ? "s" : "");
    if (stable > 0) {
        words += fmt::format(" First: {}, with a margin of {:.2g}.", first.sensor.name, first.margin);
    } else if (first.computed) {
        words += fmt::format(" Nearest: {}, {}.", first.sensor.name, verdict_word(first));
    }
    return html_paragraph(words, "verdict");
}

std::string job_body(const scenario::Job& job) {
    std::vector<TextRow> rows;
    for (const scenario::JobPart& part : job.parts) {
        const scenario::Scenario& s = part.scenario;
        rows.push_back({part.title, s.target.material,
                        fmt::format("{:g} and {:g}", part.tilt_range[0] / degree, part.tilt_range[1] / degree),
                        base::length_text(s.requirement.tolerance, 3),
                        base::length_text(study::allowed_error(s.requirement), 3)});
    }
    return html_paragraph(fmt::format("Clearance {:g} to {:g} mm between the sensor's front and the part, over a span "
                                      "of {:g} mm; response within {:.4g} ms.",
                                      job.clearance[0] / mm, job.clearance[1] / mm, job.span / mm,
                                      study::required_response(job) / ms)) +
           html_table("", {"part", "material", "tilt to either side, deg", "tolerance, plus or minus", "error allowed"},
                      rows);
}

std::string ranking_body(const study::Shortlist& list) {
    std::vector<TextRow> rows;
    for (const RankedSensor& each : list.sensors) {
        if (!each.computed) continue;
        rows.push_back(
            {each.sensor.name, verdict_word(each), each.margin > 0.0 ? fmt::format("{:.2g}", each.margin) : "none",
             each.error ? base::uncertainty_text(*each.error) : "none", fmt::format("{:.3g}", each.response / ms),
             mount_cell(each), fmt::format("{:.4g}", each.setup.clearance / mm), each.largest});
    }
    if (rows.empty()) return html_paragraph("No sensor is left after the closed forms.");
    return html_table(
        "Margin: allowed over found error, at the pose where it is smallest.",
        {"sensor", "verdict", "margin", "error up to", "response, ms", "mount", "clearance, mm", "largest cause"},
        rows);
}

std::string why_not_body(const study::Shortlist& list) {
    std::vector<std::string> items;
    for (const RankedSensor& each : list.sensors) {
        if (each.shortcomings.empty()) continue;
        std::string words;
        for (const study::Shortcoming& s : each.shortcomings) words += (words.empty() ? "" : "; ") + s.words;
        items.push_back(fmt::format("{}: {}.", each.sensor.name, words));
    }
    return html_list(items);
}

std::string settings_body(const study::Shortlist& list) {
    std::string body;
    for (const RankedSensor& each : list.sensors) {
        if (!each.computed || each.level > measure::Level::marginal) continue;
        std::vector<std::string> lines = each.setup.settings;
        if (each.setup.tilt != 0.0) {
            lines.push_back(
                fmt::format("mount.tilt_deg=[{:.4g}, 0]; readings times {:.5f}, because the sensor measures "
                            "along its tilted beam",
                            each.setup.tilt / degree, std::cos(each.setup.tilt)));
        }
        body += html_details(each.sensor.name + ", " + each.sensor.title, "whole", html_list(lines));
    }
    return body;
}

std::string drawing_body(const scenario::Job& job, const study::Shortlist& list) {
    constexpr std::size_t most = 8;
    std::vector<drawing::DrawnSensor> drawn;
    for (const RankedSensor& each : list.sensors) {
        if (!each.computed || each.poses.empty() || drawn.size() == most) continue;
        drawn.push_back({each.sensor.name, verdict_word(each), scenario_of_pose(job, each, each.poses.front())});
    }
    if (drawn.empty()) return {};
    return fmt::format("<figure class=\"drawing\">\n{}<figcaption>{}</figcaption>\n</figure>\n",
                       html_drawing(drawing::draw_comparison(drawn, job), "comparison-",
                                    "Housings of the sensors over the part, to one scale"),
                       "The first sensors of the list over the part, to one scale: beam solid, line of sight dashed, "
                       "ends of the span dotted.");
}

}  // namespace

std::string shortlist_html(const scenario::Job& job, const study::Shortlist& list, const std::string& date) {
    const std::string title = title_of_job(job);
    std::string page = page_head(title);
    page += fmt::format("<body>\n<header>\n<h1>{}</h1>\n{}{}</header>\n<main>\n", drawing::escape(title), answer(list),
                        html_paragraph(fmt::format("Predicted by a model, not measured. Made {} by spotwright {}.",
                                                   date, base::version()),
                                       "origin"));
    page += section("job", "The job", job_body(job));
    page += section("ranking", "Sensors, best first", ranking_body(list));
    page += section("drawing", "To one scale", drawing_body(job, list));
    page += section("why-not", "What stands against the others", why_not_body(list));
    page += section("settings", "Settings", settings_body(list));
    page += section("cautions", "Cautions", html_paragraph(emitter::safety_caution()));
    return page + "</main>\n</body>\n</html>\n";
}

ShortlistReport::ShortlistReport(const std::filesystem::path& out, const scenario::Job& job, std::string when)
    : file_(checked_page(out)), job_(job), when_(std::move(when)) {}

void ShortlistReport::commit(const study::Shortlist& list) {
    file_.write(shortlist_html(job_, list, when_));
    file_.commit();
}

}  // namespace spotwright::report
