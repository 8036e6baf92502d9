#include <catch2/catch.hpp>

#include <cmath>
#include <numeric>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/receiver/ambient.hpp"
#include "sim/receiver/diffraction.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/receiver/image.hpp"
#include "tests/support/stations.hpp"

using namespace spotwright;
using base::mm, base::um, base::nm, base::degree;

namespace {

const target::Surface white{0.85, 0.0};

struct Bench {
    explicit Bench(const scenario::Scenario& scenario)
        : s(scenario), beam(support::beam_of(s)), receiver(support::receiver_of(s)) {}

    [[nodiscard]] receiver::Profile profile(double displacement, const receiver::Tolerance& tolerance = {}) const {
        return receiver::image(beam, support::part_of(s, displacement), white, receiver, edge_spread, 0.35, tolerance);
    }

    scenario::Scenario s;
    emitter::Beam beam;
    receiver::Receiver receiver;
    receiver::EdgeSpread edge_spread;
};

double sum_of(const receiver::Profile& profile) {
    return std::accumulate(profile.rate.begin(), profile.rate.end(), 0.0);
}

float highest_of(const receiver::Profile& profile) {
    return *std::max_element(profile.rate.begin(), profile.rate.end());
}

// Centroid of the light above a tenth of the highest pixel, on pixels fine enough to make the cut smooth. [m]
double spot_centre(const Bench& bench, double displacement) {
    const receiver::Profile profile = bench.profile(displacement);
    const float floor = 0.1F * highest_of(profile);
    double sum = 0.0;
    double moment = 0.0;
    for (std::size_t k = 0; k < profile.rate.size(); ++k) {
        const double weight = static_cast<double>(std::max(profile.rate[k] - floor, 0.0F));
        sum += weight;
        moment += weight * static_cast<double>(k);
    }
    return receiver::u_of_pixel(bench.receiver, moment / sum);
}

}  // namespace

TEST_CASE("a point on the receiver axis is imaged to the array's centre whatever the tilt", "[unit]") {
    scenario::Scenario s;
    for (const double tilt : {-40.0, 0.0, 25.0, 60.0}) {
        s.receiver.detector_tilt = tilt * degree;
        const receiver::Receiver r = support::receiver_of(s);
        for (const double through : {-1.0, 0.0, 1.0}) {
            const auto at = receiver::trace(r, {r.object_distance, 0.0, 0.0}, through * mm, 0.5 * mm);
            REQUIRE(at.has_value());
            CHECK(std::abs(at->u) < 1e-15);
            CHECK(std::abs(at->v) < 1e-15);
        }
    }
}

TEST_CASE("a nearer target moves the spot to a higher pixel, a farther one to a lower", "[unit]") {
    const receiver::Receiver r = support::receiver_of({});
    CHECK(receiver::image_position(r, -1.0 * mm).value() > 0.0);
    CHECK(receiver::image_position(r, 1.0 * mm).value() < 0.0);
    CHECK(receiver::pixel_of(r, 0.0) == 511.5);
    CHECK(receiver::u_of_pixel(r, receiver::pixel_of(r, 1.23 * mm)) == Approx(1.23 * mm).epsilon(1e-12));
}

TEST_CASE("displacement_at undoes image_position for any emitter and receiver angle", "[unit]") {
    for (const double emitter_angle : {-30.0, -10.0, 0.0, 15.0}) {
        for (const double between : {20.0, 35.0, 60.0}) {
            scenario::Scenario s;
            s.emitter.angle = emitter_angle * degree;
            s.receiver.angle = (emitter_angle + between) * degree;
            const receiver::Receiver r = support::receiver_of(s);
            for (double d = -4.0 * mm; d <= 4.0 * mm; d += 0.7 * mm) {
                const auto u = receiver::image_position(r, d);
                REQUIRE(u.has_value());
                // Some thirty operations of 1.1e-16 on lengths of 50 mm.
                CHECK(std::abs(receiver::displacement_at(r, *u) - d) < 1e-15);
            }
        }
    }
}

TEST_CASE("sensitivity is the slope of the image position", "[unit]") {
    scenario::Scenario s;
    s.emitter.angle = -12.0 * degree;
    const receiver::Receiver r = support::receiver_of(s);
    constexpr double step = 1.0 * um;
    for (double d = -4.0 * mm; d <= 4.0 * mm; d += 0.5 * mm) {
        const double slope =
            (receiver::image_position(r, d + step).value() - receiver::image_position(r, d - step).value()) /
            (2.0 * step);
        // Central difference: step^2 over the square of some 30 mm, 1e-9; rounding 1e-17 / 1e-6.
        CHECK(receiver::sensitivity_at(r, d) == Approx(-slope).epsilon(3e-9));
    }
}

