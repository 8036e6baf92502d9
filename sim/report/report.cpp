#include "sim/report/report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "sim/report/sections.hpp"
#include "sim/drawing/svg_canvas.hpp"
#include "sim/record/text.hpp"

namespace spotwright::report {

namespace {

struct Section {
    std::string id;
    std::string heading;
    std::string body;    ///< markup; empty: left out
    bool sheet = false;  ///< a page of its own on paper, landscape
};

std::string title_of(const scenario::Scenario& s) {
    if (!s.title.empty()) return record::one_line(s.title);
    return record::one_line(std::filesystem::path(s.file).filename().string());
}

std::string drawing(const std::string& svg, std::string_view prefix, const std::string& description,
                    const std::string& caption) {
    if (svg.empty()) return {};
    return fmt::format("<figure class=\"drawing\">\n{}<figcaption>{}</figcaption>\n</figure>\n",
                       html_drawing(svg, prefix, description), drawing::escape(caption));
}

std::vector<Section> sections_of(const ReportContent& content) {
    std::vector<Section> sections;
    const auto add = [&sections](const char* id, const char* heading, std::string body, bool sheet = false) {
        if (!body.empty()) sections.push_back({id, heading, std::move(body), sheet});
    };
    add("verdict", "The verdict in numbers", verdict_section(content));
    add("job", "The job", job_section(content));
    add("drawing", "Mounting",
        drawing(content.layout_drawing, "layout-",
                "Drawing of the mounting to scale; its numbers stand in the table above",
                "The mounting to scale, with the array enlarged."),
        true);
    add("picture", "One reading",
        drawing(content.reading_picture, "reading-", "Picture of one reading: signal, peaks and what is made of them",
                "One reading, from light to displacement."),
        true);
    add("series", "Readings one after the other", series_section(content));
    add("histogram", "How readings scatter", histogram_section(content));
    add("linearity", "Error over the range, by material", linearity_section(content));
    add("drift", "Drift with temperature", drift_section(content));
    add("allan", "Averaging over time", allan_section(content));
    add("budget", "Uncertainty budget", budget_section(content));
    add("advice", "What would help", advice_section(content));
    add("models", "What was modelled, and what was not", models_section(content));
    add("checks", "How far the model was checked", checks_section(content));
    add("sources", "Sources", sources_section(content));
    add("cautions", "Cautions", cautions_section(content));
    return sections;
}

// Allows the script and the style of the page, and nothing else.
std::string security_policy(bool scripted) {
    const std::string script = scripted ? fmt::format("script-src 'sha256-{}'; ", script_hash()) : "";
    return fmt::format(
        "default-src 'none'; {}style-src 'sha256-{}'; img-src data:; base-uri 'none'; form-action 'none'", script,
        style_hash());
}

std::string head(const std::string& title, const ReportContent& content, bool scripted) {
    return fmt::format(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
        "<meta http-equiv=\"Content-Security-Policy\" content=\"{}\">\n"
        "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
        "<meta name=\"generator\" content=\"{}\">\n<link rel=\"icon\" href=\"data:,\">\n<title>{}</title>\n"
        "<style>{}</style>\n</head>\n",
        security_policy(scripted), drawing::escape(content.program), drawing::escape(title), report_style());
}

std::string origin(const ReportContent& content) {
    const std::string file = record::one_line(std::filesystem::path(content.scenario.file).filename().string());
    return html_paragraph(
        fmt::format("Predicted by a model, not measured. Made {} by {} from {}, seed {}.", content.date,
                    content.program, file.empty() ? "a scenario" : file, content.scenario.seed),
        "origin");
}

std::string contents_list(const std::vector<Section>& sections) {
    std::string items;
    for (const Section& s : sections)
        items += fmt::format("<li><a href=\"#{}\">{}</a></li>\n", s.id, drawing::escape(s.heading));
    return "<nav aria-label=\"Sections\"><ul>\n" + items + "</ul></nav>\n";
}

// Charts are complete without a script; it shows values under the pointer.
bool has_chart(const std::vector<Section>& sections) {
    return std::any_of(sections.begin(), sections.end(), [](const Section& section) {
        return section.body.find("<figure class=\"chart\">") != std::string::npos;
    });
}

}  // namespace

std::string report_html(const ReportContent& content) {
    const std::vector<Section> sections = sections_of(content);
    const std::string title = title_of(content.scenario);
    const bool scripted = has_chart(sections);
    std::string page = head(title, content, scripted);
    page += fmt::format("<body>\n<header>\n<h1>{}</h1>\n{}{}</header>\n<main>\n", drawing::escape(title),
                        answer_panel(content), origin(content));
    page += contents_list(sections);
    for (const Section& section : sections) {
        page += fmt::format("<section id=\"{}\"{}>\n<h2>{}</h2>\n{}</section>\n", section.id,
                            section.sheet ? " class=\"sheet\"" : "", drawing::escape(section.heading), section.body);
    }
    page += "</main>\n";
    if (scripted) page += fmt::format("<script>{}</script>\n", report_script());
    return typeset_page(page + "</body>\n</html>\n");
}

}  // namespace spotwright::report
