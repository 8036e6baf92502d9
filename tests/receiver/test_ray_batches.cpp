// Rays followed side by side against the same light worked out one ray at a time.
#include <boost/math/distributions/normal.hpp>
#include <catch2/catch.hpp>
#include <hwy/targets.h>

#include <cmath>
#include <algorithm>
#include <cstring>
#include <memory>
#include <optional>
#include <random>
#include <string>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/receiver/image.hpp"
#include "sim/receiver/sources.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/target/part.hpp"
#include "tests/support/stations.hpp"

using namespace spotwright;
using base::um;
using Eigen::Vector3d;

namespace {

scenario::Scenario part_of(const std::string& material, const std::vector<std::string>& settings) {
    return scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "t", settings);
}

struct Batches {
    receiver::SampleBatch samples;
    receiver::LitBatch lit;
    receiver::CollectedBatch collected;
};

receiver::LitScene scene_of(const scenario::Scenario& s) {
    return receiver::LitScene::of(support::beam_of(s), support::part_of(s, s.target.displacement),
                                  support::surface_of(s), support::receiver_of(s))
        .value();
}

// The first batch of the scattered light of a scene.
void follow_scattered(const receiver::LitScene& scene, Batches& b) {
    const receiver::SamplePlan plan{scene.beam.power, {}, scene.receiver.aperture, true};
    receiver::draw_samples(plan, receiver::lattice_of(4096), 3, 0, b.samples);
    receiver::Illumination(scene).light(b.samples, b.lit);
    target::Surface turned = scene.surface;
    turned.lay = receiver::direction_to_receiver(scene.receiver, scene.surface.lay);
    receiver::scatter_to_array(turned, receiver::polarisation_to_receiver(scene.receiver, scene.beam.polarisation),
                               scene.receiver, b.lit, b.samples, b.collected);
}

}  // namespace

TEST_CASE("scattered rays of a batch are those of the formulas, ray by ray", "[unit][physics]") {
    const auto* const material = GENERATE("white-ceramic", "matt-paint-mid-grey", "black-glossy-paint", "ground-steel",
                                          "polished-steel", "blasted-steel", "solder-mask-green");
    const auto* const polarised = GENERATE("emitter.polarisation_degree=0", "emitter.polarisation_degree=0.8");
    const scenario::Scenario s =
        part_of(material, {"target.tilt_deg=[11, -7]", "target.displacement_mm=0.7", "target.lay_deg=35",
                           "mount.tilt_deg=[3, 2]", polarised, "emitter.polarisation_direction_deg=25"});
    receiver::LitScene scene = scene_of(s);
    scene.timed = true;
    const auto b = std::make_unique<Batches>();
    follow_scattered(scene, *b);
    const receiver::Receiver& r = scene.receiver;
    double seen = 0.0;
    for (std::size_t i = 0; i < b->samples.count; ++i) {
        const emitter::BeamRay ray =
            emitter::ray_from_face(scene.beam, scene.along, {b->samples.offset[i], b->samples.offset_out[i]},
                                   {b->samples.spread[i], b->samples.spread_out[i]});
        const auto hit = target::meet(scene.part, ray).value();
        const Vector3d place = ray.origin + hit.distance * ray.direction;
        const double in_plane = b->samples.in_plane[i];
        const double out_of_plane = b->samples.through_out[i];
        const Vector3d way = receiver::aperture_point(r, in_plane, out_of_plane) - place;
        const Vector3d view = way.normalized();
        const Vector3d axis(std::sin(r.angle), 0.0, std::cos(r.angle));
        const double expected =
            b->samples.power[i] *
            target::scatter(scene.surface, -ray.direction, view, hit.normal, scene.beam.polarisation) *
            hit.normal.dot(view) * axis.dot(view) / way.squaredNorm() * receiver::area_of(r.aperture) * r.transmission;
        const auto at = receiver::trace(r, receiver::to_receiver(r, place), in_plane, out_of_plane).value();
        INFO(material << ", ray " << i);
        // Shadowing of facets is taken from a formula good to 1.5e-7.
        CHECK(b->collected.power[i] == Approx(expected).epsilon(1e-6).margin(1e-30));
        // Rounding at distances of a tenth of a metre.
        CHECK(std::abs(b->collected.u[i] - at.u) < 1e-14);
        CHECK(std::abs(b->collected.v[i] - at.v) < 1e-14);
        CHECK(b->collected.path[i] ==
              Approx(emitter::path_to(scene.beam, place) + receiver::path_to_array(r, place, at)).epsilon(1e-13));
        seen += expected;
    }
    CHECK(seen > 0.0);
}

