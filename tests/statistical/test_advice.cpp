// Advice, run in the model.
#include <catch2/catch.hpp>

#include <algorithm>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/material.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/study/advice.hpp"
#include "sim/sensor/sensor.hpp"
#include "tests/support/scenario.hpp"

using namespace spotwright;

namespace {

scenario::Scenario small_part(const std::string& material, std::vector<std::string> settings) {
    std::vector<std::string> all{"detector.pixels=512", "detector.pitch_um=14", "run.speckle=off",
                                 "reading.background_frames=16"};
    all.insert(all.end(), settings.begin(), settings.end());
    return scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "test.toml", all);
}

// The scenario with the settings of a piece of advice reads as the advice says.
measure::Level level_with(const scenario::Scenario& s, const study::Trialled& trial) {
    const scenario::Scenario changed = scenario::parse(scenario::to_toml(s), "test.toml", trial.settings);
    return study::advise(changed, {}).as_it_is.level;
}

}  // namespace

TEST_CASE("a part that is too dark is made to read by an exposure, and costs are in order", "[advice]") {
    const scenario::Scenario s = small_part("black-rubber", {"exposure.exposure_us=0.3"});
    const study::Advice advice = study::advise(s, {});
    CHECK(advice.as_it_is.level == measure::Level::unreadable);
    REQUIRE(!advice.reaching.empty());
    CHECK(advice.reaching.front().settings.front().starts_with("exposure."));
    CHECK(level_with(s, advice.reaching.front()) == measure::Level::stable);
    for (std::size_t i = 1; i < advice.reaching.size(); ++i) {
        CHECK(advice.reaching[i - 1].total_cost <= advice.reaching[i].total_cost);
    }
    for (const study::Trialled& trial : advice.reaching) CHECK(trial.level == measure::Level::stable);
    for (const study::Trialled& trial : advice.others) CHECK(trial.level != measure::Level::stable);
}

TEST_CASE("what reads stably is left alone", "[advice]") {
    const study::Advice advice = study::advise(small_part("white-ceramic", {"exposure.exposure_us=1.2"}), {});
    CHECK(advice.as_it_is.level == measure::Level::stable);
    CHECK(advice.reaching.empty());
    CHECK(advice.others.empty());
    CHECK_THAT(advice.summary, Catch::Matchers::Contains("stably as it is"));
}

TEST_CASE("a tolerance that no sensor of the kind holds is said to be out of reach, and why", "[advice]") {
    const study::Advice advice =
        study::advise(small_part("white-ceramic", {"exposure.exposure_us=1.2", "requirement.tolerance_um=0.2"}), {});
    CHECK(advice.reaching.empty());
    REQUIRE(!advice.others.empty());
    CHECK_THAT(advice.summary, Catch::Matchers::Contains("none of") && Catch::Matchers::Contains("in the way"));
}

TEST_CASE("advice does not depend on the number of threads", "[advice]") {
    const scenario::Scenario s =
        small_part("white-ceramic", {"exposure.exposure_us=1.2", "requirement.tolerance_um=4"});
    const study::Advice one = study::advise(s, {1, {}});
    const study::Advice three = study::advise(s, {3, {}});
    CHECK(one.summary == three.summary);
    REQUIRE(one.reaching.size() == three.reaching.size());
    for (std::size_t i = 0; i < one.reaching.size(); ++i) {
        CHECK(one.reaching[i].settings == three.reaching[i].settings);
        CHECK(one.reaching[i].expanded_uncertainty == three.reaching[i].expanded_uncertainty);
    }
}

