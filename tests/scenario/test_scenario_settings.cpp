// Overrides from the command line: `--set key=value`.

#include "tests/support/scenario.hpp"

using namespace spotwright;
using Catch::Contains;
using scenario::Scenario;
using test::minimal;
using test::problems_of;

namespace {

Scenario with(const std::vector<std::string>& settings) {
    return scenario::parse(minimal + "[detector]\npixels = 512\n", "job.toml", settings);
}

// The only problem of a setting, after checking that there is just one.
base::Problem problem_of(const std::string& setting) {
    const auto problems = problems_of(minimal, {setting});
    INFO(setting);
    REQUIRE(problems.size() == 1);
    return problems.front();
}

}  // namespace

TEST_CASE("a setting gives numbers, pairs, whole numbers and words, with or without quotes", "[scenario][unit]") {
    CHECK(with({"detector.pitch_um=5.5"}).detector.pitch == 5.5 * base::um);
    CHECK(with({"detector.pitch_um = 5"}).detector.pitch == 5.0 * base::um);
    CHECK(with({"detector.pixels=2048"}).detector.pixels == 2048);
    CHECK(with({"target.tilt_deg=[5, -1.5]"}).target.tilt == scenario::Pair{5.0 * base::degree, -1.5 * base::degree});
    CHECK(with({"receiver.aperture_mm=[5, 2.5]"}).receiver.aperture.out_of_plane == 2.5 * base::mm);
    CHECK(with({"receiver.aperture_mm=[5, 2.5]", "receiver.aperture_mm=6"}).receiver.aperture.out_of_plane ==
          6.0 * base::mm);
    CHECK(with({"receiver.aperture_mm=[5, 2.5]", "receiver.aperture_mm=6"}).receiver.aperture.shape ==
          scenario::ApertureShape::round);
    CHECK(with({"exposure.mode=automatic"}).exposure.mode == scenario::ExposureMode::automatic);
    CHECK(with({"exposure.mode=\"automatic\""}).exposure.mode == scenario::ExposureMode::automatic);
    CHECK(with({"reading.peak=zero-crossing"}).reading.peak == scenario::PeakMethod::zero_crossing);
    CHECK(with({"reading.choose=farthest"}).reading.choose.rule == scenario::PeakRule::farthest);
    CHECK(with({"reading.choose=1"}).reading.choose.index == 1);
    CHECK(with({"receiver.detector_tilt_deg=60"}).receiver.detector_tilt == 60.0 * base::degree);
    CHECK_FALSE(with({"receiver.detector_tilt_deg=scheimpflug"}).receiver.detector_tilt.has_value());
    CHECK(with({"title=two words = one title"}).title == "two words = one title");
    CHECK(with({"title="}).title.empty());
    CHECK(with({"seed=9223372036854775807"}).seed == 9223372036854775807);
}

TEST_CASE("a setting overrides the file and the later of two settings wins", "[scenario][unit]") {
    CHECK(with({}).detector.pixels == 512);
    CHECK(with({"detector.pixels=256"}).detector.pixels == 256);
    CHECK(with({"detector.pixels=256", "detector.pixels=128"}).detector.pixels == 128);
}

TEST_CASE("a setting can supply the material that the file lacks", "[scenario][unit]") {
    const std::vector<std::string> settings{"target.material=white-ceramic"};
    CHECK(scenario::parse("", "job.toml", settings).target.made_of.name == "white-ceramic");
}

TEST_CASE("a wrong setting is located by its key", "[scenario][unit]") {
    const auto [setting, key, message, allowed,
                hint] = GENERATE(table<std::string, std::string, std::string, std::string, std::string>({
        {"detector.pixels", "detector.pixels", "has no value", "key=value", ""},
        {"", "", "has no value", "key=value", ""},
        {"=5", "", "no such key", "", ""},
        {"detector.pixls=5", "detector.pixls", "no such key", "", "detector.pixels"},
        {"pixels=5", "pixels", "no such key", "", "detector.pixels"},
        {"detector=5", "detector", "a section", "[detector]", ""},
        {"detector.pixels=7.5", "detector.pixels", "whole number, got 7.5", "16 <= value <= 65536", ""},
        {"detector.pixels=many", "detector.pixels", "whole number, got \"many\"", "16 <= value <= 65536", ""},
        {"detector.pixels=", "detector.pixels", "whole number, got \"\"", "", ""},
        {"detector.pixels=8", "detector.pixels", "out of bounds, got 8", "16 <= value <= 65536", ""},
        {"detector.pitch_um=nan", "detector.pitch_um", "out of bounds, got nan", "0.1 <= value <= 1000 um", ""},
        {"exposure.mode=automatc", "exposure.mode", "no such mode: \"automatc\"", "fixed or automatic", "automatic"},
        {"receiver.aperture_mm=round", "receiver.aperture_mm", "a number or two, got \"round\"",
         "a diameter, or [in-plane width, out-of-plane width]; 0.001 <= each value <= 1000 mm", ""},
        {"receiver.aperture_mm=[4]", "receiver.aperture_mm", "a number or two, got [4]", "[in-plane width", ""},
        {"receiver.aperture_mm=[1, 2, 3]", "receiver.aperture_mm", "a number or two", "[in-plane width", ""},
        {"receiver.aperture_mm=[4, wide]", "receiver.aperture_mm", "a number or two", "[in-plane width", ""},
        {"receiver.aperture_mm=[4, \"wide\"]", "receiver.aperture_mm", "a number, got \"wide\"", "0.001 <= each value",
         ""},
        {"receiver.aperture_mm=0", "receiver.aperture_mm", "out of bounds, got 0", "0.001 <= each value <= 1000 mm",
         ""},
        {"receiver.aperture_mm=[4, -2]", "receiver.aperture_mm", "out of bounds, got -2", "0.001 <= each value", ""},
        {"target.tilt_deg=5", "target.tilt_deg", "two numbers, got 5", "[first, second]", ""},
        {"target.material=white-ceramics", "target.material", "no such material", "white-ceramic", "white-ceramic"},
        {"title={a = 1}", "title", "text", "", ""},
    }));
    const base::Problem problem = problem_of(setting);
    CHECK(problem.location.file == "<--set " + key + ">");
    CHECK(problem.location.key == key);
    CHECK(problem.location.line == 0);
    CHECK_THAT(problem.message, Contains(message));
    CHECK_THAT(problem.allowed, Contains(allowed));
    CHECK_THAT(problem.hint, Contains(hint));
}

