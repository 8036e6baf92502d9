// The ray model against the spot model, and against what only it can do.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/receiver/image.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/target/sample.hpp"
#include "tests/support/stations.hpp"

using namespace spotwright;
using base::mm, base::um, base::degree;
using Eigen::Vector3d;

namespace {

scenario::Scenario part(const std::string& material, const std::vector<std::string>& settings) {
    return scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "t", settings);
}

std::vector<std::string> specular(std::vector<std::string> more) {
    more.insert(more.end(), {"emitter.angle_deg=-30", "mount.range_mm=[-1, 1]"});
    return more;
}

struct Bench {
    explicit Bench(const scenario::Scenario& s)
        : beam(support::beam_of(s)),
          target(support::part_of(s, s.target.displacement)),
          surface(target::make_opaque_surface(s.target.made_of, s.emitter.wavelength)),
          receiver(support::receiver_of(s)),
          edge_spread(receiver.aperture.shape) {
        surface.lay = target::lay_direction(s.target, s.mount);
    }
    [[nodiscard]] receiver::Profile spot() const {
        return receiver::image(beam, target, surface, receiver, edge_spread, 0.35);
    }
    [[nodiscard]] receiver::RayImage rays(std::int64_t count, std::uint64_t seed = 1, int threads = 2) const {
        return receiver::trace_rays(beam, target, surface, receiver, edge_spread, 0.35, {count, seed, threads});
    }

    emitter::Beam beam;
    target::Part target;
    target::Surface surface;
    receiver::Receiver receiver;
    receiver::EdgeSpread edge_spread;
};

struct Estimate {
    double mean = 0.0;
    double error = 0.0;
};

// Mean over the batches of something that each of them gives, and its standard error.
template <class Value>
Estimate over_batches(const receiver::RayImage& image, Value value) {
    double sum = 0.0;
    double squares = 0.0;
    for (const receiver::Profile& batch : image.batches) {
        const double v = value(batch);
        sum += v;
        squares += v * v;
    }
    const auto n = static_cast<double>(image.batches.size());
    const double mean = sum / n;
    return {mean, std::sqrt(std::max(squares / n - mean * mean, 0.0) / (n - 1.0))};
}

Estimate power(const receiver::RayImage& image) {
    return over_batches(image, [](const receiver::Profile& p) { return p.collected_power; });
}

Estimate centroid(const receiver::RayImage& image) {
    return over_batches(image, [](const receiver::Profile& p) { return receiver::centroid_of(p).value(); });
}

}  // namespace

TEST_CASE("rays agree with the spot model within their own standard error where light meets the part once",
          "[ray][physics][statistical][slow]") {
    const std::vector<std::pair<std::string, std::vector<std::string>>> cases{
        {"white-ceramic", {}},
        {"black-rubber", {"target.displacement_mm=3"}},
        {"white-glossy-paint", {"target.tilt_deg=[13, 2]"}},
        {"blasted-steel", {"target.tilt_deg=[-8, 0]"}},
        {"ground-steel", {"target.tilt_deg=[12, 0]", "target.lay_deg=90"}},
        {"mirror", specular({"target.tilt_deg=[0.4, 0.2]", "target.displacement_mm=0.3"})},
        {"polished-steel", specular({"target.displacement_mm=-0.3"})},
        {"white-ceramic", {"target.shape=cylinder", "target.cylinder.radius_mm=3", "target.cylinder.position_mm=1"}},
        {"chrome-plated", specular({"target.shape=cylinder", "target.cylinder.radius_mm=20"})},
    };
    for (const auto& [material, settings] : cases) {
        INFO(material << ' ' << (settings.empty() ? "" : settings.front()));
        const Bench bench(part(material, settings));
        const receiver::Profile spot = bench.spot();
        const receiver::RayImage rays = bench.rays(400000);
        // 16 batches: the error itself is known to a fifth, and 5 of it are passed once in ten thousand checks. What
        // the quadrature leaves (1e-4 of the power, 0.003 px) is added.
        const Estimate all = power(rays);
        CHECK(std::abs(all.mean - spot.collected_power) < 5.0 * all.error + 2e-3 * spot.collected_power);
        const Estimate place = centroid(rays);
        CHECK(std::abs(place.mean - receiver::centroid_of(spot).value()) < 5.0 * place.error + 0.003);
        CHECK(all.error < 0.03 * all.mean);
    }
}

