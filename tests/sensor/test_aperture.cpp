// The stop at the lens, round or rectangular: what it collects, cuts off, blurs and diffracts.
#include <catch2/catch.hpp>

#include <boost/math/quadrature/gauss_kronrod.hpp>

#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/receiver/ambient.hpp"
#include "sim/receiver/image.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/sensor/stations.hpp"
#include "tests/support/stations.hpp"

using namespace spotwright;
using base::mm, base::um, base::degree;
using receiver::Aperture;
using receiver::ApertureShape;

namespace {

constexpr Aperture slot{ApertureShape::rectangular, 8.0 * mm, 2.0 * mm};

scenario::Scenario part(const std::string& material, const std::vector<std::string>& settings) {
    return scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "t", settings);
}

scenario::Scenario specular(const std::string& aperture) {
    return part("mirror", {"emitter.angle_deg=-30", "mount.range_mm=[-1, 1]", "receiver.aperture_mm=" + aperture});
}

receiver::Profile profile_of(const scenario::Scenario& s, const target::Surface& surface,
                             const receiver::Tolerance& tolerance = {}) {
    static const receiver::EdgeSpread of_round(ApertureShape::round);
    static const receiver::EdgeSpread of_rectangular(ApertureShape::rectangular);
    const bool round = s.receiver.aperture.shape == ApertureShape::round;
    return receiver::image(sensor::beam_of(s), sensor::part_of(s, s.target.displacement), surface,
                           sensor::receiver_of(s), round ? of_round : of_rectangular, 0.35, tolerance);
}

// Share of the beam's power that a white Lambert part sends through the aperture.
double collected_share(const std::string& aperture) {
    const scenario::Scenario s = part("white-ceramic", {"receiver.aperture_mm=" + aperture});
    return profile_of(s, {1.0, 0.0}).collected_power / (s.emitter.power * s.receiver.transmission);
}

// Light of sinc^2 between 0 and x.
double sinc_squared_to(double x) {
    const auto sinc_squared = [](double t) {
        const double a = base::pi * t;
        return a == 0.0 ? 1.0 : std::sin(a) * std::sin(a) / (a * a);
    };
    double sum = 0.0;
    for (double from = 0.0; from < x; from += 1.0) {
        sum += boost::math::quadrature::gauss_kronrod<double, 31>::integrate(sinc_squared, from,
                                                                             std::min(from + 1.0, x), 0);
    }
    return sum;
}

// Where the profile rises and falls through half of its highest pixel, linear between pixels. [px]
std::pair<double, double> half_heights(const receiver::Profile& profile) {
    const auto& rate = profile.rate;
    const float half = 0.5F * *std::max_element(rate.begin(), rate.end());
    std::size_t first = 0;
    while (rate[first] < half) ++first;
    std::size_t last = rate.size() - 1;
    while (rate[last] < half) --last;
    const auto crossing = [&](std::size_t inside, std::size_t outside) {
        const double share = static_cast<double>((rate[inside] - half) / (rate[inside] - rate[outside]));
        return static_cast<double>(inside) + share * (static_cast<double>(outside) - static_cast<double>(inside));
    };
    return {crossing(first, first - 1), crossing(last, last + 1)};
}

}  // namespace

TEST_CASE("a ray passes a rectangular stop between its sides and a round one within its radius", "[aperture][unit]") {
    CHECK(receiver::passes(slot, 7.9 * mm, -1.9 * mm));
    CHECK(receiver::passes(slot, -8.0 * mm, 2.0 * mm));
    CHECK_FALSE(receiver::passes(slot, 8.1 * mm, 0.0));
    CHECK_FALSE(receiver::passes(slot, 0.0, -2.1 * mm));
    const Aperture disc{ApertureShape::round, 2.0 * mm, 2.0 * mm};
    CHECK(receiver::passes(disc, 1.4 * mm, -1.4 * mm));
    CHECK_FALSE(receiver::passes(disc, 1.5 * mm, 1.5 * mm));
}

