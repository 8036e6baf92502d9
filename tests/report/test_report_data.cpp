// What charts of a report show of a series: thinned, and in bins.
#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/measure/read.hpp"
#include "sim/report/histogram_bins.hpp"
#include "sim/report/chart.hpp"
#include "sim/report/series_trace.hpp"
#include "tests/support/report.hpp"

using namespace spotwright;
using Catch::Matchers::WithinAbs, Catch::Matchers::WithinRel;
using test::nan_value, test::unordered;

namespace {

constexpr double rounding = 1e-12;  // relative: some hundred operations of 1.1e-16 each

}  // namespace

TEST_CASE("a short series is kept whole", "[record][unit]") {
    report::Thinning thinning(2000);
    for (int i = 0; i < 2000; ++i) thinning.add(unordered(i));
    const auto points = thinning.points();
    REQUIRE(points.size() == 2000);
    CHECK(thinning.stretch() == 1);
    for (int i = 0; i < 2000; ++i) {
        REQUIRE(points[static_cast<std::size_t>(i)].reading == i);
        REQUIRE(points[static_cast<std::size_t>(i)].value == unordered(i));
    }
}

TEST_CASE("a long series keeps every stretch's least and greatest value, in their order", "[record][unit]") {
    constexpr int count = 54321;
    report::Thinning thinning(count);
    for (int i = 0; i < count; ++i) thinning.add(unordered(i));
    const auto points = thinning.points();
    CHECK(points.size() <= 2000);
    CHECK(points.size() > 1900);
    const auto stretch = static_cast<int>(thinning.stretch());
    std::size_t at = 0;
    for (int start = 0; start < count; start += stretch) {
        int least = start;
        int greatest = start;
        for (int i = start; i < std::min(start + stretch, count); ++i) {
            if (unordered(i) < unordered(least)) least = i;
            if (unordered(i) > unordered(greatest)) greatest = i;
        }
        REQUIRE(points[at++].reading == std::min(least, greatest));
        REQUIRE(points[at++].reading == std::max(least, greatest));
    }
    CHECK(at == points.size());
}

TEST_CASE("no outlier is lost, wherever it stands", "[record][unit]") {
    constexpr int count = 100003;
    for (const int place : {0, 1, 50, 51, 100, 77777, count - 1}) {
        for (const double outlier : {1e3, -1e3}) {
            report::Thinning thinning(count);
            for (int i = 0; i < count; ++i) thinning.add(i == place ? outlier : 0.0);
            const auto points = thinning.points();
            INFO("at " << place << ", " << outlier);
            CHECK(std::count_if(points.begin(), points.end(), [&](const report::TracePoint& point) {
                      return point.reading == place && point.value == outlier;
                  }) == 1);
        }
    }
}

TEST_CASE("missing values leave a gap where a whole stretch is missing, and are told in any case", "[record][unit]") {
    report::Thinning thinning(10000);  // ten share a pair
    for (int i = 0; i < 10000; ++i) thinning.add((i >= 500 && i < 520) || i == 777 ? nan_value : 1.0 + i % 10);
    REQUIRE(thinning.stretch() == 10);
    CHECK(thinning.missing() == 21);
    CHECK(thinning.with_missing() == std::vector<std::int64_t>{500, 510, 770});
    const auto points = thinning.points();
    CHECK(std::count_if(points.begin(), points.end(), [](const auto& p) { return std::isnan(p.value); }) == 2);
    CHECK(std::is_sorted(points.begin(), points.end(),
                         [](const auto& a, const auto& b) { return a.reading < b.reading; }));
}

TEST_CASE("an empty series has no points", "[record][unit]") {
    CHECK(report::Thinning(0).points().empty());
}

