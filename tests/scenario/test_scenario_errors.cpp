// Every kind of mistake in a scenario file, each with the place it is reported at.

#include "tests/support/scenario.hpp"

using namespace spotwright;
using Catch::Contains;
using test::minimal;
using test::problems_of;

namespace {

/// One mistake. The text is appended to the two lines of `minimal` unless it brings its own [target].
struct Mistake {
    std::string text;
    int line;
    int column;
    std::string key;
    std::string message;
    std::string allowed;
    std::string hint;
};

void check_reported(const Mistake& mistake) {
    const bool complete = mistake.text.find("[target]") != std::string::npos;
    const std::string text = complete ? mistake.text : minimal + mistake.text;
    INFO(text);
    const auto problems = problems_of(text);
    REQUIRE(problems.size() == 1);
    const base::Problem& problem = problems.front();
    INFO(base::describe(problem));
    CHECK(problem.location.file == "job.toml");
    CHECK(problem.location.line == mistake.line);
    CHECK(problem.location.column == mistake.column);
    CHECK(problem.location.key == mistake.key);
    CHECK_THAT(problem.message, Contains(mistake.message));
    CHECK_THAT(problem.allowed, Contains(mistake.allowed));
    CHECK_THAT(problem.hint, Contains(mistake.hint));
    const std::string heading = "job.toml:" + std::to_string(mistake.line) + ":" + std::to_string(mistake.column);
    CHECK_THAT(base::describe(problem), Catch::StartsWith(heading + ": "));
}

}  // namespace

TEST_CASE("an unknown name is reported with the nearest known one", "[scenario][unit]") {
    check_reported(GENERATE(values<Mistake>({
        {"[detector]\npitch_mm = 7.0\n", 4, 1, "detector.pitch_mm", "no such key", "", "`detector.pitch_um`"},
        {"[detector]\nPitch_um = 7.0\n", 4, 1, "detector.Pitch_um", "no such key", "", "`detector.pitch_um`"},
        {"[detectr]\npitch_um = 7.0\n", 3, 2, "detectr", "no such key", "", "`detector`"},
        {"[detectr.deeper.still]\npitch_um = 7.0\n", 3, 2, "detectr", "no such key", "", "`detector`"},
        {"[receiver]\npitch_um = 7.0\n", 4, 1, "receiver.pitch_um", "no such key", "", "`detector.pitch_um`"},
        {"pixels = 512\n[target]\nmaterial = \"white-ceramic\"\n", 1, 1, "pixels", "no such key", "",
         "`detector.pixels`"},
        {"sede = 5\n[target]\nmaterial = \"white-ceramic\"\n", 1, 1, "sede", "no such key", "", "`seed`"},
        {"something_else_entirely = 5\n[target]\nmaterial = \"white-ceramic\"\n", 1, 1, "something_else_entirely",
         "no such key", "", ""},
        {"[detector.extra]\n", 3, 11, "detector.extra", "no such key", "", ""},
        {"\"detector.pitch_um\" = 5.0\n[target]\nmaterial = \"white-ceramic\"\n", 1, 1, "\"detector.pitch_um\"",
         "no such key", "", "`detector.pitch_um`"},
        {"[\"\"]\n", 3, 2, "\"\"", "no such key", "", ""},
    })));
}

TEST_CASE("a section where a key is meant, and a key where a section is, are told apart", "[scenario][unit]") {
    check_reported(GENERATE(values<Mistake>({
        {"detector = 5\n[target]\nmaterial = \"white-ceramic\"\n", 1, 1, "detector", "a section, not a key",
         "[detector]", ""},
        {"[[mount]]\nrange_mm = [-1.0, 1.0]\n", 3, 3, "mount", "a section, not a key", "[mount]", ""},
        {"[title]\n", 3, 1, "title", "must be text", "", ""},
        {"[mount.range_mm]\nnear = -5.0\n", 3, 1, "mount.range_mm", "must be two numbers, got a table",
         "[first, second]", ""},
        {"[emitter]\npower_mW = {value = 3.0}\n", 4, 12, "emitter.power_mW", "must be a number, got a table",
         "1e-09 <= value <= 1000000 mW", ""},
    })));
}