TEST_CASE("evenly spread numbers become places spread evenly over the aperture", "[aperture][unit]") {
    const Aperture disc{ApertureShape::round, 3.0 * mm, 3.0 * mm};
    for (const Aperture& aperture : {slot, disc}) {
        constexpr int side = 400;
        double in_plane = 0.0;
        double out_of_plane = 0.0;
        for (int i = 0; i < side; ++i) {
            for (int k = 0; k < side; ++k) {
                const receiver::AperturePoint p =
                    receiver::aperture_point(aperture, (i + 0.5) / side, (k + 0.5) / side);
                CHECK(receiver::passes(aperture, p.in_plane, p.out_of_plane));
                CHECK(p.area == receiver::area_of(aperture));
                in_plane += p.in_plane * p.in_plane / (side * side);
                out_of_plane += p.out_of_plane * p.out_of_plane / (side * side);
            }
        }
        // Mean square of a side 2h: h^2 / 3; of a disc about a diameter: R^2 / 4. Midpoints err by 4 / side^2: going up
        // and down takes every place twice.
        const double share = aperture.shape == ApertureShape::round ? 0.25 : 1.0 / 3.0;
        CHECK(in_plane == Approx(share * std::pow(aperture.half_in_plane, 2)).epsilon(8.0 / (side * side)));
        CHECK(out_of_plane == Approx(share * std::pow(aperture.half_out_of_plane, 2)).epsilon(8.0 / (side * side)));
    }
    CHECK(receiver::area_of(slot) == Approx(64.0 * mm * mm).epsilon(1e-14));
}

TEST_CASE("the configuration factor of a rectangle is its projected solid angle over pi", "[aperture][unit]") {
    constexpr double distance = 20.0 * mm;
    using Rule = boost::math::quadrature::gauss_kronrod<double, 31>;
    // cos^2 / (pi d^2) over the opening, from a face on its axis; Gauss-Kronrod to rounding.
    const auto sum_over_y = [](double x) {
        return Rule::integrate(
            [x](double y) {
                const double square = x * x + y * y + distance * distance;
                return distance * distance / (base::pi * square * square);
            },
            -slot.half_out_of_plane, slot.half_out_of_plane, 0);
    };
    const double sum = Rule::integrate(sum_over_y, -slot.half_in_plane, slot.half_in_plane, 4, 1e-13);
    CHECK(receiver::configuration_factor(slot, distance) == Approx(sum).epsilon(1e-11));
    const Aperture turned{ApertureShape::rectangular, slot.half_out_of_plane, slot.half_in_plane};
    CHECK(receiver::configuration_factor(turned, distance) == Approx(sum).epsilon(1e-11));
    // A window that fills the half-space takes all.
    CHECK(receiver::configuration_factor({ApertureShape::rectangular, 1e6, 1e6}, distance) == Approx(1.0));
}

TEST_CASE("a rectangle collects from a matt part by its configuration factor, and so by its area",
          "[aperture][physics]") {
    for (const auto& [aperture, half_widths] :
         std::vector<std::pair<std::string, std::array<double, 2>>>{{"[16, 4]", {8.0 * mm, 2.0 * mm}},
                                                                    {"[4, 16]", {2.0 * mm, 8.0 * mm}},
                                                                    {"[0.5, 0.25]", {0.25 * mm, 0.125 * mm}}}) {
        INFO(aperture);
        // Lambert's law from a point, cos(30 deg) F; the spot's size and lit side add some 1e-5 (see
        // light.lambert_aperture).
        const double expected =
            std::cos(30.0 * degree) *
            receiver::configuration_factor({ApertureShape::rectangular, half_widths[0], half_widths[1]}, 45.0 * mm);
        CHECK(collected_share(aperture) == Approx(expected).epsilon(1e-4));
    }
    // 16 times the area, and half-angles below 1.3 deg: 5e-4 at most of their squares.
    CHECK(collected_share("[2, 1]") / collected_share("[0.5, 0.25]") == Approx(16.0).epsilon(5e-4));
}

