// What averaging cures: noise, and the speckle of a part that moves on, but not that of a still one.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/reading/smoothing.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/study/averaging.hpp"
#include "sim/measure/read.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using namespace spotwright::base;

namespace {

constexpr double patches = 128.0;
constexpr std::int64_t greatest = 64;

sensor::TriangulationSetup setup(std::vector<std::string> settings = {}) {
    settings.insert(settings.begin(),
                    {"run.readings=16", "run.patches=128", "detector.height_um=200", "reading.threshold=0.002"});
    return sensor::set_up_triangulation(
        scenario::parse("schema = 1\n[target]\nmaterial = \"white-ceramic\"\n", "test.toml", settings), 2);
}

std::vector<study::AveragedError> errors_of(std::vector<std::string> settings = {}) {
    return study::averaging_study(setup(std::move(settings)), {greatest, 2});
}

// Relative error of a root mean square of so many independent values, four times over.
double four_errors(double count) {
    return 4.0 / std::sqrt(2.0 * count);
}

// The outputs of the moved part at each average: independent ones of 256 windows of the greatest.
double moved_count(const study::AveragedError& error) {
    return 256.0 * static_cast<double>(greatest) / static_cast<double>(error.average);
}

// Degrees of freedom of the noise: within each patch two windows of the greatest average.
double noise_count(const study::AveragedError& error) {
    return patches * (2.0 * static_cast<double>(greatest) / static_cast<double>(error.average) - 1.0);
}

double root(const study::AveragedError& error) {
    return std::sqrt(static_cast<double>(error.average));
}

}  // namespace

TEST_CASE("averaging leaves a still part its speckle and lowers a moving part's by the root of N",
          "[averaging][physics]") {
    const std::vector<study::AveragedError> errors = errors_of();
    REQUIRE(errors.size() == 7);
    // The same patches by their noiseless readings, scatter about their own mean.
    const double speckle = measure::read(setup(), {2, {}, {}}).speckle.value().standard_deviation.value() *
                           std::sqrt((patches - 1.0) / patches);
    std::int64_t average = 1;
    for (const study::AveragedError& error : errors) {
        CAPTURE(error.average);
        CHECK(error.average == average);
        average *= 2;
        // Speckle is 40 times the noise, which adds in squares, and moves the edges of the centroid's window by far
        // less than itself.
        CHECK(error.still == Approx(speckle).margin(0.2 * errors.front().noise));
        CHECK(error.moved * root(error) == Approx(errors.front().still).epsilon(four_errors(moved_count(error))));
        CHECK(error.noise * root(error) == Approx(errors.front().noise).epsilon(four_errors(noise_count(error))));
    }
    CHECK(errors.back().still > 7.0 * errors.back().moved);
    CHECK(errors.front().still > 20.0 * errors.front().noise);
}

TEST_CASE("of frozen and white error the white one alone is averaged", "[averaging][physics]") {
    // A dim part before a noisy array: noise a third of the error. Var = frozen^2 + white^2 / N, as of a part at rest
    // with 3 um of speckle and 2 um of noise 3.606 um are left of one reading, 3.041 um of 16, 3.000 um of many (worked
    // by hand).
    const std::vector<study::AveragedError> errors =
        errors_of({"exposure.exposure_us=0.1", "detector.read_noise_e=150"});
    REQUIRE(errors.size() == 7);
    const study::AveragedError& one = errors.front();
    REQUIRE(one.noise > 0.3 * one.still);
    REQUIRE(one.noise < 0.9 * one.still);
    const double frozen = std::sqrt(one.still * one.still - one.noise * one.noise);
    for (const study::AveragedError& error : errors) {
        CAPTURE(error.average);
        const double expected = std::hypot(frozen, one.noise / root(error));
        // The same patches, so that their noise alone differs: in squares by its mean square, and by twice its product
        // with speckle, over all windows.
        const double windows = patches * 2.0 * static_cast<double>(greatest) / static_cast<double>(error.average);
        const double white = one.noise / root(error);
        const double margin = 4.0 * (white * white + 2.0 * frozen * white) / std::sqrt(windows) / (2.0 * expected);
        CHECK(error.still == Approx(expected).margin(margin));
        // Speckle and noise together are drawn anew where the part moves on.
        CHECK(error.moved * root(error) == Approx(one.still).epsilon(four_errors(moved_count(error))));
    }
    CHECK(errors.back().still < 0.97 * one.still);
}

TEST_CASE("without speckle, averaging a still part helps as much as moving it", "[averaging][physics]") {
    const std::vector<study::AveragedError> errors = errors_of({"run.speckle=off"});
    REQUIRE(errors.size() == 7);
    for (const study::AveragedError& error : errors) {
        CAPTURE(error.average);
        CHECK(error.still * root(error) == Approx(errors.front().noise).epsilon(four_errors(noise_count(error))));
        CHECK(error.moved * root(error) == Approx(errors.front().noise).epsilon(four_errors(moved_count(error))));
    }
}

TEST_CASE("the study takes the scenario's median and period, whatever its average", "[averaging][unit]") {
    const sensor::TriangulationSetup sensor = setup({"reading.median=5", "reading.average=3"});
    const std::vector<study::AveragedError> errors = study::averaging_study(sensor, {8, 2});
    REQUIRE(errors.size() == 4);
    const double period = sensor::make_pose(sensor, 0.0).timing.period;
    for (const study::AveragedError& error : errors) {
        CHECK(error.response_time == Approx(static_cast<double>(error.average + 2) * period));
    }
    const std::vector<study::AveragedError> plain = study::averaging_study(setup(), {8, 2});
    // A median of five of normal numbers scatters 0.5361 times as much as one (order statistics); of speckle, which
    // skews them, by some hundredths more or less. Dim patches give more noise: the ratio of rms is less certain still.
    CHECK(errors.front().moved / plain.front().moved == Approx(0.536).margin(0.08));
    CHECK(errors.front().noise / plain.front().noise == Approx(0.536).margin(0.08));
}

TEST_CASE("the study does not depend on threads, and says nothing of a part that is not read", "[averaging][unit]") {
    const sensor::TriangulationSetup sensor = setup({"run.patches=8"});
    const std::vector<study::AveragedError> one = study::averaging_study(sensor, {16, 1});
    const std::vector<study::AveragedError> two = study::averaging_study(sensor, {16, 2});
    REQUIRE(one.size() == two.size());
    for (std::size_t i = 0; i < one.size(); ++i) {
        CHECK(one[i].still == two[i].still);
        CHECK(one[i].moved == two[i].moved);
        CHECK(one[i].noise == two[i].noise);
    }
    CHECK(study::averaging_study(setup({"run.patches=8", "emitter.power_mW=0.00001"}), {16, 2}).empty());
}
