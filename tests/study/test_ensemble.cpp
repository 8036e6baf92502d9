// The spread of a result over the sensors that fit a sheet.
#include <catch2/catch.hpp>

#include <array>

#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/study/ensemble.hpp"
#include "tests/support/scenario.hpp"

namespace {

using namespace spotwright;
using namespace spotwright::base;
using measure::Level;

// A sensor whose ensemble is itself, the same with a small aperture, and one that cannot be built.
scenario::Scenario with_three(const test::TemporaryFolder& folder) {
    folder.write("three.toml",
                 "schema = 1\n[mount]\nreference_distance_mm = 45\nrange_mm = [-8, 8]\n[receiver]\naperture_mm = 6\n"
                 "[exposure]\nmode = \"automatic\"\nexposure_us = 0.2\n"
                 "[[ensemble]]\nreceiver = { aperture_mm = 6.0 }\n[[ensemble]]\nreceiver = { aperture_mm = 2.0 }\n"
                 "[[ensemble]]\nreceiver = { focal_length_mm = 44.0 }\n");
    folder.write("case.toml", "sensor = \"three.toml\"\n[target]\nmaterial = \"white-paper\"\n");
    return scenario::load(folder.path() / "case.toml");
}

}  // namespace

TEST_CASE("least, median and greatest of values", "[study][unit]") {
    CHECK(!study::spread_of({}));
    CHECK(study::spread_of({3.0, 1.0, 2.0}) == study::Spread{1.0, 2.0, 3.0});
    CHECK(study::spread_of({4.0, 1.0, 2.0, 3.0}) == study::Spread{1.0, 2.0, 4.0});
}

TEST_CASE("a spread counts levels and leaves out what members do not have", "[study][unit]") {
    std::vector<study::EnsembleMember> members(3);
    members[0] = {Level::stable, 1.0, 1.0 * um, 2.0 * um, 3.0 * um, 4.0 * um, ""};
    members[1] = {Level::stable, 1.0, -1.0 * um, 1.0 * um, 5.0 * um, 2.0 * um, ""};
    members[2].obstacle = "no such lens";
    const study::EnsembleSpread spread = study::spread_over(members);
    CHECK(spread.at(Level::stable) == 2);
    CHECK(spread.at(Level::unreadable) == 1);
    CHECK(spread.bias == study::Spread{-1.0 * um, -1.0 * um, 1.0 * um});
    CHECK(spread.expanded_uncertainty->greatest == Approx(4.0 * um));
    CHECK(spread.hindered == 1);
    CHECK(spread.first_obstacle == "no such lens");
    CHECK(in_words(spread, Level::stable) == "stable for 2 of 3 sensors that fit the sheet (unreadable 1)");
}

TEST_CASE("members are read as they would be alone, whatever the threads", "[study][unit]") {
    const test::TemporaryFolder folder;
    const scenario::Scenario s = with_three(folder);
    study::EnsembleOptions options;
    options.threads = 1;
    const std::vector<study::EnsembleMember> one = study::read_ensemble(s, options);
    options.threads = 3;
    const std::vector<study::EnsembleMember> three = study::read_ensemble(s, options);
    REQUIRE(one.size() == 3);
    for (std::size_t i = 0; i < one.size(); ++i) {
        CHECK(one[i].bias == three[i].bias);
        CHECK(one[i].scatter == three[i].scatter);
        CHECK(one[i].level == three[i].level);
    }
    const scenario::Scenario alone =
        scenario::with_settings(s, std::vector<std::string>{"run.readings=512", "run.patches=32"});
    const measure::ReadResult result = measure::read(sensor::set_up(alone, 1), {1, {}, {}});
    CHECK(one[0].bias == result.bias);
    CHECK(one[0].expanded_uncertainty == result.verdict.expanded_uncertainty);
    // Speckle grows with a smaller aperture.
    CHECK(*one[1].replaced > 1.5 * *one[0].replaced);
    CHECK(!one[2].obstacle.empty());
    CHECK(one[2].level == Level::unreadable);
}

TEST_CASE("a sensor that cannot stand before the part counts as unreadable", "[study][unit]") {
    const test::TemporaryFolder folder;
    folder.write("blue.toml",
                 "schema = 1\n[emitter]\nwavelength_nm = 450\n[[ensemble]]\nemitter = { wavelength_nm = 450.0 }\n"
                 "[[ensemble]]\nemitter = { wavelength_nm = 449.0 }\n");
    folder.write("case.toml", "sensor = \"blue.toml\"\n[target]\nmaterial = \"white-pom\"\n");
    const std::vector<study::EnsembleMember> members =
        study::read_ensemble(scenario::load(folder.path() / "case.toml"), {});
    REQUIRE(members.size() == 2);
    CHECK(members[0].obstacle.empty());
    CHECK_THAT(members[1].obstacle, Catch::Contains("449"));
    CHECK(members[1].level == Level::unreadable);
}

TEST_CASE("a sweep has a spread at every point, in the order of the points", "[study][unit]") {
    const test::TemporaryFolder folder;
    const study::Sweep sweep =
        study::make_sweep(with_three(folder), {study::parse_axis("target.material=white-paper,black-rubber")});
    const std::vector<study::EnsembleSpread> spreads = study::sweep_ensemble(sweep, {});
    REQUIRE(spreads.size() == 2);
    const std::vector<study::EnsembleMember> paper = study::read_ensemble(sweep.scenario, {});
    const study::EnsembleSpread first = study::spread_over(paper);
    REQUIRE(first.bias);
    CHECK(spreads[0].bias->least == Approx(first.bias->least));
    CHECK(spreads[0].bias->greatest == Approx(first.bias->greatest));
    CHECK(spreads[0].levels == first.levels);
    CHECK(spreads[1].members == 3);
    // Another sensor has no share in the sheet of this one.
    CHECK(
        study::sweep_ensemble(study::make_sweep(with_three(folder), {study::parse_axis("sensor=short-45,blue-24")}), {})
            .empty());
}

TEST_CASE("without an ensemble there is no spread", "[study][unit]") {
    const scenario::Scenario s = scenario::parse("sensor = \"short-45\"\n" + test::minimal);
    CHECK(study::read_ensemble(s, {}).empty());
    CHECK(study::spread_over({}).members == 0);
}

TEST_CASE("a headline has the level of most sensors that fit, where it differs from that of the best",
          "[study][unit]") {
    const auto of_levels = [](std::array<std::int64_t, 4> levels) {
        study::EnsembleSpread spread;
        spread.levels = levels;
        for (const std::int64_t count : levels) spread.members += count;
        return spread;
    };
    const study::EnsembleSpread most_unstable = of_levels({3, 9, 20, 0});
    CHECK(study::most_common_level(most_unstable) == Level::unstable);
    CHECK(study::headline(Level::stable, most_unstable) ==
          "stable for the sensor that fits the sheet best, but unstable for 20 of 32 that fit it");
    CHECK(study::headline(Level::unstable, most_unstable) == "unstable, as for 20 of 32 sensors that fit the sheet");
    CHECK(study::headline(Level::stable, of_levels({32, 0, 0, 0})) ==
          "stable, as for all 32 sensors that fit the sheet");
    // Of levels that as many share, the worse: no headline promises more than the sensors hold.
    CHECK(study::most_common_level(of_levels({16, 0, 16, 0})) == Level::unstable);
    CHECK(study::most_common_level(of_levels({1, 0, 0, 0})) == Level::stable);
}