TEST_CASE("what advice says of a change is what reading the changed sensor says", "[advice]") {
    // On a faint part some patches of the surface give no reading: few of them tell less than all that are asked for.
    const scenario::Scenario s =
        small_part("black-anodised-aluminium", {"exposure.exposure_us=8", "target.tilt_deg=[5, 0]", "run.patches=128",
                                                "run.speckle=statistical", "requirement.tolerance_um=24"});
    const study::Advice advice = study::advise(s, {});
    const auto valid_share = [](const scenario::Scenario& read) {
        const measure::ReadResult result = measure::read(sensor::set_up(read, 1), {1, {}, {}});
        REQUIRE(result.speckle);
        const auto& statistics = result.statistics;
        return std::min(static_cast<double>(statistics.validity[0]) / static_cast<double>(statistics.readings),
                        result.speckle->replaced_valid_share);
    };
    CHECK(advice.as_it_is.level != measure::Level::stable);
    CHECK(advice.as_it_is.valid_share == valid_share(s));
    REQUIRE(!advice.reaching.empty());
    for (std::size_t i = 0; i < std::min<std::size_t>(4, advice.reaching.size()); ++i) {
        const study::Trialled& trial = advice.reaching[i];
        INFO(trial.settings.front());
        const scenario::Scenario changed = scenario::with_settings(s, trial.settings);
        CHECK(trial.valid_share == valid_share(changed));
        // To the last bit: it rests on as many patches.
        CHECK(trial.expanded_uncertainty == study::advise(changed, {}).as_it_is.expanded_uncertainty);
    }
}

TEST_CASE("what the reasons of the verdict point to is tried first, however short the time", "[advice][slow]") {
    // A mirror in a diffuse mount: a specular mount is the cure, one of the last in the list of changes.
    const scenario::Scenario s = scenario::parse(
        "[exposure]\nexposure_us = 120\n[target]\nmaterial = \"polished-steel\"\n[requirement]\ntolerance_um = 30\n"
        "[run]\npatches = 16\nreadings = 256\n",
        "test.toml");
    study::AdviceOptions options;
    options.threads = 1;
    // A clock that goes by evaluations: time for so many.
    double evaluations = 0.0;
    options.progress = [&](std::int64_t, std::int64_t) { evaluations += 1.0; };
    options.elapsed = [&] { return evaluations; };
    options.seconds = 6.0;
    const study::Advice advice = study::advise(s, options);
    CHECK(evaluations <= options.seconds + 1.0);
    REQUIRE(!advice.reaching.empty());
    CHECK(std::any_of(advice.reaching.begin(), advice.reaching.end(), [](const study::Trialled& trial) {
        return trial.settings.front().starts_with("emitter.angle_deg");
    }));
}

TEST_CASE("changes that add nothing to fewer of them are not proposed", "[advice][slow]") {
    const scenario::Scenario s = scenario::parse(
        "sensor = \"short-45\"\n[target]\nmaterial = \"clear-polycarbonate\"\nshape = \"cylinder\"\n"
        "[target.cylinder]\nradius_mm = 6\n[requirement]\ntolerance_um = 50\n[run]\npatches = 16\n",
        "test.toml");
    const study::Advice advice = study::advise(s, {});
    REQUIRE(!advice.reaching.empty());
    for (const study::Trialled& all : advice.reaching) {
        for (const study::Trialled& some : advice.reaching) {
            if (some.changes.size() >= all.changes.size()) continue;
            CHECK_FALSE(std::all_of(some.changes.begin(), some.changes.end(), [&all](const std::string& change) {
                return std::find(all.changes.begin(), all.changes.end(), change) != all.changes.end();
            }));
        }
    }
}

TEST_CASE("fewer changes of the same keys that are enough leave no room for more, whatever their values",
          "[advice][slow]") {
    const scenario::Scenario s = scenario::parse(
        "[mount]\nreference_distance_mm = 95\nrange_mm = [-6, 6]\n[target]\nmaterial = \"matt-paint-light-grey\"\n"
        "tilt_deg = [4, 0]\n[requirement]\ntolerance_um = 60\n",
        "test.toml");
    const study::Advice advice = study::advise(s, {});
    const auto exposes = [](const std::string& change) { return change.starts_with("expose for"); };
    const auto exposes_alone = [&](const study::Trialled& trial) {
        return trial.changes.size() == 1 && exposes(trial.changes.front());
    };
    // A setting that costs nothing.
    REQUIRE(std::any_of(advice.reaching.begin(), advice.reaching.end(), exposes_alone));
    for (const study::Trialled& trial : advice.reaching) {
        INFO(trial.changes.front());
        CHECK((trial.changes.size() == 1 || std::none_of(trial.changes.begin(), trial.changes.end(), exposes)));
    }
}