TEST_CASE("the collector of a series does not depend on its blocks", "[record][unit]") {
    scenario::Scenario s = test::some_scenario();
    s.run.readings = test::some_readings;
    s.reading.average = 8;
    report::SeriesCollector whole(s);
    whole.add(test::some_block(0, test::some_readings));
    report::SeriesCollector parts(s);
    for (std::int64_t first = 0; first < test::some_readings; first += 999) {
        parts.add(test::some_block(first, std::min<std::int64_t>(999, test::some_readings - first)));
    }
    const auto same = [](std::span<const double> a, std::span<const double> b) {
        return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                          [](double x, double y) { return x == y || (std::isnan(x) && std::isnan(y)); });
    };
    CHECK(same(whole.outputs(), parts.outputs()));
    REQUIRE(whole.trace().output.size() == parts.trace().output.size());
    CHECK(whole.trace().with_missing == parts.trace().with_missing);
    CHECK(whole.trace().missing == 6);
    // Of eight readings a window is full with the eighth valid one: index 8, for index 3 is not valid.
    REQUIRE_FALSE(whole.outputs().empty());
    CHECK(whole.outputs()[0] == test::some_block(8, 1).output[0]);
    CHECK(whole.outputs().size() == test::some_readings - 8);
    CHECK(std::isnan(whole.outputs()[2]));  // index 10 is not valid
}

TEST_CASE("of a part that moves the collector keeps the truth, and outputs less it", "[record][unit]") {
    scenario::Scenario s = test::some_scenario();
    s.run.readings = 50;
    measure::SeriesBlock block = test::some_block(0, 50);
    block.moment.resize(50);
    for (std::size_t i = 0; i < 50; ++i) block.moment[i].truth = 1e-5 * static_cast<double>(i);
    report::SeriesCollector collector(s);
    collector.add(block);
    CHECK(collector.part_moves());
    const report::SeriesTrace trace = collector.trace();
    REQUIRE(trace.truth.size() == 50);
    CHECK(trace.truth[33].value == block.moment[33].truth);
    CHECK(trace.output[33].value == block.output[33]);
    CHECK(collector.outputs()[33] == block.output[33] - block.moment[33].truth);
}

TEST_CASE("a histogram holds every value, by the rule of Freedman and Diaconis", "[record][unit]") {
    std::vector<double> values;
    for (int i = 0; i < 1000; ++i) values.push_back(static_cast<double>((i * 37) % 1000));  // 0 ... 999, each once
    const auto histogram = report::histogram_of(values);
    REQUIRE(histogram);
    // Quartiles of 0 ... 999 by nearest ranks: 249 and 749 or 750. 2 IQR / 10 = 100: ten bins over 999.
    CHECK(histogram->counts.size() == 10);
    CHECK_THAT(histogram->width, WithinRel(99.9, rounding));
    std::int64_t sum = 0;
    for (const std::int64_t count : histogram->counts) {
        CHECK(count == 100);
        sum += count;
    }
    CHECK(sum == histogram->values);
    CHECK_THAT(histogram->mean, WithinRel(499.5, rounding));
    CHECK_THAT(histogram->deviation, WithinRel(std::sqrt(1000.0 * 1001.0 / 12.0), rounding));  // n (n + 1) / 12
}

TEST_CASE("bins widen with the cube root of fewer values", "[record][unit]") {
    const auto bins = [](int n) {
        std::vector<double> values;
        for (int i = 0; i < n; ++i) values.push_back(static_cast<double>(i) / n);
        return static_cast<double>(report::histogram_of(values)->counts.size());
    };
    CHECK_THAT(bins(64000) / bins(8000), WithinRel(2.0, 0.03));  // whole bins: one in forty
}

TEST_CASE("outliers stay within the bins, which then say that they were widened", "[record][unit]") {
    std::vector<double> values;
    for (int i = 0; i < 4096; ++i) values.push_back(unordered(i));
    values[17] = 1e6;
    const auto histogram = report::histogram_of(values);
    REQUIRE(histogram);
    CHECK(histogram->counts.size() == report::most_bins);
    CHECK(histogram->counts.front() == 4095);
    CHECK(histogram->counts.back() == 1);
    CHECK(histogram->rule.find("widened") != std::string::npos);
}

