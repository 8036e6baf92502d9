// From a data sheet to sensors: contradictions, what comes back, and how far readings of parts are determined.
#include <catch2/catch.hpp>

#include <cmath>
#include <iostream>

#include <fmt/format.h>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/study/infer.hpp"
#include "tests/support/sheet.hpp"
#include "tests/support/scenario.hpp"

namespace {

using namespace spotwright;
using namespace spotwright::base;
using Catch::Contains;

const std::string head = "reference_distance_mm = 45\nrange_mm = [-8, 8]\n";

scenario::Scenario sensor_before(const std::string& name, const std::string& part) {
    return scenario::parse("sensor = \"" + name + "\"\n" + part, "part.toml");
}

study::InferOptions few(std::int64_t members) {
    study::InferOptions options;
    options.members = members;
    return options;
}

}  // namespace

TEST_CASE("a repeatability beyond the light of the class is told with numbers", "[study][unit]") {
    // 30 um / (2 tan(24 deg) 0.00015 um) squared: 5e10 electrons. Class 1 gives at most 1.4e9 in 50 us.
    CHECK_THAT(test::message_of_sheet(
                   head + "[spot]\nin_plane_um = 60\n[light]\nlaser_class = \"1\"\n[timing]\nperiod_us = 50\n"
                          "[repeatability]\nvalue_um = 0.0001\n[housing]\nwindows_distance_mm = 20\n"),
               Contains("repeatability of 0.00015 um needs 4.7e+10") &&
                   Contains("times the light that class 1 allows at 50 us"));
}

TEST_CASE("a sheet that contradicts its class or diffraction is told so", "[study][unit]") {
    CHECK_THAT(test::message_of_sheet(head + "[light]\nlaser_class = \"2\"\npower_mW = 3.0\n"),
               Contains("class 2 allows: 1 mW"));
    CHECK_THAT(test::message_of_sheet(head + "[light]\nlaser_class = \"2\"\nwavelength_nm = 850\n"),
               Contains("class 2 does not exist"));
    // 10 um at 655 nm widens to some 340 um over 8 mm.
    CHECK_THAT(test::message_of_sheet(
                   head + "[light]\nwavelength_nm = 655\n[spot]\nin_plane_um = 10\nin_plane_at_ends_um = 50\n"),
               Contains("by diffraction"));
    // "3" is 2.5 to 3.5: a waist radius of 1.75 um at 654.5 nm widens to 0.6545 8 / (pi 1.75) = 0.9524 mm over 8 mm.
    CHECK_THAT(test::message_of_sheet(head + "[light]\nwavelength_nm = 655\n[spot]\nin_plane_um = 3\n"),
               Contains("a spot of at most 3.5 um is at least 1905 um wide at the ends of the range"));
    CHECK_THAT(test::message_of_sheet(head + "[housing]\nwindows_distance_mm = 80\nwidth_mm = 60\n"),
               Contains("apart in a housing"));
}

TEST_CASE("sensors that fit a sheet reproduce it, and do not depend on threads", "[study][slow]") {
    const scenario::Scenario known = sensor_before("short-45", test::minimal);
    const scenario::Sheet sheet = study::sheet_of(known);
    CHECK(sheet.laser_class == "1");
    CHECK(sheet.windows_distance->holds(24.0 * mm));
    REQUIRE(sheet.repeatability);
    study::InferOptions options = few(4);
    const study::Inference one = study::infer(sheet, options);
    options.threads = 1;
    const study::Inference other = study::infer(sheet, options);
    REQUIRE(one.members.size() == 4);
    CHECK(study::sensor_file_text(one) == study::sensor_file_text(other));
    for (const study::Candidate& member : one.members) {
        CHECK(member.scenario.receiver.angle == Approx(known.receiver.angle).epsilon(0.01));
        const auto figure = member.figures.at(static_cast<std::size_t>(study::SheetFigure::repeatability));
        REQUIRE(figure);
        CHECK(*figure == Approx(sheet.repeatability->value.middle()).epsilon(0.07));
    }
    for (const study::SheetRow& row : one.rows) {
        INFO(row.name << ": " << row.remark);
        CHECK(row.outcome != study::SheetOutcome::not_reproduced);
    }
}

