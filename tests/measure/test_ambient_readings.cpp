// Light that is not the emitter's in readings: bare metal in daylight, lamps in mirrors, glow and flicker.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <variant>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/measure/flight_reading.hpp"
#include "sim/measure/read.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/flight_delay.hpp"
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

namespace {

scenario::Scenario timed(const std::vector<std::string>& settings) {
    std::vector<std::string> all{"mount.reference_distance_mm=4000",
                                 "mount.range_mm=[-2500,2500]",
                                 "emitter.wavelength_nm=850",
                                 "emitter.power_mW=5",
                                 "emitter.waist_radius_um=[3000,3000]",
                                 "receiver.focal_length_mm=40",
                                 "receiver.aperture_mm=30",
                                 "detector.full_well_e=4e6",
                                 "detector.read_noise_e=50",
                                 "run.speckle=off",
                                 "run.readings=200",
                                 "surroundings.light=daylight",
                                 "surroundings.illuminance_lx=10000",
                                 "surroundings.flicker_depth=0.8"};
    all.insert(all.end(), settings.begin(), settings.end());
    return with("white-ceramic", all);
}

}  // namespace

TEST_CASE("buckets of a phase measurement hold the lamps' light of their own time", "[measure][flight][unit]") {
    const scenario::Scenario s = timed({"principle=phase-shift", "flight.modulation_MHz=[20]", "flight.buckets=4",
                                        "exposure.exposure_us=4000", "exposure.period_us=[10000, 10000]"});
    const sensor::FlightSetup setup = sensor::set_up_flight(s, 1);
    const sensor::FlightPose pose = sensor::make_flight_pose(setup, 0.0);
    REQUIRE(pose.timing.exposure == Approx(4e-3));
    const auto electrons = [](const sensor::FlightPlan& plan) { return std::get<sensor::PhasePlan>(plan).electrons; };
    const std::vector<double> mean = electrons(pose.plan);
    const std::vector<double> now = electrons(plan_of_reading(setup, pose, 0));
    const double in_bucket = pose.lamp_rate * s.flight.gate_share * 1e-3;
    REQUIRE(in_bucket > 100.0);
    for (std::size_t k = 0; k < 4; ++k) {
        // The mean of cos(2 pi 100 Hz t) over the k-th millisecond, integrated by hand.
        const auto sine = [](double ms) { return std::sin(2.0 * base::pi * 0.1 * ms) / (2.0 * base::pi * 0.1); };
        const auto from = static_cast<double>(k);
        CHECK(now[k] - mean[k] == Approx(in_bucket * 0.8 * (sine(from + 1.0) - sine(from))).epsilon(1e-9));
    }
    // A reading half a period of the lamps later has the opposite; one after a whole period the same.
    sensor::FlightPose later = pose;
    later.start = 5e-3;
    const std::vector<double> opposite = electrons(plan_of_reading(setup, later, 0));
    const std::vector<double> again = electrons(plan_of_reading(setup, pose, 1));
    for (std::size_t k = 0; k < 4; ++k) {
        CHECK(opposite[k] - mean[k] == Approx(mean[k] - now[k]).epsilon(1e-9));
        CHECK(again[k] == Approx(now[k]).epsilon(1e-9));
    }
    CHECK(has<measure::LampsFlicker>(measure::read(setup, {}).verdict));
    // Without flicker the plan is the pose's own.
    sensor::FlightSetup steady = setup;
    steady.scenario.surroundings.flicker_depth = 0.0;
    CHECK(electrons(plan_of_reading(steady, pose, 0)) == mean);
}

TEST_CASE("pulses sent at the crest of the lamps meet more background than those in the trough",
          "[measure][flight][unit]") {
    const scenario::Scenario s = timed({"principle=pulsed", "emitter.power_mW=2000", "flight.pulses=20",
                                        "flight.noise_nW=1", "surroundings.illuminance_lx=100000"});
    const sensor::FlightSetup setup = sensor::set_up_flight(s, 1);
    sensor::FlightPose pose = sensor::make_flight_pose(setup, 0.0);
    const auto variance = [](const sensor::FlightPlan& plan) {
        const double deviation = std::get<flight::PulsePlan>(plan).constant_deviation;
        return deviation * deviation;
    };
    const auto begun_at = [&](double start) {
        pose.start = start - 0.5 * pose.timing.exposure;
        return variance(plan_of_reading(setup, pose, 0));
    };
    const double mean = variance(pose.plan);
    pose.light.constant_rate -= pose.lamp_rate;
    const double without = variance(plan_of(setup, pose.light, pose.timing.exposure));
    pose.light.constant_rate += pose.lamp_rate;
    REQUIRE(mean > without);
    // Shot noise in proportion to the light, beside the amplifier's; light by its mean over the pulses, 0.2 ms.
    const double half = base::pi * 100.0 * pose.timing.exposure;
    const double swing = 0.8 * std::sin(half) / half;
    CHECK((begun_at(0.0) - without) / (mean - without) == Approx(1.0 + swing).epsilon(1e-5));
    CHECK((begun_at(5e-3) - without) / (mean - without) == Approx(1.0 - swing).epsilon(1e-5));
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
