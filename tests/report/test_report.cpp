// The page of a report: its sections, what it makes of texts that are markup, and that it is always the same.
#include <algorithm>
#include <string>
#include <vector>

#include "sim/measure/quantities.hpp"
#include "sim/report/html.hpp"
#include "tests/support/chart.hpp"
#include "tests/support/report.hpp"

using namespace spotwright;
using report::report_html;
using test::axis_of, test::chart_ids, test::chart_in, test::curves_of, test::legend_of, test::times;
using test::full_content, test::min_content, test::nan_value;

namespace {

bool has(const std::string& page, const std::string& words) {
    return page.find(words) != std::string::npos;
}

std::vector<std::string> sections_of(const std::string& page) {
    std::vector<std::string> sections;
    const std::string start = "<section id=\"";
    for (std::size_t at = page.find(start); at != std::string::npos; at = page.find(start, at + 1)) {
        sections.push_back(test::between(page, start, "\"", at));
    }
    return sections;
}

using Words = std::vector<std::string>;

}  // namespace

TEST_CASE("a full report has all sections in order, each with its chart", "[record][unit]") {
    const std::string page = report_html(full_content());
    CHECK(sections_of(page) == Words{"verdict", "job", "drawing", "picture", "series", "histogram", "linearity",
                                     "drift", "allan", "budget", "advice", "models", "checks", "sources", "cautions"});
    const Words charts = chart_ids(page);
    CHECK(charts == Words{"chart-series", "chart-histogram", "chart-linearity", "chart-drift", "chart-temperature",
                          "chart-allan", "chart-budget", "chart-intervals"});
    CHECK(times(page, "<figure class=\"chart\">") == charts.size());
    CHECK(times(page, "aria-label=\"") >= charts.size() + 2);
    CHECK(times(page, " viewBox=\"0 0 680 ") == charts.size());
    for (const std::string& id : charts) {
        CAPTURE(id);
        const std::string chart = chart_in(page, id);
        CHECK(test::well_formed("<svg" + chart + "</svg>"));
        CHECK(test::texts(chart).size() > 6);  // numbers of its scales and their names at least
    }
}

TEST_CASE("charts of a report name their axes with units, and their curves", "[record][unit]") {
    const std::string page = report_html(full_content());
    const auto words_of = [&page](const std::string& id) {
        Words words;
        for (const test::DrawnText& text : test::texts(chart_in(page, id))) words.push_back(text.words);
        return words;
    };
    const auto names = [&words_of](const std::string& id, const std::string& label) {
        const Words words = words_of(id);
        return std::find(words.begin(), words.end(), label) != words.end();
    };
    CHECK(names("chart-series", "reading"));
    CHECK(names("chart-series", "output less truth / \u00b5m"));
    CHECK(names("chart-histogram", "outputs in a bin"));
    CHECK(names("chart-linearity", "displacement / mm"));
    CHECK(names("chart-linearity", "error / \u00b5m"));
    CHECK(names("chart-drift", "time / min"));
    CHECK(names("chart-temperature", "temperature / C"));
    CHECK(names("chart-allan", "time averaged over / ms"));
    CHECK(names("chart-allan", "Allan deviation / \u00b5m"));
    CHECK(names("chart-budget", "size / \u00b5m"));
    CHECK(names("chart-intervals", "error / \u00b5m"));
    CHECK(legend_of(chart_in(page, "chart-series")) == Words{"output", "truth", "an output is missing here"});
    CHECK(legend_of(chart_in(page, "chart-linearity")) ==
          Words{"white-ceramic", "black-rubber", "matt <paint>", "translucent-polymer"});
    CHECK(legend_of(chart_in(page, "chart-budget")) == Words{"standard uncertainty", "size of the bias"});
    CHECK(legend_of(chart_in(page, "chart-intervals")) == Words{"95 % interval of the error", "tolerance"});
}

