// What an error is made of: each cause alone, and all together.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/study/budget.hpp"
#include "sim/study/budget_lines.hpp"
#include "sim/study/noise_alone.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using base::mm, base::um;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using study::NoiseSource;

namespace {

// A small sensor before white tile: few pixels, so that a budget is quick; no doubt about anything but what is added.
scenario::Scenario small_sensor(std::vector<std::string> settings = {}) {
    std::vector<std::string> all{"detector.pixels=512",         "detector.pitch_um=14",
                                 "exposure.exposure_us=1.2",    "run.speckle=off",
                                 "uncertainty.tilt_deg=0",      "uncertainty.displacement_mm=0",
                                 "uncertainty.temperature_K=0", "uncertainty.illuminance_share=0",
                                 "uncertainty.reference_um=0",  "run.trials=800",
                                 "reading.background_frames=16"};
    all.insert(all.end(), settings.begin(), settings.end());
    return scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "test.toml", all);
}

double scatter_of(const sensor::TriangulationSetup& setup, const sensor::Pose& pose, std::int64_t readings) {
    return measure::take_series(setup, pose, {readings, 1, {}, {}}).standard_deviation.value();
}

double alone(const sensor::TriangulationSetup& setup, const sensor::Pose& pose, NoiseSource source,
             std::int64_t readings) {
    return scatter_of(setup, study::with_noise_alone(setup, pose, source, pose.ambient_rate), readings);
}

const study::BudgetLine& line_named(const std::vector<study::BudgetLine>& lines, const std::string& name) {
    for (const study::BudgetLine& line : lines) {
        if (line.component.name == name) return line;
    }
    throw std::runtime_error("no line " + name);
}

std::vector<study::BudgetLine> lines_of(const std::vector<std::string>& settings) {
    return study::budget_lines(study::ErrorModel(sensor::set_up(small_sensor(settings), 1)), {}, 1);
}

constexpr double root_of_two = 1.4142135623730951;

}  // namespace

TEST_CASE("variances of the noises, each alone, add up to that of the whole", "[budget]") {
    // Bright ambient light, coarse reading noise: three sources of like size.
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(
        small_sensor({"detector.read_noise_e=150", "surroundings.illuminance_lx=100000", "detector.bits=16"}), 1);
    const sensor::Pose pose = sensor::make_pose(setup, 0.3 * mm, 1);
    constexpr std::int64_t readings = 4000;
    double sum = 0.0;
    for (const NoiseSource source : {NoiseSource::shot, NoiseSource::read, NoiseSource::ambient}) {
        const double deviation = alone(setup, pose, source, readings);
        sum += deviation * deviation;
    }
    const double whole = scatter_of(setup, pose, readings);
    // Each variance is known to sqrt(2 / n) = 2.2 %; five standard errors of a difference of two such sums.
    CHECK_THAT(whole * whole, WithinRel(sum, 5.0 * root_of_two * 0.022));
}

TEST_CASE("shot noise falls with the root of light, read noise with light itself", "[budget]") {
    const auto deviation = [](const std::string& exposure, NoiseSource source) {
        const sensor::TriangulationSetup setup = sensor::set_up_triangulation(
            small_sensor({"exposure.exposure_us=" + exposure, "detector.full_well_e=4e5", "reading.peak=gauss3"}), 1);
        const sensor::Pose pose = sensor::make_pose(setup, 0.3 * mm, 1);
        return alone(setup, pose, source, 3000);
    };
    // Three pixels about the peak, however wide the run above the threshold. Ratios of two deviations, each known
    // to 1.3 %; five standard errors.
    const double tolerance = 5.0 * root_of_two * 0.013;
    CHECK_THAT(deviation("1", NoiseSource::shot) / deviation("4", NoiseSource::shot), WithinRel(2.0, tolerance));
    CHECK_THAT(deviation("1", NoiseSource::read) / deviation("4", NoiseSource::read), WithinRel(4.0, tolerance));
}

