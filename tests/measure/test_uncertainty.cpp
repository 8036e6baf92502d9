// What enters the expanded uncertainty beside noise, and what a verdict says when light is not what it should be.
#include <catch2/catch.hpp>

#include <fmt/format.h>

#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/measure/pixel_error.hpp"
#include "sim/measure/read.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using base::mm, base::um;
using reading::Validity;

namespace {

scenario::Scenario white(const std::vector<std::string>& settings) {
    return scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "test.toml", settings);
}

measure::ReadResult read(const std::vector<std::string>& settings) {
    return measure::read(sensor::set_up_triangulation(white(settings), 2), {2, {}, {}});
}

double pixel_error(const std::vector<std::string>& settings) {
    const scenario::Scenario s = white(settings);
    return measure::pixel_error(sensor::set_up_triangulation(s, 2), s.target.displacement).value();
}

// On the receiver of a demonstration scenario. [um]
double speckle_limit_um(const std::string& file, double displacement) {
    const scenario::Scenario s = scenario::load(SPOTWRIGHT_SOURCE_DIR "/scenarios/" + file);
    return sensor::speckle_limit_at(sensor::receiver_of(s), s.emitter.wavelength, displacement, 1.0) / um;
}

}  // namespace

TEST_CASE("the speckle limit follows the part: nearer the lens it sees a wider aperture", "[study][published]") {
    // By hand, for a beam along the normal. The lit point at s lies d from the lens, d^2 = a^2 + s^2 + 2 a s cos(theta)
    // (law of cosines); sin of the angle between the axes is a sin(theta) / d (law of sines), the aperture's radius R
    // is seen under NA = R / sqrt(d^2 + R^2). In lambda / (2 sqrt(2) pi NA sin):
    //     lambda d sqrt(d^2 + R^2) / (2 sqrt(2) pi R a sin(theta)).
    // The lens is turned from the point by psi, cos(psi) = (a + s cos(theta)) / d, up to 6 deg here: seen from there
    // its in-plane side is narrower by cos(psi) and the correlation area larger, its root by 1 / sqrt(cos(psi)), up to
    // 0.3 %. Tolerance: half of the last digit.
    constexpr double half_digit = 0.0005;
    // a = 32 mm, R = 2 mm, theta = 35 deg, 655 nm: d = 28.0512, 32, 34.5004 and 36.2095 mm.
    const std::string near_sensor = "06-label-at-25-mm.toml";
    CHECK(std::abs(speckle_limit_um(near_sensor, -5.0 * mm) - 1.588) < half_digit);
    CHECK(std::abs(speckle_limit_um(near_sensor, 0.0) - 2.060) < half_digit);
    CHECK(std::abs(speckle_limit_um(near_sensor, 3.0 * mm) - 2.396) < half_digit);
    CHECK(std::abs(speckle_limit_um(near_sensor, 5.0 * mm) - 2.641) < half_digit);
    // a = 45 mm, R = 2 mm, theta = 30 deg, 655 nm: d = 40.7466, 45 and 49.3934 mm.
    const std::string default_sensor = "01-white-tile.toml";
    CHECK(std::abs(speckle_limit_um(default_sensor, -5.0 * mm) - 2.726) < half_digit);
    CHECK(std::abs(speckle_limit_um(default_sensor, 0.0) - 3.320) < half_digit);
    CHECK(std::abs(speckle_limit_um(default_sensor, 5.0 * mm) - 4.002) < half_digit);
}

TEST_CASE("the speckle limit is that of the pupil that the part sees, whatever its shape", "[study][physics]") {
    // Correlation area lambda^2 / A, A the pupil in direction cosines square to the view (J. W. Goodman, Speckle
    // Phenomena in Optics, from memory), here summed over places of the aperture. The closed form leaves out a third of
    // the squares of the half-angles, (0.5 mm / 28 mm)^2: 1e-4; the turn of the lens makes 2.6e-3.
    for (const char* aperture : {"receiver.aperture_mm=1", "receiver.aperture_mm=[1, 0.4]"}) {
        INFO(aperture);
        const scenario::Scenario s = scenario::load(SPOTWRIGHT_SOURCE_DIR "/scenarios/06-label-at-25-mm.toml",
                                                    std::vector<std::string>{aperture});
        const receiver::Receiver r = sensor::receiver_of(s);
        const Eigen::Vector3d lit(0.0, 0.0, 5.0 * mm);
        const Eigen::Vector3d axis(std::sin(r.angle), 0.0, std::cos(r.angle));
        const Eigen::Vector3d view = (receiver::aperture_point(r, 0.0, 0.0) - lit).normalized();
        double pupil = 0.0;
        constexpr int side = 64;
        for (int i = 0; i < side * side; ++i) {
            const receiver::AperturePoint p =
                receiver::aperture_point(r.aperture, (i / side + 0.5) / side, (i % side + 0.5) / side);
            const Eigen::Vector3d way = receiver::aperture_point(r, p.in_plane, p.out_of_plane) - lit;
            const Eigen::Vector3d to = way.normalized();
            pupil += p.area / (side * side) * to.dot(axis) / way.squaredNorm() * to.dot(view);
        }
        const double expected = s.emitter.wavelength / std::sqrt(8.0 * base::pi * pupil) / view.x();
        CHECK(sensor::speckle_limit_at(r, s.emitter.wavelength, -5.0 * mm, 1.0) == Approx(expected).epsilon(2e-4));
    }
}

