// The page of a report: its sections, what it makes of texts that are markup, and that it is always the same.
#include <algorithm>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

#include "tests/support/report.hpp"

using namespace spotwright;
using report::report_html;
using test::full_content, test::least_content, test::nan_value;

namespace {

bool has(const std::string& page, const std::string& words) {
    return page.find(words) != std::string::npos;
}

std::size_t times(const std::string& page, const std::string& words) {
    std::size_t count = 0;
    for (std::size_t at = page.find(words); at != std::string::npos; at = page.find(words, at + 1)) ++count;
    return count;
}

std::vector<std::string> sections_of(const std::string& page) {
    std::vector<std::string> sections;
    const std::string start = "<section id=\"";
    for (std::size_t at = page.find(start); at != std::string::npos; at = page.find(start, at + 1)) {
        sections.push_back(test::between(page, start, "\"", at));
    }
    return sections;
}

nlohmann::json data_of(const std::string& page) {
    return nlohmann::json::parse(test::between(page, "<script type=\"application/json\" id=\"data\">", "</script>"));
}

using Words = std::vector<std::string>;

}  // namespace

TEST_CASE("a full report has all sections in order, each with its chart", "[record][unit]") {
    const std::string page = report_html(full_content());
    CHECK(sections_of(page) == Words{"job", "drawing", "picture", "series", "histogram", "linearity", "drift", "allan",
                                     "budget", "advice", "models", "checks", "sources", "cautions"});
    Words charts;
    const nlohmann::json data = data_of(page);  // outlives the loop
    for (const auto& chart : data["charts"]) {
        charts.push_back(chart["id"]);
        CHECK(times(page, "<canvas id=\"" + charts.back() + "\"") == 1);
    }
    CHECK(charts == Words{"chart-series", "chart-histogram", "chart-linearity", "chart-drift", "chart-temperature",
                          "chart-allan", "chart-budget", "chart-intervals"});
    CHECK(times(page, "<canvas ") == charts.size());
    CHECK(times(page, "aria-label=\"") >= charts.size() + 2);
}

TEST_CASE("what a report has no content for is left out, scripts included", "[record][unit]") {
    const std::string page = report_html(least_content());
    CHECK(sections_of(page) == Words{"job", "models", "sources", "cautions"});
    CHECK_FALSE(has(page, "<script"));
    CHECK_FALSE(has(page, "<canvas"));
    CHECK_FALSE(has(page, "Verdict"));
    CHECK_FALSE(has(page, "Chart.js v"));
}

TEST_CASE("every section can be missing by itself", "[record][unit]") {
    const Words all = sections_of(report_html(full_content()));
    const auto without = [&all](const std::string& section, const auto& remove) {
        report::ReportContent content = full_content();
        remove(content);
        Words expected = all;
        expected.erase(std::find(expected.begin(), expected.end(), section));
        CHECK(sections_of(report_html(content)) == expected);
    };
    without("drawing", [](auto& c) { c.layout_drawing.clear(); });
    without("picture", [](auto& c) { c.reading_picture.clear(); });
    without("series", [](auto& c) {
        c.series.reset();
        c.following.reset();
        c.exposure_use.reset();
    });
    without("histogram", [](auto& c) { c.histogram.reset(); });
    without("linearity", [](auto& c) { c.linearity.clear(); });
    without("drift", [](auto& c) { c.drift.reset(); });
    without("allan", [](auto& c) { c.allan.reset(); });
    without("budget", [](auto& c) { c.budget.reset(); });
    without("advice", [](auto& c) { c.advice.reset(); });
    without("checks", [](auto& c) { c.checks.reset(); });
}

TEST_CASE("the verdict is that of the widest study, with its reasons, before anything else", "[record][unit]") {
    report::ReportContent content = full_content();
    std::string page = report_html(content);
    CHECK(has(page, "<strong>Verdict: marginal</strong>"));
    CHECK(has(page, "<li>3 % of trials give no valid reading</li>"));
    CHECK(has(page, "The readings alone, the part where it stands, are judged unstable."));
    CHECK(page.find("Verdict: ") < page.find("<section"));
    content.budget.reset();
    page = report_html(content);
    CHECK(has(page, "<strong>Verdict: unstable</strong>"));
    CHECK(has(page, "<li>10 % of readings are saturated: see the scenario</li>"));
    content.read.reset();
    CHECK(has(report_html(content), "<strong>Verdict: marginal</strong>"));
}

TEST_CASE("a disagreement of both methods is told", "[record][unit]") {
    report::ReportContent content = full_content();
    CHECK(has(report_html(content), "Both methods agree"));
    content.budget->agrees = false;
    CHECK(has(report_html(content), "The methods disagree"));
    CHECK_FALSE(has(report_html(content), "Both methods agree"));
}

TEST_CASE("the same content gives the same bytes, another date others", "[record][unit]") {
    CHECK(report_html(full_content()) == report_html(full_content()));
    report::ReportContent later = full_content();
    later.date = "2002-02-03T04:05:06Z";
    CHECK_FALSE(report_html(later) == report_html(full_content()));
}