TEST_CASE("charts of a report hold the values of its content", "[record][unit]") {
    const report::ReportContent content = full_content();
    const std::string page = report_html(content);
    const std::string linearity = chart_in(page, "chart-linearity");
    const test::DrawnAxis x = axis_of(linearity, "x");
    const test::DrawnAxis y = axis_of(linearity, "y");
    const auto curves = curves_of(linearity);
    REQUIRE(curves.size() == 4);
    for (std::size_t k = 0; k < curves.size(); ++k) {
        const study::LinearityCurve& curve = content.linearity[k];
        CHECK(curves[k].name == curve.material);
        const std::vector<test::Vector2> points = curves[k].points();
        REQUIRE(points.size() == curve.error.size());
        for (std::size_t i = 0; i < points.size(); ++i) {
            // Places are written to 0.0005 of hundreds of page units, for 10 mm and for 8 um.
            CHECK(x.value(points[i].x()) * 1e-3 == Approx(curve.displacement[i]).margin(2e-8));
            CHECK(y.value(points[i].y()) * 1e-6 == Approx(curve.error[i]).margin(2e-11));
        }
    }
    const std::string allan = chart_in(page, "chart-allan");
    CHECK(axis_of(allan, "x").logarithmic);
    CHECK(axis_of(allan, "y").logarithmic);
    const std::vector<test::Vector2> deviations = curves_of(allan).back().points();
    REQUIRE(deviations.size() == content.allan->curve.size());
    for (std::size_t i = 0; i < deviations.size(); ++i) {
        CHECK(axis_of(allan, "y").value(deviations[i].y()) * 1e-6 ==
              Approx(content.allan->curve[i].deviation).epsilon(1e-4));  // 0.0005 in 200 for a factor of 20
    }
    const Words bars = test::bars_of(chart_in(page, "chart-budget"));
    REQUIRE(bars.size() == 6);
    CHECK(bars[0] == "speckle, the same while the part stands still: standard uncertainty, size / \u00b5m 2.5");
    CHECK(bars[3] == "bias of this part: size of the bias, size / \u00b5m 1.75");
    const Words intervals = test::bars_of(chart_in(page, "chart-intervals"));
    REQUIRE(intervals.size() == 2);
    CHECK(intervals[1] == "Monte Carlo: 95 % interval of the error, error / \u00b5m \u22127.1 to 3.6");
}

TEST_CASE("what a report has no content for is left out, scripts included", "[record][unit]") {
    const std::string page = report_html(min_content());
    CHECK(sections_of(page) == Words{"job", "models", "sources", "cautions"});
    CHECK_FALSE(has(page, "<script"));
    CHECK_FALSE(has(page, "class=\"chart\""));
    CHECK_FALSE(has(page, "Verdict"));
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
        c.read->tracking.reset();
        c.read->exposure_use.reset();
    });
    without("histogram", [](auto& c) { c.histogram.reset(); });
    without("linearity", [](auto& c) { c.linearity.clear(); });
    without("drift", [](auto& c) { c.drift.reset(); });
    without("allan", [](auto& c) { c.allan.reset(); });
    without("budget", [](auto& c) { c.budget.reset(); });
    without("advice", [](auto& c) { c.advice.reset(); });
    without("checks", [](auto& c) { c.checks.reset(); });
}

TEST_CASE("a report has one verdict, that of its widest study, before anything else", "[record][unit]") {
    report::ReportContent content = full_content();  // a marginal budget beside readings that are unstable
    std::string page = report_html(content);
    CHECK(has(page, "<strong>Verdict: marginal</strong>"));
    CHECK(times(page, "Verdict: ") == 1);
    CHECK(page.find("Verdict: ") < page.find("<section"));
    CHECK(has(page, "<li>3 % of trials give no valid reading</li>"));
    CHECK(has(page, "wherever and however `[uncertainty]` lets it stand"));
    const std::string words = page.substr(page.find("<body>"), page.find("id=\"advice\"") - page.find("<body>"));
    CHECK_FALSE(has(words, "unstable"));
    content.budget.reset();
    page = report_html(content);
    CHECK(has(page, "<strong>Verdict: unstable</strong>"));
    CHECK(times(page, "Verdict: ") == 1);
    CHECK(has(page, "<li>10 % of readings are saturated: see the scenario</li>"));
    CHECK(has(page, "the part as it stands, on any patch of its surface"));
    content.read.reset();
    CHECK(has(report_html(content), "<strong>Verdict: marginal</strong>"));
}

TEST_CASE("the answer stands first: level by word, sign and colour, its numbers, cause and next step",
          "[record][unit]") {
    report::ReportContent content = full_content();
    content.mounting_figure = "<svg width=\"4\"><g id=\"axes\"></g></svg>\n";
    const std::string page = report_html(content);
    const std::string panel = test::between(page, "<div class=\"answer marginal\">", "<nav");
    REQUIRE_FALSE(panel.empty());
    CHECK(panel.find("class=\"sign\"") < panel.find("<strong>Verdict: marginal</strong>"));
    CHECK(has(panel,
              "errors within the tolerance, but not within a quarter of the tolerance, 5\u00a0\u00b5m allowed, "
              "7.1\u00a0\u00b5m "
              "found; tolerance 20\u00a0\u00b5m."));
    CHECK(
        has(panel,
            "aria-label=\"Bar of errors: allowed 5\u00a0\u00b5m, tolerance 20\u00a0\u00b5m, found 7.1\u00a0\u00b5m\""));
    CHECK(has(panel, "<dt>largest cause</dt><dd>speckle, standard deviation 2.5\u00a0\u00b5m</dd>"));
    CHECK(has(panel, "<dt>try first</dt><dd>"));
    CHECK(has(panel, "<g id=\"small-axes\">"));
}

