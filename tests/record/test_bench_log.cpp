// Logs of the bench: what is read, what is refused, and what they say of themselves.
#include <catch2/catch.hpp>

#include <cmath>
#include <fstream>
#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/record/bench_json.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/bench/log.hpp"

using namespace spotwright;
using base::mm, base::um, base::ms;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

bench::BenchLog parsed(const std::string& text, const bench::LogNames& names = {}) {
    return bench::parse_log(text, "bench.csv", names);
}

// What an error of the log says.
std::string complaint(const std::string& text, const bench::LogNames& names = {}) {
    try {
        const bench::BenchLog log = parsed(text, names);
        if (log.reference.empty()) {
            static_cast<void>(bench::time_statistics(log));
        } else {
            static_cast<void>(bench::linearity_statistics(log));
        }
        return "none";
    } catch (const base::ScenarioError& error) {
        return error.what();
    }
}

bool says(const std::string& text, const std::string& part) {
    INFO(text);
    CHECK(text.find(part) != std::string::npos);
    return text.find(part) != std::string::npos;
}

// Normal numbers of deviation 1.
std::vector<double> white(std::size_t count, std::int64_t index = 0) {
    std::vector<float> normals((count + 63) / 64 * 64);
    base::fill_normals({23, base::Stream::read_noise}, index, 0, normals);
    return {normals.begin(), normals.begin() + static_cast<std::ptrdiff_t>(count)};
}

bench::BenchLog series(const std::vector<double>& readings, double period) {
    bench::BenchLog log;
    for (std::size_t i = 0; i < readings.size(); ++i) {
        log.time.push_back(static_cast<double>(i) * period);
        log.lines.push_back(static_cast<int>(i) + 2);
    }
    log.reading = readings;
    return log;
}

}  // namespace

TEST_CASE("columns of a log are found by name and unit, in any order", "[study]") {
    const bench::BenchLog log = parsed("reading_um,note,time_ms\n1500,a,0\n\n# pause\n1501,b,2\n");
    REQUIRE(log.time.size() == 2);
    CHECK_THAT(log.time[1], WithinRel(2.0 * ms, 1e-12));
    CHECK_THAT(log.reading[0], WithinRel(1.5 * mm, 1e-12));
    CHECK(log.ignored == std::vector<std::string>{"note"});
    CHECK(log.lines == std::vector<int>{2, 5});
    CHECK(log.signal.empty());
    CHECK(parsed("time_s,reading_mm,signal_share\n0,1,0.5\n1,1,0.6\n").signal[1] == 0.6);
    CHECK(parsed("reference_mm,reading_mm\n0,1\n1,2\n2,3\n").reference.size() == 3);
}

TEST_CASE("other names are named, with their unit where the name has none", "[study]") {
    const std::string text = "t,d\n0,1\n1,2\n";
    bench::LogNames names;
    names.time = "t";
    names.time_unit = "s";
    names.reading = "d";
    names.reading_unit = "um";
    CHECK_THAT(parsed(text, names).reading[1], WithinRel(2.0 * um, 1e-12));
    names.reading_unit.clear();
    CHECK(says(complaint(text, names), "--reading-unit"));
    names.reading_unit = "inch";
    CHECK(says(complaint(text, names), "mm, um or nm"));
    names.reading = "e";
    CHECK(says(complaint(text, names), "no columns are called \"e\""));
    CHECK(says(complaint("time_s,reading\n0,1\n1,2\n"), "has no unit in its name"));
    CHECK(says(complaint("time_s,value_mm\n0,1\n1,2\n"), "no column for the reading"));
    CHECK(says(complaint("clock_s,reading_mm\n0,1\n1,2\n"), "no column for the time"));
    CHECK(says(complaint("time_s,reading_mm,reading_um\n0,1,2\n1,1,2\n"), "two columns may be the reading"));
    CHECK(says(complaint("time_s,reading_mm,reading_mm\n0,1,2\n1,1,2\n"), "two columns may be the reading"));
}

