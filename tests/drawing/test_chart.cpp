// Charts: what is drawn lies within the plot and where its scales say, no words touch, and what has no value is told.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>
#include <string>
#include <vector>

#include "sim/drawing/chart.hpp"
#include "sim/drawing/chart_axis.hpp"
#include "tests/support/chart.hpp"

using namespace spotwright;
using namespace test;
using drawing::Chart, drawing::ChartCurve, drawing::ChartPoint, drawing::curve_style;

namespace {

constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();
constexpr double written = 0.0005;  // places are written to 0.001

struct Scaling {
    const char* name;
    double from;
    double to;
    bool logarithmic;
};

// Ranges that jobs have, and ranges that are hardly one.
const std::vector<Scaling>& scalings() {
    static const std::vector<Scaling> list{{"plain", -5.0, 5.0, false},
                                           {"far from zero", 1e6, 1e6 + 0.3, false},
                                           {"rounding of one value", 7.0, 7.0 + 1e-14, false},
                                           {"one value", 23.0, 23.0, false},
                                           {"zero alone", 0.0, 0.0, false},
                                           {"tiny", 1e-13, 9e-13, false},
                                           {"huge", -3e22, 8e22, false},
                                           {"all of the sizes", -9e149, 9e149, false},
                                           {"decades", 1e-3, 3e4, true},
                                           {"many decades", 1e-30, 1e40, true},
                                           {"hundreds of decades", 1e-140, 1e140, true},
                                           {"within a decade", 2.1, 8.7, true},
                                           {"hardly a step", 3.001, 3.002, true},
                                           {"one positive value", 4.2, 4.2, true}};
    return list;
}

double at_share(const Scaling& s, double share) {
    return s.logarithmic ? std::exp(std::log(s.from) + share * (std::log(s.to) - std::log(s.from)))
                         : s.from + share * (s.to - s.from);
}

Chart rising_chart(const Scaling& x, const Scaling& y) {
    Chart chart;
    chart.id = "some";
    chart.x.label = "displacement / mm";
    chart.y.label = "error / um";
    chart.x.logarithmic = x.logarithmic;
    chart.y.logarithmic = y.logarithmic;
    ChartCurve curve{"rising", {}, curve_style(0)};
    constexpr int steps = 20;
    for (int i = 0; i <= steps; ++i) {
        const double share = i / static_cast<double>(steps);
        curve.points.push_back({at_share(x, share), at_share(y, share)});
    }
    chart.curves.push_back(curve);
    return chart;
}

// The frame is the plot's first polygon.
drawing::Box frame_of(const std::string& svg) {
    const std::string from_plot = svg.substr(svg.find("class=\"plot\""));
    const std::vector<Vector2> corners = points_in(between(from_plot, "<polygon points=\"", "\""));
    REQUIRE(corners.size() == 4);
    return {corners[0].x(), corners[0].y(), corners[2].x(), corners[2].y()};
}

// Words stay on the chart and off each other.
void check_words(const std::string& svg) {
    const double width = std::stod(between(svg, "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"", "\""));
    const double height = std::stod(between(svg, " height=\"", "\""));
    CHECK(width == drawing::chart_width);
    std::vector<DrawnText> passed;
    for (const DrawnText& text : texts(svg)) {
        CAPTURE(text.words);
        const auto corners = corners_of(text);
        for (const Vector2& corner : corners) {
            CHECK((corner.x() >= 0.0 && corner.x() <= width));
            CHECK((corner.y() >= 0.0 && corner.y() <= height));
        }
        for (const DrawnText& other : passed) {
            CAPTURE(other.words);
            CHECK(apart(corners, corners_of(other)));
        }
        passed.push_back(text);
    }
    CHECK(well_formed(svg));
    CHECK(svg.find("nan") == std::string::npos);
    CHECK(svg.find("inf") == std::string::npos);
}

double number_of(std::string label) {
    for (const char* gap : {"\u202F"}) {
        for (std::size_t at = label.find(gap); at != std::string::npos; at = label.find(gap)) label.erase(at, 3);
    }
    if (label.rfind("\u2212", 0) == 0) return -number_of(label.substr(3));
    return std::stod(label);
}

}  // namespace

