// The instrument as it is made and stands: specimens, glass, filter, pointing, bending.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/as_made.hpp"
#include "sim/sensor/instrument.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/temperature.hpp"

using namespace spotwright;
using base::degree, base::mm, base::nm, base::um;

namespace {

scenario::Scenario tile(const std::vector<std::string>& settings) {
    return scenario::parse("[target]\nmaterial = \"white-ceramic\"\n[run]\nspeckle = \"off\"\n", "t", settings);
}

double reading_of(const scenario::Scenario& s) {
    return sensor::noiseless_reading(sensor::set_up_triangulation(s, 1), s.target.displacement).value();
}

}  // namespace

TEST_CASE("a specimen is drawn evenly within the tolerances by its device seed alone", "[sensor][making][unit]") {
    constexpr int count = 4000;
    double sum = 0.0;
    double squares = 0.0;
    double product = 0.0;
    for (int seed = 0; seed < count; ++seed) {
        scenario::Scenario s = tile({"making.focus_um=100", "making.coma_waves=2"});
        s.detector.device_seed = seed;
        const scenario::Receiver made = sensor::as_made(s);
        REQUIRE(std::abs(made.focus_error) <= 100.0 * um);
        REQUIRE(std::abs(made.coma_waves) <= 2.0);
        CHECK(made.spherical_waves == 0.0);
        const double focus = made.focus_error / (100.0 * um);
        sum += focus;
        squares += focus * focus;
        product += focus * made.coma_waves / 2.0;
        // The same number whatever the other tolerances are.
        s.making.coma_waves = 0.0;
        REQUIRE(sensor::as_made(s).focus_error == made.focus_error);
    }
    // Mean 0, variance 1/3, independent; five standard errors.
    CHECK(std::abs(sum / count) < 5.0 * std::sqrt(1.0 / 3.0 / count));
    CHECK(squares / count == Approx(1.0 / 3.0).margin(5.0 * std::sqrt(4.0 / 45.0 / count)));
    CHECK(std::abs(product / count) < 5.0 / (3.0 * std::sqrt(count)));
    const scenario::Scenario plain = tile({"detector.device_seed=7"});
    CHECK(sensor::as_made(plain) == plain.receiver);
}

TEST_CASE("a specimen is calibrated as it is made: its errors show with other parts only", "[sensor][making]") {
    const std::vector<std::string> making{"making.coma_waves=3", "making.focus_um=150", "detector.device_seed=5",
                                          "exposure.level=0.6"};
    // The same tile at a place of the calibration.
    CHECK(std::abs(reading_of(tile(making))) < 0.05 * um);
    const auto polished = [](std::vector<std::string> settings) {
        settings.insert(settings.end(), {"target.material=polished-steel", "target.tilt_deg=[14, 0]"});
        return reading_of(tile(settings));
    };
    CHECK(std::abs(polished(making) - polished({})) > 5.0 * um);
}

TEST_CASE("a cover glass moves the reading by its lift, and not when it was there at the calibration",
          "[sensor][glass]") {
    const double bare = reading_of(tile({}));
    // Seen at 30 deg: t (1 - cos a / sqrt(n^2 - sin^2 a)), nearer; chief ray, so that the pupil's width leaves 2 %.
    const double lift = 0.5 * mm * (1.0 - std::cos(30.0 * degree) / std::sqrt(1.515 * 1.515 - 0.25));
    const double moved = reading_of(tile({"cover.glass_mm=0.5"})) - bare;
    CHECK(moved == Approx(-lift).epsilon(0.02));
    CHECK(reading_of(tile({"cover.glass_mm=0.5", "cover.calibrated=yes"})) == Approx(0.0).margin(0.05 * um));
}