TEST_CASE("what is wrong in a log is named with its line", "[study]") {
    CHECK(says(complaint("time_s,reading_mm\n0,1\n1,2\n1,3\n"), "bench.csv:4: the time 1 s is that of line 3 again"));
    CHECK(says(complaint("time_s,reading_mm\n0,1\n2,2\n1,3\n"), "bench.csv:4: the time 1 s lies before"));
    CHECK(says(complaint("time_s,reading_mm\n0,1\n1,x\n"), "bench.csv:3"));
    CHECK(says(complaint("time_s,reading_mm\n0,1\n1,inf\n"), "bench.csv:3"));
    CHECK(says(complaint("time_s,reading_mm\n0,1\nnan,2\n"), "bench.csv:3"));
    CHECK(says(complaint("time_s,reading_mm\n0,1\n1\n"), "bench.csv:3: 1 values"));
    CHECK(says(complaint("time_s,reading_mm\n0,1\n"), "bench.csv:2: only 1 line"));
    CHECK(says(complaint("time_s,reading_mm\n"), "only 0 lines"));
    CHECK(says(complaint(""), "an empty file"));
    CHECK(says(complaint("# nothing\n\n"), "an empty file"));
    CHECK(says(complaint("reference_mm,reading_mm\n0,1\n1,2\n"), "at least 3"));
    CHECK(says(complaint("reference_mm,reading_mm\n0,1\n1,\n2,nan\n3,4\n"), "valid readings at 2 places"));
}

TEST_CASE("semicolons and tabs separate columns, and a byte order mark or sep= is passed over", "[study]") {
    CHECK(parsed("\xEF\xBB\xBFtime_ms,reading_mm\n0,1\n1,2\n2,1\n").reading.size() == 3);
    CHECK(parsed("sep=;\ntime_ms;reading_mm\n0;1\n1;2\n").reading[1] == 2.0 * mm);
    CHECK(parsed("time_ms\treading_mm\n0\t1.5\n1\t2\n").reading[0] == 1.5 * mm);
    CHECK(parsed("# bench\ntime_ms ; reading_mm\n0 ; 1.5\n1 ;\n").reading[0] == 1.5 * mm);
    CHECK(std::isnan(parsed("time_ms;reading_mm\n0;1.5\n1;\n").reading[1]));
}

TEST_CASE("decimal commas are read where they leave no doubt", "[study]") {
    const bench::BenchLog log = parsed("time_ms;reading_mm;note\n0;-1,5;a,b\n0,125;1,625;c\n");
    CHECK(log.reading[0] == -1.5 * mm);
    CHECK_THAT(log.time[1], WithinRel(0.125 * ms, 1e-12));
    CHECK(parsed("time_ms\treading_mm\n0\t1,5e1\n1\t2\n").reading[0] == 15.0 * mm);
    // 1,234 is more than a thousand, or a bit more than one: one number without doubt tells all others.
    CHECK_THAT(parsed("time_ms;reading_mm\n0;1,234\n1;1,5\n").reading[0], WithinRel(1.234 * mm, 1e-12));
    CHECK_THAT(parsed("time_ms;reading_mm\n0;1,234\n1;0,250\n").reading[0], WithinRel(1.234 * mm, 1e-12));
    const std::string doubt = complaint("time_ms;reading_mm\n0;1\n1;1,234\n");
    CHECK(says(doubt, "bench.csv:3"));
    CHECK(says(doubt, "\"1,234\""));
    CHECK(says(doubt, "--decimal comma"));
    CHECK(says(complaint("time_ms;reading_mm\n0;1,5\n1;1.5\n"), "the decimal mark of this file is a comma"));
    CHECK(says(complaint("time_ms,reading_mm\n0,5,1,5\n1,5,1,6\n"), "decimal commas need columns separated by"));
}

TEST_CASE("a declared decimal mark is taken as declared", "[study]") {
    bench::LogNames names;
    names.decimal = "comma";
    CHECK_THAT(parsed("time_ms;reading_mm\n0;1\n1;1,234\n", names).reading[1], WithinRel(1.234 * mm, 1e-12));
    CHECK(says(complaint("time_ms,reading_mm\n0,1\n1,2\n", names), "columns separated by semicolons or tabs"));
    names.decimal = "point";
    CHECK(says(complaint("time_ms;reading_mm\n0;1\n1;1,5\n", names), "bench.csv:3"));
    CHECK(parsed("time_ms;reading_mm\n0;1\n1;1.5\n", names).reading[1] == 1.5 * mm);
    names.decimal = "dot";
    CHECK(says(complaint("time_ms;reading_mm\n0;1\n1;1.5\n", names), "point or comma"));
}