TEST_CASE("the bar of the answer is to scale", "[record][unit]") {
    report::ReportContent content = full_content();
    // Widths of its rectangles: all, tolerance, allowed, found.
    const auto widths = [&content] {
        const std::string page = report_html(content);
        const std::string bar = test::between(page, "class=\"bar\"", "</svg>");
        std::vector<double> found;
        const std::string start = "<path d=\"M8,";
        for (std::size_t at = bar.find(start); at != std::string::npos; at = bar.find(start, at + 1)) {
            found.push_back(std::stod(bar.substr(bar.find('h', at + start.size()) + 1)));
        }
        return found;
    };
    const std::vector<double> some = widths();
    REQUIRE(some.size() == 4);
    // Places are written to a hundredth of a hundred.
    CHECK(some[1] / some[2] == Approx(4.0).epsilon(1e-3));
    CHECK(some[3] / some[2] == Approx(7.05 / 5.0).epsilon(1e-3));
    content.budget->verdict.expanded_uncertainty = 1e-3;  // far beyond: cut off at the end
    const std::vector<double> far = widths();
    REQUIRE(far.size() == 4);
    CHECK(far[3] == far[0]);
}

TEST_CASE("every text of a page has the signs of print, and what is preformatted stays as it is", "[record][unit]") {
    CHECK(report::typeset_page("<p title=\"5 um\">5 um +-3</p><pre>5 um +-3</pre>6 um") ==
          "<p title=\"5 um\">5\u00a0\u00b5m \u00b13</p><pre>5 um +-3</pre>6\u00a0\u00b5m");
    const std::string page = report_html(full_content());
    std::string shown;
    bool preformatted = false;
    for (std::size_t at = page.find("<body>"); at < page.size();) {
        const std::size_t end = page.find('>', at);
        const std::string tag = page.substr(at + 1, end - at - 1);
        if (tag == "pre" || tag == "script") preformatted = true;
        if (tag == "/pre" || tag == "/script") preformatted = false;
        const std::size_t next = std::min(page.find('<', end), page.size());
        if (!preformatted) shown += page.substr(end + 1, next - end - 1) + "\n";
        at = next;
    }
    for (const char* plain : {" um ", " um\n", "/ um", "+-"}) {
        INFO(plain);
        CHECK(shown.find(plain) == std::string::npos);
    }
}

TEST_CASE("every label of the answer is a long name of the table of quantities", "[record][unit]") {
    report::ReportContent content = full_content();
    std::vector<std::string> known;
    for (const measure::Quantity& each : measure::quantities()) known.emplace_back(each.long_name);
    for (const bool budget : {true, false}) {
        if (!budget) content.budget.reset();
        const std::string page = report_html(content);
        const std::string answer = test::between(page, "<section id=\"verdict\">", "</section>");
        std::size_t labels = 0;
        for (const std::string table : {"<caption>By ", "<caption>The readings"}) {
            const std::string rows = test::between(answer, table, "</table>");
            REQUIRE_FALSE(rows.empty());
            const std::string start = "<th scope=\"row\">";
            for (std::size_t at = rows.find(start); at != std::string::npos; at = rows.find(start, at + 1)) {
                const std::string label = test::between(rows, start, "</th>", at);
                INFO(label);
                CHECK(std::find(known.begin(), known.end(), label) != known.end());
                ++labels;
            }
        }
        CHECK(labels > 20);
        CHECK(has(answer, "bias, with the speckle of this patch</th><td"));
    }
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
    CHECK(curves_of(chart_in(page, "chart-linearity")).at(0).name == "</script>");
}

TEST_CASE("bytes that are no text, and control characters, do not spoil the page", "[record][unit]") {
    const std::string page =
        report_html(full_content("a\xff\x01"
                                 "b\nc"));
    CHECK(has(page, "<h1>a\ufffd b c</h1>"));
}