TEST_CASE("rays agree with the spot model through a rectangular aperture too, also where its edge cuts the light off",
          "[ray][physics][statistical][aperture][slow]") {
    const std::vector<std::pair<std::string, std::vector<std::string>>> cases{
        {"white-ceramic", {"receiver.aperture_mm=[6, 1.5]", "target.displacement_mm=2", "target.tilt_deg=[10, 5]"}},
        {"ground-steel", {"receiver.aperture_mm=[1.5, 6]", "target.tilt_deg=[12, 0]", "target.lay_deg=90"}},
        {"mirror", specular({"receiver.aperture_mm=[3, 5]", "target.tilt_deg=[0.9, 0.2]"})},
        {"mirror", specular({"receiver.aperture_mm=[5, 3]", "target.tilt_deg=[0.1, 1.0]"})},
    };
    for (const auto& [material, settings] : cases) {
        INFO(material << ' ' << settings.front());
        const Bench bench(part(material, settings));
        const receiver::Profile spot = bench.spot();
        const receiver::RayImage rays = bench.rays(100000);
        // As above. Where an edge cuts the mirrored beam, its rays pass or miss in rows: 12 offsets and 48 directions
        // of an axis make 576 unequal steps, the largest some 0.5 %; 48 against 97 directions, 0.5 % of the power and
        // 0.01 px.
        const bool cut = material == "mirror";
        const double nodes = cut ? 5e-3 : 2e-3;
        const Estimate all = power(rays);
        CHECK(std::abs(all.mean - spot.collected_power) < 5.0 * all.error + nodes * spot.collected_power);
        const Estimate place = centroid(rays);
        CHECK(std::abs(place.mean - receiver::centroid_of(spot).value()) < 5.0 * place.error + (cut ? 0.01 : 0.003));
        CHECK(all.error < 0.03 * all.mean);
    }
}

TEST_CASE("pixel by pixel the difference of two images by rays is noise of the variance that is told",
          "[ray][physics][statistical]") {
    const Bench bench(part("white-ceramic", {"target.tilt_deg=[20, 0]"}));
    const receiver::RayImage one = bench.rays(1 << 18, 1);
    const receiver::RayImage other = bench.rays(1 << 18, 2);
    double sum = 0.0;
    int count = 0;
    const float brightest = *std::max_element(one.profile.rate.begin(), one.profile.rate.end());
    for (std::size_t k = 0; k < one.profile.rate.size(); ++k) {
        if (one.profile.rate[k] < 0.05F * brightest) continue;
        const double z = static_cast<double>((one.profile.rate[k] - other.profile.rate[k]) /
                                             std::hypot(one.standard_error[k], other.standard_error[k]));
        sum += z * z;
        ++count;
    }
    REQUIRE(count >= 8);
    // Each error is known from 16 batches: a variance of about 30/28 for their sum, at most 15/13 were one of them far
    // larger. Neighbours share rays and diffraction, so no more than a quarter of the pixels count as independent: 5
    // sigma of the mean square. An error told too small by half would give 4.
    CHECK(sum / count < 15.0 / 13.0 + 5.0 * std::sqrt(2.0 / (0.25 * count)));
    CHECK(sum / count > 0.05);
}

TEST_CASE("pixel by pixel both models agree within a thousandth of the brightest", "[ray][physics][statistical]") {
    const Bench bench(part("white-ceramic", {"target.tilt_deg=[20, 0]"}));
    const receiver::Profile spot = bench.spot();
    const receiver::RayImage rays = bench.rays(1 << 18);
    const float brightest = *std::max_element(spot.rate.begin(), spot.rate.end());
    for (std::size_t k = 0; k < spot.rate.size(); ++k) {
        // 1e-3 is the error that the quadrature of the spot model may leave; that of the rays is 1e-5.
        CHECK(std::abs(rays.profile.rate[k] - spot.rate[k]) < 1e-3F * brightest + 5.0F * rays.standard_error[k]);
    }
}

TEST_CASE("the image by rays is the same whatever the thread count, and another for another seed", "[ray]") {
    const Bench bench(part("white-glossy-paint", {"target.shape=groove"}));
    const auto once = bench.rays(20000, 7, 1).profile.rate;
    CHECK(bench.rays(20000, 7, 3).profile.rate == once);
    CHECK(bench.rays(20000, 8, 1).profile.rate != once);
}

TEST_CASE("a hollow hemisphere lights itself as an integrating sphere does", "[ray][physics][published]") {
    // Any two places of a sphere see each other equally, so half of the light that the wall scatters falls on it again,
    // evenly: E = P rho / 2 / (1 - rho / 2) / (2 pi R^2). Seen from afar at theta the wall fills its opening, pi R^2
    // cos(theta). Against the light of the first scatter that is rho / (4 (1 - rho / 2)). Hand-derived from the theory
    // of the integrating sphere (J. A. Jacquez, H. F. Kuppenheim, JOSA 45, 460 (1955), from memory).
    scenario::Scenario s = part("white-ceramic", {"target.shape=sphere", "target.sphere.curvature=concave",
                                                  "target.sphere.radius_mm=0.25", "emitter.waist_radius_um=[20, 20]"});
    Bench bench(s);
    bench.surface.slope_deviation = 0.0;
    const double rho = bench.surface.reflectance;
    const double once = bench.spot().collected_power;
    const Estimate all = power(bench.rays(400000));
    // The lens is 45 mm away and not infinitely far; the wall is nearer to it than the bottom by some 0.3 R: 0.4 % of
    // the second part, 0.0014.
    CHECK(std::abs(all.mean / once - 1.0 - rho / (4.0 * (1.0 - rho / 2.0))) < 5.0 * all.error / once + 1.5e-3);
}

