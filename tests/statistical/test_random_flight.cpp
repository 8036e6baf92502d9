// The spot model's timed light against rays on scenes drawn at random.
#include <catch2/catch.hpp>

#include <cstdint>
#include <filesystem>

#include "random_scenes/compare_timed.hpp"
#include "random_scenes/draw_scene.hpp"

using namespace spotwright;

namespace {

void check(int index, const test::TimedPlan& plan, int& blunt, int& dark) {
    constexpr std::uint64_t seed = 1;
    const auto folder = std::filesystem::temp_directory_path() / "spotwright-random-flight";
    std::filesystem::create_directories(folder);
    const test::DrawnScene scene = test::draw_timed_scene(seed, index, folder);
    const test::TimedComparison c = test::compare_timed(scene.scenario, plan);
    std::string settings;
    for (const std::string& setting : scene.settings) settings += " --set '" + setting + "'";
    INFO(test::timed_heading() << '\n' << test::describe(index, scene.scenario, c) << '\n' << settings);
    CHECK(c.light_agrees);
    CHECK(c.path_agrees);
    CHECK(c.deviation_agrees);
    CHECK(c.phase_agrees);
    if (!c.sharp) ++blunt;
    if (c.is_dark()) ++dark;
}

}  // namespace

TEST_CASE("the light of time of flight and rays agree in light, delay, spread of delays and phase on random scenes",
          "[random][physics][flight][statistical]") {
    // Eighteen scenes, two of each kind of part; `build/tests/random_scenes flight SEED COUNT` does as many as wanted.
    // Tolerances and their reasons: `TimedPlan` and `compare_timed`. Beyond them the rays' own error, so many times
    // that all claims together fail by chance once in 10 000 draws.
    constexpr int scenes = 18;
    test::TimedPlan plan;
    plan.scenes = scenes;
    plan.most_rays = std::int64_t{1} << 18;
    int blunt = 0;
    int dark = 0;
    for (int index = 0; index < scenes; ++index) check(index, plan, blunt, dark);
    // A judge with large errors would agree with anything, and darkness tells nothing.
    CHECK(blunt <= scenes / 6);
    CHECK(dark <= scenes / 3);
}

// The rim of the detector takes most of the spot (54), feed marks lie deeper than the smooth face (67), light goes to
// and fro in a plate 4 m away (80), the beam's axis passes beside a cylinder nearer than the reference point (146).
TEST_CASE("rays and the light of time of flight agree where they once did not", "[physics][flight][statistical]") {
    test::TimedPlan plan;
    plan.scenes = 4;
    plan.most_rays = std::int64_t{1} << 18;
    int blunt = 0;
    int dark = 0;
    for (const int index : {54, 67, 80, 146}) check(index, plan, blunt, dark);
    CHECK(dark == 0);
}
