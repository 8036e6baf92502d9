// Numbers of a reading for people: labels and digits come from the table of quantities, files keep every digit.
#include <catch2/catch.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <string>
#include <vector>

#include "sim/measure/quantities.hpp"
#include "sim/record/json.hpp"
#include "sim/record/quantity_text.hpp"
#include "sim/record/study_tables.hpp"
#include "tests/support/record.hpp"

using namespace spotwright;
using measure::Quantity;
using Cells = std::vector<std::string>;

namespace {

std::string text_of(std::string_view name, const measure::ReadResult& result) {
    return record::quantity_text(measure::quantity_named(name), result, test::some_scenario());
}

// A result with everything that one principle can have.
measure::ReadResult moving_result() {
    measure::ReadResult result = test::some_result();
    result.tracking = measure::TrackingResult{};
    result.tracking->rms_error = 1.26e-6;
    result.tracking->largest_error = -3.14159e-6;
    result.exposure_use = measure::ExposureUse{};
    result.exposure_use->changes = 3;
    result.scan = measure::Scan{};
    result.scan->step = measure::StepScan{{12.34567e-6, 0.234e-6}, 1e-3, 40};
    result.model_error = 1e-8;
    return result;
}

}  // namespace

TEST_CASE("every quantity has a name, a label and a place of its own, and a group that is shown", "[record][unit]") {
    std::set<std::string_view> names;
    std::set<std::string_view> labels;
    std::set<std::string_view> places;
    std::set<measure::Group> shown;
    for (const measure::QuantityGroup& group : measure::quantity_groups()) shown.insert(group.group);
    for (const Quantity& each : measure::quantities()) {
        INFO(each.name);
        CHECK(names.insert(each.name).second);
        CHECK(labels.insert(each.long_name).second);
        CHECK(places.insert(each.place).second);
        CHECK(shown.contains(each.group));
        CHECK_FALSE(each.long_name.empty());
        const bool counts = each.name == "electrons_per_pulse";  // electrons are its unit
        const bool pure = each.units == "1" || each.units == "%" || counts;
        const std::string suffix = each.units == "mm/s" ? "_mm_per_s" : "_" + std::string(each.units);
        CHECK((pure || each.name.ends_with(suffix)));
    }
    CHECK(std::ranges::all_of(measure::sweep_quantities(), [&](const Quantity& q) { return names.contains(q.name); }));
}

TEST_CASE("text shows every quantity of every group that a result has, under its long name", "[record][unit]") {
    const scenario::Scenario scenario = test::some_scenario();
    for (const measure::ReadResult& result : {test::some_result(), moving_result()}) {
        std::vector<std::string_view> expected;
        for (const measure::QuantityGroup& group : measure::quantity_groups()) {
            if (!group.exists(result, scenario)) continue;
            for (const Quantity& each : measure::quantities()) {
                if (each.group == group.group) expected.push_back(each.long_name);
            }
        }
        std::vector<std::string_view> shown;
        for (const record::TextGroup& group : record::text_groups(result, scenario)) {
            for (const record::LabelledText& row : group.rows) shown.push_back(row.label);
        }
        CHECK(shown == expected);
        CHECK(shown.size() > 20);
    }
}

TEST_CASE("people see the digits that an uncertainty earns, machines see all", "[record][unit]") {
    measure::ReadResult result = test::some_result();
    result.statistics.mean = 1.00123456789e-3;
    result.bias = 1.23456789e-6;
    result.speckle->replaced_deviation = 2.5123456789e-6;
    result.verdict.expanded_uncertainty = 4.0123456789e-6;
    CHECK(text_of("mean_mm", result) == "1.0012 mm");
    CHECK(text_of("bias_um", result) == "1.2 um");
    CHECK(text_of("replaced_sd_um", result) == "2.5 um");
    CHECK(text_of("expanded_uncertainty_um", result) == "4.0 um");
    const auto json = record::to_json(result, test::some_scenario());
    CHECK(json["mean_mm"] == 1.00123456789e-3 / 1e-3);
    CHECK(json["bias_um"] == 1.23456789e-6 / 1e-6);
    CHECK(json["replaced_sd_um"] == 2.5123456789e-6 / 1e-6);
    CHECK(json["verdict"]["expanded_uncertainty_um"] == 4.0123456789e-6 / 1e-6);
}

TEST_CASE("a value is rounded by the quantity that is its uncertainty, whatever unit that has", "[record][unit]") {
    const measure::ReadResult result = moving_result();
    CHECK(text_of("height_um", result) == "12.35 um");
    CHECK(text_of("height_u_um", result) == "0.23 um");
    CHECK(text_of("largest_error_um", result) == "-3.1 um");
    CHECK(text_of("mean_error_um", result) == "none");
    CHECK(text_of("changes", result) == "3");
    CHECK(text_of("valid_share", result) == "90 %");
    const Quantity& chance = measure::quantity_named("wrap_error_chance");
    CHECK(record::quantity_text(chance, 1e-30, 0.0) == "below 0.000001");
    CHECK(record::quantity_text(chance, 0.01234, 0.0) == "0.012");
    CHECK(record::quantity_text(measure::quantity_named("bias_um"), 345.0, 1234.0) == "300 um");
    for (const Quantity& each : measure::quantities()) {
        INFO(each.name);
        CHECK(record::quantity_text(each, std::nan(""), 1.0) == "none");
        CHECK_FALSE(record::quantity_text(each, 0.0, std::nan("")).empty());
    }
}