TEST_CASE("a rectangle collects as much as a round stop of its area, to second order in the half-angle",
          "[aperture][physics]") {
    // The share of an element at r from the axis is 1 - 2 r^2 / a^2 of the central one's: cos^4 on the lens's side, the
    // cosine on the part's side cancels in opposite places to that order. Mean r^2 of a rectangle is (h_x^2 + h_y^2) /
    // 3, of a disc R^2 / 2. Next order: 3 <r^4> / a^4, 6e-4 for the widest.
    const auto deficit = [](double width, double height) {
        const double round = collected_share(std::to_string(2.0 * std::sqrt(width * height / base::pi)));
        return 1.0 - collected_share("[" + std::to_string(width) + ", " + std::to_string(height) + "]") / round;
    };
    const auto expected = [](double width, double height) {
        const double of_rectangle = (width * width + height * height) / 12.0;
        const double of_disc = width * height / (2.0 * base::pi);
        return 2.0 * (of_rectangle - of_disc) / (45.0 * 45.0);
    };
    CHECK(deficit(16.0, 4.0) == Approx(expected(16.0, 4.0)).margin(7e-4));
    CHECK(expected(16.0, 4.0) > 0.01);
    CHECK(deficit(4.0, 4.0) == Approx(expected(4.0, 4.0)).margin(2e-5));
}

TEST_CASE("ambient light falls through a rectangle by its configuration factor from the image", "[aperture][physics]") {
    const auto rate = [](const std::string& aperture) {
        const scenario::Scenario s = part("white-ceramic", {"receiver.aperture_mm=" + aperture});
        return support::ambient_rate(s, sensor::receiver_of(s), 0.5);
    };
    const double image_distance = sensor::receiver_of({}).image_distance;
    const double sine = std::sin(std::atan(2.0 * mm / image_distance));
    CHECK(rate("[16, 4]") / rate("4.0") ==
          Approx(receiver::configuration_factor(slot, image_distance) / (sine * sine)).epsilon(1e-12));
}

TEST_CASE("the edge spread of a rectangular aperture is the integral of sinc^2", "[aperture][published]") {
    // Line spread of a slit: M. Born, E. Wolf, Principles of Optics, ch. 8, integrated across. Errors as the header
    // states them.
    const receiver::EdgeSpread edge_spread(ApertureShape::rectangular);
    for (double x = 0.0; x < 24.0; x += 0.0371) {
        INFO(x);
        CHECK(std::abs(edge_spread(x) - 0.5 - sinc_squared_to(x)) < 2e-6);
        CHECK(edge_spread(x) + edge_spread(-x) == Approx(1.0).margin(1e-12));
    }
    for (const double x : {24.0, 24.25, 31.7, 100.3}) {
        INFO(x);
        CHECK(std::abs(edge_spread(x) - 0.5 - sinc_squared_to(x)) < 5e-5);
    }
    CHECK(edge_spread(1e9) == Approx(1.0).margin(1e-9));
}

TEST_CASE("the image of a point through a slot is sinc^2, dark at lambda b over the width in the plane",
          "[aperture][physics]") {
    for (const auto& [aperture, width] :
         std::vector<std::pair<std::string, double>>{{"[1, 3]", 1.0 * mm}, {"[3, 1]", 3.0 * mm}}) {
        INFO(aperture);
        const scenario::Scenario s =
            part("white-ceramic", {"receiver.aperture_mm=" + aperture, "emitter.waist_radius_um=[1, 1]",
                                   "emitter.beam_quality=1", "receiver.detector_tilt_deg=0", "detector.pitch_um=1",
                                   "detector.pixels=255", "detector.height_um=5000"});
        const double image_distance = sensor::receiver_of(s).image_distance;
        const double scale = s.emitter.wavelength * image_distance / width;  // 19.65 and 6.55 um
        const receiver::Profile profile = profile_of(s, {1.0, 0.0});
        const auto share_between = [&](double from, double to) {
            const auto signed_share = [&](double x) { return std::copysign(sinc_squared_to(std::abs(x) / scale), x); };
            return signed_share(to) - signed_share(from);
        };
        const double central = share_between(-0.5 * um, 0.5 * um);
        for (int k = -60; k <= 60; ++k) {
            INFO(k);
            const double expected = share_between((k - 0.5) * um, (k + 0.5) * um) / central;
            const double got = static_cast<double>(profile.rate[static_cast<std::size_t>(127 + k)] / profile.rate[127]);
            // The image of the waist adds a variance of (0.33 um)^2 and the grid of 1/8 px next to nothing: half the
            // second derivative, 2 pi^2 / 3 over the scale squared, times that, twice: 1.7e-2 of the peak for 6.55 um.
            CHECK(std::abs(got - expected) < 7.0 * std::pow(0.33 * um / scale, 2));
        }
        const auto dark = static_cast<std::size_t>(std::lround(127.0 + scale / um));
        CHECK(profile.rate[dark] < 0.02F * profile.rate[127]);
    }
}