TEST_CASE("the page asks for nothing from outside", "[record][unit]") {
    const std::string page = report_html(full_content());
    const std::string policy = test::between(page, "Content-Security-Policy\" content=\"", "\"");
    CHECK(policy == "default-src 'none'; script-src 'sha256-" + std::string(report::script_hash()) +
                        "'; style-src 'sha256-" + std::string(report::style_hash()) +
                        "'; img-src data:; base-uri 'none'; form-action 'none'");
    CHECK_FALSE(has(report_html(min_content()), "script-src"));
    CHECK_FALSE(has(page, " style=\""));
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
    report::ReportContent content = min_content();
    content.series = test::some_trace();
    for (report::TracePoint& point : content.series->output) point.value = nan_value;
    const std::string page = report_html(content);
    CHECK(has(page, "None of 300 readings gave an output."));
    CHECK_FALSE(has(page, "class=\"chart\""));
}

TEST_CASE("missing outputs are counted and marked in the chart of a series", "[record][unit]") {
    const std::string page = report_html(full_content());
    const std::string chart = chart_in(page, "chart-series");
    const auto curves = curves_of(chart);
    REQUIRE(curves.size() == 3);
    REQUIRE(curves[0].stretches.size() == 2);
    CHECK(curves[0].stretches[0].size() == 40);
    CHECK(curves[0].stretches[1].size() == 259);
    REQUIRE(curves[2].points().size() == 1);
    CHECK(axis_of(chart, "x").value(curves[2].points()[0].x()) == Approx(40.0).margin(0.001));
    CHECK(curves[2].name == "an output is missing here");
    CHECK(has(page, "1 of 300 outputs do not exist"));
}

TEST_CASE("values that are not finite become gaps, never numbers", "[record][unit]") {
    report::ReportContent content = full_content();
    content.linearity[0].error[3] = nan_value;
    content.allan->curve[4].interval.high = std::numeric_limits<double>::infinity();
    content.allan->curve[5].deviation = 0.0;
    content.budget->together.end_error = nan_value;
    const std::string page = report_html(content);
    const auto stretches = curves_of(chart_in(page, "chart-linearity")).at(0).stretches;
    REQUIRE(stretches.size() == 2);
    CHECK(stretches[0].size() == 3);
    CHECK(stretches[1].size() == 17);
    CHECK(curves_of(chart_in(page, "chart-allan")).back().points().size() == content.allan->curve.size() - 1);
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
    const std::string page = report_html(content);
    const auto all = curves_of(chart_in(page, "chart-linearity"));
    const auto close = curves_of(chart_in(page, "chart-linearityclose"));
    CHECK(chart_ids(page).at(3) == "chart-linearityclose");
    CHECK(all.size() == 4);
    REQUIRE(close.size() == 3);
    CHECK(close[1].colour == all[1].colour);
    CHECK(close[1].name == all[1].name);
}

TEST_CASE("a zero that is never set is told as never", "[record][unit]") {
    const std::string page = report_html(full_content());
    CHECK(has(page, "<th scope=\"row\">never</th><td class=\"number\">1.2</td>"));
    CHECK(has(page, "<th scope=\"row\">60 min</th>"));
}

TEST_CASE("the whole scenario stands in the page, line by line", "[record][unit]") {
    const std::string page = report_html(min_content());
    CHECK(has(page, "schema = 1\n"));
    CHECK(has(page, "\n[detector]\n"));
    CHECK(has(page, "material = &quot;white-ceramic&quot;\n"));
}

TEST_CASE("what every report carries is what was built in", "[record][unit]") {
    const std::string page = report_html(full_content());
    CHECK(has(page, std::string(report::report_style())));
    CHECK(has(page, std::string(report::report_script())));
    CHECK(report::recorded_checks().made > 100);
    const std::string validation = test::content(std::string(SPOTWRIGHT_SOURCE_DIR) + "/docs/validation.md");
    CHECK(has(validation, std::to_string(report::recorded_checks().made) + " checks, "));
}

TEST_CASE("the headline of a report names the level of most sensors that fit the sheet", "[record][unit]") {
    report::ReportContent content = full_content();
    CHECK_FALSE(has(report_html(content), "fit the sheet"));
    const measure::Level level = content.budget->verdict.level;
    study::EnsembleSpread& spread = content.ensemble.emplace();
    spread.members = 8;
    spread.levels = {0, 0, 0, 8};
    REQUIRE(level != measure::Level::unreadable);
    const std::string page = report_html(content);
    CHECK(has(page, std::string("Verdict: ") + std::string(measure::name_of(level)) +
                        " for the sensor that fits the sheet best, but unreadable for 8 of 8 that fit it"));
    CHECK(has(page, "for 0 of 8 sensors that fit the sheet (unreadable 8)"));
}
