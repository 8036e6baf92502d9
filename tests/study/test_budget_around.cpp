// Lines of a budget, and changes, for what is around the light: hot air, the mount, a second sensor.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/measure/disturbance.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/study/budget.hpp"
#include "sim/study/changes.hpp"
#include "tests/support/neighbour.hpp"

using namespace spotwright;
using base::mm, base::um;

namespace {

// A small sensor before white tile: few pixels, so that a budget is quick; no doubt about anything but what is added.
scenario::Scenario small_sensor(const std::vector<std::string>& settings) {
    std::vector<std::string> all{"detector.pixels=512",         "detector.pitch_um=14",
                                 "exposure.exposure_us=1.2",    "run.speckle=off",
                                 "uncertainty.tilt_deg=0",      "uncertainty.displacement_mm=0",
                                 "uncertainty.temperature_K=0", "uncertainty.illuminance_share=0",
                                 "uncertainty.reference_um=0",  "run.trials=2000",
                                 "reading.background_frames=16"};
    all.insert(all.end(), settings.begin(), settings.end());
    return scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "test.toml", all);
}

study::Budget budget_of(const std::vector<std::string>& settings) {
    return study::budget(sensor::set_up(small_sensor(settings), 1), {1, {}});
}

const study::BudgetLine* line_of(const study::Budget& budget, measure::Cause cause) {
    const auto found = std::find_if(budget.lines.begin(), budget.lines.end(),
                                    [&](const study::BudgetLine& line) { return line.cause == cause; });
    return found == budget.lines.end() ? nullptr : &*found;
}

bool has_kind(const std::vector<study::Change>& changes, const std::string& kind) {
    return std::any_of(changes.begin(), changes.end(), [&](const study::Change& c) { return c.kind == kind; });
}

}  // namespace

TEST_CASE("a budget has lines for hot air and the mount, and its Monte Carlo the same", "[study][unit]") {
    const study::Budget calm = budget_of({});
    CHECK(line_of(calm, measure::Cause::hot_air) == nullptr);
    CHECK(line_of(calm, measure::Cause::mount_vibration) == nullptr);
    CHECK(line_of(calm, measure::Cause::neighbour) == nullptr);

    const std::vector<std::string> hot{"surroundings.hot_air_Cn2=1e-9"};
    const study::Budget wanders = budget_of(hot);
    const auto* air = line_of(wanders, measure::Cause::hot_air);
    REQUIRE(air != nullptr);
    const sensor::Setup setup = sensor::set_up(small_sensor(hot), 1);
    const auto& before = std::get<sensor::TriangulationSetup>(setup);
    const double variance =
        receiver::wander_variance(measure::hot_air_of(before.scenario), measure::air_paths_of(before));
    CHECK(air->component.standard_uncertainty == Approx(std::sqrt(variance)).epsilon(0.01));
    CHECK(wanders.agrees);
    // The Monte Carlo's own error: 2000 trials know a deviation to 1.6 %.
    CHECK(wanders.together.standard_uncertainty == Approx(wanders.combined.standard_uncertainty).epsilon(0.08));

    const study::Budget shaken = budget_of({"motion.mount_vibration_um=8"});
    const auto* mount = line_of(shaken, measure::Cause::mount_vibration);
    REQUIRE(mount != nullptr);
    CHECK(mount->component.standard_uncertainty == Approx(8.0 * um / std::sqrt(2.0)).epsilon(1e-3));
    CHECK(shaken.together.standard_uncertainty == Approx(shaken.combined.standard_uncertainty).epsilon(0.08));
}

