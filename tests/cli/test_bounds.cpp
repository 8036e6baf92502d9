// Every number a scenario may hold, at the ends of what it may be: a result or a reason, never a defect.
#include <cstdlib>
#include <catch2/catch.hpp>

#include <fmt/format.h>

#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/measure/read.hpp"
#include "sim/record/json.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;

namespace {

constexpr double least_denormal = 5e-324;

bool is_numeric(const scenario::Key& key) {
    return std::holds_alternative<scenario::NumberKey>(key.access) ||
           std::holds_alternative<scenario::NumberOrWordKey>(key.access) ||
           std::holds_alternative<scenario::PairKey>(key.access) ||
           std::holds_alternative<scenario::ApertureKey>(key.access) ||
           std::holds_alternative<scenario::ListKey>(key.access) ||
           std::holds_alternative<scenario::IntegerKey>(key.access);
}

std::string written(const scenario::Key& key, double value) {
    const std::string text = fmt::format("{:.17e}", value);
    if (std::holds_alternative<scenario::PairKey>(key.access)) return fmt::format("[{0}, {0}]", text);
    return std::holds_alternative<scenario::ListKey>(key.access) ? fmt::format("[{}]", text) : text;
}

std::vector<std::string> values_of(const scenario::Key& key) {
    const auto [low, high, low_open] = key.limits;
    const double infinite = std::numeric_limits<double>::infinity();
    if (std::holds_alternative<scenario::IntegerKey>(key.access)) {
        const double most = std::isinf(high) ? 9e18 : high;
        return {fmt::format("{:.0f}", low), fmt::format("{:.0f}", low + 1), fmt::format("{:.0f}", most)};
    }
    std::vector<std::string> values;
    for (const double value :
         {least_denormal, 1e-310, 1e-300, low, std::nextafter(low, infinite), high, std::nextafter(high, -infinite)}) {
        values.push_back(written(key, value));
    }
    return values;
}

// Of the run; and what blurs the light over the whole array, 12 s a value: only with all keys.
bool is_of_work(const scenario::Key& key) {
    const bool blurs = key.name == "spherical_waves" || key.name == "focus_error_um" || key.name == "focus_um";
    return key.section == "run" || key.name == "pulses" || key.name == "average" ||
           (blurs && std::getenv("SPOTWRIGHT_ALL_KEYS") == nullptr);
}

}  // namespace

TEST_CASE("what must be positive has a least value, and denormal numbers are refused there", "[scenario][unit]") {
    const scenario::Scenario s = scenario::parse("[target]\nmaterial = \"white-ceramic\"\n");
    for (const scenario::Key& key : scenario::schema()) {
        INFO(scenario::dotted(key));
        CHECK_FALSE(key.limits.low_open);
        if (!is_numeric(key) || key.limits.low <= 0.0 || std::holds_alternative<scenario::IntegerKey>(key.access))
            continue;
        for (const double tiny : {least_denormal, 1e-310, 1e-300}) {
            const std::vector<std::string> setting{scenario::dotted(key) + "=" + written(key, tiny)};
            const std::vector<base::Problem> problems = scenario::problems_of(s, setting);
            REQUIRE_FALSE(problems.empty());
            CHECK_THAT(problems.front().message, Catch::StartsWith("out of bounds"));
        }
    }
}

TEST_CASE("every number at the ends of its bounds gives a result or a reason", "[cli][slow]") {
    const std::string setup = GENERATE(as<std::string>{}, "triangulation", "phase-shift", "pulsed");
    const std::vector<std::string> common{"principle=" + setup, "exposure.mode=automatic", "run.readings=20",
                                          "run.patches=2", "run.speckle=statistical"};
    const scenario::Scenario plain = scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "a", common);
    // Every eighth key, another one for each set-up; all of them with SPOTWRIGHT_ALL_KEYS in the environment, some
    // minutes.
    const std::size_t stride = std::getenv("SPOTWRIGHT_ALL_KEYS") != nullptr ? 1 : 8;
    std::size_t number = setup.size();
    for (const scenario::Key& key : scenario::schema()) {
        if (!is_numeric(key) || is_of_work(key) || ++number % stride != 0) continue;
        if (key.section == "flight" && setup == "triangulation") continue;
        for (const std::string& value : values_of(key)) {
            std::vector<std::string> settings{scenario::dotted(key) + "=" + value};
            if (key.section.starts_with("target.")) {
                const std::string shape(key.section.substr(7));
                const bool is_shape = shape == "step" || shape == "cylinder" || shape == "sphere" ||
                                      shape == "groove" || shape == "wave" || shape == "post";
                if (is_shape) settings.push_back("target.shape=" + shape);
            }
            INFO(setup << ": " << settings[0]);
            try {
                const scenario::Scenario s = scenario::with_settings(plain, settings);
                const sensor::Setup there = sensor::set_up(s, 1);
                const measure::ReadResult result = measure::read(there, {1, {}, {}});
                CHECK_FALSE(record::to_json(result, s).empty());
            } catch (const base::InternalError& error) {
                FAIL_CHECK("defect: " << error.what());
            } catch (const base::Error& error) {
                CHECK(std::string(error.what()).size() > 10);
            } catch (const std::exception& error) {
                FAIL_CHECK("defect: " << error.what());
            }
        }
    }
}