TEST_CASE("a file of another kind is told by its sections", "[scenario][unit]") {
    check_reported(GENERATE(values<Mistake>({
        {"[[part]]\nname = \"lid\"\n", 3, 3, "part", "no such key", "", "`spotwright shortlist` reads it"},
        {"[offers]\nexposure_us = [1, 2]\n", 3, 2, "offers", "no such key", "", "a sensor file"},
        {"[spot]\nin_plane_um = 64\n", 3, 2, "spot", "no such key", "", "`spotwright infer` reads it"},
    })));
}

TEST_CASE("a value of the wrong type is reported with what is allowed", "[scenario][unit]") {
    check_reported(GENERATE(values<Mistake>({
        {"[emitter]\npower_mW = \"0.3\"\n", 4, 12, "emitter.power_mW", "must be a number, got \"0.3\"",
         "1e-09 <= value <= 1000000 mW", ""},
        {"[emitter]\npower_mW = true\n", 4, 12, "emitter.power_mW", "must be a number, got true", "mW", ""},
        {"[emitter]\npower_mW = [0.3]\n", 4, 12, "emitter.power_mW", "must be a number, got [0.3]", "mW", ""},
        {"[emitter]\npower_mW = 2024-02-29\n", 4, 12, "emitter.power_mW", "must be a number, got 2024-02-29", "mW", ""},
        {"[detector]\npixels = 512.0\n", 4, 10, "detector.pixels", "must be a whole number, got 512.0",
         "16 <= value <= 65536", ""},
        {"[detector]\npixels = \"512\"\n", 4, 10, "detector.pixels", "must be a whole number, got \"512\"", "16", ""},
        {"[mount]\nrange_mm = 5.0\n", 4, 12, "mount.range_mm", "must be two numbers, got 5.0", "[first, second]", ""},
        {"[mount]\nrange_mm = \"-5 to 5\"\n", 4, 12, "mount.range_mm", "must be two numbers", "each value", ""},
        {"[mount]\nrange_mm = [-5.0, \"5\"]\n", 4, 12, "mount.range_mm", "must be a number, got \"5\"", "each value",
         ""},
        {"[mount]\nrange_mm = [[-5.0], 5.0]\n", 4, 12, "mount.range_mm", "must be a number, got [-5.0]", "mm", ""},
        {"title = 5\n[target]\nmaterial = \"white-ceramic\"\n", 1, 9, "title", "must be text in quotes, got 5", "", ""},
        {"[target]\nmaterial = 5\n", 2, 12, "target.material", "must be text in quotes, got 5", "", ""},
        {"[exposure]\nmode = 1\n", 4, 8, "exposure.mode", "no such mode: 1", "fixed or automatic", ""},
        {"[reading]\nchoose = 1.5\n", 4, 10, "reading.choose", "no such choice: 1.5",
         "strongest, nearest or farthest, or the index", ""},
        {"[receiver]\ndetector_tilt_deg = true\n", 4, 21, "receiver.detector_tilt_deg", "must be a number, got true",
         "-89 <= value <= 89 deg", ""},
        {"[receiver]\ndetector_tilt_deg = \"square\"\n", 4, 21, "receiver.detector_tilt_deg",
         "no such word: \"square\"", "`scheimpflug`, or a number", ""},
    })));
}

