// How the rays of the ray model are drawn: evenly, with the density that is told, and sharply where it matters.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <set>
#include <string>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/receiver/ray_draw.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/sample.hpp"
#include "tests/support/stations.hpp"

using namespace spotwright;
using base::mm, base::um;
using Eigen::Vector3d;

namespace {

scenario::Scenario scene(const std::string& material, const std::vector<std::string>& settings) {
    return scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "t", settings);
}

struct Light {
    double collected = 0.0;
    double received = 0.0;
    double received_error = 0.0;
    double collected_error = 0.0;
};

Light rays_of(const scenario::Scenario& s, const target::Surface& surface, std::int64_t rays) {
    const receiver::Receiver r = support::receiver_of(s);
    const receiver::EdgeSpread edge_spread(r.aperture.shape);
    const auto image = receiver::trace_rays(support::beam_of(s), support::part_of(s, s.target.displacement), surface, r,
                                            edge_spread, 0.35, {rays, 1, 1});
    Light light{image.profile.collected_power, image.profile.received_power};
    const auto n = static_cast<double>(image.batches.size());
    for (const receiver::Profile& batch : image.batches) {
        light.received_error += std::pow(batch.received_power - light.received, 2);
        light.collected_error += std::pow(batch.collected_power - light.collected, 2);
    }
    light.received_error = std::sqrt(light.received_error / (n * (n - 1.0)));
    light.collected_error = std::sqrt(light.collected_error / (n * (n - 1.0)));
    return light;
}

}  // namespace

TEST_CASE("every number of 2^k points falls into its own 2^k-th, and sets differ", "[ray]") {
    // What makes Sobol's points even, and what a digital shift keeps.
    constexpr std::size_t count = 256;
    receiver::RayPoints points(5, 3);
    receiver::RayPoints others(5, 4);
    std::vector<std::set<int>> slots(receiver::ray_dimensions);
    int alike = 0;
    for (std::size_t i = 0; i < count; ++i) {
        const auto point = points.next();
        if (point == others.next()) ++alike;
        for (std::size_t d = 0; d < point.size(); ++d) {
            CHECK((point[d] > 0.0 && point[d] < 1.0));
            slots[d].insert(static_cast<int>(point[d] * count));
        }
    }
    for (const auto& of_one : slots) CHECK(of_one.size() == count);
    CHECK(alike == 0);
}

TEST_CASE("offsets drawn where the row looks keep the moments of the beam's Gaussian", "[ray]") {
    const std::vector<receiver::RowOffsets> rows{
        {0.0, 1.0, 0.0}, {0.0, 0.3, 0.75}, {0.7, 0.01, 0.75}, {-1.5, 1e-4, 0.75}, {3.0, 0.05, 0.75}};
    for (const receiver::RowOffsets& row : rows) {
        INFO(row.centre << ' ' << row.half_width);
        // The midpoint rule over the even number: errors of 1e-6 of the smooth pieces between.
        constexpr int count = 1 << 20;
        double one = 0.0;
        double first = 0.0;
        double second = 0.0;
        double heaviest = 0.0;
        for (int i = 0; i < count; ++i) {
            const receiver::Weighed drawn = row.draw((i + 0.5) / count);
            one += drawn.weight / count;
            first += drawn.weight * drawn.value / count;
            second += drawn.weight * drawn.value * drawn.value / count;
            heaviest = std::max(heaviest, drawn.weight);
        }
        CHECK(one == Approx(1.0).margin(1e-5));
        CHECK(first == Approx(0.0).margin(1e-5));
        CHECK(second == Approx(0.25).margin(1e-5));
        CHECK(heaviest <= 1.0 / (1.0 - row.share) + 1e-12);
    }
}

TEST_CASE("places of the aperture are drawn with the density that is told", "[ray][aperture]") {
    for (const std::string opening : {"4", "[6, 1.5]"}) {
        // In focus, and so far out of it that the row sees a strip of the aperture.
        for (const double displacement : {0.0, 4.0}) {
            scenario::Scenario s = scene("white-ceramic", {"receiver.aperture_mm=" + opening, "detector.height_um=5",
                                                           "receiver.detector_tilt_deg=0"});
            const receiver::Receiver r = support::receiver_of(s);
            const receiver::ReceiverPoint from = receiver::to_receiver(r, {0.0, 0.03 * mm, -displacement * mm});
            const receiver::RowAperture row(r, from, 3.0 * um);
            base::RandomSequence random({11, base::Stream::ray}, 0);
            constexpr int draws = 200000;
            double area = 0.0;
            double squares = 0.0;
            double in_upper_strip = 0.0;
            const double strip = 0.1 * r.aperture.half_out_of_plane;
            for (int i = 0; i < draws; ++i) {
                const double u = random.uniform();
                const Eigen::Vector2d place = row.draw(u, random.uniform());
                CHECK(receiver::passes(r.aperture, place.x() * (1.0 - 1e-12), place.y() * (1.0 - 1e-12)));
                const double part = 1.0 / row.density(place);
                area += part / draws;
                squares += part * part / draws;
                if (place.y() > -strip && place.y() < strip) in_upper_strip += part / draws;
            }
            // No density is below half of the even one, so the mean of its inverse is known to 2 area / sqrt(draws).
            const double error = std::sqrt((squares - area * area) / draws) + 1e-12 * receiver::area_of(r.aperture);
            INFO(opening << ' ' << displacement);
            CHECK(std::abs(area - receiver::area_of(r.aperture)) < 5.0 * error);
            const double share = r.aperture.shape == receiver::ApertureShape::rectangular
                                     ? 0.1
                                     : 2.0 / base::pi * (0.1 * std::sqrt(1.0 - 0.01) + std::asin(0.1));
            CHECK(std::abs(in_upper_strip / receiver::area_of(r.aperture) - share) < 5.0 * 2.0 / std::sqrt(draws));
        }
    }
}