TEST_CASE("without any noise the frame reads as the noiseless model does", "[budget]") {
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(small_sensor(), 1);
    for (const double displacement : {-3.0 * mm, 0.4 * mm, 4.0 * mm}) {
        const sensor::Pose pose = sensor::make_pose(setup, displacement, 1);
        const double quiet = study::quiet_reading(setup, pose, pose.ambient_rate).value();
        // Digits a thousand times finer than 12 bits leave some 1e-5 of a pixel, 0.4 nm.
        CHECK_THAT(quiet, WithinAbs(sensor::noiseless_reading(setup, pose).value(), 1e-9));
    }
}

TEST_CASE("each bit less doubles what digitising alone does", "[budget]") {
    const auto digitising = [](const char* bits) {
        return line_named(lines_of({std::string("detector.bits=") + bits}), "digitising")
            .component.standard_uncertainty;
    };
    // The standard deviation of 16 errors that are not normal: within a factor of two, over a factor of sixteen.
    const double ratio = digitising("8") / digitising("12");
    CHECK(ratio > 8.0);
    CHECK(ratio < 32.0);
}

TEST_CASE("four times the laser-off frames halve the error of the background", "[budget]") {
    const auto background = [](const char* frames) {
        return line_named(lines_of({std::string("reading.background_frames=") + frames}), "background of the array")
            .component.standard_uncertainty;
    };
    CHECK_THAT(background("4") / background("16"), WithinRel(2.0, 5.0 * root_of_two * 0.089));  // 64 backgrounds: 8.9 %
}

TEST_CASE("doubts enter as the model answers them: twice the doubt, twice the uncertainty", "[budget]") {
    const auto warmth = [](const char* kelvin) {
        return line_named(lines_of({std::string("uncertainty.temperature_K=") + kelvin}), "temperature of the sensor")
            .component.standard_uncertainty;
    };
    // 23.6 ppm/K of 50 mm, rectangular: 1.18 um/K times a half width of 2 K over sqrt 3; the phase of the spot within
    // these wide pixels adds some 0.1 um to it.
    CHECK_THAT(warmth("2"), WithinAbs(1.18 * um * 2.0 / std::sqrt(3.0), 0.1 * um));
    CHECK_THAT(warmth("8") / warmth("4"), WithinRel(2.0, 0.05));
    const study::BudgetLine reference =
        line_named(lines_of({"uncertainty.reference_um=0.7"}), "reference of the calibration");
    CHECK(reference.component.standard_uncertainty == 0.7 * um);
    CHECK(reference.component.evaluation == study::Evaluation::b);
}

TEST_CASE("what is known for certain has no line", "[budget]") {
    for (const study::BudgetLine& line : lines_of({})) {
        INFO(line.component.name);
        CHECK(line.cause != measure::Cause::tilt);
        CHECK(line.cause != measure::Cause::temperature);
        CHECK(line.cause != measure::Cause::patches);
        CHECK(std::isfinite(line.component.standard_uncertainty));
    }
}

TEST_CASE("a part of another material brings its bias, which the sensor does not know", "[budget][slow]") {
    const auto bias = [](const char* material) {
        return line_named(lines_of({std::string("target.material=") + material, "target.tilt_deg=[10, 0]"}),
                          "linearity with this material, and pixels")
            .bias;
    };
    // A tilted part's bias is not that of the reference; the reference itself, square, has none but pixel phase.
    const double square = line_named(lines_of({}), "linearity with this material, and pixels").bias;
    CHECK(std::abs(square) < 0.2 * um);
    CHECK(std::abs(bias("white-paper")) > std::abs(square));
}

