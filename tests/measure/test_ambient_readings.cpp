// Light that is not the emitter's in readings: bare metal in daylight, lamps in mirrors, glow and flicker.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <variant>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/measure/read.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/target/fresnel.hpp"

using namespace spotwright;
using base::nm, base::us;

namespace {

scenario::Scenario with(const std::string& material, const std::vector<std::string>& settings) {
    return scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "test.toml", settings);
}

sensor::AmbientRates rates(const std::string& material, const std::vector<std::string>& settings) {
    const scenario::Scenario s = with(material, settings);
    return sensor::ambient_rates(s, sensor::receiver_of(s), sensor::beam_of(s), sensor::part_of(s, 0.0));
}

sensor::TriangulationSetup setup_of(const scenario::Scenario& s) {
    return std::get<sensor::TriangulationSetup>(sensor::set_up(s, 1));
}

template <class Kind>
bool has(const measure::Verdict& verdict) {
    return std::any_of(verdict.reasons.begin(), verdict.reasons.end(),
                       [](const measure::Reason& each) { return std::holds_alternative<Kind>(each); });
}

}  // namespace

TEST_CASE("bare steel in daylight sends the share of it that Fresnel's reflectance gives", "[measure][physics]") {
    const std::vector<std::string> daylight{"surroundings.light=daylight", "surroundings.illuminance_lx=10000"};
    const double steel = rates("polished-steel", daylight).lamps;
    const double white = rates("white-ceramic", daylight).lamps;
    // The index of the file at 659 nm, seen from 30 deg; white ceramic is matt, and its albedo stands in its file.
    const scenario::Scenario s = with("white-ceramic", {});
    const double of_white = scenario::reflectance_at(s.target.made_of, 655.0 * nm);
    const double of_steel = target::fresnel({2.92, 3.10}, std::cos(30.0 * base::degree)).unpolarised();
    // 2 %: index and reflectance over the 20 nm of the filter, and the slope of the ceramic's facets at 30 deg.
    CHECK(steel / white == Approx(of_steel / of_white).epsilon(0.02));
}

TEST_CASE("a lamp that the part mirrors into the lens is a glint, and a tilt removes it", "[measure][physics]") {
    const auto lit = [](const std::string& tilt) {
        return rates("polished-steel", {"surroundings.light=daylight", "surroundings.lamp_share=0.8",
                                        "surroundings.lamp_direction_deg=[-30, 0]", "target.tilt_deg=" + tilt})
            .lamps;
    };
    const double even = rates("polished-steel", {"surroundings.light=daylight"}).lamps;
    CHECK(lit("[0, 0]") > 50.0 * even);
    // Tilted by 10 deg the mirror shows the sky beside the lamp: what is left is the other fifth of the light, and a
    // hundredth of it that the lamp sends by the haze.
    CHECK(lit("[10, 0]") > 0.2 * even);
    CHECK(lit("[10, 0]") == Approx(0.2 * even).epsilon(0.03));
}

TEST_CASE("glow grows with temperature as Planck's law has it, and blue sees less of it", "[measure][physics]") {
    const auto glow = [](const std::string& celsius, const std::string& wavelength) {
        return rates("blasted-steel", {"target.temperature_C=" + celsius, "emitter.wavelength_nm=" + wavelength}).glow;
    };
    CHECK(rates("blasted-steel", {}).glow == 0.0);
    // exp(-h c / (lambda k T)) from 1000 to 1200 C at 655 nm: h c / (lambda k) = 21966 K. 2 %: the filter's 20 nm.
    const double expected = std::exp(21966.0 / 1273.15 - 21966.0 / 1473.15);
    CHECK(glow("1200", "655") / glow("1000", "655") == Approx(expected).epsilon(0.02));
    CHECK(glow("1000", "450") < 0.01 * glow("1000", "655"));
    CHECK(glow("400", "655") < 1e-6 * glow("1000", "655"));
}

TEST_CASE("frames of still readings follow the flicker of the lamps", "[measure][unit]") {
    const scenario::Scenario s =
        with("white-ceramic", {"surroundings.light=daylight", "surroundings.illuminance_lx=200000",
                               "surroundings.flicker_depth=0.5", "exposure.exposure_us=50", "emitter.power_mW=0.01"});
    const sensor::TriangulationSetup setup = setup_of(s);
    const sensor::Pose pose = sensor::make_pose(setup, 0.0, 1);
    const auto mean_of = [&](std::int64_t index) {
        const std::vector<float> digits = sensor::frame_of(setup, pose, index);
        double sum = 0.0;
        for (std::size_t k = 0; k < 256; ++k) sum += static_cast<double>(digits[k]);  // beside the spot
        return sum / 256.0;
    };
    // Readings 0 and 38 are at the crest and 5.05 ms later, within 0.2 deg of half a period of 10 ms.
    const double swing = (pose.ambient_rate - pose.glow_rate) * pose.timing.exposure * 0.5;
    const double gain = pose.expected.digitiser.gain;
    const double found = (mean_of(0) - mean_of(38)) / gain;
    // Five standard errors of two means of 256 pixels, and the pixels' response of 0.5 % over 256 of them.
    const double noise = std::sqrt(2.0 * (2.0 * swing + 400.0) / 256.0) + 1e-3 * swing;
    REQUIRE(swing > 100.0);
    CHECK(found == Approx(2.0 * swing).margin(5.0 * noise));
}

TEST_CASE("the verdict names glow, ambient light and flicker", "[measure][unit]") {
    const auto verdict = [](const std::string& material, const std::vector<std::string>& settings) {
        std::vector<std::string> all{"run.speckle=off", "run.readings=64"};
        all.insert(all.end(), settings.begin(), settings.end());
        return measure::read(setup_of(with(material, all)), {}).verdict;
    };
    const measure::Verdict hot = verdict(
        "blasted-steel", {"target.temperature_C=1250", "exposure.exposure_us=2000", "exposure.period_us=[2100, 2100]",
                          "receiver.filter_width_nm=100", "emitter.power_mW=0.0005"});
    REQUIRE(has<measure::ReadingsLost>(hot));
    CHECK(in_words(hot.reasons.front()).find("the part glows: at 1250 C") != std::string::npos);
    const measure::Verdict lamps =
        verdict("white-ceramic", {"surroundings.light=daylight", "surroundings.illuminance_lx=200000",
                                  "surroundings.flicker_depth=0.5", "requirement.tolerance_um=0.01"});
    CHECK(has<measure::LampsFlicker>(lamps));
    const measure::Verdict calm = verdict("white-ceramic", {});
    CHECK_FALSE(has<measure::LampsFlicker>(calm));
    CHECK_FALSE(has<measure::AmbientRivalsPeak>(calm));
}