TEST_CASE("a polished groove shows a false peak where light has met both of its faces", "[ray][physics]") {
    // Two mirrors that open by 105 deg turn light by 210 deg, from straight down to 30 deg off the normal: along the
    // receiver's axis. For a beam that lands b beside the bottom on the left face, the plane geometry of two mirrors
    // gives where the last ray crosses; the spot model, which knows one meeting, sees nothing.
    constexpr double opening = 105.0 * degree;
    constexpr double beside = 0.3 * mm;
    scenario::Scenario s = part("mirror", {"target.shape=groove", "target.groove.opening_deg=105",
                                           "target.groove.depth_mm=2", "target.groove.position_mm=0.3"});
    Bench bench(s);
    bench.surface.gloss->haze.reset();  // the light of two mirrors alone
    CHECK(bench.spot().received_power < 1e-9 * bench.beam.power);
    const receiver::RayImage rays = bench.rays(50000);
    // Angles of incidence 37.5 and 67.5 deg (their sum is the opening); the aperture takes all of the narrow beam. The
    // beam's divergence of 5 mrad changes the reflectances in their third digit.
    const auto reflectance = [&bench](double angle) {
        return target::mirror_reflectance(bench.surface, {std::sin(angle), 0.0, std::cos(angle)}, Vector3d::UnitZ());
    };
    CHECK(rays.profile.collected_power / (bench.beam.power * 0.6) ==
          Approx(reflectance(37.5 * degree) * reflectance(67.5 * degree)).epsilon(3e-3));

    // Chief ray by hand, bottom of the groove at the origin of (x, z).
    const double half = opening / 2.0;
    const Eigen::Vector2d first(-beside, beside / std::tan(half));
    const Eigen::Vector2d normal(std::cos(half), std::sin(half));  // of the left face
    const Eigen::Vector2d other(-normal.x(), normal.y());          // of the right face
    const Eigen::Vector2d down(0.0, -1.0);
    const Eigen::Vector2d between = down - 2.0 * down.dot(normal) * normal;
    const double way = -first.dot(other) / between.dot(other);
    const Eigen::Vector2d second = first + way * between;
    const Eigen::Vector2d out = between - 2.0 * between.dot(other) * other;
    CHECK(out.x() == Approx(0.5));  // sin(30 deg)
    const Vector3d place(second.x() + 0.3 * mm, 0.0, second.y() - 2.0 * mm);
    const auto through = receiver::passage(bench.receiver, place, {out.x(), 0.0, out.y()});
    REQUIRE(through);
    const auto at =
        receiver::trace(bench.receiver, receiver::to_receiver(bench.receiver, place), through->x(), through->y());
    const Estimate centre = centroid(rays);
    // The array cuts off the wings of diffraction unevenly: 0.02 um as in the specular mount, and 0.1 px for the rays'
    // spread over the waist's image.
    CHECK(std::abs(centre.mean - receiver::pixel_of(bench.receiver, at->u)) < 5.0 * centre.error + 0.1);
}

TEST_CASE("directions drawn from a surface scatter as much as its distribution says", "[ray][target][statistical]") {
    // Mean weight = share scattered, the integral of f_r cos over the hemisphere, here by a fine grid.
    const std::vector<std::string> names{"white-ceramic", "white-glossy-paint", "ground-steel", "turned-steel",
                                         "solder"};
    for (const std::string& name : names) {
        INFO(name);
        const target::Surface surface = target::make_opaque_surface(scenario::library_material(name), 655e-9);
        const Vector3d to_light = Vector3d(0.4, -0.2, 0.9).normalized();
        double grid = 0.0;
        constexpr int rings = 400;
        constexpr int spokes = 400;
        for (int i = 0; i < rings; ++i) {
            for (int k = 0; k < spokes; ++k) {
                const double cosine = (i + 0.5) / rings;
                const double sine = std::sqrt(1.0 - cosine * cosine);
                const double angle = 2.0 * base::pi * (k + 0.5) / spokes;
                const Vector3d view(sine * std::cos(angle), sine * std::sin(angle), cosine);
                grid += target::scatter(surface, to_light, view, Vector3d::UnitZ()) * cosine * 2.0 * base::pi /
                        (rings * spokes);
            }
        }
        constexpr int draws = 40000;
        double sum = 0.0;
        double squares = 0.0;
        base::RandomSequence random({3, base::Stream::ray}, 0);
        for (int i = 0; i < draws; ++i) {
            const auto sample = target::sample_scatter(surface, to_light, Vector3d::UnitZ(),
                                                       {random.uniform(), random.uniform(), random.uniform()});
            const double weight = sample ? sample->weight : 0.0;
            sum += weight;
            squares += weight * weight;
        }
        const double mean = sum / draws;
        const double error = std::sqrt((squares / draws - mean * mean) / draws);
        CHECK(std::abs(mean - grid) < 5.0 * error + 1e-3 * grid);  // and the grid's own error
    }
}
