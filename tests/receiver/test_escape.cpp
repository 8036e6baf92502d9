// Light that leaves a translucent part in batches, against one ray after the other.
#include <catch2/catch.hpp>

#include <array>
#include <cmath>
#include <memory>
#include <random>

#include "sim/base/constants.hpp"
#include "sim/receiver/escape_batch.hpp"
#include "sim/receiver/inside.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/subsurface.hpp"
#include "tests/support/stations.hpp"

using namespace spotwright;
using receiver::EscapeBatch, receiver::AperturePoint;

namespace {

// A face before a receiver, both turned at random, and scatters behind it.
struct RandomEscapes {
    explicit RandomEscapes(unsigned seed) : random(seed), batch(std::make_unique<EscapeBatch>()) {
        scenario::Scenario s;
        s.receiver.angle = between(5.0, 60.0) * base::degree;
        lens = support::receiver_of(s);
        index = between(1.05, 2.4);
        anisotropy = between(-0.5, 0.95);
        face.normal = Eigen::Vector3d(between(-0.3, 0.3), between(-0.3, 0.3), 1.0).normalized();
        face.x = face.normal.unitOrthogonal();
        face.y = face.normal.cross(face.x);
        face.entry = {between(-1e-3, 1e-3), between(-1e-3, 1e-3), between(-2e-3, 2e-3)};
        batch->count = receiver::batch_rays - 3;  // the last vector is not full
        for (std::size_t i = 0; i < batch->count; ++i) fill(i);
    }
    double between(double low, double high) { return std::uniform_real_distribution<double>(low, high)(random); }

    void fill(std::size_t i) {
        EscapeBatch& b = *batch;
        b.from_x[i] = between(-5e-3, 5e-3);
        b.from_y[i] = between(-5e-3, 5e-3);
        b.depth[i] = std::pow(10.0, between(-7.0, -2.3));
        b.extinction[i] = between(0.0, 5e3);
        b.spread[i] = static_cast<double>(i % 3);
        const Eigen::Vector3d before = Eigen::Vector3d(between(-1, 1), between(-1, 1), between(-1, 1)).normalized();
        b.before_x[i] = before.x();
        b.before_y[i] = before.y();
        b.before_z[i] = before.z();
        b.in_plane[i] = between(-1.0, 1.0) * lens.aperture.half_in_plane;
        b.out_of_plane[i] = between(-1.0, 1.0) * lens.aperture.half_out_of_plane;
        b.power[i] = between(0.1, 2.0);
        for (std::size_t k = 0; k < EscapeBatch::neighbours; ++k) {
            b.beside_x[k][i] = static_cast<double>(k) * between(-1e-4, 1e-4);
            b.beside_y[k][i] = static_cast<double>(k) * between(-1e-4, 1e-4);
        }
    }
    [[nodiscard]] Eigen::Vector3d place(double x, double y, double z) const {
        return face.out_of_plane(x, y) + z * face.normal;
    }

    std::mt19937 random;
    receiver::Receiver lens;
    receiver::FlatFace face;
    double index = 1.5;
    double anisotropy = 0.0;
    std::unique_ptr<EscapeBatch> batch;
};

double phase_of(const RandomEscapes& scene, std::size_t i, const Eigen::Vector3d& inside) {
    const EscapeBatch& b = *scene.batch;
    if (b.spread[i] == receiver::spread_to_all_sides) return 0.25 / base::pi;
    if (b.spread[i] == receiver::spread_by_backing) return inside.z() / base::pi;
    return target::phase_function(scene.anisotropy,
                                  inside.dot(Eigen::Vector3d(b.before_x[i], b.before_y[i], b.before_z[i])));
}

}  // namespace

TEST_CASE("light leaves in batches as ray by ray", "[volume][unit]") {
    for (unsigned seed = 1; seed <= 20; ++seed) {
        RandomEscapes scene(seed);
        EscapeBatch& b = *scene.batch;
        receiver::follow_out(receiver::make_lens_view(scene.lens, scene.face, scene.index), scene.anisotropy, b);
        for (std::size_t i = 0; i < b.count; ++i) {
            const std::array<target::Layer, 1> layer{{{b.depth[i], scene.index}}};
            const AperturePoint through{b.in_plane[i], b.out_of_plane[i], receiver::area_of(scene.lens.aperture)};
            const auto way = receiver::escape_to(scene.lens, layer, scene.place(b.from_x[i], b.from_y[i], -b.depth[i]),
                                                 scene.face.normal, through);
            INFO("seed " << seed << ", ray " << i);
            REQUIRE(way.has_value() == (b.light[i] > 0.0));
            if (!way) continue;
            const double sine = way->way.inside.front().sine;
            const double cosine = way->way.inside.front().cosine;
            const Eigen::Vector3d along = scene.face.of(way->direction);
            const double lateral = along.head<2>().norm();
            const Eigen::Vector3d inside(lateral > 0.0 ? sine * along.x() / lateral : 0.0,
                                         lateral > 0.0 ? sine * along.y() / lateral : 0.0, cosine);
            const double passed = 1.0 - target::fresnel({scene.index, 0.0}, way->way.outside.cosine).unpolarised();
            const double expected = b.power[i] * phase_of(scene, i, inside) *
                                    std::exp(-b.extinction[i] * b.depth[i] / cosine) * passed * way->solid_angle *
                                    scene.lens.transmission;
            // Newton's iteration stops where its step is a ten-millionth.
            CHECK(b.light[i] == Approx(expected).epsilon(1e-7));
            CHECK(b.way[i] == Approx(scene.index * b.depth[i] / cosine).epsilon(1e-9));
            for (std::size_t k = 0; k < EscapeBatch::neighbours; ++k) {
                const Eigen::Vector3d exit =
                    way->exit + b.beside_x[k][i] * scene.face.x + b.beside_y[k][i] * scene.face.y;
                const auto at = receiver::trace(scene.lens, receiver::to_receiver(scene.lens, exit), through.in_plane,
                                                through.out_of_plane);
                REQUIRE(at.has_value() == std::isfinite(b.u[k][i]));
                if (!at) continue;
                // A nanometre on the array.
                CHECK(std::abs(at->u - b.u[k][i]) < 1e-9);
                CHECK(std::abs(at->v - b.v[k][i]) < 1e-9);
            }
        }
    }
}

TEST_CASE("an aperture behind the face receives nothing from inside", "[volume][unit]") {
    RandomEscapes scene(1);
    scene.face.normal = -scene.face.normal;
    receiver::follow_out(receiver::make_lens_view(scene.lens, scene.face, scene.index), 0.0, *scene.batch);
    for (std::size_t i = 0; i < scene.batch->count; ++i) REQUIRE(scene.batch->light[i] == 0.0);
}