TEST_CASE("texts of the user stay texts", "[record][unit]") {
    const std::string evil = "</title><script>alert(1)</script>]]><!-- \" onload=\"x\" '";
    report::ReportContent content = full_content(evil);
    content.scenario.file = "/some/where/<b>&.toml";
    content.scenario.motion.path = "</script><script>p";
    content.scenario.target.made_of.title = "<i>shiny</i>";
    content.scenario.target.made_of.reflectance.source = "</style><script>s";
    content.budget->lines[0].component.name = "</script><script>b";
    content.advice->others[0].obstacle = "<img src=x>";
    content.linearity[0].material = "</script>";
    const std::string page = report_html(content);
    const std::string plain = report_html(full_content());
    for (const char* markup : {"<script", "</script", "<!--", "</style", "</title", "<img", "<i>", "<b>"}) {
        INFO(markup);
        CHECK(times(page, markup) == times(plain, markup));
    }
    CHECK(has(page,
              "<title>&lt;/title&gt;&lt;script&gt;alert(1)&lt;/script&gt;]]&gt;&lt;!-- &quot; onload=&quot;x&quot; '"));
    CHECK(has(page, "from &lt;b&gt;&amp;.toml, seed"));
    CHECK_FALSE(has(page, "/some/where"));
    CHECK(data_of(page)["charts"][2]["sets"][0]["label"] == "</script>");
}

TEST_CASE("bytes that are no text, and control characters, do not spoil the page", "[record][unit]") {
    const std::string page =
        report_html(full_content("a\xff\x01"
                                 "b\nc"));
    CHECK(has(page, "<h1>a\ufffd b c</h1>"));
}

TEST_CASE("the page asks for nothing from outside", "[record][unit]") {
    const std::string page = report_html(full_content());
    CHECK(has(page,
              "content=\"default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:;"));
    CHECK_FALSE(has(page, " src="));
    CHECK_FALSE(has(page, "@import"));
    CHECK(times(page, "href=\"") == times(page, "href=\"#") + 1);  // the icon, which is no picture
    CHECK(has(page, "href=\"data:,\""));
}

TEST_CASE("drawings side by side have identifiers of their own, and keep their words", "[record][unit]") {
    const std::string page = report_html(full_content());
    CHECK(times(page, "<g id=\"layout-axes\">") == 1);
    CHECK(times(page, "<g id=\"reading-axes\">") == 1);
    CHECK(times(page, "say id=\"axes\" here") == 2);
    CHECK_FALSE(has(page, "<?xml"));
}

TEST_CASE("a series without any output is told, not drawn", "[record][unit]") {
    report::ReportContent content = least_content();
    content.series = test::some_trace();
    for (report::TracePoint& point : content.series->output) point.value = nan_value;
    const std::string page = report_html(content);
    CHECK(has(page, "None of 300 readings gave an output."));
    CHECK_FALSE(has(page, "<canvas"));
}

TEST_CASE("missing outputs are counted and marked in the chart of a series", "[record][unit]") {
    const std::string page = report_html(full_content());
    const auto sets = data_of(page)["charts"][0]["sets"];
    REQUIRE(sets.size() == 3);
    CHECK(sets[0]["points"][40][1].is_null());
    CHECK(sets[2]["points"].size() == 1);
    CHECK(sets[2]["points"][0][0] == 40);
    CHECK(has(page, "1 of 300 outputs do not exist"));
}

TEST_CASE("values that are not finite become gaps, never numbers", "[record][unit]") {
    report::ReportContent content = full_content();
    content.linearity[0].error[3] = nan_value;
    content.allan->curve[4].interval.high = std::numeric_limits<double>::infinity();
    content.allan->curve[5].deviation = 0.0;
    content.budget->together.end_error = nan_value;
    const std::string page = report_html(content);
    CHECK(data_of(page)["charts"][2]["sets"][0]["points"][3][1].is_null());
    CHECK(data_of(page)["charts"][5]["sets"][3]["points"].size() == content.allan->curve.size() - 1);
    CHECK_FALSE(has(page, ">nan"));
    CHECK_FALSE(has(page, ">inf<"));
}

TEST_CASE("what is missing from a series, and what could not be studied, is told", "[record][unit]") {
    report::ReportContent content = full_content();
    content.allan->gaps = study::Gaps::longest_run;
    content.allan->missing = 77;
    content.allan->used = 500;
    content.not_studied = {"Drift was not studied: it is <too> warm."};
    const std::string page = report_html(content);
    CHECK(
        has(page, "77 of 1024 outputs are missing: the curve stands on the 500 of the longest stretch without a gap."));
    CHECK(has(page, "<li>Drift was not studied: it is &lt;too&gt; warm.</li>"));
}

TEST_CASE("materials that err little get a chart of their own beside one that errs much", "[record][unit]") {
    report::ReportContent content = full_content();
    for (double& error : content.linearity[3].error) error += 50e-6;
    const nlohmann::json data = data_of(report_html(content));
    CHECK(data["charts"][2]["sets"].size() == 4);
    REQUIRE(data["charts"][3]["id"] == "chart-linearityclose");
    CHECK(data["charts"][3]["sets"].size() == 3);
    CHECK(data["charts"][3]["sets"][1]["colour"] == data["charts"][2]["sets"][1]["colour"]);
}

TEST_CASE("a zero that is never set is told as never", "[record][unit]") {
    const std::string page = report_html(full_content());
    CHECK(has(page, "<th scope=\"row\">never</th><td class=\"number\">1.2</td>"));
    CHECK(has(page, "<th scope=\"row\">60 min</th>"));
}

TEST_CASE("the whole scenario stands in the page, line by line", "[record][unit]") {
    const std::string page = report_html(least_content());
    CHECK(has(page, "schema = 1\n"));
    CHECK(has(page, "\n[detector]\n"));
    CHECK(has(page, "material = &quot;white-ceramic&quot;\n"));
}

TEST_CASE("what every report carries is what was built in", "[record][unit]") {
    CHECK(has(std::string(report::chart_library().front()), "Chart.js v"));
    CHECK(report::recorded_checks().made > 100);
    const std::string validation = test::content(std::string(SPOTWRIGHT_SOURCE_DIR) + "/docs/validation.md");
    CHECK(has(validation, std::to_string(report::recorded_checks().made) + " checks, "));
}