TEST_CASE("across the array light spreads by the width out of the plane", "[aperture][physics]") {
    for (const auto& [aperture, width] :
         std::vector<std::pair<std::string, double>>{{"[1, 3]", 3.0 * mm}, {"[3, 1]", 1.0 * mm}}) {
        INFO(aperture);
        const scenario::Scenario s =
            part("white-ceramic",
                 {"receiver.aperture_mm=" + aperture, "emitter.waist_radius_um=[1, 1]", "emitter.beam_quality=1",
                  "receiver.detector_tilt_deg=0", "detector.pixels=16384", "detector.height_um=10"});
        const double scale = s.emitter.wavelength * sensor::receiver_of(s).image_distance / width;
        const receiver::Profile profile = profile_of(s, {1.0, 0.0});
        // The spot's image, (0.33 um)^2 of variance, moves light across the two edges: next to nothing. The array is
        // 11 cm long: 1 / (pi^2 x) with x = 57 mm / 20 um, 4e-5, is beyond its ends.
        CHECK(profile.received_power / profile.collected_power ==
              Approx(2.0 * sinc_squared_to(5.0 * um / scale)).margin(3e-3));
    }
}

TEST_CASE("a slot defocuses by its width in the plane, whatever the other", "[aperture][physics]") {
    const auto edges = [](const std::string& aperture) {
        const scenario::Scenario s =
            part("white-ceramic", {"receiver.aperture_mm=" + aperture, "receiver.detector_tilt_deg=0",
                                   "target.displacement_mm=-4", "emitter.waist_radius_um=[10, 10]"});
        return half_heights(profile_of(s, {1.0, 0.0}));
    };
    // Rays through both sides; the blur is a box, and the image of the spot leaves its half heights where they are.
    const receiver::Receiver r = sensor::receiver_of(part("white-ceramic", {"receiver.detector_tilt_deg=0"}));
    const receiver::ReceiverPoint lit = receiver::to_receiver(r, {0.0, 0.0, 4.0 * mm});
    const auto pixel = [&](double in_plane) {
        return receiver::pixel_of(r, receiver::trace(r, lit, in_plane, 0.0).value().u);
    };
    const double expected = std::abs(pixel(4.0 * mm) - pixel(-4.0 * mm));
    const auto [first, last] = edges("[8, 1]");
    // The light grows by 6 % from one side of the box to the other, so half of the highest pixel is not half of either
    // edge: up to 6 % of the edges' own width, that of a spot of 100 um.
    CHECK(last - first == Approx(expected).epsilon(0.02));
    CHECK(expected > 50.0);
    const auto [first_tall, last_tall] = edges("[8, 4]");
    CHECK(last_tall - first_tall == Approx(last - first).epsilon(0.01));
    const auto [first_narrow, last_narrow] = edges("[1, 8]");
    CHECK(last_narrow - first_narrow < 0.4 * expected);
}