TEST_CASE("a lens in the beam, or on its wrong side, does not stand clear of it", "[unit]") {
    scenario::Scenario s;
    CHECK(receiver::stands_clear_of_beam(support::receiver_of(s)));
    for (const double angle : {0.0, 1.0, -30.0}) {
        s.receiver.angle = angle * degree;
        CHECK_FALSE(receiver::stands_clear_of_beam(support::receiver_of(s)));
    }
    s.receiver.angle = 30.0 * degree;
    s.receiver.aperture = scenario::round_aperture(60.0 * mm);
    CHECK_FALSE(receiver::stands_clear_of_beam(support::receiver_of(s)));
}

TEST_CASE("the measurable range ends where the spot leaves the array", "[unit]") {
    const receiver::Receiver r = support::receiver_of({});
    const receiver::MeasurableRange range = receiver::measurable_range(r, 50.0 * mm);
    const double half = 512.0 * r.pitch;
    CHECK(receiver::image_position(r, range.near).value() == Approx(half).epsilon(1e-12));
    CHECK(receiver::image_position(r, range.far).value() == Approx(-half).epsilon(1e-12));
}

TEST_CASE("a part that would touch the lens limits the near range of a long array", "[unit]") {
    scenario::Scenario s;
    s.detector.pixels = 65536;
    s.receiver.detector_tilt = 0.0;
    const receiver::MeasurableRange range = receiver::measurable_range(support::receiver_of(s), 1.0);
    // Lowest point of the lens: a cos(theta) - D/2 sin(theta).
    CHECK(range.near == Approx(-(45.0 * std::cos(30.0 * degree) - 2.0 * std::sin(30.0 * degree)) * mm).epsilon(1e-12));
    CHECK(range.near_limit.find("aperture") != std::string::npos);
    CHECK(std::isinf(range.far));
}

TEST_CASE("the edge spread runs from nothing to all the light, evenly about the point", "[unit]") {
    const receiver::EdgeSpread edge_spread;
    CHECK(edge_spread(0.0) == Approx(0.5).margin(1e-9));
    double last = 0.0;
    for (double x = -60.0; x <= 60.0; x += 0.013) {
        const double e = edge_spread(x);
        CHECK(e >= last - 6e-5);  // the tail takes over from the table within its stated error
        CHECK(e + edge_spread(-x) == Approx(1.0).margin(1e-12));
        last = e;
    }
    CHECK(edge_spread(1e9) == Approx(1.0).margin(1e-9));
    CHECK(edge_spread(-1e9) == Approx(0.0).margin(1e-9));
}

TEST_CASE("the table of the edge spread meets its tail", "[unit]") {
    const receiver::EdgeSpread edge_spread;
    CHECK(std::abs(edge_spread(31.999) - edge_spread(32.001)) < 6e-5);
}

TEST_CASE("no more light reaches the pixels than the aperture collects", "[unit]") {
    const Bench bench{scenario::Scenario{}};
    for (double d = -5.0 * mm; d <= 5.0 * mm; d += 1.0 * mm) {
        const receiver::Profile profile = bench.profile(d);
        CHECK(profile.received_power > 0.0);
        CHECK(profile.received_power < profile.collected_power);
        const double electrons = profile.received_power * 0.35 / base::photon_energy(655.0 * nm);
        CHECK(sum_of(profile) == Approx(electrons).epsilon(1e-5));  // float pixels
    }
}

TEST_CASE("light beside a low array is lost, and all of it is back on a tall one", "[unit]") {
    scenario::Scenario s;
    const auto share = [&s](double height) {
        s.detector.height = height;
        const receiver::Profile profile = Bench(s).profile(0.0);
        return profile.received_power / profile.collected_power;
    };
    // 1/e^2 radius of the image is 26.7 um: a slit of +-5 um takes about erf(sqrt(2) 5 / 26.7) = 0.29.
    CHECK(share(10.0 * um) == Approx(0.29).margin(0.02));
    CHECK(share(60.0 * um) > 0.92);
    CHECK(share(1.0 * mm) > share(60.0 * um));
    CHECK(share(1.0 * mm) > 0.99);
}

TEST_CASE("the chosen number of rays gives the profile of a far finer one", "[unit]") {
    constexpr receiver::Tolerance exact{1e-5, 1e-4};
    scenario::Scenario s;
    const auto tilt = GENERATE(0.0, 49.1);
    s.receiver.detector_tilt = tilt * degree;
    const Bench bench{s};
    for (const double d : {-4.5 * mm, 0.0, 3.3 * mm}) {
        const receiver::Profile chosen = bench.profile(d);
        const receiver::Profile finer = bench.profile(d, exact);
        const float highest = highest_of(finer);
        double worst = 0.0;
        for (std::size_t k = 0; k < finer.rate.size(); ++k) {
            worst = std::max(worst, static_cast<double>(std::abs(chosen.rate[k] - finer.rate[k]) / highest));
        }
        INFO("displacement " << d << ", tilt " << tilt);
        // Some hundred rays to a pixel leave some thousandths of the brightest; out of focus, where a pixel takes rays
        // of many places of the aperture, a hundredth or two.
        CHECK(worst < (tilt == 0.0 ? 2e-2 : 1e-2));
        CHECK(std::abs(*receiver::centroid_of(chosen) - *receiver::centroid_of(finer)) < 2e-3);
    }
}

