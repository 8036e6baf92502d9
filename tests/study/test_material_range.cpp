// What the range of a material's values does to a budget.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/study/budget.hpp"
#include "sim/study/material_effect.hpp"

using namespace spotwright;
using base::um;

namespace {

const std::string material_text =
    "name = \"t\"\ntitle = \"t\"\n[reflectance]\nwavelength_nm = [400.0, 1050.0]\nvalue = [0.4, 0.4]\nsource = \"s\"\n"
    "[slope]\ndeviation_deg = 0.0\nsource = \"s\"\n";

sensor::Setup setup_of(const std::string& range, const std::vector<std::string>& settings) {
    scenario::Scenario s = scenario::parse("[target]\nmaterial = \"matt-paint-mid-grey\"\n", "t", settings);
    s.target.made_of = scenario::parse_material(material_text + range, "t.toml");
    return sensor::set_up(sensor::make_sensor(s, 2), s);
}

}  // namespace

TEST_CASE("moments of a material's effect are those of its parabola over even positions", "[study]") {
    const study::MaterialEffect effect{"reflectance", -1.0, 3.0};
    double mean = 0.0;
    double square = 0.0;
    constexpr int steps = 20000;
    for (int i = 0; i < steps; ++i) {
        const double e = effect.at((2.0 * i + 1.0) / steps - 1.0);
        mean += e / steps;
        square += e * e / steps;
    }
    CHECK(effect.mean() == Approx(mean).epsilon(1e-6));  // the midpoint rule errs by 1 / steps^2
    CHECK(effect.variance() == Approx(square - mean * mean).epsilon(1e-6));
    CHECK(effect.at(-1.0) == -1.0);
    CHECK(effect.at(0.0) == 0.0);
    CHECK(effect.at(1.0) == 3.0);
}

TEST_CASE("a property times a factor is the only one that changes", "[study][scenario]") {
    const scenario::Material ground = scenario::library_material("ground-steel");
    for (const scenario::RangedProperty& property : scenario::ranged_properties) {
        const scenario::Material same = scenario::with_factor(ground, property, 1.0);
        CHECK(same == ground);
    }
    const scenario::Material rough = scenario::with_factor(ground, scenario::ranged_properties[1], 2.0);
    CHECK(rough.roughness.rms_slope[1] == 2.0 * ground.roughness.rms_slope[1]);
    CHECK(rough.roughness.rms_height == ground.roughness.rms_height);
    const scenario::Material white = scenario::library_material("white-ceramic");
    const scenario::Material whiter = scenario::with_factor(white, scenario::ranged_properties[0], 50.0);
    CHECK(whiter.reflectance.value.front() == 1.0);
}

TEST_CASE("the budget's line of the material comes from its range, and none from no range", "[study]") {
    const std::string range = "[range]\nreflectance = [0.5, 2.0]\nsource = \"s\"\n";
    const auto line_of = [](const sensor::Setup& setup) -> std::optional<double> {
        study::BudgetOptions options;
        options.threads = 2;
        const study::Budget budget = study::budget(setup, options);
        const auto found = std::find_if(budget.lines.begin(), budget.lines.end(), [](const study::BudgetLine& line) {
            return line.cause == measure::Cause::material;
        });
        if (found == budget.lines.end()) return std::nullopt;
        return found->component.standard_uncertainty;
    };
    const std::vector<std::string> settings{"run.trials=200", "run.speckle=off", "reading.threshold=0.1"};
    const auto ranged = line_of(setup_of(range, settings));
    REQUIRE(ranged);
    // The threshold cuts more off a darker spot, which is not quite even: a little error, but one.
    CHECK(*ranged > 0.0);
    CHECK(*ranged < 1.0 * um);
    CHECK_FALSE(line_of(setup_of("", settings)));
    std::vector<std::string> sure = settings;
    sure.emplace_back("uncertainty.material_share=0");
    CHECK_FALSE(line_of(setup_of(range, sure)));
}

TEST_CASE("a range of a material file must hold its value", "[scenario]") {
    for (const std::string bad : {"[1.5, 2.0]", "[0.5, 0.9]", "[2.0, 0.5]", "[1.0]", "3.0"}) {
        INFO(bad);
        const std::string text = material_text + "[range]\nreflectance = " + bad + "\nsource = \"s\"\n";
        CHECK_THROWS_WITH(scenario::parse_material(text, "t.toml"), Catch::Contains("range"));
    }
}