TEST_CASE("a number out of bounds is reported with its bounds and unit", "[scenario][unit]") {
    check_reported(GENERATE(values<Mistake>({
        {"[emitter]\npower_mW = nan\n", 4, 12, "emitter.power_mW", "out of bounds, got nan",
         "1e-09 <= value <= 1000000 mW", ""},
        {"[emitter]\npower_mW = inf\n", 4, 12, "emitter.power_mW", "out of bounds, got inf", "<= 1000000 mW", ""},
        {"[emitter]\npower_mW = -inf\n", 4, 12, "emitter.power_mW", "out of bounds, got -inf", "<= 1000000 mW", ""},
        {"[mount]\nrange_mm = [nan, 5.0]\n", 4, 12, "mount.range_mm", "out of bounds, got nan", "mm", ""},
        {"[mount]\nrange_mm = [-5.0, inf]\n", 4, 12, "mount.range_mm", "out of bounds, got inf", "mm", ""},
        {"[detector]\npitch_um = -7.0\n", 4, 12, "detector.pitch_um", "out of bounds, got -7.0",
         "0.1 <= value <= 1000 um", ""},
        {"[detector]\npitch_um = 0.0\n", 4, 12, "detector.pitch_um", "out of bounds, got 0", "0.1 <= value", ""},
        {"[detector]\npitch_um = 0\n", 4, 12, "detector.pitch_um", "out of bounds, got 0", "0.1 <= value", ""},
        {"[detector]\npitch_um = 1e300\n", 4, 12, "detector.pitch_um", "out of bounds, got 1e+300", "<= 1000 um", ""},
        {"[detector]\npixels = 0\n", 4, 10, "detector.pixels", "out of bounds, got 0", "16 <= value", ""},
        {"[detector]\npixels = 9223372036854775807\n", 4, 10, "detector.pixels",
         "out of bounds, got 9223372036854775807", "<= 65536", ""},
        {"[emitter]\nwavelength_nm = 1550.0\n", 4, 17, "emitter.wavelength_nm", "out of bounds, got 1550",
         "400 <= value <= 1050 nm", ""},
        {"[reading]\nchoose = -1\n", 4, 10, "reading.choose", "out of bounds, got -1", "0 <= value <= 1000", ""},
        {"[receiver]\ndetector_tilt_deg = 90\n", 4, 21, "receiver.detector_tilt_deg", "out of bounds, got 90", "deg",
         ""},
        {"seed = -1\n[target]\nmaterial = \"white-ceramic\"\n", 1, 8, "seed", "out of bounds, got -1", "0 <= value",
         ""},
    })));
}

TEST_CASE("the limits themselves are accepted where they are closed", "[scenario][unit]") {
    CHECK(problems_of(minimal + "[emitter]\nwavelength_nm = 400\npower_mW = 500\n").empty());
    CHECK(problems_of(minimal + "[emitter]\nwavelength_nm = 1050\nbeam_quality = 1\n").empty());
    CHECK(problems_of(minimal + "[detector]\nbits = 4\npixels = 16\n").empty());
    CHECK(problems_of(minimal + "[detector]\nbits = 16\npixels = 65536\n").empty());
}

TEST_CASE("a pair of another length is no pair", "[scenario][unit]") {
    check_reported(GENERATE(values<Mistake>({
        {"[mount]\nrange_mm = []\n", 4, 12, "mount.range_mm", "must be two numbers, got []", "[first, second]", ""},
        {"[mount]\nrange_mm = [5.0]\n", 4, 12, "mount.range_mm", "must be two numbers, got [5.0]", "each value", ""},
        {"[target]\nmaterial = \"white-ceramic\"\ntilt_deg = [1.0, 2.0, 3.0]\n", 3, 12, "target.tilt_deg",
         "must be two numbers, got [1.0, 2.0, 3.0]", "deg", ""},
    })));
}