TEST_CASE("every point lies in the plot, and further on where its value is greater", "[drawing][unit]") {
    for (const Scaling& x : scalings()) {
        for (const Scaling& y : scalings()) {
            CAPTURE(x.name, y.name);
            const std::string svg = drawing::chart_svg(rising_chart(x, y));
            const drawing::Box frame = frame_of(svg);
            CHECK(frame.right - frame.left > 400.0);
            CHECK(frame.bottom - frame.top > 200.0);
            const std::vector<Vector2> points = curves_of(svg).at(0).points();
            REQUIRE(points.size() == 21);
            for (std::size_t i = 0; i < points.size(); ++i) {
                CHECK((points[i].x() >= frame.left && points[i].x() <= frame.right));
                CHECK((points[i].y() >= frame.top && points[i].y() <= frame.bottom));
                if (i == 0) continue;
                CHECK(points[i].x() >= points[i - 1].x());
                CHECK(points[i].y() <= points[i - 1].y());  // down the page
            }
            // Values that differ by more than rounding fill most of the plot.
            const auto differs = [](const Scaling& s) { return s.to - s.from > 1e-6 * std::abs(s.to); };
            const double share = 0.6;
            if (differs(x)) CHECK(points.back().x() - points.front().x() > share * (frame.right - frame.left));
            if (differs(y)) CHECK(points.front().y() - points.back().y() > share * (frame.bottom - frame.top));
        }
    }
}

TEST_CASE("labels of ticks are true, unique, and as many as tell the scale", "[drawing][unit]") {
    for (const Scaling& scaling : scalings()) {
        CAPTURE(scaling.name);
        for (const bool along_x : {true, false}) {
            const Scaling plain = scalings().front();
            const std::string svg =
                drawing::chart_svg(along_x ? rising_chart(scaling, plain) : rising_chart(plain, scaling));
            const std::string name = along_x ? "x" : "y";
            const DrawnAxis axis = axis_of(svg, name);
            const std::vector<DrawnTick> ticks = ticks_of(svg, "some", name);
            CHECK(ticks.size() >= 2);
            CHECK(ticks.size() <= 25);
            std::set<std::string> labels;
            for (const DrawnTick& tick : ticks) {
                labels.insert(tick.label);
                if (tick.label.find("10\u207B") != std::string::npos ||
                    tick.label.find("\u00B710") < tick.label.size() || tick.label.rfind("10\u00B9", 0) == 0 ||
                    tick.label.rfind("10\u00B2", 0) == 0)
                    continue;
                // The place is rounded to 0.0005 of hundreds of page units; a label shows all digits of its value.
                const double there = axis.value(tick.place);
                const double step =
                    axis.logarithmic ? there * (std::log(axis.high) - std::log(axis.low)) : axis.high - axis.low;
                const double margin =
                    std::abs(step) * written / std::abs(axis.end - axis.start) * 1.01 +
                    1e-8 * std::max(std::abs(axis.low), std::abs(axis.high));  // of the bounds' digits
                if (tick.label.find_first_not_of("0123456789.\xE2\x88\x92\xAF\x80") == std::string::npos) {
                    CHECK(std::abs(number_of(tick.label) - there) <= margin);
                }
            }
            CHECK(labels.size() == ticks.size());
        }
    }
}

TEST_CASE("words of a chart stay on it and off each other, on every scale", "[drawing][unit]") {
    for (const Scaling& x : scalings()) {
        for (const Scaling& y : scalings()) {
            CAPTURE(x.name, y.name);
            check_words(drawing::chart_svg(rising_chart(x, y)));
        }
    }
}

TEST_CASE("long names and many curves are wrapped, not cut and not drawn over", "[drawing][unit]") {
    const std::string long_name =
        "a material with a name that goes on and on, so that no legend of one line can hold it, "
        "whatever the width of the page that it stands on may be";
    Chart chart = rising_chart(scalings()[0], scalings()[8]);
    chart.x.label = long_name;
    chart.y.label = long_name + "; " + long_name;
    for (std::size_t i = 1; i < 17; ++i) {
        chart.curves.push_back(chart.curves.front());
        chart.curves.back().style = curve_style(i);
        chart.curves.back().label = i % 5 == 0 ? long_name : "material-" + std::to_string(i);
    }
    const std::string svg = drawing::chart_svg(chart);
    check_words(svg);
    std::string all;
    for (const std::string& line : legend_of(svg)) all += line + " ";
    for (const ChartCurve& curve : chart.curves) CHECK(all.find(curve.label) != std::string::npos);
    const drawing::Box frame = frame_of(svg);
    CHECK(frame.bottom - frame.top > 150.0);
}

