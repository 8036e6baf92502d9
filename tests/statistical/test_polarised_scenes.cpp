// The spot model against the ray model on scenes drawn at random, lit by a polarised laser.
#include <catch2/catch.hpp>

#include <cmath>
#include <cstdint>
#include <filesystem>

#include "random_scenes/compare_models.hpp"
#include "random_scenes/draw_scene.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/receiver/image.hpp"
#include "sim/sensor/stations.hpp"

using namespace spotwright;

namespace {

// Light on the pixels for a field along x or y. [W]
double light_of(scenario::Scenario s, double direction) {
    s.emitter.polarisation_degree = 1.0;
    s.emitter.polarisation_direction = direction;
    const receiver::Receiver r = sensor::receiver_of(s);
    return receiver::image(sensor::beam_of(s), sensor::part_of(s, s.target.displacement), sensor::surface_of(s), r,
                           receiver::EdgeSpread(r.aperture.shape), 0.35)
        .received_power;
}

// Whether the field changes the light by more than the models may differ, several times.
bool knows_field(const scenario::Scenario& s) {
    const double x = light_of(s, 0.0);
    const double y = light_of(s, base::pi / 2.0);
    constexpr double much = 0.05;
    return std::abs(x - y) > much * 0.5 * (x + y);
}

}  // namespace

TEST_CASE("spot model and ray model agree on random shiny parts and plates lit by polarised light",
          "[random][physics][statistical]") {
    // Scenes of a seed that no other test draws, those that know the field; degree and direction from a stream of their
    // own. Claims and errors as in test_random_scenes.cpp.
    constexpr std::uint64_t seed = 7;
    constexpr int scenes = 12;
    test::ComparePlan plan;
    plan.scenes = scenes;
    plan.most_rays_inside = std::int64_t{1} << 15;
    const auto folder = std::filesystem::temp_directory_path() / "spotwright-polarised-scenes";
    std::filesystem::create_directories(folder);
    int compared = 0;
    int blunt = 0;
    for (int index = 0; compared < scenes; ++index) {
        test::DrawnScene scene = test::draw_scene(seed, index, folder);
        scenario::Emitter& emitter = scene.scenario.emitter;
        base::RandomSequence random({seed, base::Stream::budget_trial}, -1 - index);
        emitter.polarisation_degree = 0.5 + 0.5 * random.uniform();
        emitter.polarisation_direction = base::pi * random.uniform();
        if (!knows_field(scene.scenario)) continue;
        const test::Comparison c = test::compare_models(scene.scenario, plan);
        if (c.is_dark()) continue;
        INFO(test::comparison_heading() << '\n'
                                        << test::describe(index, scene.scenario, c) << "\ndegree "
                                        << emitter.polarisation_degree << ", direction "
                                        << emitter.polarisation_direction);
        CHECK(c.light_agrees);
        CHECK(c.centroid_agrees);
        CHECK(c.peak_agrees);
        ++compared;
        if (!c.sharp) ++blunt;
    }
    // A judge with large errors would agree with anything.
    CHECK(blunt <= scenes / 4);
}