TEST_CASE("directions of the lobe are drawn with the density that is told", "[ray][target]") {
    // Mean of 1 / density over the draws within a cone is the cone's solid angle.
    target::Surface surface;
    surface.gloss = target::Gloss{{2.9, 3.1}, target::FacetDistribution::beckmann, 1e-6, 0.03, 0.12, 655e-9};
    surface.lay = Vector3d(1.0, 0.5, 0.0).normalized();
    const Vector3d normal = Vector3d::UnitZ();
    const Vector3d to_light = Vector3d(-0.5, 0.1, 0.8).normalized();
    const Vector3d mirrored = 2.0 * to_light.z() * normal - to_light;
    for (const auto distribution : {target::FacetDistribution::beckmann, target::FacetDistribution::ggx}) {
        surface.gloss->distribution = distribution;
        base::RandomSequence random({12, base::Stream::ray}, 0);
        constexpr int draws = 400000;
        const double cosine = std::cos(0.05);
        double sum = 0.0;
        double squares = 0.0;
        for (int i = 0; i < draws; ++i) {
            const double u = random.uniform();
            const auto direction = target::draw_lobe(surface, to_light, normal, {u, random.uniform()});
            if (!direction || direction->dot(mirrored) < cosine) continue;
            const double part = 1.0 / target::lobe_density(surface, to_light, *direction, normal);
            sum += part / draws;
            squares += part * part / draws;
        }
        CHECK(std::abs(sum - 2.0 * base::pi * (1.0 - cosine)) < 5.0 * std::sqrt((squares - sum * sum) / draws));
    }
}

TEST_CASE("few rays tell the light of a tall spot on a short row of pixels", "[ray][physics]") {
    // A line of 2 mm, a row of 5 um that sees 7.5 um of it: erf(sqrt(2) h / (2 m w)) of the light, m the magnification.
    // Light density hardly varies over what diffraction spreads (3 um in the image): its curvature there is 1e-5.
    // The lens's perspective over a line of 2 mm at 45 mm: (2 / 45)^2, 2e-3 of the light off the axis of which a third.
    scenario::Scenario s = scene("white-ceramic", {"emitter.waist_radius_um=[40, 2000]", "detector.height_um=5"});
    target::Surface surface;
    surface.reflectance = 0.9;
    const Light light = rays_of(s, surface, 16384);
    const receiver::Receiver r = support::receiver_of(s);
    const double seen = r.height * r.object_distance / r.image_distance;
    const double share = std::erf(std::sqrt(2.0) * 0.5 * seen / s.emitter.waist_radius[1]);
    // Independent rays would be off by 1 / sqrt(16384 share), 14 %.
    CHECK(light.received_error < 0.002 * light.received);
    CHECK(light.received / light.collected == Approx(share).epsilon(4e-3));
}

TEST_CASE("few rays tell the light of a lobe much narrower than the aperture", "[ray][physics]") {
    // The aperture takes the whole lobe, so what is collected is Fresnel's reflectance, which changes by less than
    // 1e-3 over a lobe of 0.02 rad; facets shadow each other by far less at 30 deg.
    scenario::Scenario s = scene("mirror", {"emitter.angle_deg=-30", "mount.range_mm=[-1, 1]",
                                            "receiver.aperture_mm=20", "detector.height_um=1000"});
    target::Surface surface;
    surface.gloss = target::Gloss{{2.9, 3.1}, target::FacetDistribution::beckmann, 2e-6, 0.003, 0.003, 655e-9};
    const Light light = rays_of(s, surface, 16384);
    const double reflected = target::fresnel(surface.gloss->index, std::cos(s.receiver.angle)).unpolarised();
    // One place in 700 of the aperture lies in the lobe: independent places would be off by 20 %.
    CHECK(light.collected_error < 0.002 * light.collected);
    CHECK(light.collected / (s.emitter.power * s.receiver.transmission) == Approx(reflected).epsilon(3e-3));
}

TEST_CASE("without interreflection light ends after its first meeting with the part", "[ray]") {
    // In a white groove of 90 deg much of the light meets the part again, so it matters; on a plane it never does, and
    // the same rays are drawn.
    const auto light = [](const std::string& shape, bool interreflection) {
        const scenario::Scenario s = scene("white-ceramic", {"target.shape=" + shape});
        const receiver::Receiver r = support::receiver_of(s);
        const receiver::EdgeSpread edge_spread(r.aperture.shape);
        receiver::RayOptions options{16384, 1, 1};
        options.interreflection = interreflection;
        return receiver::trace_rays(support::beam_of(s), support::part_of(s, 0.0), support::surface_of(s), r,
                                    edge_spread, 0.35, options)
            .profile;
    };
    CHECK(light("groove", true).collected_power > 1.05 * light("groove", false).collected_power);
    CHECK(light("plane", true).rate == light("plane", false).rate);
}