TEST_CASE("what common practice alone says of a sensor is not taken for said by the sheet", "[study][slow]") {
    // Red light, of which class 2 in common practice is 650 to 670 nm: within 2 %, and yet nobody has stated it.
    const auto wavelength_of = [](scenario::Sheet sheet) {
        const study::Inference inference = study::infer(sheet, few(4));
        const std::vector<study::SheetUnknown> unknowns = study::sheet_unknowns(inference);
        return *std::find_if(unknowns.begin(), unknowns.end(),
                             [](const study::SheetUnknown& u) { return u.name == "emitter.wavelength_nm"; });
    };
    scenario::Sheet sheet = study::sheet_of(sensor_before("short-45", test::minimal));
    CHECK(wavelength_of(sheet).determined);
    sheet.wavelength.reset();
    CHECK_FALSE(wavelength_of(sheet).determined);
}

TEST_CASE("a figure that no array's noise explains is left out, and the rest is fitted", "[study][slow]") {
    scenario::Sheet sheet = study::sheet_of(sensor_before("short-45", test::minimal));
    sheet.repeatability->value = {1.5 * um, 2.5 * um};  // hundreds of times what the sensor has
    const study::Inference inference = study::infer(sheet, few(3));
    REQUIRE(inference.members.size() == 3);
    REQUIRE(inference.unexplained.size() == 1);
    const study::Unexplained& unexplained = inference.unexplained.front();
    CHECK(unexplained.figure == study::SheetFigure::repeatability);
    CHECK(unexplained.misfit == study::Misfit::noise);
    REQUIRE(unexplained.nearest);
    // Of the two numbers that the words tell, not of the value drawn between 1.5 and 2.5 um.
    CHECK(unexplained.factor == Approx(2.0 * um / *unexplained.nearest));
    CHECK_THAT(study::in_words(unexplained, sheet), Contains("not 2 um") && Contains("finds its peaks"));
    for (const study::SheetRow& row : inference.rows) {
        INFO(row.name << ": " << row.remark);
        const bool blamed = row.name == "repeatability.value_um";
        CHECK((row.outcome == study::SheetOutcome::not_explained) == blamed);
        CHECK(row.outcome != study::SheetOutcome::not_reproduced);
        if (!blamed) continue;
        REQUIRE(row.ensemble);
        CHECK(row.ensemble->greatest < (*row.stated)[0]);
    }
    CHECK_THAT(study::sensor_file_text(inference), Contains("# Not explained: repeatability.value_um"));
}

// Half a minute of images of mirrors: run by its tag.
TEST_CASE("the own sheet of a sensor that reads mirrors is fitted", "[study][.coverage]") {
    const study::Inference inference = study::infer(study::sheet_of(sensor_before("mirror-36", test::minimal)), few(3));
    CHECK(inference.members.size() == 3);
    CHECK(inference.unexplained.empty());
    // A class is an upper limit: all of its light would overexpose a mirror at the shortest exposure.
    for (const study::Candidate& member : inference.members) CHECK(member.scenario.emitter.power < 0.15 * mW);
}

TEST_CASE("the sheet of the workshop is that of its sensor", "[study][unit]") {
    const scenario::Sheet stored =
        scenario::load_sheet(std::filesystem::path(SPOTWRIGHT_SOURCE_DIR) / "scenarios/sheets/workshop-45.toml");
    CHECK(scenario::to_toml(stored) == scenario::to_toml(study::sheet_of(sensor_before("short-45", test::minimal))));
}

TEST_CASE("the file of a sheet's sensors holds all of them", "[study][slow]") {
    const study::Inference inference = study::infer(study::sheet_of(sensor_before("short-45", test::minimal)), few(3));
    const test::TemporaryFolder folder;
    folder.write("inferred.toml", study::sensor_file_text(inference));
    folder.write("case.toml", "sensor = \"inferred.toml\"\n" + test::minimal);
    const scenario::Scenario s = scenario::load(folder.path() / "case.toml");
    CHECK(s.receiver == inference.members[inference.best].scenario.receiver);
    CHECK(s.detector == inference.members[inference.best].scenario.detector);
    const std::vector<scenario::Scenario> members = scenario::ensemble_of(s);
    REQUIRE(members.size() == inference.members.size());
    for (std::size_t i = 0; i < members.size(); ++i) {
        CHECK(members[i].receiver == inference.members[i].scenario.receiver);
        CHECK(members[i].detector == inference.members[i].scenario.detector);
        CHECK(members[i].emitter == inference.members[i].scenario.emitter);
        CHECK(members[i].thermal.lens_shift == Approx(inference.members[i].scenario.thermal.lens_shift).epsilon(1e-12));
    }
    CHECK(scenario::offer_of(s, "reading.average") != nullptr);
}

