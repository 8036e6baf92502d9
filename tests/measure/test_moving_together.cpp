// Readings of a moving part that are worked out together against one by one, to the last bit.
#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <random>
#include <string>
#include <vector>

#include "sim/measure/moving_light_kernel.hpp"
#include "sim/measure/moving_scene.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;

namespace {

// Lengths that fill vectors of every kind, and none.
constexpr std::array<std::size_t, 8> lengths{0, 1, 3, 4, 15, 16, 37, 80};

template <class Value>
std::vector<Value> random_values(std::size_t count, unsigned seed) {
    std::mt19937 generator(seed);
    std::uniform_real_distribution<Value> between(Value(-1), Value(3));
    std::vector<Value> values(count);
    for (Value& value : values) value = between(generator);
    return values;
}

template <class Value>
struct Rows {
    std::array<std::vector<Value>, 4> of;
    std::array<const Value*, 4> at{};

    Rows(std::size_t count, unsigned seed) {
        for (std::size_t t = 0; t < 4; ++t) {
            of[t] = random_values<Value>(count, seed + static_cast<unsigned>(t));
            at[t] = of[t].data();
        }
    }

    [[nodiscard]] Value sum(const std::array<Value, 4>& share, std::size_t k) const {
        return share[0] * at[0][k] + share[1] * at[1][k] + share[2] * at[2][k] + share[3] * at[3][k];
    }
};

}  // namespace

TEST_CASE("light of samples and of mixed patterns is the sum that is written, to the last bit", "[unit]") {
    for (const std::size_t n : lengths) {
        INFO(n << " pixels");
        const std::vector<float> start = random_values<float>(n, 1);
        const Rows<float> rows(n, 10);
        const std::array<float, 4> share{-0.0625F, 0.5625F, 0.6F, -0.07F};
        std::vector<float> found = start;
        std::vector<float> expected = start;
        measure::add_taps(rows.at, share, found);
        for (std::size_t k = 0; k < n; ++k) expected[k] += rows.sum(share, k);
        CHECK(found == expected);

        const Rows<double> ahead(n, 20);
        const Rows<double> behind(n, 30);
        const std::array<double, 4> shares{-0.03, 0.2, 0.9, -0.07};
        found = expected = start;
        measure::add_difference({ahead.at, shares}, {behind.at, shares}, 0.37, found);
        for (std::size_t k = 0; k < n; ++k) {
            expected[k] += static_cast<float>(0.37 * (ahead.sum(shares, k) - behind.sum(shares, k)));
        }
        CHECK(found == expected);

        for (std::size_t patterns = 0; patterns <= 4; ++patterns) {
            const measure::MixedPatterns mixed{rows.at, share, patterns};
            const auto pattern = [&](std::size_t k) {
                float sum = 1.0F;
                for (std::size_t i = 0; i < patterns; ++i) sum += share[i] * (rows.at[i][k] - 1.0F);
                return 0.7F * std::max(0.0F, sum);
            };
            found = expected = start;
            measure::add_mixed(mixed, 0.7F, found);
            for (std::size_t k = 0; k < n; ++k) expected[k] += pattern(k);
            CHECK(found == expected);

            found = expected = start;
            measure::put_under(mixed, 0.7F, 0.3F, found);
            for (std::size_t k = 0; k < n; ++k) expected[k] = std::max(0.0F, expected[k]) * (pattern(k) + 0.3F);
            CHECK(found == expected);
        }
    }
}

TEST_CASE("exposures that are looked at together are those of one by one, to the last bit", "[unit]") {
    struct Case {
        std::vector<std::string> settings;
        bool some_whole;  // at least one exposure is not divided
        bool some_divided;
    };
    const std::vector<Case> cases{
        {{"motion.vibration_um=30", "motion.vibration_Hz=100"}, true, false},
        {{"motion.vibration_um=600", "motion.vibration_Hz=400", "exposure.exposure_us=100"}, true, true},
        {{"motion.vibration_um=30", "motion.vibration_Hz=4000", "exposure.exposure_us=100"}, false, true},
        {{"motion.along_mm_per_s=-20", "motion.across_mm_per_s=[50,20]"}, true, false},
        {{"motion.across_mm_per_s=[5000,0]", "exposure.exposure_us=100"}, false, true},
        {{"motion.along_mm_per_s=60000", "exposure.exposure_us=100"}, true, true},  // leaves what is seen
    };
    for (const Case& each : cases) {
        std::vector<std::string> settings{"run.speckle=statistical", "run.readings=64"};
        settings.insert(settings.end(), each.settings.begin(), each.settings.end());
        const auto s =
            scenario::parse("schema = 1\n[target]\nmaterial = \"matt-paint-light-grey\"\n", "test.toml", settings);
        const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 1);
        measure::MovingScene scene(setup, 0.05);
        const detector::Timing timing{s.exposure.exposure, s.exposure.period[0]};
        constexpr std::size_t readings = measure::ExposureDivider::Together::most;
        std::array<double, readings> begins{};
        for (std::size_t i = 0; i < readings; ++i) begins[i] = 13.0 * static_cast<double>(i) * timing.period;
        measure::MovingScene::Buffers buffers;
        measure::MovingScene::Looks together;
        std::array<measure::Moment, readings> moments{};
        scene.look(begins, timing, buffers, together, moments);
        bool some_whole = false;
        bool some_divided = false;
        for (std::size_t i = 0; i < readings; ++i) {
            INFO(each.settings.front() << ", reading " << i);
            const measure::MovingScene::Looks alone = scene.looks_of(begins[i], timing.exposure);
            const measure::Moment moment = scene.moment_of(begins[i], timing);
            CHECK(moments[i].time == moment.time);
            CHECK(((moments[i].truth == moment.truth) || (std::isnan(moments[i].truth) && std::isnan(moment.truth))));
            CHECK(moments[i].smear == moment.smear);
            CHECK(moments[i].way == moment.way);
            CHECK(moments[i].followed == moment.followed);
            const auto found = together.of(i);
            const auto expected = alone.of(0);
            (expected.size() == 1 ? some_whole : some_divided) = true;
            REQUIRE(found.size() == expected.size());
            for (std::size_t k = 0; k < found.size(); ++k) {
                CHECK(found[k].weight == expected[k].weight);
                CHECK(found[k].glide.stand.along == expected[k].glide.stand.along);
                CHECK(found[k].glide.u_first == expected[k].glide.u_first);
                CHECK(found[k].glide.u_last == expected[k].glide.u_last);
                CHECK(found[k].speckle.node == expected[k].speckle.node);
                CHECK(found[k].speckle.share == expected[k].speckle.share);
                CHECK(found[k].pixels == expected[k].pixels);
            }
        }
        INFO(each.settings.front());
        CHECK(some_whole == each.some_whole);
        CHECK(some_divided == each.some_divided);
    }
}