TEST_CASE("an average of readings lowers noise in the budget, and leaves temperature", "[budget]") {
    const std::vector<std::string> warm{"uncertainty.temperature_K=2"};
    const std::vector<std::string> averaged{"uncertainty.temperature_K=2", "reading.average=16"};
    const auto single = lines_of(warm);
    const auto mean = lines_of(averaged);
    const char* shot = "shot noise of the signal";
    const double ratio =
        line_named(single, shot).component.standard_uncertainty / line_named(mean, shot).component.standard_uncertainty;
    CHECK_THAT(ratio, WithinRel(4.0, 5.0 * 0.065));  // of 2048 readings, 128 windows: 6.3 %, and 1.6 %
    CHECK(line_named(mean, shot).component.degrees_of_freedom < 130.0);
    const char* warmth = "temperature of the sensor";
    CHECK(line_named(single, warmth).component.standard_uncertainty ==
          line_named(mean, warmth).component.standard_uncertainty);
}

TEST_CASE("a budget does not depend on the number of threads", "[budget]") {
    const sensor::Setup setup = sensor::set_up(
        small_sensor({"uncertainty.tilt_deg=1", "uncertainty.displacement_mm=0.1", "run.trials=160"}), 1);
    const study::Budget one = study::budget(setup, {1, {}});
    const study::Budget three = study::budget(setup, {3, {}});
    CHECK(one.combined.expanded == three.combined.expanded);
    CHECK(one.together.shortest.low == three.together.shortest.low);
    CHECK(one.together.mean == three.together.mean);
    REQUIRE(one.lines.size() == three.lines.size());
    for (std::size_t i = 0; i < one.lines.size(); ++i) {
        CHECK(one.lines[i].component.standard_uncertainty == three.lines[i].component.standard_uncertainty);
    }
}

TEST_CASE("a part that cannot be read has no budget, and the error says where to look", "[budget]") {
    const sensor::Setup setup = sensor::set_up(small_sensor({"exposure.exposure_us=0.001"}), 1);
    CHECK_THROWS_WITH(study::budget(setup, {1, {}}),
                      Catch::Matchers::Contains("no valid reading") && Catch::Matchers::Contains("spotwright read"));
    const sensor::Setup at_end =
        sensor::set_up(small_sensor({"target.displacement_mm=4.9", "uncertainty.displacement_mm=1"}), 1);
    CHECK_THROWS_WITH(study::budget(at_end, {1, {}}), Catch::Matchers::Contains("uncertainty.displacement_mm"));
}

TEST_CASE("where one rectangular doubt rules, the lines claim too much and the budget says so", "[budget]") {
    // A rectangle's 95 % interval is 0.95 of its half width; the GUM's is 1.96 / sqrt 3 = 1.13 of it.
    const study::Budget budget =
        study::budget(sensor::set_up(small_sensor({"uncertainty.temperature_K=20", "run.trials=1600"}), 1), {1, {}});
    const double half_width = 1.18 * um * 20.0;
    CHECK_THAT(budget.combined.expanded, WithinRel(1.13 * half_width, 0.03));
    const double shortest = 0.5 * (budget.together.shortest.high - budget.together.shortest.low);
    CHECK_THAT(shortest, WithinRel(0.95 * half_width, 0.06));  // 200 draws of temperature
    CHECK(budget.disagreement > 0.1 * half_width);
    CHECK(budget.agrees == (budget.disagreement <= budget.tolerance));
}

TEST_CASE("a part that leaves the range on its way loses trials as it loses readings", "[budget][motion]") {
    // 100 mm/s along the beam, from 4 mm on: 1 mm is left of the range, 10 ms of the 64 ms of 512 readings.
    const sensor::Setup setup = sensor::set_up(
        small_sensor({"motion.along_mm_per_s=100", "target.displacement_mm=4", "run.readings=512", "run.trials=1600"}),
        1);
    const measure::ReadResult result = measure::read(setup, {1, {}, {}});
    const study::Budget budget = study::budget(setup, {1, {}});
    CHECK(measure::valid_share(result.statistics) < 0.5);
    // 200 drawn parts of 8 trials: three standard deviations of a share of 0.16 are 0.03.
    CHECK_THAT(budget.valid_share, WithinAbs(measure::valid_share(result.statistics), 0.03));
    CHECK(budget.verdict.level == result.verdict.level);
}