TEST_CASE("a log without motion is told so", "[study]") {
    CHECK(says(complaint("reference_mm,reading_mm\n2,1\n2,1.1\n2,1.2\n"), "no motion in the log"));
    CHECK(says(complaint("reference_mm,reading_mm\n0,1\n1,1\n2,1\n"), "a held output, or another column"));
}

TEST_CASE("a unit that cannot be right is doubted", "[study]") {
    CHECK(says(complaint("reference_mm,reading_mm\n0,0\n1,1000\n2,2000\n"), "--reading-unit"));
    CHECK(says(complaint("reference_mm,reading_mm\n0,2\n1,1\n2,0\n"), "-1 mm per mm"));
    const scenario::Scenario s = scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "test.toml");
    CHECK_NOTHROW(bench::require_within_range(parsed("time_s,reading_mm\n0,-5\n1,5\n"), s));
    CHECK_THROWS_AS(bench::require_within_range(parsed("time_s,reading_mm\n0,0\n1,12\n"), s), base::ScenarioError);
}

TEST_CASE("missing readings are counted, and gaps of time part the stretches", "[study]") {
    const bench::BenchLog log =
        parsed("time_s,reading_mm\n0,1\n1,\n2,NaN\n3,2\n4,3\n9,1\n10,1\n11,1\n12,2\n13,1\n14,1\n15,1\n");
    const bench::TimeStatistics s = bench::time_statistics(log);
    CHECK(s.readings == 12);
    CHECK(s.valid == 10);
    CHECK(s.period == 1.0);
    CHECK(s.gaps == 1);
    CHECK(s.duration == 15.0);
    CHECK(s.allan.used == 7);
    CHECK_THAT(s.peak_to_peak.value(), WithinRel(2.0 * mm, 1e-12));
}

TEST_CASE("a log without a valid reading has no statistics, and says so", "[study]") {
    const bench::TimeStatistics s = bench::time_statistics(parsed("time_s,reading_mm\n0,\n1,nan\n"));
    CHECK(s.valid == 0);
    CHECK_FALSE(s.mean);
    CHECK_FALSE(s.deviation);
    CHECK_FALSE(s.drift);
    CHECK(s.allan.curve.empty());
}

TEST_CASE("drift is told with its uncertainty, 19 times of 20", "[study]") {
    int covered = 0;
    constexpr int repeats = 600;
    for (int k = 0; k < repeats; ++k) {
        std::vector<double> readings = white(200, k);
        for (std::size_t i = 0; i < readings.size(); ++i) readings[i] += 0.5 * 0.1 * static_cast<double>(i);
        const bench::TimeStatistics s = bench::time_statistics(series(readings, 0.1));
        if (std::abs(s.drift.value() - 0.5) < 1.96 * s.drift_uncertainty) ++covered;
    }
    // The sum of correlations of white readings is a little above 1 by chance: it covers somewhat more.
    CHECK_THAT(covered / static_cast<double>(repeats), WithinAbs(0.95, 5.0 * std::sqrt(0.0475 / repeats)));
}

TEST_CASE("readings of a moving average count as fewer independent ones", "[study]") {
    const std::vector<double> single = white(8000);
    std::vector<double> averaged;
    for (std::size_t i = 8; i <= single.size(); ++i) {
        double sum = 0.0;
        for (std::size_t k = i - 8; k < i; ++k) sum += single[k];
        averaged.push_back(sum / 8.0);
    }
    const bench::TimeStatistics plain = bench::time_statistics(series(single, 1.0));
    CHECK(plain.independent > 7500);
    const bench::TimeStatistics s = bench::time_statistics(series(averaged, 1.0));
    // 1 + 2 sum (1 - k/8)^2 = (2 * 64 + 1) / (3 * 8) = 5.375, derived.
    CHECK_THAT(static_cast<double>(s.independent), WithinRel(8000.0 / 5.375, 0.15));
    REQUIRE(s.interval);
    CHECK(s.interval->low < 1.0 / std::sqrt(8.0));
    CHECK(s.interval->high > 1.0 / std::sqrt(8.0));
}