TEST_CASE("keys that contradict each other are reported at the one to change", "[scenario][unit]") {
    check_reported(GENERATE(values<Mistake>({
        {"[mount]\nrange_mm = [5.0, -5.0]\n", 4, 12, "mount.range_mm", "near end must be smaller", "near < far", ""},
        {"[mount]\nrange_mm = [5.0, 5.0]\n", 4, 12, "mount.range_mm", "near end must be smaller", "near < far", ""},
        {"[mount]\nrange_mm = [-50.0, 5.0]\n", 4, 12, "mount.range_mm", "behind the emitter face", "near > -50 mm", ""},
        {"[exposure]\nperiod_us = [200.0, 100.0]\n", 4, 13, "exposure.period_us", "shortest period exceeds",
         "[shortest, longest]", ""},
        {"[exposure]\nexposure_us = 200.0\n", 4, 15, "exposure.exposure_us", "longer than the sampling period, got 200",
         "value <= 125 us", ""},
        {"[exposure]\nexposure_us = 200.0\nperiod_us = [100.0, 300.0]\n", 4, 15, "exposure.exposure_us",
         "longer than the sampling period, got 200", "value <= 100 us", ""},
        {"[exposure]\nexposure_us = 400.0\nmode = \"automatic\"\nperiod_us = [100.0, 300.0]\n", 4, 15,
         "exposure.exposure_us", "longer than the sampling period, got 400", "value <= 300 us", ""},
        {"[receiver]\nfocal_length_mm = 45.0\n", 4, 19, "receiver.focal_length_mm", "no real image", "value < 45 mm",
         ""},
        {"[receiver]\nfocal_length_mm = 80.0\n", 4, 19, "receiver.focal_length_mm", "no real image", "value < 45 mm",
         ""},
        {"[receiver]\nfocal_length_mm = 44.99999999999999\n", 4, 19, "receiver.focal_length_mm",
         "magnified more than 1000 times", "value <= 44.955 mm", ""},
        {"[reading]\nmedian = 4\n", 4, 10, "reading.median", "must be odd, got 4", "1, 3, 5", ""},
        {"[run]\nreadings = 6\n[reading]\naverage = 4\nmedian = 3\n", 4, 12, "run.readings",
         "too few for two outputs of full windows, got 6", "7 or more, reading.average + reading.median", ""},
        {"[reading]\nthreshold = 0.6\n", 4, 13, "reading.threshold", "not below exposure.level of 0.6, got 0.6",
         "value < 0.6", ""},
        {"[exposure]\nlevel = 0.01\n[reading]\nthreshold = 0.02\n", 6, 13, "reading.threshold",
         "not below exposure.level of 0.01, got 0.02: the reference would not be found", "value < 0.01", ""},
        {"[requirement]\nmarginal_valid_share = 1.0\n", 4, 24, "requirement.marginal_valid_share",
         "asks for more than `stable`", "value <= 0.999", ""},
    })));
}

TEST_CASE("readings for two outputs, and a threshold below the level, are enough", "[scenario][unit]") {
    CHECK(problems_of(minimal + "[run]\nreadings = 7\n[reading]\naverage = 4\nmedian = 3\n").empty());
    CHECK(problems_of(minimal + "[reading]\nthreshold = 0.599\n").empty());
}

TEST_CASE("an exposure longer than the shortest period is allowed when it may grow", "[scenario][unit]") {
    CHECK(problems_of(minimal + "[exposure]\nexposure_us = 200.0\nmode = \"automatic\"\nperiod_us = [100.0, 300.0]\n")
              .empty());
}

TEST_CASE("an unknown word is reported with the words there are", "[scenario][unit]") {
    check_reported(GENERATE(values<Mistake>({
        {"principle = \"triangulatoin\"\n[target]\nmaterial = \"white-ceramic\"\n", 1, 13, "principle",
         "no such principle: \"triangulatoin\"", "triangulation", "`triangulation`"},
        {"[exposure]\nmode = \"Automatic\"\n", 4, 8, "exposure.mode", "no such mode: \"Automatic\"",
         "fixed or automatic", "`automatic`"},
        {"[surroundings]\nlight = \"moon\"\n", 4, 9, "surroundings.light", "no such light: \"moon\"",
         "led, daylight, incandescent or none", ""},
        {"[reading]\npeak = \"gauss\"\n", 4, 8, "reading.peak", "no such peak: \"gauss\"",
         "centroid, gauss3, parabola3, zero-crossing or fit", "`gauss3`"},
        {"[reading]\nchoose = \"strong\"\n", 4, 10, "reading.choose", "no such choice: \"strong\"",
         "strongest, nearest or farthest", ""},
        {"[target]\nmaterial = \"white-ceramics\"\n", 2, 12, "target.material", "no such material: \"white-ceramics\"",
         "white-ceramic", "`white-ceramic`"},
        {"[reading]\ncalibrated_on = \"mirorr\"\n", 4, 17, "reading.calibrated_on", "no such material: \"mirorr\"",
         "a name of the library", "`mirror`"},
    })));
}

TEST_CASE("another schema is refused", "[scenario][unit]") {
    const std::string rest = "\n[target]\nmaterial = \"white-ceramic\"\n";
    check_reported({"schema = 2" + rest, 1, 10, "schema", "reads schema 1, got 2", "1", ""});
    check_reported({"schema = \"1\"" + rest, 1, 10, "schema", "reads schema 1, got \"1\"", "1", ""});
    check_reported({"[schema]\nversion = 1\n", 3, 1, "schema", "reads schema 1, got a table", "1", ""});
    CHECK(problems_of("schema = 1" + rest).empty());
}