TEST_CASE("what is not finite leaves a gap, and nothing else", "[drawing][unit]") {
    Chart chart = rising_chart(scalings()[0], scalings()[0]);
    ChartCurve& curve = chart.curves.front();
    curve.style.marker = drawing::Marker::none;
    curve.points[5][1] = nan_value;
    curve.points[10][1] = std::numeric_limits<double>::infinity();
    curve.points[12][0] = nan_value;  // what is left between, at 11, is a dot
    const std::string svg = drawing::chart_svg(chart);
    const DrawnCurve drawn = curves_of(svg).at(0);
    REQUIRE(drawn.stretches.size() == 3);
    CHECK(drawn.stretches[0].size() == 5);
    CHECK(drawn.stretches[1].size() == 4);
    CHECK(drawn.stretches[2].size() == 8);
    const std::string group = between(svg, "<g class=\"curve\">", "</g>");
    CHECK(times(group, "<circle ") == 1);
    check_words(svg);
}

TEST_CASE("a logarithmic scale leaves out what is not positive", "[drawing][unit]") {
    Chart chart = rising_chart(scalings()[0], scalings()[8]);
    chart.curves.front().points[3][1] = 0.0;
    chart.curves.front().points[9][1] = -2.0;
    const DrawnCurve drawn = curves_of(drawing::chart_svg(chart)).at(0);
    REQUIRE(drawn.stretches.size() == 3);
    CHECK(drawn.points().size() == 19);
}

TEST_CASE("a chart without any value says so in a sentence and has no plot", "[drawing][unit]") {
    Chart nothing;
    nothing.id = "empty";
    Chart gaps = rising_chart(scalings()[0], scalings()[0]);
    for (ChartPoint& point : gaps.curves.front().points) point[1] = nan_value;
    Chart negative = rising_chart(scalings()[0], scalings()[0]);
    negative.y.logarithmic = true;
    for (ChartPoint& point : negative.curves.front().points) point[1] = -1.0;
    Chart bars;
    bars.categories = {"one"};
    bars.bars = {{"size", {{nan_value, nan_value}}, "#0072B2", false}};
    Chart marks;
    marks.marks.resize(1);
    for (const Chart& chart : {nothing, gaps, negative, bars, marks}) {
        CHECK_FALSE(drawing::has_values(chart));
        const std::string svg = drawing::chart_svg(chart);
        check_words(svg);
        REQUIRE(texts(svg).size() == 1);
        CHECK(texts(svg)[0].words == "No value here that a chart could show.");
        CHECK(svg.find("class=\"plot\"") == std::string::npos);
        CHECK(svg.find("<polyline") == std::string::npos);
    }
    CHECK(drawing::has_values(rising_chart(scalings()[0], scalings()[0])));
}

TEST_CASE("bounds hold where nothing lies beyond, and yield where something does", "[drawing][unit]") {
    Chart chart = rising_chart(scalings()[0], scalings()[0]);
    chart.x.low = -7.3;
    chart.x.high = 6.1;
    chart.y.low = -4.0;
    const std::string svg = drawing::chart_svg(chart);
    CHECK(axis_of(svg, "x").low == -7.3);
    CHECK(axis_of(svg, "x").high == 6.1);
    CHECK(axis_of(svg, "y").low == -5.0);
    chart.x.soft = true;
    const std::string soft = drawing::chart_svg(chart);
    CHECK(axis_of(soft, "x").low == -8.0);  // a tenth of 13.4, to the next of 1, 2 and 5: steps of 2
    CHECK(axis_of(soft, "x").high == 8.0);
}

TEST_CASE("an axis of counts has no ticks between whole numbers", "[drawing][unit]") {
    Chart chart = rising_chart({"", 0.0, 3.0, false}, scalings()[0]);
    chart.x.whole = true;
    for (const DrawnTick& tick : ticks_of(drawing::chart_svg(chart), "some", "x")) {
        CHECK(tick.label.find('.') == std::string::npos);
    }
}

TEST_CASE("between the labels of a logarithmic scale stand the other digits' ticks", "[drawing][unit]") {
    const drawing::ChartAxis axis{"", true};
    drawing::Reach reach{true};
    reach.include(1.0);
    reach.include(100.0);
    const drawing::AxisScale scale = drawing::axis_scale(axis, reach, 0.0, 600.0);
    const drawing::AxisTicks ticks = drawing::axis_ticks(axis, scale, drawing::Along::x);
    std::vector<std::string> labels;
    for (const drawing::ChartTick& tick : ticks.labelled) labels.push_back(tick.label);
    CHECK(labels == std::vector<std::string>{"1", "2", "5", "10", "20", "50", "100"});
    std::vector<int> minor;
    for (const double value : ticks.minor) minor.push_back(static_cast<int>(std::lround(value)));
    CHECK(minor == std::vector<int>{3, 4, 6, 7, 8, 9, 30, 40, 60, 70, 80, 90});
}