TEST_CASE("errors that are large and rare leave the comparison of both intervals open, and the budget says so",
          "[budget]") {
    // Another sensor's spot is taken for one's own in a few readings of a hundred: whether the shortest 95 % interval
    // holds them hangs on single trials.
    const study::Budget rare = study::budget(
        sensor::set_up(scenario::load(std::string(SPOTWRIGHT_SOURCE_DIR) + "/scenarios/43-second-sensor-in-view.toml"),
                       1),
        {1, {}});
    CHECK_FALSE(rare.conclusive);
    CHECK(rare.tolerance > 0.5 * rare.combined.expanded);
    const study::Budget usual = study::budget(sensor::set_up(small_sensor({"run.trials=400"}), 1), {1, {}});
    CHECK(usual.conclusive);
}

TEST_CASE("with nothing left open, budget and read give the same answer to the same question", "[budget][verdict]") {
    // No doubt about anything: what is left is noise, speckle and the bias of the part, in both.
    const std::vector<std::string> parts{"target.material=white-ceramic", "target.material=bead-blasted-aluminium",
                                         "target.material=matt-paint-mid-grey"};
    for (const std::string& part : parts) {
        INFO(part);
        const sensor::Setup setup =
            sensor::set_up(small_sensor({part, "run.speckle=statistical", "uncertainty.material_share=0",
                                         "exposure.mode=automatic", "exposure.period_us=[133, 1000]"}),
                           2);
        const measure::Verdict read = measure::read(setup, {2, {}, {}}).verdict;
        const measure::Verdict budget = study::budget(setup, {2, {}}).verdict;
        CHECK(read.covers == measure::Covers::part_as_it_stands);
        CHECK(budget.covers == measure::Covers::open_questions);
        CHECK(read.valid_share == budget.valid_share);
        const double found = read.expanded_uncertainty.value();
        // The same 256 patches. Student's factor is 1.969 where read has 2; pixels add 0.04 um in squares in read
        // alone.
        CHECK_THAT(budget.expanded_uncertainty.value(), WithinRel(found, 0.03));
        // So both have the same level wherever no limit lies between them.
        for (const double tolerance : {0.9, 1.1, 3.6, 4.4}) {
            INFO(tolerance);
            scenario::Requirement requirement;
            requirement.tolerance = tolerance * found;
            CHECK(measure::level_of(requirement, read.valid_share, read.expanded_uncertainty) ==
                  measure::level_of(requirement, budget.valid_share, budget.expanded_uncertainty));
        }
    }
}

TEST_CASE("what the pixels do to a faint spot is alike in a reading and in a budget over the whole pixel",
          "[budget][verdict]") {
    // Spots of two pixels of 0.079 mm; from one over the threshold to four.
    for (const char* exposure : {"1.8", "2.5", "4"}) {
        const scenario::Scenario s =
            scenario::parse("[target]\nmaterial = \"black-rubber\"\n", "test.toml",
                            std::vector<std::string>{
                                std::string("exposure.exposure_us=") + exposure, "detector.pitch_um=40",
                                "detector.pixels=201", "reading.threshold=0.05", "run.speckle=off", "run.readings=256",
                                "uncertainty.displacement_mm=0.0393", "detector.response_nonuniformity=0"});
        const sensor::Setup setup = sensor::set_up(s, 1);
        const measure::ReadResult result = measure::read(setup, {1, {}, {}});
        const std::vector<study::BudgetLine> lines = study::budget_lines(study::ErrorModel(setup), {}, 1);
        INFO("exposed for " << exposure << " us");
        REQUIRE(result.pixel_error);
        // Nine phases and seventeen, of an error that jumps once or twice over the pixel: a jump between two of nine
        // phases moves its variance by up to a ninth of its own.
        CHECK_THAT(line_named(lines, "linearity with this material, and pixels").component.standard_uncertainty,
                   WithinRel(*result.pixel_error, 0.15));
    }
}