TEST_CASE("a tilted mirror loses a slot at half of the half-angle of the side that it tilts along",
          "[aperture][physics]") {
    const auto share = [](const std::string& aperture, double in_plane, double out_of_plane) {
        scenario::Scenario s = specular(aperture);
        const target::Surface mirror = target::make_surface(s.target.made_of, s.emitter.wavelength);
        const double square = profile_of(s, mirror).collected_power;
        s.target.tilt = {in_plane * degree, out_of_plane * degree};
        return profile_of(s, mirror).collected_power / square;
    };
    // In the plane a tilt turns the light by twice itself, out of it by 2 cos(30 deg) of itself. Half is left where the
    // beam's axis meets the edge: atan(2 mm / 45 mm) = 2.545 deg and 1.272 deg of tilt in the plane for a width of 4
    // mm; atan(0.6 / 45) = 0.764 deg, 0.382 deg of tilt in the plane and 0.441 deg out of it for 1.2 mm. At the lens
    // the beam's radius is 0.26 mm: 0.08 deg of tilt moves the edge by half a radius, a share of 0.34.
    constexpr double half = 0.5;
    constexpr double tolerance = 0.05;  // 0.01 deg of tilt
    CHECK(share("[4, 1.2]", 1.272, 0.0) == Approx(half).margin(tolerance));
    CHECK(share("[4, 1.2]", 0.0, 0.441) == Approx(half).margin(tolerance));
    CHECK(share("[1.2, 4]", 0.382, 0.0) == Approx(half).margin(tolerance));
    CHECK(share("[4, 1.2]", 0.9, 0.0) > 0.999);
    CHECK(share("[4, 1.2]", -1.9, 0.0) < 1e-3);
    CHECK(share("[4, 1.2]", 0.0, 0.9) < 1e-3);
    CHECK(share("[1.2, 4]", 0.9, 0.0) < 1e-3);
    CHECK(share("[1.2, 4]", 0.0, 0.9) > 0.999);
}

TEST_CASE("the chosen number of rays through a slot gives the profile of a far finer one", "[aperture][convergence]") {
    const auto compare = [](const scenario::Scenario& s) {
        const target::Surface surface = target::make_surface(s.target.made_of, s.emitter.wavelength);
        const receiver::Profile chosen = profile_of(s, surface);
        const receiver::Profile finer = profile_of(s, surface, receiver::Tolerance{1e-5, 1e-4});
        const float highest = *std::max_element(finer.rate.begin(), finer.rate.end());
        double worst = 0.0;
        for (std::size_t k = 0; k < finer.rate.size(); ++k) {
            worst = std::max(worst, static_cast<double>(std::abs(chosen.rate[k] - finer.rate[k]) / highest));
        }
        // As for a round aperture out of focus (see the test of the receiver).
        CHECK(worst < 2e-2);
        CHECK(std::abs(*receiver::centroid_of(chosen) - *receiver::centroid_of(finer)) < 2e-3);
    };
    for (const char* aperture : {"[8, 1]", "[1, 8]"}) {
        for (const char* tilt : {"0", "49.1"}) {
            INFO(aperture << " and an array tilted by " << tilt);
            compare(part("white-ceramic", {std::string("receiver.aperture_mm=") + aperture,
                                           std::string("receiver.detector_tilt_deg=") + tilt,
                                           "target.displacement_mm=-4.5", "target.tilt_deg=[10, 0]"}));
        }
    }
    for (const char* aperture : {"[6, 1]", "[1, 6]"}) {
        INFO(aperture << " in the lobe of blasted steel");
        compare(part("blasted-steel", {std::string("receiver.aperture_mm=") + aperture, "target.tilt_deg=[13, 1]"}));
    }
}

TEST_CASE("an edge spread of another shape of aperture is refused", "[aperture][unit]") {
    const receiver::Receiver r = sensor::receiver_of(part("white-ceramic", {"receiver.aperture_mm=[4, 2]"}));
    const receiver::EdgeSpread of_round;
    CHECK_THROWS_AS(receiver::Gatherer(r, of_round, {1.0 * um, 1.0 * um}), base::InternalError);
}

