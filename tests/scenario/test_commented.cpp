// Scenario files to begin with.

#include <sstream>

#include "sim/scenario/commented.hpp"
#include "sim/scenario/schema.hpp"
#include "tests/support/scenario.hpp"

using namespace spotwright;

namespace {

scenario::Scenario decided_scenario() {
    return scenario::parse("[target]\nmaterial = \"black-rubber\"\nshape = \"cylinder\"\n[mount]\nrange_mm = [-2, 3]\n",
                           "job.toml");
}

const scenario::DecidedKeys decided{{"target.material", ""}, {"target.shape", ""}, {"mount.range_mm", "A remark."}};

// Lines that are keys, with or without the mark of a comment.
std::vector<std::string> keys_in(const std::string& text, bool commented) {
    std::istringstream in(text);
    std::vector<std::string> found;
    for (std::string line; std::getline(in, line);) {
        const bool is_comment = !line.empty() && line[0] == '#';
        if (line.empty() || line[0] == '[' || line.starts_with("# ") || is_comment != commented) continue;
        found.push_back(line.substr(is_comment ? 1 : 0, line.find(" =") - (is_comment ? 1 : 0)));
    }
    return found;
}

}  // namespace

TEST_CASE("a commented file reads back to what was decided", "[scenario][unit]") {
    const std::string text = scenario::commented_toml(decided_scenario(), decided);
    INFO(text);
    CHECK(scenario::to_toml(scenario::parse(text, "job.toml")) == scenario::to_toml(decided_scenario()));
    CHECK(keys_in(text, false) == std::vector<std::string>{"schema", "range_mm", "material", "shape"});
    CHECK(text.find("# A remark.\nrange_mm = [-2.0, 3.0]\n") != std::string::npos);
    for (const char* line : {"#power_mW = 0.3\n", "#radius_mm = 10.0\n"}) {
        CHECK(text.find(line) != std::string::npos);
    }
}

TEST_CASE("with its comments taken away a commented file is the same scenario", "[scenario][unit]") {
    std::istringstream in(scenario::commented_toml(decided_scenario(), decided));
    std::string text;
    for (std::string line; std::getline(in, line);) {
        text += (line.size() > 1 && line[0] == '#' && line[1] != ' ' ? line.substr(1) : line) + "\n";
    }
    CHECK(scenario::to_toml(scenario::parse(text, "job.toml")) == scenario::to_toml(decided_scenario()));
}

TEST_CASE("what a sensor has fixed is left out of a commented file, what it offers is not", "[scenario][unit]") {
    const scenario::Scenario s =
        scenario::parse("sensor = \"short-45\"\n[target]\nmaterial = \"black-rubber\"\n", "job.toml");
    const std::string text = scenario::commented_toml(s, {{"sensor", ""}, {"target.material", ""}});
    CHECK(text.find("\nsensor = \"short-45\"\n") != std::string::npos);
    CHECK(text.find("\n#level = ") != std::string::npos);
    CHECK(text.find("\n#pixels = ") == std::string::npos);
    CHECK(scenario::to_toml(scenario::parse(text, "job.toml")) == scenario::to_toml(s));
}

TEST_CASE("a commented file has every key but those of other shapes and principles", "[scenario][unit]") {
    const auto count = [](const scenario::Scenario& s) {
        return keys_in(scenario::commented_toml(s, {}), true).size();
    };
    const auto in_section = [](std::string_view section) {
        std::size_t keys = 0;
        for (const scenario::Key& key : scenario::schema()) keys += key.section == section ? 1U : 0U;
        return keys;
    };
    scenario::Scenario s = decided_scenario();
    std::size_t left_out = in_section("flight");
    for (const char* shape : {"step", "sphere", "groove", "wave", "relief", "plate", "post"}) {
        left_out += in_section(std::string("target.") + shape);
    }
    CHECK(count(s) == scenario::schema().size() - left_out);
    s.principle = scenario::Pulsed{};
    CHECK(count(s) == scenario::schema().size() - left_out + in_section("flight"));
}