TEST_CASE("a linearity log that goes up and down tells hysteresis and repeats", "[study]") {
    const bench::BenchLog log = parsed(
        "reference_mm,reading_um\n0,0\n2.5,2502\n5,5004.5\n7.5,7506.1\n10,10008\n"
        "10,10008\n7.5,7506.9\n5,5005.9\n2.5,2503.1\n0,0.6\n");
    const bench::LinearityStatistics s = bench::linearity_statistics(log);
    REQUIRE(s.places.size() == 5);
    constexpr double rounding = 1e-12;
    CHECK_THAT(s.hysteresis.value(), WithinAbs(1.4 * um, rounding));
    CHECK_THAT(s.places[1].rising.value(), WithinAbs(2.0 * um, rounding));
    CHECK_THAT(s.places[1].falling.value(), WithinAbs(3.1 * um, rounding));
    CHECK_THAT(s.places[1].error, WithinAbs(2.55 * um, rounding));
    CHECK_THAT(s.largest_error, WithinAbs(8.0 * um, rounding));
    CHECK(s.repeats == 1);  // at the far end, both reached from below
    CHECK_FALSE(bench::linearity_statistics(parsed("reference_mm,reading_mm\n0,0\n1,1\n2,2.1\n")).hysteresis);
}

TEST_CASE("a log that is written reads the same", "[record]") {
    bench::BenchLog log = series({1.0 * mm, std::nan(""), -0.25 * mm}, 0.5 * ms);
    log.signal = {0.5, 0.25, 0.125};
    const bench::BenchLog again = parsed(record::log_text(log, "a remark"));
    REQUIRE(again.reading.size() == 3);
    CHECK_THAT(again.time[2], WithinRel(log.time[2], 1e-12));
    CHECK_THAT(again.reading[2], WithinRel(log.reading[2], 1e-12));
    CHECK(std::isnan(again.reading[1]));
    CHECK(again.signal == log.signal);
}

TEST_CASE("whatever bytes a log is made of, it reads or says what is wrong", "[study]") {
    const std::vector<std::string> pieces{"time_s",
                                          "reading_mm",
                                          "reference_um",
                                          "signal_share",
                                          ",",
                                          "\n",
                                          "\n",
                                          ",",
                                          "0",
                                          "1",
                                          "-2.5",
                                          "nan",
                                          "",
                                          "1e300",
                                          "#",
                                          "1e-320",
                                          "inf",
                                          "reading",
                                          "\r",
                                          "x",
                                          "7",
                                          "8",
                                          "1e9",
                                          ",,",
                                          "\xff\x00",
                                          " "};
    for (std::int64_t k = 0; k < 3000; ++k) {
        base::RandomSequence draws({31, base::Stream::ray}, k);
        std::string text;
        if (draws.uniform() < 0.6) {
            text = draws.uniform() < 0.5 ? "time_s,reading_mm,signal_share\n" : "reference_mm,reading_um\n";
        }
        const int count = static_cast<int>(60.0 * draws.uniform());
        const bool rows = draws.uniform() < 0.7;
        for (int i = 0; i < count; ++i) {
            const auto value = [&] { return pieces[static_cast<std::size_t>(26.0 * draws.uniform())]; };
            if (rows) {
                text += std::to_string(i) + "," + (draws.uniform() < 0.9 ? std::to_string(draws.uniform()) : value());
                text += text.front() == 't' ? ",0.5\n" : "\n";
            } else {
                text += draws.uniform() < 0.1
                            ? std::string(1, static_cast<char>(static_cast<unsigned char>(256.0 * draws.uniform())))
                            : value();
            }
        }
        INFO(text);
        CHECK_NOTHROW(complaint(text));
    }
}