TEST_CASE("the spot's centre nears the closed form as the square of the beam's radius", "[unit]") {
    // sigma^2 times the gradient of brightness across the spot: halving the radius leaves a quarter.
    scenario::Scenario s;
    s.detector.pitch = 0.5 * um;
    s.detector.pixels = 16384;
    s.detector.height = 2.0 * mm;
    s.emitter.beam_quality = 1.0;
    const auto error = [&s](double radius) {
        s.emitter.waist_radius = {radius, radius};
        const Bench bench{s};
        return spot_centre(bench, 0.0) - receiver::image_position(bench.receiver, 0.0).value();
    };
    const double coarse = error(160.0 * um);
    const double fine = error(80.0 * um);
    CHECK(std::abs(coarse) > 0.02 * um);
    CHECK(coarse / fine == Approx(4.0).margin(0.4));  // diffraction adds a share that does not shrink
}

TEST_CASE("without Scheimpflug's tilt the spot is wider at the ends of the range and alike at its centre", "[unit]") {
    scenario::Scenario square;
    square.receiver.detector_tilt = 0.0;
    const Bench tilted{scenario::Scenario{}};
    const Bench flat{square};
    const auto width = [](const Bench& bench, double d) {
        const receiver::Profile profile = bench.profile(d);
        const float half = 0.5F * highest_of(profile);
        return std::count_if(profile.rate.begin(), profile.rate.end(), [half](float v) { return v > half; });
    };
    CHECK(width(flat, -4.0 * mm) > 2 * width(tilted, -4.0 * mm));
    CHECK(width(flat, 4.0 * mm) > 2 * width(tilted, 4.0 * mm));
    CHECK(std::abs(width(flat, 0.0) - width(tilted, 0.0)) <= 2);
}

TEST_CASE("a part seen from behind, or a beam that misses it, gives darkness and no nonsense", "[unit]") {
    const Bench bench{scenario::Scenario{}};
    const target::Part away = target::plane_through(Eigen::Vector3d::Zero(), -Eigen::Vector3d::UnitZ());
    const auto dark = receiver::image(bench.beam, away, white, bench.receiver, bench.edge_spread, 0.35);
    CHECK(sum_of(dark) == 0.0);
    CHECK_FALSE(receiver::centroid_of(dark).has_value());
    const auto behind = bench.profile(-60.0 * mm);  // beyond the emitter face
    CHECK(sum_of(behind) == 0.0);
    for (const double d : {-44.0 * mm, -39.0 * mm, 100.0 * mm, 1e4 * mm}) {
        for (const float rate : bench.profile(d).rate) CHECK((std::isfinite(rate) && rate >= 0.0F));
    }
}

TEST_CASE("turning part and sensor out of plane to either side gives the same profile", "[unit]") {
    scenario::Scenario s;
    s.target.tilt = {10.0 * degree, 20.0 * degree};
    const Bench left{s};
    s.target.tilt[1] = -20.0 * degree;
    const Bench right{s};
    const auto a = left.profile(1.0 * mm);
    const auto b = right.profile(1.0 * mm);
    // As near as either is to a far finer image, see below.
    const float allowed = 1e-2F * highest_of(a);
    for (std::size_t k = 0; k < a.rate.size(); ++k) CHECK(std::abs(a.rate[k] - b.rate[k]) <= allowed);
}

TEST_CASE("ambient light grows with lux, reflectance and filter width, and vanishes without a light", "[unit]") {
    scenario::Scenario s;
    const receiver::Receiver r = support::receiver_of(s);
    const double base_rate = support::ambient_rate(s, r, 0.5);
    CHECK(base_rate > 0.0);
    CHECK(support::ambient_rate(s, r, 1.0) == Approx(2.0 * base_rate).epsilon(1e-12));
    s.surroundings.illuminance *= 3.0;
    CHECK(support::ambient_rate(s, r, 0.5) == Approx(3.0 * base_rate).epsilon(1e-12));
    s.receiver.filter_width *= 0.5;
    // A filter half as wide passes half, but for the bend of the spectrum.
    CHECK(support::ambient_rate(s, r, 0.5) == Approx(1.5 * base_rate).epsilon(1e-2));
    s.surroundings.light = scenario::Light::none;
    CHECK(support::ambient_rate(s, r, 0.5) == 0.0);
}