TEST_CASE("a line break in a setting brings in no second key", "[scenario][unit]") {
    CHECK(with({"title=a\nseed=7"}).seed == 1);
    CHECK(with({"title=a\nseed=7"}).title == "a\nseed=7");
    CHECK(with({"title=\"a\"\nseed=7"}).seed == 1);
    CHECK(with({"title=\"a\"\n[detector]\npixels=99"}).detector.pixels == 512);
    CHECK_THAT(problem_of("detector.pixels=99\n[detector]\npixels=77").message, Contains("whole number"));
    CHECK_THAT(problem_of("detector.pixels=99\nvalue.pixels=77").message, Contains("whole number"));
    CHECK(problem_of("seed\n=1").location.key == "seed ");
}

TEST_CASE("a setting that is not UTF-8 is refused", "[scenario][unit]") {
    CHECK_THAT(problem_of("title=\xC3(").message, Contains("UTF-8"));
    CHECK(with({"title=\xC3\xA9t\xC3\xA9"}).title == "\xC3\xA9t\xC3\xA9");
}

TEST_CASE("problems of the file and of the settings come together", "[scenario][unit]") {
    const auto problems = problems_of(minimal + "[detector]\nbits = 99\n", {"seed=-1", "run.reading=5"});
    REQUIRE(problems.size() == 3);
    CHECK(problems[0].location.key == "detector.bits");
    CHECK(problems[1].location.key == "seed");
    CHECK(problems[2].location.key == "run.reading");
}

TEST_CASE("a rule between keys that a setting breaks is located at the setting", "[scenario][unit]") {
    const auto problems = problems_of(minimal, {"receiver.focal_length_mm=60"});
    REQUIRE(problems.size() == 1);
    CHECK(problems[0].location.file == "<--set receiver.focal_length_mm>");
}

TEST_CASE("a setting reaches one number of several and leaves the others", "[scenario][unit]") {
    const Scenario s = with({"target.tilt_deg=[5, -1.5]", "target.tilt_deg[0]=7", "flight.modulation_MHz=[10, 80]",
                             "flight.modulation_MHz[1]=60"});
    CHECK(s.target.tilt == scenario::Pair{7.0 * base::degree, -1.5 * base::degree});
    CHECK(s.flight.modulation == std::vector{10.0 * base::MHz, 60.0 * base::MHz});

    CHECK_THAT(problem_of("target.tilt_deg[2]=7").allowed, Contains("[0] to [1]"));
    CHECK_THAT(problem_of("target.tilt_deg[-1]=7").message, Contains("no such number"));
    CHECK_THAT(problem_of("target.tilt_deg[]=7").message, Contains("no such number"));
    CHECK_THAT(problem_of("target.tilt_deg[0]=95").message, Contains("out of bounds"));
    CHECK_THAT(problem_of("emitter.power_mW[0]=1").message, Contains("no key of several numbers"));
    CHECK_THAT(problem_of("target.tild_deg[0]=1").hint, Contains("target.tilt_deg"));
}

TEST_CASE("a scenario with settings is the one that was read with them", "[scenario][unit]") {
    const std::string plate =
        "[target]\nmaterial = \"clear-glass\"\nshape = \"plate\"\n[target.plate]\nbacking = \"white-paper\"\n";
    const std::vector<std::string> settings{"target.material=black-rubber", "target.shape=plane",
                                            "target.segments.material=[\"mirror\", \"white-paper\"]",
                                            "target.segments.length_mm=[2, 3]", "motion.across_mm_per_s[0]=10"};
    const Scenario changed = scenario::with_settings(scenario::parse(plate, "job.toml"), settings);
    const Scenario read = scenario::parse(plate, "job.toml", settings);
    CHECK(scenario::to_toml(changed) == scenario::to_toml(read));
    CHECK(changed.target.made_of.name == "black-rubber");
    CHECK(!changed.target.plate.backing_made_of);
    CHECK(changed.target.segments.made_of.size() == 2);
    CHECK(scenario::with_settings(changed, settings).target.segments.made_of.size() == 2);

    const std::vector<std::string> wrong{"target.material=blak-rubber"};
    CHECK_THROWS_AS(scenario::with_settings(changed, wrong), base::ScenarioError);
}