TEST_CASE("batches and the sums of their light have the same bits on every instruction set", "[unit][determinism]") {
    const auto* const material = GENERATE("matt-paint-mid-grey", "ground-steel", "black-glossy-paint");
    const auto* const polarised = GENERATE("emitter.polarisation_degree=0", "emitter.polarisation_degree=0.8");
    const receiver::LitScene scene = scene_of(
        part_of(material, {"target.tilt_deg=[14.5, 0.2]", polarised, "emitter.polarisation_direction_deg=25"}));
    const receiver::EdgeSpread edge_spread;
    const auto profile = [&] {
        return receiver::image(scene.beam, scene.part, scene.surface, scene.receiver, edge_spread, 0.35);
    };
    hwy::SetSupportedTargetsForTest(0);
    const auto offered = static_cast<std::uint64_t>(hwy::SupportedTargets());
    const receiver::Profile usual = profile();
    int tried = 0;
    for (std::uint64_t bit = 1; bit != 0 && bit <= offered; bit <<= 1U) {
        if ((offered & bit) == 0) continue;
        hwy::SetSupportedTargetsForTest(static_cast<std::int64_t>(bit));
        hwy::GetChosenTarget().Update(hwy::SupportedTargets());
        const receiver::Profile forced = profile();
        INFO(hwy::TargetName(static_cast<std::int64_t>(bit)));
        REQUIRE(forced.rate.size() == usual.rate.size());
        CHECK(std::memcmp(forced.rate.data(), usual.rate.data(), usual.rate.size() * sizeof(float)) == 0);
        ++tried;
    }
    hwy::SetSupportedTargetsForTest(0);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
    CHECK(tried > 0);
}

TEST_CASE("a lattice spreads its places evenly, each part by itself and all together", "[unit]") {
    for (const std::int64_t wish : {1000, 5000, 100000}) {
        const receiver::Lattice lattice = receiver::lattice_of(wish);
        CHECK(lattice.count >= wish);
        CHECK(lattice.count < 2 * std::max(wish, receiver::min_lattice));
        const auto places = std::make_unique<receiver::LatticePoints>();
        const std::int64_t each = lattice.count / receiver::lattice_parts;
        for (std::size_t axis = 0; axis < 6; ++axis) {
            std::vector<int> met(static_cast<std::size_t>(lattice.count), 0);
            for (std::int64_t part = 0; part < receiver::lattice_parts; ++part) {
                for (std::int64_t first = 0; first < each; first += static_cast<std::int64_t>(receiver::batch_rays)) {
                    const auto count = std::min(receiver::batch_rays, static_cast<std::size_t>(each - first));
                    receiver::fill_points(lattice, part, first, count, 6, *places);
                    for (std::size_t i = 0; i < count; ++i) {
                        const double place = (*places)[axis][i] * static_cast<double>(lattice.count);
                        REQUIRE((place > 0.0 && place < static_cast<double>(lattice.count)));
                        ++met[static_cast<std::size_t>(place)];
                    }
                }
            }
            // One place in each interval of 1 / count: what makes a rule exact for constants in all other coordinates.
            CHECK(std::all_of(met.begin(), met.end(), [](int times) { return times == 1; }));
        }
    }
}

