// Every principle does everything: what a new one must be able to do before it is one.
#include <catch2/catch.hpp>

#include <string>
#include <vector>

#include "sim/drawing/drawings.hpp"
#include "sim/measure/quantities.hpp"
#include "sim/record/json.hpp"
#include "sim/record/series_columns.hpp"
#include "sim/record/studies_json.hpp"
#include "sim/report/read_report.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/temperature.hpp"
#include "sim/study/budget.hpp"
#include "sim/study/drift.hpp"
#include "sim/study/linearity.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;

TEST_CASE("every principle is set up, read, warmed, studied, drawn and recorded", "[principles][unit]") {
    for (const scenario::Principle& principle : scenario::Principles::all) {
        INFO(word_of(principle));
        const std::vector<std::string> settings{"principle=" + std::string(word_of(principle)),
                                                "run.readings=64",
                                                "run.patches=8",
                                                "run.trials=200",
                                                "mount.reference_distance_mm=300",
                                                "receiver.distance_mm=300",
                                                "receiver.angle_deg=30",
                                                "receiver.focal_length_mm=18",
                                                "mount.range_mm=[-3, 3]",
                                                "emitter.power_mW=1"};
        const scenario::Scenario s = scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "test.toml", settings);
        const sensor::Setup setup = sensor::set_up(s, 1);
        CHECK(sensor::noiseless_reading(at_temperature(setup, 300.0), 0.0).has_value());
        const measure::ReadResult result = measure::read(setup, {1, {}, {}});
        CHECK(result.statistics.readings == 64);
        CHECK_FALSE(in_words(result.verdict.reasons.front()).empty());
        CHECK(record::to_json(result, s)["principle"] == word_of(principle));
        CHECK_FALSE(record::columns_of(s).position.name.empty());
        CHECK(drawing::draw_geometry(s).find("</svg>") != std::string::npos);
        CHECK(drawing::draw_reading(setup, result).find("</svg>") != std::string::npos);
        CHECK(study::drift_study(setup, 1).causes.size() >= 2);
        CHECK_FALSE(study::budget(setup, {1, {}}).lines.empty());
        CHECK(report::left_out(s) != "see the scenario");
    }
}