TEST_CASE("a log of the real sensor narrows what the sheet leaves open", "[study][slow]") {
    const scenario::Scenario known = sensor_before("short-45", test::minimal);
    const scenario::Sheet sheet = study::sheet_of(known);
    study::InferOptions options = few(8);
    const study::Inference wide = study::infer(sheet, options);
    // What a bench would see of the sensor that is known here.
    study::Candidate real;
    real.scenario = scenario::with_settings(known, std::vector<std::string>{"run.speckle=off"});
    real.setup = sensor::set_up_triangulation(real.scenario, 0);
    const study::BenchTask moved{study::BenchTask::Kind::moved, 0.0};
    const study::BenchStatistics measured = study::predict(real, moved);
    REQUIRE(measured.scatter);
    options.logs = {{moved, measured, "moved.csv"}};
    const study::Inference narrow = study::infer(sheet, options);
    REQUIRE(!narrow.members.empty());
    CHECK(narrow.before_logs > 8);
    for (const study::Candidate& member : narrow.members) {
        CHECK(std::abs(std::log(*study::predict(member, moved).scatter / *measured.scatter)) <= 0.3);
    }
    // A log that no such sensor gives.
    options.logs[0].statistics.scatter = 1e3 * *measured.scatter;
    CHECK_THROWS_WITH(study::infer(sheet, options), Contains("tile-moved") && Contains("the sensors predict"));
}

TEST_CASE("what to measure is named", "[study][unit]") {
    CHECK(study::name_of(study::bench_task("tile-moved")) == "tile-moved");
    CHECK(study::bench_task("tile-at-2.5us").exposure == Approx(2.5 * us));
    CHECK(study::name_of(study::BenchTask{study::BenchTask::Kind::exposure, 2.5 * us}) == "tile-at-2.5us");
    CHECK_THROWS_WITH(study::bench_task("tile-at-xus"), Contains("tile-at-2.5us=FILE"));
    CHECK_THROWS_WITH(study::bench_task("tile"), Contains("tile-still=FILE"));
}

