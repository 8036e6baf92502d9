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
            "exposure.exposure_us=3",
            "run.speckle=off",
            "uncertainty.temperature_K=0",
            "requirement.tolerance_um=20",
            fmt::format("target.displacement_mm={:.6f}", displacement / mm)};
}

}  // namespace

TEST_CASE("readings that stand on one pixel are uncertain by that pixel", "[verdict]") {
    const scenario::Scenario s = scenario::parse("[target]\nmaterial = \"black-rubber\"\n", "test.toml", faint_at(0.0));
    const double pixel = sensor::make_layout(s).pixel_displacement;
    int alike = 0;
    for (const double place : {-0.4, -0.3, -0.15, 0.0, 0.15, 0.3, 0.4}) {
        const measure::ReadResult result = read("black-rubber", faint_at(place * pixel));
        if (result.statistics.standard_deviation != 0.0) continue;
        INFO("at " << place << " pixels");
        ++alike;
        // A uniform distribution over the pixel: JCGM 100:2008, 4.3.7. The pixel's width changes by less than 1 % over
        // a hundredth of the range.
        REQUIRE(result.pixel_error);
        CHECK(*result.pixel_error >= Approx(pixel / std::sqrt(12.0)).epsilon(0.01));
        REQUIRE(result.bias);
        CHECK(std::abs(*result.bias) < *result.verdict.expanded_uncertainty);
        CHECK(*result.verdict.expanded_uncertainty > pixel / std::sqrt(3.0) * 0.99);
        CHECK(result.verdict.level != measure::Level::stable);
    }
    CHECK(alike >= 3);
}

TEST_CASE("pixels of a spot with light enough are no more uncertain than they were", "[verdict]") {
    std::vector<std::string> bright = faint_at(0.0);
    bright.push_back("exposure.exposure_us=12");
    bright.push_back("reading.threshold=0.005");
    const measure::ReadResult result = read("black-rubber", bright);
    REQUIRE(result.statistics.standard_deviation > 0.0);
    CHECK(*result.pixel_error < 5.0 * um);
}

TEST_CASE("where the threshold cuts a speckled spot, exposure comes before optics", "[verdict]") {
    const auto step = [](const std::vector<std::string>& more) {
        std::vector<std::string> settings{"mount.reference_distance_mm=95", "mount.range_mm=[-6, 6]",
                                          "target.tilt_deg=[4, 0]", "requirement.tolerance_um=60"};
        settings.insert(settings.end(), more.begin(), more.end());
        const measure::ReadResult result = read("polyethylene-white", settings);
        return measure::next_step(result.verdict, {});
    };
    const std::string cut = step({});
    INFO(cut);
    REQUIRE(cut.find("exposure") != std::string::npos);
    CHECK(cut.find("exposure") < cut.find("aperture"));
    // With light enough optics alone are left.
    const std::string lit = step({"exposure.exposure_us=10", "requirement.tolerance_um=30"});
    INFO(lit);
    CHECK(lit.find("exposure") == std::string::npos);
    CHECK(lit.find("aperture") != std::string::npos);
}