TEST_CASE("what reading a clear plate recommends is what advice reaches: a specular mount", "[advice][slow]") {
    const scenario::Scenario s = scenario::parse(
        "[mount]\nreference_distance_mm = 35\nrange_mm = [-3, 3]\n[target]\nmaterial = \"clear-glass\"\n"
        "shape = \"plate\"\n[run]\npatches = 32\n",
        "test.toml");
    const measure::ReadResult result = measure::read(sensor::set_up(s, 1), {1, {}, {}});
    CHECK_THAT(measure::next_step(result.verdict, s), Catch::Matchers::Contains("specular mount"));
    const study::Advice advice = study::advise(s, {});
    REQUIRE(!advice.reaching.empty());
    CHECK_THAT(advice.summary, Catch::Matchers::Contains("specular mount"));
    for (const study::Trialled& trial : advice.reaching) {
        const scenario::Scenario changed = scenario::with_settings(s, trial.settings);
        CHECK(trial.cost.range == Approx(1.0 - changed.mount.range[1] / s.mount.range[1]).margin(1e-6));
        CHECK(measure::read(sensor::set_up(changed, 1), {1, {}, {}}).verdict.level == measure::Level::stable);
    }
}

TEST_CASE("what helps in company alone is found: a clear plate", "[advice][slow]") {
    // In the diffuse mount the plate sends nothing to the lens; in a specular mount both faces do.
    const scenario::Scenario s = scenario::parse(
        "[target]\nmaterial = \"clear-glass\"\nshape = \"plate\"\n[target.plate]\nthickness_mm = 2\n"
        "[requirement]\ntolerance_um = 200\n[uncertainty]\ntilt_deg = 0.05\n[run]\npatches = 32\n",
        "test.toml");
    const study::Advice advice = study::advise(s, {});
    CHECK(advice.as_it_is.level == measure::Level::unreadable);
    const auto specular = [](const study::Trialled& trial) {
        return std::any_of(trial.settings.begin(), trial.settings.end(),
                           [](const std::string& setting) { return setting.starts_with("emitter.angle_deg"); });
    };
    CHECK(std::any_of(advice.reaching.begin(), advice.reaching.end(), specular));
}

TEST_CASE("what helps in company alone is found: a turned shaft", "[advice][slow]") {
    // Its axis in the plane of the mounting, and with it the lay across it; then there is far too much light.
    const scenario::Scenario s = scenario::parse(
        "[target]\nmaterial = \"turned-steel\"\nlay_deg = 0\nshape = \"cylinder\"\n"
        "[target.cylinder]\nradius_mm = 15\naxis = \"across\"\n[requirement]\ntolerance_um = 200\n[run]\npatches = "
        "32\n",
        "test.toml");
    const study::Advice advice = study::advise(s, {});
    CHECK(advice.as_it_is.level == measure::Level::unreadable);
    const auto turned = [](const study::Trialled& trial) {
        const auto has = [&trial](const std::string& start) {
            return std::any_of(trial.settings.begin(), trial.settings.end(),
                               [&start](const std::string& setting) { return setting.starts_with(start); });
        };
        return has("target.cylinder.axis") && has("target.lay_deg") && has("exposure.exposure_us") &&
               !has("target.material");
    };
    CHECK(std::any_of(advice.reaching.begin(), advice.reaching.end(), turned));
}

