#include "sim/report/report.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <span>

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

std::string joined(std::span<const std::string_view> pieces) {
    std::string text;
    for (const std::string_view piece : pieces) text += piece;
    return text;
}

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

std::vector<Section> sections_of(const ReportContent& content, std::vector<Chart>& charts) {
    std::vector<Section> sections;
    const auto add = [&sections](const char* id, const char* heading, std::string body, bool sheet = false) {
        if (!body.empty()) sections.push_back({id, heading, std::move(body), sheet});
    };
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
    add("series", "Readings one after the other", series_section(content, charts));
    add("histogram", "How readings scatter", histogram_section(content, charts));
    add("linearity", "Error over the range, by material", linearity_section(content, charts));
    add("drift", "Drift with temperature", drift_section(content, charts));
    add("allan", "Averaging over time", allan_section(content, charts));
    add("budget", "Uncertainty budget", budget_section(content, charts));
    add("advice", "What would help", advice_section(content));
    add("models", "What was modelled, and what was not", models_section(content));
    add("checks", "How far the model was checked", checks_section(content));
    add("sources", "Sources", sources_section(content));
    add("cautions", "Cautions", cautions_section(content));
    return sections;
}

std::string head(const std::string& title, const ReportContent& content) {
    return fmt::format(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; script-src 'unsafe-inline'; "
        "style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'\">\n"
        "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
        "<meta name=\"generator\" content=\"{}\">\n<link rel=\"icon\" href=\"data:,\">\n<title>{}</title>\n"
        "<style>\n{}</style>\n</head>\n",
        drawing::escape(content.program), drawing::escape(title), joined(report_style()));
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

// In a script element nothing but its end tag is markup: without "<" there is none.
std::string data_block(const std::vector<Chart>& charts) {
    nlohmann::ordered_json data{{"charts", nlohmann::ordered_json::array()}};
    for (const Chart& chart : charts) data["charts"].push_back(chart_json(chart));
    std::string text = data.dump(-1, ' ', true, nlohmann::json::error_handler_t::replace);
    for (std::size_t at = text.find('<'); at != std::string::npos; at = text.find('<', at)) {
        text.replace(at, 1, "\\u003c");
    }
    return text;
}

std::string scripts(const std::vector<Chart>& charts) {
    if (charts.empty()) return {};
    return fmt::format(
        "<script type=\"application/json\" id=\"data\">{}</script>\n<script>\n{}</script>\n<script>\n{}</script>\n",
        data_block(charts), joined(chart_library()), joined(report_script()));
}

}  // namespace

std::string report_html(const ReportContent& content) {
    std::vector<Chart> charts;
    const std::vector<Section> sections = sections_of(content, charts);
    const std::string title = title_of(content.scenario);
    std::string page = head(title, content);
    page += fmt::format("<body>\n<header>\n<h1>{}</h1>\n{}{}</header>\n<main>\n", drawing::escape(title),
                        verdict_section(content), origin(content));
    if (!charts.empty()) {
        page +=
            "<p id=\"chart-errors\" class=\"errors\" role=\"alert\" hidden></p>\n"
            "<noscript><p class=\"errors\">Charts need scripts, which are off. Tables and drawings hold the same "
            "values.</p></noscript>\n";
    }
    page += contents_list(sections);
    for (const Section& section : sections) {
        page += fmt::format("<section id=\"{}\"{}>\n<h2>{}</h2>\n{}</section>\n", section.id,
                            section.sheet ? " class=\"sheet\"" : "", drawing::escape(section.heading), section.body);
    }
    return page + "</main>\n" + scripts(charts) + "</body>\n</html>\n";
}

}  // namespace spotwright::report
