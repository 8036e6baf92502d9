// The material file to begin with, and the table of keys that it is made from.

#include <sstream>

#include "sim/scenario/material_keys.hpp"
#include "tests/support/scenario.hpp"

using namespace spotwright;
using Catch::Contains;

namespace {

std::vector<std::string> lines_of(const std::string& text) {
    std::istringstream in(text);
    std::vector<std::string> lines;
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    return lines;
}

// The template with keys that are comments taken as keys.
std::string with_everything() {
    std::string text;
    for (const std::string& line : lines_of(scenario::material_template())) {
        const bool is_key = line.size() > 1 && line[0] == '#' && line[1] != ' ';
        text += (is_key ? line.substr(1) : line) + "\n";
    }
    return text;
}

}  // namespace

TEST_CASE("the material file to begin with loads as it stands", "[material][unit]") {
    const scenario::Material m = scenario::parse_material(scenario::material_template(), "my.toml");
    CHECK(m.name == "my-material");
    CHECK(scenario::reflectance_at(m, 700e-9) == Approx(0.30));
    CHECK_FALSE(m.index);
    CHECK_FALSE(m.volume);
    CHECK_FALSE(m.range);
}

TEST_CASE("with every comment taken away it has every section", "[material][unit]") {
    const scenario::Material m = scenario::parse_material(with_everything(), "my.toml");
    CHECK((m.index && m.haze && m.volume && m.layer && m.grain && m.range));
    CHECK(m.coherence.source == "assumed");
    for (const scenario::RangedProperty& property : scenario::ranged_properties) {
        INFO(property.name);
        CHECK(((*m.range).*property.factors).has_value());
    }
}

TEST_CASE("every key of a material stands in the file to begin with", "[material][unit]") {
    const std::string text = scenario::material_template();
    for (const scenario::MaterialKey& key : scenario::material_keys()) {
        INFO(key.path);
        CHECK_FALSE(key.meaning.empty());
        const std::string name(key.path.substr(key.path.find('.') + 1));
        CHECK((text.find("\n" + name + " = ") != std::string::npos ||
               text.find("\n#" + name + " = ") != std::string::npos ||
               text.find("# " + name + ": ") != std::string::npos));
    }
}

TEST_CASE("bounds of the table are those that a file is held to", "[material][unit]") {
    const std::string whole = with_everything();
    int bounded = 0;
    for (const scenario::MaterialKey& key : scenario::material_keys()) {
        if (key.low == 0.0 && key.high == 0.0) continue;
        INFO(key.path);
        ++bounded;
        const std::size_t dot = key.path.find('.');
        const std::string section = "[" + std::string(key.path.substr(0, dot)) + "]";
        const std::string name = "\n" + std::string(key.path.substr(dot + 1)) + " = ";
        std::string text = whole;
        const std::size_t begin = text.find(name, text.find(section)) + name.size();
        const std::size_t end = text.find('\n', begin);
        const bool list = text[begin] == '[';
        const std::string beyond = std::to_string(key.high * 1.01 + 1.0);
        text.replace(begin, end - begin, list ? "[" + beyond + ", " + beyond + ", " + beyond + "]" : beyond);
        try {
            static_cast<void>(scenario::parse_material(text, "my.toml"));
            FAIL("accepted");
        } catch (const base::ScenarioError& error) {
            CHECK_THAT(error.what(), Contains(std::string(key.path)));
        }
    }
    CHECK(bounded > 20);
}