// The part of exposures that meet the other light, and how far away the reading then is: 2.6 mm.
TEST_CASE("a second sensor's spot is a line of the budget", "[study][unit]") {
    const study::Budget budget = budget_of({"neighbour.power_mW=5", "neighbour.position_mm=[1.5, 0]",
                                            "neighbour.exposure_us=20", "neighbour.period_us=131.7"});
    const auto* line = line_of(budget, measure::Cause::neighbour);
    REQUIRE(line != nullptr);
    // Between the exposures that are met whole, 18.8 / 131.7, and all that are met, 21.2 / 131.7.
    const double jump = 1.5 * mm * std::sqrt(3.0);
    CHECK(std::abs(line->bias) > 0.9 * jump * 18.8 / 131.7 * 0.9);
    CHECK(std::abs(line->bias) < 1.1 * jump * 21.2 / 131.7 * 1.1);
    CHECK(budget.lines.front().cause == measure::Cause::neighbour);
    const study::Budget turns = budget_of({"neighbour.power_mW=0.5", "neighbour.timing=alternating"});
    CHECK(line_of(turns, measure::Cause::neighbour) == nullptr);
}

// A beat of 0.1 of the light: 0.1 / sqrt(2) of a turn of 7.5 m over 2 pi, see the readings' test.
TEST_CASE("a second sensor's beat is a line of a phase-shift sensor's budget", "[study][flight]") {
    std::vector<std::string> phase = support::phase_shift_beside_another();
    phase.emplace_back("neighbour.modulation_MHz=20.000137");
    const auto of = [&](std::vector<std::string> more) {
        more.insert(more.begin(), phase.begin(), phase.end());
        return budget_of(more);
    };
    CHECK(line_of(of({}), measure::Cause::neighbour) == nullptr);
    const study::Budget beats = of({"neighbour.power_mW=0.5"});
    const auto* line = line_of(beats, measure::Cause::neighbour);
    REQUIRE(line != nullptr);
    constexpr double expected = 0.1 / 1.41421356 / 6.28318531 * 7.4948;
    CHECK(line->component.standard_uncertainty == Approx(expected).epsilon(0.02));
    // 2000 trials know a deviation to 1.6 %.
    CHECK(beats.together.standard_uncertainty == Approx(beats.combined.standard_uncertainty).epsilon(0.08));
    CHECK(line_of(of({"neighbour.power_mW=0.5", "neighbour.timing=alternating"}), measure::Cause::neighbour) ==
          nullptr);
    const auto changes = [&](std::vector<std::string> more) {
        more.insert(more.begin(), phase.begin(), phase.end());
        return study::changes_around(small_sensor(more));
    };
    CHECK(changes({}).empty());
    // In turn, turned or shaded, another frequency: each is a scenario, and each lowers the error.
    const auto cures = changes({"neighbour.power_mW=0.5"});
    CHECK(cures.size() == 3);
    for (const study::Change& cure : cures) {
        INFO(cure.words);
        std::vector<std::string> settings{"neighbour.power_mW=0.5"};
        settings.insert(settings.end(), cure.settings.begin(), cure.settings.end());
        const auto* left = line_of(of(settings), measure::Cause::neighbour);
        CHECK((left == nullptr || left->component.standard_uncertainty < 0.11 * expected));
    }
}

TEST_CASE("advice changes what is around the light, where there is something", "[study][unit]") {
    const auto changes = [](const std::vector<std::string>& settings) {
        return study::changes_around(small_sensor(settings));
    };
    CHECK(changes({}).empty());
    CHECK(has_kind(changes({"surroundings.hot_air_Cn2=1e-10"}), "air"));
    CHECK(has_kind(changes({"motion.mount_vibration_um=3"}), "bracket"));
    CHECK(has_kind(changes({"neighbour.power_mW=0.3"}), "neighbour"));
    CHECK(changes({"neighbour.power_mW=0.3", "neighbour.timing=alternating"}).empty());
    // What is proposed is a scenario, and better.
    const scenario::Scenario hot = small_sensor({"surroundings.hot_air_Cn2=1e-9"});
    const auto wander = [](const scenario::Scenario& s) {
        const sensor::Setup setup = sensor::set_up(s, 1);
        const auto& before = std::get<sensor::TriangulationSetup>(setup);
        return receiver::wander_variance(measure::hot_air_of(s), measure::air_paths_of(before));
    };
    scenario::Scenario tube = hot;
    tube.surroundings.hot_air_height = 20.0 * mm;
    CHECK(wander(tube) < 0.1 * wander(hot));
}
