// Light that goes to and fro between the faces of a plate on its way through.
#include <catch2/catch.hpp>

#include <cmath>

#include "sim/base/random.hpp"
#include "sim/receiver/plate_ways.hpp"
#include "sim/target/fresnel.hpp"

using namespace spotwright;

// Sums of geometric series: sum (1 - R)^2 R^(2 k) = (1 - R) / (1 + R) passes, by 1 + 2 R^2 / (1 - R^2) thicknesses on
// average. 200000 draws know both to a few thousandths.
TEST_CASE("drawn ways through a plate carry its whole light by its mean thickness", "[unit][physics]") {
    target::Slab slab;
    slab.thickness = 1.0;
    constexpr double index = 1.5;
    for (const double cosine : {1.0, 0.3, 0.1}) {
        INFO("cosine " << cosine);
        base::RandomSequence random({5, base::Stream::ray}, 1);
        constexpr int draws = 200000;
        target::Fresnel light{0.0, 0.0};
        target::Fresnel length{0.0, 0.0};
        for (int i = 0; i < draws; ++i) {
            const receiver::Passage passage = receiver::Passage::draw(random);
            const target::Fresnel share = passage.shares(index, cosine);
            light.s += share.s / draws;
            light.p += share.p / draws;
            length.s += share.s * passage.thickness(slab) / draws;
            length.p += share.p * passage.thickness(slab) / draws;
        }
        const target::Fresnel r = target::fresnel({index, 0.0}, cosine);
        CHECK(light.s == Approx((1.0 - r.s) / (1.0 + r.s)).epsilon(0.01));
        CHECK(light.p == Approx((1.0 - r.p) / (1.0 + r.p)).epsilon(0.01));
        CHECK(length.s / light.s == Approx(1.0 + 2.0 * r.s * r.s / (1.0 - r.s * r.s)).epsilon(0.01));
        CHECK(length.p / light.p == Approx(1.0 + 2.0 * r.p * r.p / (1.0 - r.p * r.p)).epsilon(0.01));
    }
}