TEST_CASE("offsets across the beam are the quantiles of its Gaussian", "[unit]") {
    const receiver::SamplePlan plan{1.0, {}, std::nullopt, true};
    const receiver::Lattice lattice = receiver::lattice_of(1 << 14);
    const auto samples = std::make_unique<receiver::SampleBatch>();
    const auto places = std::make_unique<receiver::LatticePoints>();
    const boost::math::normal_distribution<double> normal(0.0, 0.5);  // 1/e^2 radius 1: standard deviation a half
    for (std::int64_t first = 0; first < lattice.count / receiver::lattice_parts; first += 256) {
        receiver::draw_samples(plan, lattice, 1, first, *samples);
        receiver::fill_points(lattice, 1, first, samples->count, 4, *places);
        for (std::size_t i = 0; i < samples->count; ++i) {
            // Relative error of the rational approximation, and rounding about the middle.
            CHECK(samples->offset_out[i] ==
                  Approx(boost::math::quantile(normal, (*places)[1][i])).epsilon(2e-9).margin(1e-12));
            CHECK(samples->spread_out[i] ==
                  Approx(boost::math::quantile(normal, (*places)[3][i])).epsilon(2e-9).margin(1e-12));
        }
    }
}

TEST_CASE("the error that an image tells covers what more rays change", "[unit][convergence]") {
    struct Case {
        const char* material;
        std::vector<std::string> settings;
    };
    const std::vector<Case> cases{
        {"white-ceramic", {"emitter.waist_radius_um=[40, 2000]"}},
        {"ground-steel", {"emitter.waist_radius_um=[80, 80]", "detector.height_um=10", "target.tilt_deg=[15, 0]"}},
        {"polished-steel", {"emitter.angle_deg=-30", "mount.range_mm=[-1, 1]", "target.tilt_deg=[0.9, 0]"}},
        {"clear-glass", {"emitter.angle_deg=-30", "mount.range_mm=[-1, 1]", "target.shape=plate"}},
    };
    for (const Case& c : cases) {
        const receiver::LitScene scene = scene_of(part_of(c.material, c.settings));
        const receiver::EdgeSpread edge_spread;
        const auto image = [&](const receiver::Tolerance& tolerance) {
            return receiver::image(scene.beam, scene.part, scene.surface, scene.receiver, edge_spread, 0.35, tolerance);
        };
        const receiver::Profile chosen = image({});
        const receiver::Profile finer = image({1e-6, 1e-5});
        INFO(c.material);
        REQUIRE(finer.received_power > 0.0);
        CHECK(chosen.light_error <= 1e-3);
        CHECK(chosen.centroid_error <= 0.02);
        // The estimate is a standard error from eight parts; four of it leave one case in two hundred (Student's t with
        // seven degrees of freedom), and rounding to float pixels adds 1e-6.
        CHECK(std::abs(chosen.received_power / finer.received_power - 1.0) < 4.0 * chosen.light_error + 1e-6);
        CHECK(std::abs(*receiver::centroid_of(chosen) - *receiver::centroid_of(finer)) <
              4.0 * chosen.centroid_error + 1e-3);
    }
}

TEST_CASE("an image moved along the array by whole pixels is the same image, farther on", "[unit]") {
    const receiver::LitScene scene = scene_of(part_of("white-ceramic", {"target.displacement_mm=0.3"}));
    const receiver::EdgeSpread edge_spread;
    const double pitch = scene.receiver.pitch;
    const std::vector<double> shifts{0.0, 5.0 * pitch, 0.25 * pitch};
    const auto moved =
        receiver::images_moved(scene.beam, scene.part, scene.surface, scene.receiver, edge_spread, 0.35, shifts);
    REQUIRE(moved.size() == 3);
    const float brightest = *std::max_element(moved[0].rate.begin(), moved[0].rate.end());
    for (std::size_t k = 0; k + 5 < moved[0].rate.size(); ++k) {
        CHECK(std::abs(moved[1].rate[k + 5] - moved[0].rate[k]) <= 1e-5F * brightest);
    }
    // Light cut off at the array's ends moves the centroid of the whole array a little.
    CHECK(*receiver::centroid_of(moved[2]) - *receiver::centroid_of(moved[0]) == Approx(0.25).margin(1e-3));
}