TEST_CASE("advice on an inferred sensor says that it is for the one that fits best, and what the others come to",
          "[advice][slow]") {
    const test::TemporaryFolder folder;
    // Its ensemble: itself, the same with a lens that moves with temperature, and one that cannot be built.
    folder.write("three.toml",
                 "schema = 1\n[mount]\nreference_distance_mm = 45\nrange_mm = [-8, 8]\n[receiver]\naperture_mm = 6\n"
                 "[exposure]\nmode = \"automatic\"\nexposure_us = 0.2\n"
                 "[[ensemble]]\nreceiver = { aperture_mm = 6.0 }\n"
                 "[[ensemble]]\nthermal = { lens_shift_um_per_K = 5.0 }\n"
                 "[[ensemble]]\nreceiver = { focal_length_mm = 44.0 }\n");
    folder.write("case.toml",
                 "sensor = \"three.toml\"\n[target]\nmaterial = \"white-ceramic\"\n[run]\nspeckle = \"off\"\n"
                 "[uncertainty]\nmaterial_share = 0\ntemperature_K = 8\n[requirement]\ntolerance_um = 12\n");
    const scenario::Scenario s = scenario::load(folder.path() / "case.toml");
    const study::Advice advice = study::advise(s, {});
    CHECK(advice.as_it_is.level != measure::Level::stable);
    REQUIRE(!advice.reaching.empty());
    REQUIRE(advice.ensemble);
    CHECK(advice.ensemble->members == 3);
    CHECK_THAT(advice.summary, Catch::Matchers::Contains(
                                   "for the sensor that fits the sheet best; stable for 1 of 3 sensors that fit"));
    // Each of them as it is read with the first suggestion.
    study::EnsembleOptions options;
    options.judgement = study::EnsembleJudgement::budget;
    const study::EnsembleSpread spread =
        study::spread_over(study::read_ensemble(scenario::with_settings(s, advice.reaching.front().settings), options));
    CHECK(advice.ensemble->levels == spread.levels);
    CHECK(advice.ensemble->hindered == 1);
    // Of three that all read with it the first suggestion is enough for all.
    scenario::Scenario alike = s;
    alike.sensor_file.ensemble.assign(3, s.sensor_file.ensemble.front());
    const study::Advice of_three = study::advise(alike, {});
    CHECK_THAT(of_three.summary, Catch::Matchers::EndsWith("stable for 3 of 3 sensors that fit the sheet"));
    // A sensor without an ensemble has none.
    scenario::Scenario alone = s;
    alone.sensor_file.ensemble.clear();
    alone.requirement.tolerance = 1.0 * base::mm;
    const study::Advice of_one = study::advise(alone, {});
    CHECK(!of_one.ensemble);
    CHECK(of_one.summary.find("sheet") == std::string::npos);
}

TEST_CASE("where the first suggestion is enough for the best sensor only, advice names one that is for most",
          "[advice][slow]") {
    const test::TemporaryFolder folder;
    // Gloss of a lay that runs askew, turned by a quarter, meets the lens at 26 deg and passes beside those farther
    // out: of slopes without a tail.
    std::string steel(scenario::library_material_text("ground-steel"));
    steel.replace(steel.find("\"ggx\""), 5, "\"beckmann\"");
    folder.write("steel.toml", steel);
    folder.write("three.toml",
                 "schema = 1\n[mount]\nreference_distance_mm = 45\nrange_mm = [-4, 4]\n[receiver]\naperture_mm = 6\n"
                 "angle_deg = 26\ndistance_mm = 45\n[exposure]\nmode = \"automatic\"\nexposure_us = 0.2\n"
                 "[[ensemble]]\nreceiver = { angle_deg = 26.0 }\n[[ensemble]]\nreceiver = { angle_deg = 40.0 }\n"
                 "[[ensemble]]\nreceiver = { angle_deg = 42.0 }\n");
    folder.write("case.toml",
                 "sensor = \"three.toml\"\n[target]\nmaterial = \"steel.toml\"\nlay_deg = 20\n[run]\n"
                 "speckle = \"off\"\n[requirement]\ntolerance_um = 100\n");
    const scenario::Scenario s = scenario::load(folder.path() / "case.toml");
    const study::Advice advice = study::advise(s, {});
    REQUIRE(advice.ensemble);
    REQUIRE(advice.reaching.size() > 1);
    CHECK(study::most_common_level(*advice.ensemble) != measure::Level::stable);
    CHECK_THAT(advice.summary, Catch::Matchers::Contains("Enough for most of them: spray the part"));
    study::EnsembleOptions options;
    options.judgement = study::EnsembleJudgement::budget;
    const study::EnsembleSpread coated = study::spread_over(study::read_ensemble(
        scenario::with_settings(s, std::vector<std::string>{"target.material=matt-paint-light-grey"}), options));
    CHECK(coated.at(measure::Level::stable) == 3);
}
