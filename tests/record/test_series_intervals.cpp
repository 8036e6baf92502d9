// How well the standard deviation of a series is known.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/base/random.hpp"
#include "sim/record/json.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/study/allan.hpp"
#include "sim/measure/series.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using Catch::Matchers::WithinRel;

namespace {

// A series of normal readings of deviation 1, each tenth invalid where wanted.
measure::SeriesStatistics series(const scenario::Reading& reading, std::int64_t readings, std::int64_t repeat,
                                 std::vector<double>* outputs = nullptr, bool invalid = false) {
    std::vector<float> normals(static_cast<std::size_t>((readings + 63) / 64 * 64));
    base::fill_normals({17, base::Stream::read_noise}, repeat, 0, normals);
    const auto take = [&](std::int64_t i, sensor::Scratch&) {
        sensor::RawReading raw;
        raw.validity = invalid && i % 10 == 7 ? reading::Validity::too_dark : reading::Validity::valid;
        raw.displacement = static_cast<double>(normals[static_cast<std::size_t>(i)]);
        return raw;
    };
    measure::SeriesOptions options{readings, 1, {}, {}};
    study::OutputSeries kept(reading);
    if (outputs != nullptr) options.sink = [&](const measure::SeriesBlock& block) { kept.append(block); };
    const measure::SeriesStatistics result = measure::take_series(reading, 1e-3, take, options);
    if (outputs != nullptr) *outputs = kept.outputs();
    return result;
}

scenario::Reading smoothed(std::int64_t median, std::int64_t average) {
    scenario::Reading reading;
    reading.median = median;
    reading.average = average;
    return reading;
}

}  // namespace

TEST_CASE("outputs of a moving average count as often as their windows share no reading", "[study]") {
    const measure::SeriesStatistics plain = series(smoothed(1, 1), 100, 0);
    CHECK(plain.independent_outputs == 100);
    const measure::SeriesStatistics averaged = series(smoothed(1, 16), 160, 0);
    CHECK(averaged.outputs == 145);
    CHECK(averaged.independent_outputs == 10);
    const measure::SeriesStatistics both = series(smoothed(5, 16), 160, 0);
    CHECK(both.independent_outputs == 8);  // 160 / (16 + 5 - 1)
    CHECK(series(smoothed(1, 16), 15, 0).independent_outputs == 0);
    CHECK(measure::independent_windows(smoothed(1, 4), 1) == 1);
}

TEST_CASE("the interval of an averaged series holds its deviation at least as often as it says", "[study]") {
    const double truth = 1.0 / std::sqrt(8.0);
    int held = 0;
    constexpr int repeats = 500;
    for (int i = 0; i < repeats; ++i) {
        const measure::SeriesStatistics s = series(smoothed(1, 8), 512, i);
        const auto interval = study::deviation_interval_or_none(s.standard_deviation, s.independent_outputs);
        REQUIRE(interval);
        if (interval->low <= truth && interval->high >= truth) ++held;
    }
    // Windows that overlap tell a little more than those that do not: 95 % and some, less 5 standard errors. All
    // outputs counted as independent would hold it half of the time.
    CHECK(held >= (0.95 - 5.0 * std::sqrt(0.0475 / repeats)) * repeats);
}

TEST_CASE("the outputs that are kept are those of full windows, and gaps stay gaps", "[study]") {
    std::vector<double> outputs;
    const measure::SeriesStatistics s = series(smoothed(3, 4), 200, 0, &outputs, true);
    CHECK(s.outputs == std::count_if(outputs.begin(), outputs.end(), [](double x) { return std::isfinite(x); }));
    CHECK(outputs.size() == 195);
    CHECK(std::isnan(outputs[2]));  // reading 7
    CHECK(study::allan_study(outputs, 1e-3).gaps == study::Gaps::longest_run);
}

TEST_CASE("the JSON of a reading tells how well its deviations are known", "[study]") {
    scenario::Scenario s = scenario::parse(
        "[target]\nmaterial = \"white-ceramic\"\n[run]\nreadings = 256\nspeckle = \"off\"\n", "test.toml");
    const auto json = record::to_json(measure::read(sensor::set_up_triangulation(s, 1), {1, {}, {}}), s);
    const double deviation = json["still_sd_um"].get<double>();
    const study::Interval expected = study::deviation_interval(deviation, 256);
    CHECK_THAT(json["still_sd_interval_um"][0].get<double>(), WithinRel(expected.low, 1e-12));
    CHECK_THAT(json["still_sd_interval_um"][1].get<double>(), WithinRel(expected.high, 1e-12));
    CHECK(json["replaced_sd_interval_um"] == json["still_sd_interval_um"]);
    s.run.readings = 1;
    const auto single = record::to_json(measure::read(sensor::set_up_triangulation(s, 1), {1, {}, {}}), s);
    CHECK(single["still_sd_interval_um"].is_null());
}
