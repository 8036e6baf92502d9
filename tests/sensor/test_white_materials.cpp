// White materials before a sensor: depth, calibration, speckle and grain.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/speckle.hpp"

using namespace spotwright;
using base::um;

namespace {

sensor::TriangulationSetup before(const std::string& material, std::vector<std::string> settings = {}) {
    settings.insert(settings.end(), {"exposure.mode=automatic", "exposure.period_us=[125, 2000]"});
    return sensor::set_up_triangulation(scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "t", settings),
                                        2);
}

double bias_of(const sensor::TriangulationSetup& setup, double displacement) {
    return sensor::noiseless_reading(setup, displacement).value() - displacement;
}

/// Contrast of the pattern before the pixels.
double contrast_of(const std::string& material, const std::vector<std::string>& settings) {
    const auto setup = before(material, settings);
    const sensor::Pose pose = sensor::make_pose(setup, 0.0, 2);
    return sensor::make_speckle(setup, 0.0, pose.profile)->field.pattern_contrast;
}

/// Standard deviation of noiseless readings from patch to patch.
double scatter_of(const sensor::TriangulationSetup& setup) {
    const sensor::Pose smooth = sensor::make_pose(setup, 0.0, 2);
    const auto speckle = sensor::make_speckle(setup, 0.0, smooth.profile).value();
    const sensor::Pose still = sensor::still_pose(setup, smooth, speckle);
    double sum = 0.0;
    double squares = 0.0;
    double count = 0.0;
    for (const sensor::Pose& patch : sensor::poses_of_patches(setup, still, smooth.profile, speckle, 2)) {
        if (const auto found = sensor::noiseless_reading(setup, patch)) {
            sum += *found;
            squares += *found * *found;
            count += 1.0;
        }
    }
    return std::sqrt(squares / count - sum / count * (sum / count));
}

}  // namespace

TEST_CASE("white materials read too far, the denser the less", "[white][physics]") {
    const double plastic = bias_of(before("white-pom"), 0.0);
    const double paper = bias_of(before("white-paper"), 0.0);
    const double paint = bias_of(before("white-glossy-paint"), 0.0);
    CHECK(plastic > 30.0 * um);
    CHECK(plastic < 100.0 * um);
    CHECK(paper < plastic);
    CHECK(paint < paper);
    CHECK(paint > 1.0 * um);
    // Some materials do not let light in.
    CHECK(std::abs(bias_of(before("white-ceramic"), 0.0)) < 0.1 * um);
}

TEST_CASE("a coat is seen between its face and what it covers", "[white][layer][physics]") {
    const double coat = bias_of(before("white-coat-on-steel"), 0.0);
    CHECK(coat > 1.0 * um);
    CHECK(coat < 30.0 / 1.5 * um);  // straight down a depth t looks like t / n, by other refraction a little less
}

TEST_CASE("a clear film on a matt backing reads too far by what refraction leaves of its thickness",
          "[white][layer][physics]") {
    // Light falls in squarely and comes from the backing in the depth T: seen at theta it leaves T tan(theta') farther
    // away, sin(theta) = n sin(theta'), and so reads T tan(theta') / tan(theta) too far. What goes to and fro within
    // the film leaves it on all sides alike. 10 %: a tenth of the light or less scatters on the way, and the threshold
    // cuts the rim of the glow.
    struct Film {
        const char* material;
        double thickness, index;
    };
    for (const Film& film : {Film{"solder-mask-green-on-laminate", 25.0 * um, 1.55},
                             Film{"solder-mask-green-on-copper", 20.0 * um, 1.55}}) {
        const double angle = 30.0 * base::degree;
        const double inside = std::asin(std::sin(angle) / film.index);
        INFO(film.material);
        CHECK(bias_of(before(film.material), 0.0) ==
              Approx(film.thickness * std::tan(inside) / std::tan(angle)).epsilon(0.1));
    }
    // The face of blasted and anodised metal sends light from above the film, too.
    for (const char* material : {"clear-anodised-blasted-aluminium", "red-anodised-blasted-aluminium"}) {
        const double bias = bias_of(before(material), 0.0);
        INFO(material);
        CHECK(bias > 2.0 * um);
        CHECK(bias < 15.0 * um * 0.562);
    }
}

TEST_CASE("a part of the reference's material reads right, and others show the difference", "[white][physics][slow]") {
    const std::vector<std::string> on_plastic{"reading.calibrated_on=white-pom"};
    const auto alike = before("white-pom", on_plastic);
    // The depth falls from 83 to 41 um along the range, which the calibration's cubic follows; what is left is the rim
    // of the glow that crosses the threshold in jumps, the more so the nearer and larger the image.
    for (const double displacement : {-2.3e-3, -1e-3, 0.4e-3, 3.1e-3}) {
        CHECK(std::abs(bias_of(alike, displacement)) < 1.5 * um);
    }
    CHECK(std::abs(bias_of(alike, -4.3e-3)) < 5.0 * um);
    const double plastic = bias_of(before("white-pom"), 0.4e-3);
    const double opaque = bias_of(before("white-ceramic", on_plastic), 0.4e-3);
    CHECK(opaque == Approx(-plastic).margin(1.5 * um));
}

TEST_CASE("light that goes far inside speckles less, and the less the wider the line", "[white][speckle][physics]") {
    const std::string line = "emitter.linewidth_nm=0.5";
    const double matt = contrast_of("white-ceramic", {line});
    const double paper = contrast_of("white-paper", {line});
    const double plastic = contrast_of("white-pom", {line});
    CHECK(matt == Approx(std::sqrt(0.5)).epsilon(0.01));
    CHECK(paper < matt);
    CHECK(plastic < paper);
    CHECK(contrast_of("white-paper", {"emitter.linewidth_nm=2"}) < paper);
    // One wavelength: both polarisations are left.
    CHECK(contrast_of("white-pom", {"emitter.linewidth_nm=0"}) == Approx(std::sqrt(0.5)).epsilon(0.01));
}

TEST_CASE("marble scatters from place to place at least as matt ceramic does", "[white][grain][physics][slow]") {
    auto marble = before("marble");
    const double with_grain = scatter_of(marble);
    const double ceramic = scatter_of(before("white-ceramic"));
    // 256 patches each: 4.4 %.
    CHECK(with_grain > ceramic);
    marble.scenario.target.made_of.grain.reset();
    CHECK(scatter_of(marble) < with_grain);
}

TEST_CASE("white materials of other shapes, behind plates and before flashes are told at the face", "[white][unit]") {
    for (const std::vector<std::string>& settings :
         {std::vector<std::string>{"target.shape=cylinder"}, {"target.shape=step"}, {"target.shape=sphere"}}) {
        const auto setup = before("white-pom", settings);
        INFO(settings[0]);
        CHECK_FALSE(setup.walk);
    }
    CHECK_THROWS_AS(before("marble", {"target.shape=cylinder"}), base::ScenarioError);
}