TEST_CASE("a stepped curve holds each value up to the next place", "[drawing][unit]") {
    Chart chart;
    chart.id = "steps";
    ChartCurve curve{"bins", {{0.0, 0.0}, {0.0, 3.0}, {1.0, 1.0}, {2.0, 0.0}}, curve_style(0)};
    curve.stepped = true;
    chart.curves = {curve};
    const std::string svg = drawing::chart_svg(chart);
    const DrawnAxis x = axis_of(svg, "x");
    const DrawnAxis y = axis_of(svg, "y");
    std::vector<std::pair<long, long>> corners;
    for (const Vector2& at : curves_of(svg).at(0).points()) {
        corners.emplace_back(std::lround(x.value(at.x())), std::lround(y.value(at.y())));
    }
    using Corners = std::vector<std::pair<long, long>>;
    CHECK(corners == Corners{{0, 0}, {0, 0}, {0, 3}, {1, 3}, {1, 1}, {2, 1}, {2, 0}});
}

TEST_CASE("a band lies between its two curves, and is parted where one has a gap", "[drawing][unit]") {
    Chart chart = rising_chart(scalings()[0], scalings()[0]);
    ChartCurve high = chart.curves.front();
    for (ChartPoint& point : high.points) point[1] += 2.0;
    high.points[7][1] = nan_value;
    high.fill = drawing::CurveFill::band;
    chart.curves.push_back(high);
    const std::string svg = drawing::chart_svg(chart);
    const std::string plot =
        svg.substr(svg.find("class=\"plot\""), svg.find("<g class=\"curve\">") - svg.find("class=\"plot\""));
    std::vector<std::vector<Vector2>> areas;
    for (std::size_t at = plot.find("<polygon "); at != std::string::npos; at = plot.find("<polygon ", at + 1)) {
        areas.push_back(points_in(between(plot, "points=\"", "\"", at)));
    }
    REQUIRE(areas.size() == 3);  // the frame first
    CHECK(areas[1].size() == 2 * 7);
    CHECK(areas[2].size() == 2 * 13);
    const DrawnAxis y = axis_of(svg, "y");
    CHECK(y.value(areas[1].front().y()) == Approx(y.value(areas[1].back().y()) - 2.0).margin(0.001));
}

TEST_CASE("bars begin and end at their values, and tell them", "[drawing][unit]") {
    Chart chart;
    chart.id = "causes";
    chart.x.label = "size / um";
    chart.categories = {"speckle",
                        "a cause with a name so long that it takes several lines beside its bars, all of which "
                        "are shown in full",
                        "no cause", "unknown"};
    chart.bars = {{"uncertainty", {{0.0, 4.0}, {-1.0, 2.5}, {0.0, 0.0}, {nan_value, 1.0}}, "#0072B2", false},
                  {"bias", {{0.0, 1.0}, {0.0, 3.0}, {0.0, 0.0}, {0.0, 2.0}}, "#E69F00", true}};
    chart.marks.resize(2);
    chart.marks[0].value = -3.0;
    chart.marks[1].value = 6.0;
    chart.marks[0].label = chart.marks[1].label = "tolerance";
    const std::string svg = drawing::chart_svg(chart);
    check_words(svg);
    const std::vector<DrawnTick> ticks = ticks_of(svg, "causes", "x");
    const auto value_at = [&ticks](double place) {
        const double low = number_of(ticks.front().label);
        const double high = number_of(ticks.back().label);
        return low + (place - ticks.front().place) / (ticks.back().place - ticks.front().place) * (high - low);
    };
    std::vector<std::array<double, 2>> spans;
    const std::string start = "<g class=\"bar\">";
    for (std::size_t at = svg.find(start); at != std::string::npos; at = svg.find(start, at + 1)) {
        const std::vector<Vector2> corners = points_in(between(svg, "<polygon points=\"", "\"", at));
        spans.push_back({value_at(corners[0].x()), value_at(corners[1].x())});
    }
    const std::vector<std::array<double, 2>> wanted{{0.0, 4.0}, {0.0, 1.0}, {-1.0, 2.5}, {0.0, 3.0},
                                                    {0.0, 0.0}, {0.0, 0.0}, {0.0, 2.0}};
    REQUIRE(spans.size() == wanted.size());
    for (std::size_t i = 0; i < spans.size(); ++i) {
        // Three places of 0.0005 in more than 300 page units for nine.
        CHECK(spans[i][0] == Approx(wanted[i][0]).margin(1e-4));
        CHECK(spans[i][1] == Approx(wanted[i][1]).margin(1e-4));
    }
    CHECK(bars_of(svg)[0] == "speckle: uncertainty, size / um 4");
    CHECK(bars_of(svg)[2] == chart.categories[1] + ": uncertainty, size / um \u22121 to 2.5");
    CHECK(legend_of(svg) == std::vector<std::string>{"uncertainty", "bias", "tolerance"});
    std::string words;
    for (const DrawnText& text : texts(svg)) words += text.words + " ";
    CHECK(words.find("no value") != std::string::npos);
    // Strokes of hatched bars stay within them.
    const std::string hatch = between(svg.substr(svg.find("fill=\"#ffffff\" stroke-linejoin")), "<path d=\"M", "\"");
    CHECK_FALSE(hatch.empty());
}