TEST_CASE("a standard deviation has its interval, ends as fine as itself", "[record][unit]") {
    CHECK(record::deviation_text(2.5e-6, 4097) == "2.5 um (95 %: 2.4 to 2.6)");
    CHECK(record::deviation_text(2.5e-6, 1) == "2.5 um");
    CHECK(record::deviation_text(1700e-6, 4097) == "1.7 mm (95 %: 1.66 to 1.74)");
    CHECK(record::deviation_text(170e-6, 40) == "170 um (95 %: 140 to 220)");
    CHECK(record::deviation_text(std::nullopt, 40) == "none");
}

TEST_CASE("a curve of Allan deviations has two digits of its standard uncertainty", "[record][unit]") {
    // A quarter of the width of the interval: 0.001 um, then 0.1 um.
    const std::vector<study::AllanPoint> curve{{1, 1e-3, 0.081234e-6, {0.079e-6, 0.083e-6}},
                                               {64, 64e-3, 1.2345e-6, {1.04e-6, 1.44e-6}}};
    const record::TextTable table = record::allan_table(curve);
    CHECK(table.rows[0] == Cells{"1", "1", "0.0812", "0.0790", "0.0830"});
    CHECK(table.rows[1] == Cells{"64", "64", "1.23", "1.04", "1.44"});
    CHECK(table.head.size() == 5);
}

TEST_CASE("errors by averaging have two digits of s / sqrt(2 n)", "[record][unit]") {
    study::AveragedError error;
    error.average = 4;
    error.still = 2.63456e-6;  // of 256 patches: 0.12 um
    error.still_values = 256;
    error.moved = 1.2345e-6;  // of 20000 outputs: 0.0062 um
    error.moved_values = 20000;
    error.noise = 0.98765e-6;  // unknown
    const record::TextTable table = record::averaging_table(std::vector{error});
    CHECK(table.rows[0] == Cells{"4", "2.63", "1.2345", "0.988"});
}

TEST_CASE("numbers without noise have three significant digits, and rounding errors are 0", "[record][unit]") {
    study::LinearityCurve curve;
    curve.material = "white-ceramic";
    curve.displacement = {-1e-3, 0.0, 1e-3};
    curve.error = {1e-7, -2.34567e-6, 0.0};
    curve.unread = 2;
    const study::NonLinearity line{0.0, 0.0, 1.23456e-6};
    curve.figures = study::LinearityFigures{line, line, {0.0, 0.0, 1e-17}, line};
    study::LinearityCurve dark;
    dark.material = "mirror";
    dark.unread = 21;
    const record::TextTable table = record::linearity_table(std::vector{curve, dark}, 2e-3);
    CHECK(table.rows[0] == Cells{"white-ceramic", "0", "1.23", "1.23", "1.23", "0", "-2.35", "2"});
    CHECK(table.rows[1] == Cells{"mirror", "none", "none", "none", "none", "none", "none", "21"});
    CHECK(record::um_text(std::nan("")) == "none");
    CHECK(record::resets_table(std::vector<study::ResetInterval>{{study::endless, 1.23456e-6, 1.5e-6}}).rows[0] ==
          Cells{"never", "1.23", "1.5"});
}

TEST_CASE("numbers that stand on few outputs say how many, however short their text", "[record][unit]") {
    measure::ReadResult result = test::some_result();
    const auto stands = [&](std::string_view name) {
        return record::stands_on_few(measure::quantity_named(name), result);
    };
    CHECK(text_of("mean_mm", result).find("output") == std::string::npos);
    CHECK_FALSE(stands("mean_mm"));
    for (const std::int64_t count : {3, 10, 29}) {
        INFO(count);
        result.statistics.independent_outputs = count;
        const std::string of = fmt::format("(of {} outputs)", count);
        CHECK(stands("mean_mm"));
        CHECK(text_of("mean_mm", result).ends_with(of));
        CHECK(text_of("bias_um", result).ends_with(of));
        CHECK(text_of("still_sd_um", result).find("(95 %: ") != std::string::npos);
        // What is computed without noise stands on no output.
        CHECK_FALSE(stands("bias_without_speckle_um"));
        CHECK(text_of("independent_outputs", result) == std::to_string(count));
    }
    // All alike: as few say nothing of their noise.
    result.statistics.independent_outputs = 3;
    result.statistics.standard_deviation = 0.0;
    CHECK(text_of("still_sd_um", result) == "0 um (of 3 values)");
    CHECK(record::to_json(result, test::some_scenario())["still_sd_interval_um"].is_null());
    result.statistics.independent_outputs = 1;
    result.statistics.standard_deviation.reset();
    CHECK(text_of("mean_mm", result).ends_with("(of 1 output)"));
    CHECK(text_of("still_sd_um", result) == "none");
    CHECK(record::to_json(result, test::some_scenario())["independent_outputs"] == 1);
    result.statistics.independent_outputs = 30;
    CHECK_FALSE(stands("mean_mm"));
}