TEST_CASE("a reading tells the speckle limit at its part, not at the reference point", "[study][unit]") {
    const measure::ReadResult far = read({"run.readings=50", "target.displacement_mm=5"});
    const measure::ReadResult near = read({"run.readings=50", "target.displacement_mm=-5"});
    // White ceramic depolarises: contrast 1 / sqrt(2). What the line's width takes off is below 1e-3.
    REQUIRE((far.speckle && near.speckle));
    CHECK(far.speckle->limit == Approx(4.002 * um / std::sqrt(2.0)).epsilon(1e-3));
    CHECK(near.speckle->limit == Approx(2.726 * um / std::sqrt(2.0)).epsilon(1e-3));
}

TEST_CASE("the pattern of the pixels moves an estimator of three pixels far more than a centroid", "[study][physics]") {
    const double by_centroid = pixel_error({"reading.peak=centroid"});
    const double by_three = pixel_error({"reading.peak=gauss3"});
    CHECK(by_centroid > 0.0);
    CHECK(by_three > 3.0 * by_centroid);
}

TEST_CASE("the pixel error grows in proportion to the pattern of response", "[study][physics]") {
    // Patterns that move the estimate well beyond the error of pixel phase, and do not yet make another pixel the
    // highest. The same specimen: its pattern is scaled. The error of pixel phase, a third of the pattern's at most,
    // adds of its own: a few per cent where the two are independent.
    for (const auto& [peak, pattern] : {std::pair("centroid", 0.02), std::pair("gauss3", 0.005)}) {
        INFO(peak);
        const std::string estimator = std::string("reading.peak=") + peak;
        const auto with = [&estimator](double share) {
            return pixel_error({estimator, fmt::format("detector.response_nonuniformity={}", share)});
        };
        const double once = with(pattern);
        CHECK(with(2.0 * pattern) == Approx(2.0 * once).epsilon(0.1));
        CHECK(once > 3.0 * with(0.0));
    }
}

TEST_CASE("where ambient light alone saturates, the verdict says so and does not blame the exposure to the laser",
          "[study][unit]") {
    const measure::ReadResult r =
        read({"run.readings=50", "exposure.exposure_us=100000", "exposure.period_us=[1e5, 1e5]",
              "surroundings.light=daylight", "surroundings.illuminance_lx=100000", "emitter.power_mW=0.00000001",
              "detector.dark_current_e_per_s=0"});
    REQUIRE(r.statistics.validity[static_cast<std::size_t>(Validity::saturated)] == 50);
    CHECK(r.signal.peak_share < 0.01);
    CHECK(r.signal.background > 2e5);
    INFO(in_words(r.verdict.reasons.front()));
    CHECK(in_words(r.verdict.reasons.front()).find("saturated: ambient light and dark current alone take") !=
          std::string::npos);
    CHECK(in_words(r.verdict.reasons.front()).find("narrower filter") != std::string::npos);
}

TEST_CASE("automatic exposure counts dark current: light and dark together reach the level asked for",
          "[study][physics]") {
    // At 60 deg C the dark current of 5e7 e/s is 2^5 times as large: in the exposure that a dim part asks for it fills
    // a good part of the well.
    const measure::ReadResult r = read({"run.readings=50", "exposure.mode=automatic", "exposure.period_us=[125, 2000]",
                                        "target.material=black-rubber", "detector.dark_current_e_per_s=5e7",
                                        "surroundings.temperature_C=60", "surroundings.illuminance_lx=0"});
    CHECK(r.signal.background > 0.1 * 2e5);
    // Rates are kept as floats: 6e-8 of the value.
    CHECK((r.signal.peak + r.signal.background) / 2e5 == Approx(0.6).epsilon(1e-6));
    CHECK(r.statistics.validity[static_cast<std::size_t>(Validity::valid)] == 50);
}