TEST_CASE("light is spread along the array as each ray by itself, near and far", "[aperture][image][unit]") {
    for (const std::string aperture : {"4", "[4, 2]"}) {
        const receiver::Receiver r = sensor::receiver_of(part("white-ceramic", {"receiver.aperture_mm=" + aperture}));
        const receiver::EdgeSpread spread(r.aperture.shape);
        const receiver::DiffractionScale scale{9.0 * um, 11.0 * um};
        // A bright piece of 90 pixels, a faint one at the array's end and a ray beyond it; none at a place of the grid.
        std::vector<receiver::ArrayPoint> rays;
        for (int i = 0; i < 40; ++i) rays.push_back({(-60.0 + 2.29 * i) * r.pitch, 0.3 * i * um});
        for (int i = 0; i < 5; ++i) rays.push_back({(500.3 + 3.07 * i) * r.pitch, -2.0 * i * um});
        receiver::Gatherer gatherer(r, spread, scale);
        for (const receiver::ArrayPoint& at : rays) gatherer.add(at, 1e-6);
        const double shift = 0.37 * r.pitch;
        const receiver::Profile found = gatherer.profile(655e-9, 1.0, shift);
        const double per_watt = 1.0 / base::photon_energy(655e-9);
        double found_in_twenty = 0.0;
        double wanted_in_twenty = 0.0;
        for (std::size_t k = 0; k < found.rate.size(); ++k) {
            const double edge = receiver::u_of_pixel(r, static_cast<double>(k)) - 0.5 * r.pitch;
            double wanted = 0.0;
            for (const receiver::ArrayPoint& at : rays) {
                const double x = (edge - at.u - shift) / scale.along_array;
                wanted += 1e-6 * per_watt *
                          spread.share(x, x + r.pitch / scale.along_array, (-0.5 * r.height - at.v) / scale.across,
                                       (0.5 * r.height - at.v) / scale.across);
            }
            INFO(aperture << " pixel " << k);
            // Two neighbours of a grid of eighths of a pixel share a ray: an eighth squared of the pattern's curvature,
            // which ripples with the diffraction scale.
            CHECK(found.rate[k] == Approx(wanted).epsilon(0.02).margin(2e-9 * per_watt));
            found_in_twenty += static_cast<double>(found.rate[k]);
            wanted_in_twenty += wanted;
            if (k % 20 != 19) continue;
            // Away from all rays ripples cancel; a place stands for light up to half a pixel around it, at 40 pixels
            // and more: 2 x 0.5^2 / 40^2, and what is left of the ripples.
            if (k < 410) CHECK(found_in_twenty == Approx(wanted_in_twenty).epsilon(0.002));
            found_in_twenty = wanted_in_twenty = 0.0;
        }
    }
}

TEST_CASE("numerical aperture, clearance of the beam and near limit go by the width in the plane", "[aperture][unit]") {
    const auto layout = [](const std::string& aperture) {
        return sensor::make_layout(part("white-ceramic", {"receiver.aperture_mm=" + aperture}));
    };
    CHECK(layout("[4, 1]").object_side_na == layout("4").object_side_na);
    CHECK(layout("[1, 4]").object_side_na == layout("1").object_side_na);
    const auto near_limit = [](const std::string& aperture) {
        const scenario::Scenario s = part("white-ceramic", {"receiver.aperture_mm=" + aperture, "detector.pixels=65536",
                                                            "receiver.detector_tilt_deg=0"});
        return receiver::measurable_range(sensor::receiver_of(s), 1.0).near;
    };
    CHECK(near_limit("[4, 1]") == near_limit("4"));
    CHECK_NOTHROW(layout("[4, 60]"));
    CHECK_THROWS_AS(layout("[60, 4]"), base::ScenarioError);
}

TEST_CASE("the speckle limit of a rectangle goes by the root of both widths, as its correlation area",
          "[aperture][physics]") {
    const auto limit = [](const std::string& aperture) {
        return sensor::make_layout(part("white-ceramic", {"receiver.aperture_mm=" + aperture})).speckle_limit;
    };
    // sin(atan(h / a)) is h / a but for half of (2 / 45)^2, 1e-3.
    CHECK(limit("[4, 1]") / limit("[4, 4]") == Approx(2.0).epsilon(1e-3));
    CHECK(limit("[1, 4]") == Approx(limit("[4, 1]")).epsilon(1e-12));
    // A square pupil has 4 / pi of the round one's area.
    CHECK(limit("[4, 4]") / limit("4") == Approx(std::sqrt(base::pi / 4.0)).epsilon(1e-12));
}

TEST_CASE("an aperture below a micrometre is refused: no light and no drawing would come of it", "[aperture][unit]") {
    for (const char* aperture : {"1.138e-159", "0.00099", "[4, 1e-300]"}) {
        CHECK_THROWS_AS(part("white-ceramic", {std::string("receiver.aperture_mm=") + aperture}), base::ScenarioError);
    }
    CHECK_NOTHROW(part("white-ceramic", {"receiver.aperture_mm=0.001"}));
}
