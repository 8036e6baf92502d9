// The spot model against the ray model on scenes drawn at random.
#include <catch2/catch.hpp>

#include <cstdint>
#include <filesystem>

#include "random_scenes/compare_models.hpp"
#include "random_scenes/draw_scene.hpp"

using namespace spotwright;

TEST_CASE("spot model and ray model agree in light, centroid and peak on random scenes",
          "[random][physics][statistical]") {
    // Twenty scenes; `build/tests/random_scenes SEED COUNT` does as many as wanted. 1 % of light and 0.05 px are what
    // the spot model promises, ten and five times the errors at which the rays stop. Beyond them the ray model's own
    // error, so many times that all claims together fail by chance once in 10 000 draws.
    constexpr std::uint64_t seed = 1;
    constexpr int scenes = 20;
    test::ComparePlan plan;
    plan.scenes = scenes;
    // One scene is of a white paint, in which photons take thousands of steps. Four times as many rays of it took three
    // quarters of the time of all twenty and were blunt as well: 9 % of light and 1.3 px instead of the 12 % and 3.4 px
    // to which it is judged here. Parts that let light in are held to 5 % in tests/receiver/test_volume_light.cpp.
    plan.most_rays_inside = std::int64_t{1} << 14;
    const auto folder = std::filesystem::temp_directory_path() / "spotwright-random-scenes";
    std::filesystem::create_directories(folder);
    int blunt = 0;
    for (int index = 0; index < scenes; ++index) {
        const test::DrawnScene scene = test::draw_scene(seed, index, folder);
        const test::Comparison c = test::compare_models(scene.scenario, plan);
        std::string settings;
        for (const std::string& setting : scene.settings) settings += " --set '" + setting + "'";
        INFO(test::comparison_heading() << '\n' << test::describe(index, scene.scenario, c) << '\n' << settings);
        CHECK(c.light_agrees);
        CHECK(c.centroid_agrees);
        CHECK(c.peak_agrees);
        if (!c.sharp) ++blunt;
    }
    // A judge with large errors would agree with anything.
    CHECK(blunt <= scenes / 5);
}