namespace {

using Parts = std::vector<std::pair<std::string, std::string>>;

// Parts that no data sheet speaks of.
const Parts parts{{"black rubber", "[target]\nmaterial = \"black-rubber\"\n"},
                  {"tilted tile", "[target]\nmaterial = \"white-ceramic\"\ntilt_deg = [15.0, 0.0]\n"},
                  {"ground steel", "[target]\nmaterial = \"ground-steel\"\ntilt_deg = [4.0, 0.0]\n"},
                  {"white POM", "[target]\nmaterial = \"white-pom\"\n"},
                  {"alumina", "[target]\nmaterial = \"alumina\"\n"},
                  {"anodised aluminium", "[target]\nmaterial = \"black-anodised-aluminium\"\n"}};

// The same for metres.
const Parts far_parts{{"black rubber", "[target]\nmaterial = \"black-rubber\"\n"},
                      {"cardboard, far", "[target]\nmaterial = \"cardboard\"\ndisplacement_mm = 2500.0\n"},
                      {"tilted POM, near",
                       "[target]\nmaterial = \"white-pom\"\ntilt_deg = [30.0, 0.0]\n"
                       "displacement_mm = -2000.0\n"},
                      {"ground steel", "[target]\nmaterial = \"ground-steel\"\ntilt_deg = [6.0, 0.0]\n"}};

// A sensor that gives no value is like one that cannot read the part either.
bool within(const study::EnsembleSpread& all, const std::optional<study::Spread>& spread, std::optional<double> value) {
    if (!value) return all.at(measure::Level::unreadable) > 0;
    if (!spread) return false;
    constexpr double rounding = 1e-12;
    return *value >= spread->least - rounding && *value <= spread->greatest + rounding;
}

struct Coverage {
    int cases = 0;
    int bias = 0;
    int scatter = 0;
    int replaced = 0;
    int verdict = 0;
    int same = 0;
    int members = 0;
};

void add_case(const std::string& sensor, const std::string& name, const scenario::Scenario& truth,
              const study::EnsembleSpread& spread, Coverage& coverage) {
    const std::vector<study::EnsembleMember> real = study::read_members(std::vector{truth}, {});
    const study::EnsembleMember& t = real.front();
    ++coverage.cases;
    const bool bias = within(spread, spread.bias, t.bias);
    const bool scatter = within(spread, spread.scatter, t.scatter);
    const bool replaced = within(spread, spread.replaced, t.replaced);
    coverage.bias += bias ? 1 : 0;
    coverage.scatter += scatter ? 1 : 0;
    coverage.replaced += replaced ? 1 : 0;
    coverage.verdict += spread.at(t.level) > 0 ? 1 : 0;
    coverage.same += static_cast<int>(spread.at(t.level));
    coverage.members += static_cast<int>(spread.members);
    const auto um_of = [](std::optional<double> value) { return value.value_or(std::nan("")) / um; };
    const auto range = [](const std::optional<study::Spread>& s) {
        return s ? fmt::format("{:.3g} to {:.3g}", s->least / um, s->greatest / um) : std::string("none");
    };
    std::cout << fmt::format(
        "{:16} {:20} bias {:8.3g} in {:20} {} still {:8.3g} in {:20} {} moved {:8.3g} in {:20} {} {} {}/{}\n", sensor,
        name, um_of(t.bias), range(spread.bias), bias ? "yes" : "NO ", um_of(t.scatter), range(spread.scatter),
        scatter ? "yes" : "NO ", um_of(t.replaced), range(spread.replaced), replaced ? "yes" : "NO ",
        measure::name_of(t.level), spread.at(t.level), spread.members);
}

// Sensors of the library by triangulation, or by time of flight, in the order of their names.
std::vector<std::string> sensors_of_library(bool timed) {
    std::vector<std::string> names;
    for (const std::string& name : scenario::sensor_names()) {
        const scenario::Abilities abilities = scenario::abilities_of(sensor_before(name, test::minimal).principle);
        if (abilities.timing == timed) names.push_back(name);
    }
    return names;
}

// A known sensor, its sheet, the sensors that fit it, and parts before all of them.
void add_sensor(const std::string& name, const Parts& shown, std::int64_t members, Coverage& coverage) {
    const study::Inference inference = study::infer(study::sheet_of(sensor_before(name, test::minimal)), few(members));
    // Eight candidates are looked at for each sensor; a sheet of narrow values may leave less than all.
    CHECK(inference.members.size() >= 10);
    std::cout << fmt::format("{}: {} sensors of {} candidates\n", name, inference.members.size(), inference.candidates);
    const test::TemporaryFolder folder;
    folder.write("inferred.toml", study::sensor_file_text(inference));
    for (const auto& [part_name, part] : shown) {
        folder.write("case.toml", "sensor = \"inferred.toml\"\n" + part);
        const scenario::Scenario s = scenario::load(folder.path() / "case.toml");
        const study::EnsembleSpread spread = study::spread_over(study::read_ensemble(s, {}));
        add_case(name, part_name, sensor_before(name, part), spread, coverage);
    }
}

// The known sensor is one more like the 32 if the ranges of common practice are right: it then lies outside of all of
// them in 2 of 33 cases. Asked for is 80 %: cases of one sensor hang together.
void check_coverage(const Coverage& c) {
    std::cout << fmt::format("cases {} bias {} still {} moved {} verdict {} members of the same verdict {} of {}\n",
                             c.cases, c.bias, c.scatter, c.replaced, c.verdict, c.same, c.members);
    constexpr double enough = 0.8;
    CHECK(c.bias >= enough * c.cases);
    CHECK(c.scatter >= enough * c.cases);
    CHECK(c.replaced >= enough * c.cases);
    CHECK(c.verdict >= enough * c.cases);
}

}  // namespace

TEST_CASE("readings of parts that a sheet never mentions lie within the spread of its sensors", "[study][.coverage]") {
    Coverage coverage;
    for (const char* name : {"short-45", "long-380-blue"}) add_sensor(name, parts, 32, coverage);
    check_coverage(coverage);
}

// Half a minute: run by its tag.
TEST_CASE("readings over metres lie within the spread of the sensors that fit a sheet", "[study][.coverage]") {
    const std::vector<std::string> names = sensors_of_library(true);
    REQUIRE(names.size() == 2);
    Coverage coverage;
    for (const std::string& name : names) add_sensor(name, far_parts, 16, coverage);
    check_coverage(coverage);
}

// Some minutes: run by its tag. docs/theory/data-sheet.md has the figures.
TEST_CASE("the same of all triangulation sensors of the library", "[study][.coverage]") {
    const std::vector<std::string> names = sensors_of_library(false);
    REQUIRE(names.size() >= 10);
    Coverage coverage;
    for (const std::string& name : names) add_sensor(name, parts, 32, coverage);
    check_coverage(coverage);
}