TEST_CASE("glass, dirt and filter take their light", "[sensor][glass][unit]") {
    const auto light_of = [](const std::vector<std::string>& settings) {
        const scenario::Scenario s = tile(settings);
        return sensor::make_pose(sensor::set_up_triangulation(s, 1), 0.0, 1).profile.received_power;
    };
    const double all = light_of({});
    // (1 - R) / (1 + R), R = (0.515 / 2.515)^2, at either way of light near the normal; at 30 deg 0.1 % less.
    const double r = (0.515 / 2.515) * (0.515 / 2.515);
    const double once = (1.0 - r) / (1.0 + r);
    CHECK(light_of({"cover.glass_mm=0.001"}) == Approx(all * once * once).epsilon(0.005));
    CHECK(light_of({"cover.dirt_share=0.25", "cover.haze_share=0"}) == Approx(0.75 * all));
    const std::vector<std::string> filter{"receiver.filter_width_nm=10", "receiver.filter_edge_nm=4",
                                          "thermal.wavelength_nm_per_K=0.2", "surroundings.temperature_C=45"};
    // 25 K: 5 nm, at the middle of the edge.
    const scenario::Scenario s = tile(filter);
    CHECK(sensor::filter_passed(s, 660.0 * nm) == Approx(0.5).epsilon(0.01));
    CHECK(sensor::filter_passed(s, 658.0 * nm) / sensor::filter_passed(s, 662.0 * nm) == Approx(9.0).epsilon(1e-9));
    CHECK(sensor::filter_passed(s, 655.0 * nm) == 1.0);
    CHECK(light_of(filter) == Approx(0.5 * all).epsilon(0.02));
    CHECK(light_of({"thermal.power_ppm_per_K=-5000", "surroundings.temperature_C=40"}) ==
          Approx(0.9 * all).epsilon(0.01));
}

TEST_CASE("pointing scatters readings by distance times jitter over the tangent of the angle", "[sensor][pointing]") {
    const scenario::Scenario s = tile({"emitter.pointing_jitter_urad=50", "detector.response_nonuniformity=0",
                                       "detector.read_noise_e=0", "exposure.exposure_us=1.8"});
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 1);
    const sensor::Pose pose = sensor::make_pose(setup, 0.0, 1);
    constexpr std::int64_t readings = 4000;
    std::vector<sensor::RawReading> raw(readings);
    sensor::Scratch scratch;
    sensor::take_readings(setup, pose, 0, scratch, raw);
    double sum = 0.0;
    double squares = 0.0;
    for (const sensor::RawReading& reading : raw) {
        sum += reading.displacement;
        squares += reading.displacement * reading.displacement;
    }
    const double mean = sum / readings;
    const double deviation = std::sqrt(squares / readings - mean * mean);
    // Shot noise adds 0.06 um in quadrature. 5 standard errors of a deviation: 5 / sqrt(2 n).
    const double expected = std::hypot(50e-6 * 50.0 * mm / std::tan(30.0 * degree), 0.06 * um);
    CHECK(deviation == Approx(expected).epsilon(5.0 / std::sqrt(2.0 * readings)));
    // A reading depends on its number alone.
    CHECK(sensor::take_reading(setup, pose, 1234, scratch).displacement == raw[1234].displacement);
}

TEST_CASE("bending the housing is turning all else the other way", "[sensor][temperature][unit]") {
    const scenario::Scenario s = tile({"thermal.bending_urad_per_K=200", "thermal.housing_expansion_ppm_per_K=0",
                                       "thermal.array_expansion_ppm_per_K=0", "thermal.focal_length_ppm_per_K=0"});
    const double turn = 200e-6 * 10.0;
    const sensor::PartsAtTemperature bent = sensor::parts_at_temperature(s, base::room_temperature + 10.0);
    const receiver::Receiver straight = sensor::receiver_of(s);
    const Eigen::Vector3d face = sensor::beam_of(s).face;
    for (const Eigen::Vector3d& place :
         {Eigen::Vector3d(0.0, 0.0, 0.0), Eigen::Vector3d(1.0 * mm, 0.3 * mm, -3.0 * mm)}) {
        const Eigen::Vector3d from = place - face;
        const Eigen::Vector3d turned =
            face + Eigen::Vector3d(from.x() * std::cos(turn) - from.z() * std::sin(turn), from.y(),
                                   from.z() * std::cos(turn) + from.x() * std::sin(turn));
        const auto one =
            receiver::trace(bent.receiver, receiver::to_receiver(bent.receiver, place), 0.4 * mm, 0.2 * mm);
        const auto other = receiver::trace(straight, receiver::to_receiver(straight, turned), 0.4 * mm, 0.2 * mm);
        CHECK(one->u == Approx(other->u).margin(1e-13));
        CHECK(one->v == Approx(other->v).margin(1e-13));
    }
}