TEST_CASE("a material is required", "[scenario][unit]") {
    for (const char* text : {"", "# nothing but words\n", "[target]\n", "\n\n\n"}) {
        INFO(text);
        const auto problems = problems_of(text);
        REQUIRE(problems.size() == 1);
        CHECK(problems[0].location.file == "job.toml");
        CHECK(problems[0].location.key == "target.material");
        CHECK(problems[0].message == "required, but missing");
        CHECK_THAT(problems[0].allowed, Contains("white-ceramic") && Contains(".toml"));
    }
    check_reported(
        {"[target]\nmaterial = \"\"\n", 2, 12, "target.material", "required, but missing", "white-ceramic", ""});
}

TEST_CASE("all problems of a file are reported together", "[scenario][unit]") {
    const auto problems = problems_of(
        "sede = 1\n"
        "[target]\n"
        "material = \"\"\n"
        "[detector]\n"
        "pixels = 1\n"
        "pitch_um = \"x\"\n"
        "[mount]\n"
        "range_mm = [5.0, -5.0]\n"
        "[reading]\n"
        "median = 2\n"
        "peak = \"best\"\n"
        "[exposure]\n"
        "period_us = [5.0]\n"
        "exposure_us = 1000.0\n");
    std::vector<std::string> keys;
    for (const base::Problem& problem : problems) keys.push_back(problem.location.key);
    // The exposure is not judged against a period that could not be read.
    const std::vector<std::string> expected{
        "detector.pitch_um", "detector.pixels", "exposure.period_us", "reading.peak", "sede",
        "mount.range_mm",    "reading.median",  "target.material"};
    CHECK(keys == expected);
}

TEST_CASE("the text of an error shows each line with a caret", "[scenario][unit]") {
    try {
        static_cast<void>(scenario::parse(minimal + "[detector]\npitch_um = -5\nbits = 99\n", "job.toml"));
        FAIL("accepted");
    } catch (const base::ScenarioError& error) {
        CHECK(std::string(error.what()) ==
              "job.toml:5:8: detector.bits: out of bounds, got 99\n"
              "    5 | bits = 99\n"
              "      |        ^ allowed: 4 <= value <= 16\n"
              "job.toml:4:12: detector.pitch_um: out of bounds, got -5\n"
              "    4 | pitch_um = -5\n"
              "      |            ^ allowed: 0.1 <= value <= 1000 um");
    }
}

TEST_CASE("a later station's rejection carries the place of the key, or of its absence", "[scenario][unit]") {
    const scenario::Scenario s = scenario::parse(minimal + "[mount]\nrange_mm = [-5.0, 5.0]\n", "job.toml");
    const base::SourceLocation written = scenario::location_of(s, "mount.range_mm");
    CHECK(written.line == 4);
    CHECK(written.column == 12);
    CHECK(written.source_line == "range_mm = [-5.0, 5.0]");
    const base::SourceLocation absent = scenario::location_of(s, "receiver.angle_deg");
    CHECK(absent.file == "job.toml");
    CHECK(absent.line == 0);
    CHECK_THROWS_WITH(scenario::reject(s, "receiver.angle_deg", "too steep", "less", "turn it"),
                      "job.toml: receiver.angle_deg: too steep\n  allowed: less\n  hint: turn it");
}

TEST_CASE("an unknown key of a short section names the keys of the section, not one that is spelled alike elsewhere",
          "[scenario][unit]") {
    try {
        static_cast<void>(scenario::parse(
            "[target]\nmaterial = \"white-ceramic\"\nshape = \"sphere\"\n[target.sphere]\ndiameter_mm = 1\n",
            "ball.toml"));
        FAIL("accepted");
    } catch (const base::ScenarioError& error) {
        REQUIRE(error.problems().size() == 1);
        CHECK(error.problems()[0].allowed == "radius_mm, curvature or position_mm");
        CHECK(error.problems()[0].hint.empty());
    }
}