TEST_CASE("values of which half are alike fall into as many bins as their root", "[record][unit]") {
    std::vector<double> values(100, 5.0);
    values[0] = 4.0;
    values[1] = 6.0;
    const auto histogram = report::histogram_of(values);
    REQUIRE(histogram);
    CHECK(histogram->counts.size() == 10);
    CHECK(histogram->rule.find("square root") != std::string::npos);
}

TEST_CASE("there is no histogram of less than two different values", "[record][unit]") {
    CHECK_FALSE(report::histogram_of({}));
    CHECK_FALSE(report::histogram_of(std::vector<double>{1.0}));
    CHECK_FALSE(report::histogram_of(std::vector<double>(50, 1e-3)));
    CHECK_FALSE(report::histogram_of(std::vector<double>{1.0, nan_value, std::numeric_limits<double>::infinity()}));
}

TEST_CASE("the normal curve holds as many values as the bins", "[record][unit]") {
    std::vector<double> values;
    for (int i = 0; i < 500; ++i) values.push_back(1e-3 + 1e-7 * (unordered(i) + unordered(i + 500)));
    const auto histogram = report::histogram_of(values);
    REQUIRE(histogram);
    double sum = 0.0;
    const double step = histogram->deviation / 50.0;
    for (int i = -400; i <= 400; ++i) sum += report::normal_count(*histogram, histogram->mean + i * step);
    // Integral of the density over +-8 deviations; the trapezoid rule is exact there to rounding.
    CHECK_THAT(sum * step / histogram->width, WithinRel(500.0, 1e-9));
}

TEST_CASE("cells tell what does not exist", "[record][unit]") {
    CHECK(report::cell(std::nullopt) == "none");
    CHECK(report::cell(nan_value) == "none");
    CHECK(report::cell(-0.5) == "\u22120.5");
    CHECK(report::length_cell(-2.5e-6) == "\u22122.5 um");
    CHECK(report::length_cell(std::nullopt) == "none");
    CHECK(report::um_cell(2.5e-6) == "2.5");
    CHECK(report::um_cell(-9e-11) == "0");
    CHECK(report::um_cell(std::nullopt) == "none");
    CHECK(report::uncertainty_cell(std::nullopt) == "none");
    CHECK(report::uncertainty_cell(nan_value) == "none");
    CHECK(report::um_uncertainty_cell(nan_value) == "none");
    CHECK(report::um_uncertainty_cell(9e-11) == "0");
    CHECK(report::rounded_length_cell(std::nullopt, 1e-6) == "none");
    CHECK(report::rounded_mm_cell(nan_value, 1e-6) == "none");
    CHECK(report::rounded_um_cell(nan_value, 1e-6) == "none");
}

TEST_CASE("cells show two digits of an uncertainty, and values to its place", "[record][unit]") {
    CHECK(report::uncertainty_cell(4.04e-6) == "4.0 um");
    CHECK(report::um_uncertainty_cell(0.0996e-6) == "0.10");
    CHECK(report::rounded_length_cell(-2.567e-6, 4.04e-6) == "\u22122.6 um");
    CHECK(report::rounded_length_cell(-2.567e-6, std::nullopt) == "\u22122.567 um");
    CHECK(report::rounded_um_cell(-2.567e-6, 0.404e-6) == "\u22122.57");
    CHECK(report::rounded_um_cell(-2.5e-6, 0.0) == "\u22122.5");
    CHECK(report::rounded_um_cell(0.0, 0.4e-6) == "0");
    CHECK(report::rounded_mm_cell(-1.23456789e-3, 4.04e-6) == "\u22121.2346 mm");
    CHECK(report::rounded_mm_cell(1.23456789e-3, std::nullopt) == "1.234568 mm");
}
