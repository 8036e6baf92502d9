// Faint spots of which the threshold leaves little.
#include <catch2/catch.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/measure/read.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using base::mm, base::um;

namespace {

measure::ReadResult read(const std::string& material, const std::vector<std::string>& settings) {
    const scenario::Scenario s =
        scenario::parse("[target]\nmaterial = \"" + material + "\"\n[run]\nreadings = 256\n", "test.toml", settings);
    return measure::read(sensor::set_up(s, 2), {2, {}, {}});
}

// A spot of some two pixels, a faint one.
std::vector<std::string> faint_at(double displacement) {
    return {"detector.pitch_um=40",
            "detector.pixels=201",
            "reading.threshold=0.05",
            "run.speckle=off",
            "uncertainty.temperature_K=0",
            "requirement.tolerance_um=20",
            fmt::format("target.displacement_mm={:.6f}", displacement / mm)};
}

}  // namespace

TEST_CASE("readings that stand on one pixel are uncertain by that pixel", "[verdict]") {
    const scenario::Scenario s = scenario::parse("[target]\nmaterial = \"black-rubber\"\n", "test.toml", faint_at(0.0));
    const double pixel = sensor::make_layout(s).pixel_displacement;
    for (const double place : {-0.45, -0.2, 0.0, 0.2, 0.45}) {
        std::vector<std::string> settings = faint_at(place * pixel);
        settings.emplace_back("exposure.exposure_us=1.8");
        const measure::ReadResult result = read("black-rubber", settings);
        INFO("at " << place << " pixels");
        // A uniform distribution over the pixel: JCGM 100:2008, 4.3.7. At its rim no pixel of a spot passes, or two do,
        // which takes away up to a fifth; pattern and phase with light enough add 2 %.
        REQUIRE(result.pixel_error);
        CHECK(*result.pixel_error > 0.8 * pixel / std::sqrt(12.0));
        CHECK(*result.pixel_error < 1.03 * pixel / std::sqrt(12.0));
        CHECK(result.verdict.level != measure::Level::stable);
    }
}

TEST_CASE("the uncertainty of a faint spot covers its error at every phase within a pixel, and falls with light",
          "[verdict]") {
    const scenario::Scenario s = scenario::parse("[target]\nmaterial = \"black-rubber\"\n", "test.toml", faint_at(0.0));
    const double pixel = sensor::make_layout(s).pixel_displacement;
    double before = pixel;
    for (const double exposure : {1.8, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0}) {
        double most = 0.0;
        double squares = 0.0;
        constexpr int places = 8;
        for (int i = 0; i < places; ++i) {
            std::vector<std::string> settings = faint_at((i / static_cast<double>(places) - 0.5) * pixel);
            settings.push_back(fmt::format("exposure.exposure_us={}", exposure));
            const measure::ReadResult result = read("black-rubber", settings);
            INFO("exposed for " << exposure << " us, place " << i << " of " << places);
            REQUIRE(result.pixel_error);
            REQUIRE(result.bias);
            CHECK(std::abs(*result.bias) < *result.verdict.expanded_uncertainty);
            most = std::max(most, *result.pixel_error);
            squares += *result.bias * *result.bias;
        }
        INFO("exposed for " << exposure << " us");
        // The scatter of biases over the pixel is what the contribution stands for; with the pattern of response, whose
        // share is some 1.5 um here, and noise that carries a pixel over the threshold.
        const double scatter = std::sqrt(squares / places);
        CHECK(most > 0.8 * scatter);
        CHECK(most < 1.3 * scatter + 2.0 * um);
        CHECK(most < before * 1.01);
        before = most;
    }
}

TEST_CASE("the light of the reading changes nothing of the pixels' error where many pixels pass", "[verdict]") {
    const auto error_of = [](const char* exposure) {
        std::vector<std::string> settings{"run.speckle=off", exposure};
        const measure::ReadResult result = read("black-rubber", settings);
        REQUIRE(result.pixel_error);
        return *result.pixel_error;
    };
    CHECK(error_of("exposure.exposure_us=8") == error_of("exposure.exposure_us=25"));
    CHECK(error_of("exposure.exposure_us=2.5") > error_of("exposure.exposure_us=8"));
}

TEST_CASE("where the threshold cuts a speckled spot, exposure comes before optics", "[verdict]") {
    const auto step = [](const std::vector<std::string>& more) {
        std::vector<std::string> settings{"mount.reference_distance_mm=95", "mount.range_mm=[-6, 6]",
                                          "target.tilt_deg=[4, 0]", "requirement.tolerance_um=60"};
        settings.insert(settings.end(), more.begin(), more.end());
        const measure::ReadResult result = read("matt-paint-light-grey", settings);
        return measure::next_step(result.verdict, {});
    };
    const std::string cut = step({});
    INFO(cut);
    REQUIRE(cut.find("exposure") != std::string::npos);
    CHECK(cut.find("exposure") < cut.find("aperture"));
    // With light enough optics alone are left.
    const std::string lit = step({"exposure.exposure_us=20", "requirement.tolerance_um=20"});
    INFO(lit);
    CHECK(lit.find("exposure") == std::string::npos);
    CHECK(lit.find("aperture") != std::string::npos);
}