TEST_CASE("names at the ends of curves keep apart, with the level of a mark among them", "[drawing][unit]") {
    Chart chart = rising_chart(scalings()[0], scalings()[0]);
    for (int i = 0; i < 4; ++i) {
        chart.curves.push_back(chart.curves.front());
        chart.curves.back().end_name = "a curve that ends where the others end, number " + std::to_string(i);
    }
    chart.marks.resize(1);
    chart.marks[0].level = true;
    chart.marks[0].value = 4.9;
    chart.marks[0].end_name = "tolerance";
    drawing::ChartLane lane;
    lane.name = "does not read here";
    lane.id = "unread";
    lane.places = {-5.0, -4.5, 5.0};
    lane.notes = {{-5.0, -4.5, "too dark"}, {5.0, 5.0, "out of range"}};
    chart.lanes = {lane, lane};
    chart.lanes[1].id = "unread-too";
    check_words(drawing::chart_svg(chart));
}

TEST_CASE("texts of a chart stay texts", "[drawing][unit]") {
    Chart chart = rising_chart(scalings()[0], scalings()[0]);
    const std::string evil = "</title><script>\"x\"&";
    chart.description = chart.x.label = chart.y.label = chart.curves.front().label = evil;
    const std::string svg = drawing::chart_svg(chart);
    CHECK(well_formed(svg));
    CHECK(svg.find("<script") == std::string::npos);
    CHECK(curves_of(svg).at(0).name == evil);
    CHECK(svg.find("aria-label=\"&lt;/title&gt;") != std::string::npos);
}

TEST_CASE("curves of a chart differ without their colours", "[drawing][unit]") {
    std::set<std::string> looks;
    for (std::size_t i = 0; i < drawing::curve_styles; ++i) {
        const drawing::CurveStyle style = curve_style(i);
        looks.insert(std::string(style.dashes) + "|" + std::to_string(static_cast<int>(style.marker)) +
                     (style.hollow ? "|hollow" : ""));
    }
    CHECK(looks.size() == drawing::curve_styles);
}

TEST_CASE("random curves are read back off their chart", "[drawing][unit]") {
    std::uint64_t state = 12345;
    const auto uniform = [&state] {
        state = state * 6364136223846793005U + 1442695040888963407U;
        return static_cast<double>(state >> 11U) / 9007199254740992.0;
    };
    for (int round = 0; round < 50; ++round) {
        Chart chart;
        chart.id = "random";
        chart.x.logarithmic = uniform() < 0.5;
        chart.y.logarithmic = uniform() < 0.5;
        const double size = std::pow(10.0, 12.0 * uniform() - 6.0);
        ChartCurve curve{"random", {}, curve_style(0)};
        double x = 0.5 + uniform();
        for (int i = 0; i < 40; ++i) {
            curve.points.push_back({x, size * (0.01 + uniform())});
            x += 0.01 + uniform();
        }
        chart.curves = {curve};
        const std::string svg = drawing::chart_svg(chart);
        const DrawnAxis across = axis_of(svg, "x");
        const DrawnAxis up = axis_of(svg, "y");
        const std::vector<Vector2> points = curves_of(svg).at(0).points();
        REQUIRE(points.size() == curve.points.size());
        for (std::size_t i = 0; i < points.size(); ++i) {
            // Rounded to 0.0005 of more than 200 page units, over a range of at most a hundredfold: 5 for its
            // logarithm.
            CHECK(across.value(points[i].x()) == Approx(curve.points[i][0]).epsilon(2e-5).margin(3e-6 * across.high));
            CHECK(up.value(points[i].y()) == Approx(curve.points[i][1]).epsilon(2e-5).margin(3e-6 * up.high));
        }
    }
}
