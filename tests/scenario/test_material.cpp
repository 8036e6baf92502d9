// Materials: the text of a file, the table of reflectance, and the library that is built in.

#include "tests/support/scenario.hpp"

using namespace spotwright;
using Catch::Contains;
using scenario::Material;
using test::problems_of_material;

namespace {

/// A material file whose lines can be replaced one by one, by number.
std::string material_text(int line = 0, const std::string& replacement = {}) {
    std::vector<std::string> lines{"name = \"sample\"",
                                   "title = \"a sample\"",
                                   "[reflectance]",
                                   "wavelength_nm = [400.0, 500.0, 900.0]",
                                   "value = [0.2, 0.4, 0.0]",
                                   "source = \"invented for the test\"",
                                   "[slope]",
                                   "deviation_deg = 3.0",
                                   "source = \"invented for the test\""};
    if (line > 0) lines[static_cast<std::size_t>(line - 1)] = replacement;
    std::string text;
    for (const std::string& each : lines) text += each + "\n";
    return text;
}

}  // namespace

TEST_CASE("a material is read in SI units with its sources", "[material][unit]") {
    const Material material = scenario::parse_material(material_text(), "sample.toml");
    CHECK(material.name == "sample");
    CHECK(material.title == "a sample");
    CHECK(material.reflectance.wavelength == std::vector<double>{400.0 * 1e-9, 500.0 * 1e-9, 900.0 * 1e-9});
    CHECK(material.reflectance.value == std::vector<double>{0.2, 0.4, 0.0});
    CHECK(material.reflectance.source == "invented for the test");
    CHECK(material.slope.deviation == 3.0 * base::degree);
    CHECK(material.slope.source == "invented for the test");
}

TEST_CASE("reflectance is linear between the points of the table and exact at them", "[material][unit]") {
    const Material material = scenario::parse_material(material_text(), "sample.toml");
    CHECK(scenario::reflectance_at(material, 400.0 * 1e-9) == 0.2);
    CHECK(scenario::reflectance_at(material, 500.0 * 1e-9) == 0.4);
    CHECK(scenario::reflectance_at(material, 900.0 * 1e-9) == 0.0);
    // Rounding: a handful of operations on numbers of order 1. Catches a wrong interval or a swapped weight.
    constexpr double rounding = 8 * 2.2e-16;
    CHECK(std::abs(scenario::reflectance_at(material, 425.0 * 1e-9) - 0.25) < rounding);
    CHECK(std::abs(scenario::reflectance_at(material, 700.0 * 1e-9) - 0.2) < rounding);
}

TEST_CASE("reflectance is not extrapolated", "[material][unit]") {
    const Material material = scenario::parse_material(material_text(), "sample.toml");
    CHECK_THROWS_AS(scenario::reflectance_at(material, 399.9e-9), base::DomainError);
    CHECK_THROWS_WITH(scenario::reflectance_at(material, 901e-9),
                      Contains("sample") && Contains("901") && Contains("400 to 900 nm"));
    CHECK_THROWS_AS(scenario::reflectance_at(Material{}, 500e-9), base::DomainError);
}

TEST_CASE("every mistake in a material file has its place", "[material][unit]") {
    const auto each = GENERATE(values<test::MaterialMistake>({
        {1, "name = 5", 8, "name", "must be text, got 5", ""},
        {2, "title = \"\"", 9, "title", "must be text", ""},
        {4, "wavelength_nm = [400.0, 500.0]", 17, "reflectance.wavelength_nm", "as many of one as of the other", ""},
        {4, "wavelength_nm = [400.0, 900.0, 500.0]", 17, "reflectance.wavelength_nm", "must rise", ""},
        {4, "wavelength_nm = [400.0, 400.0, 500.0]", 17, "reflectance.wavelength_nm", "must rise", ""},
        {4, "wavelength_nm = [0.4, 500.0, 900.0]", 17, "reflectance.wavelength_nm", "got 0.4", "100 to 20000"},
        {4, "wavelength_nm = [400.0, \"500\", 900.0]", 17, "reflectance.wavelength_nm", "got \"500\"", "100 to 20000"},
        {4, "wavelength_nm = 400.0", 17, "reflectance.wavelength_nm", "must be an array of numbers, got 400", ""},
        {5, "value = [0.2, nan, 0.0]", 9, "reflectance.value", "got nan", "0 to 1"},
        {5, "value = [0.2, inf, 0.0]", 9, "reflectance.value", "got inf", "0 to 1"},
        {5, "value = [0.2, -0.1, 0.0]", 9, "reflectance.value", "got -0.1", "0 to 1"},
        {5, "value = [0.2, 1.1, 0.0]", 9, "reflectance.value", "got 1.1", "0 to 1"},
        {5, "value = [0.2, [0.4], 0.0]", 9, "reflectance.value", "got [0.4]", "0 to 1"},
        {8, "deviation_deg = -1.0", 17, "slope.deviation_deg", "got -1", "0 to 45"},
        {8, "deviation_deg = 46", 17, "slope.deviation_deg", "got 46", "0 to 45"},
        {8, "deviation_deg = [1.0, 2.0]", 17, "slope.deviation_deg", "got [1.0, 2.0]", "0 to 45"},
    }));
    INFO(each.replacement);
    test::check_reported(problems_of_material(material_text(each.line, each.replacement)), each);
}

TEST_CASE("a key or section that a material does not have is reported with its place", "[material][unit]") {
    const auto key = problems_of_material(material_text() + "sorce = \"?\"\n");
    REQUIRE(key.size() == 1);
    CHECK(key[0].location.line == 10);
    CHECK(key[0].location.key == "slope.sorce");
    CHECK_THAT(key[0].hint, Contains("`slope.source`"));
    const auto section = problems_of_material(material_text() + "[gloss]\n");
    REQUIRE(section.size() == 1);
    CHECK(section[0].location.line == 10);
    CHECK(section[0].location.key == "gloss");
}

TEST_CASE("a material without a source for a value is refused", "[material][unit]") {
    for (const int line : {6, 9}) {
        const auto problems = problems_of_material(material_text(line, ""));
        REQUIRE(problems.size() == 1);
        CHECK(problems[0].location.key == (line == 6 ? "reflectance.source" : "slope.source"));
        CHECK(problems[0].message == "required, but missing");
    }
}

TEST_CASE("an empty material file misses every key", "[material][unit]") {
    CHECK(problems_of_material("").size() == 7);
}

TEST_CASE("a table of one point is no table", "[material][unit]") {
    std::string text = material_text(4, "wavelength_nm = [400.0]");
    text.replace(text.find("[0.2, 0.4, 0.0]"), 15, "[0.2]");
    const auto problems = problems_of_material(text);
    REQUIRE(problems.size() == 1);
    CHECK_THAT(problems[0].message, Contains("two or more"));
}

TEST_CASE("every material of the library can be used under its name", "[material][unit]") {
    const auto names = scenario::material_names();
    CHECK(std::is_sorted(names.begin(), names.end()));
    CHECK(std::find(names.begin(), names.end(), "white-ceramic") != names.end());
    std::size_t files = 0;
    for (const auto& entry : std::filesystem::directory_iterator(SPOTWRIGHT_SOURCE_DIR "/scenarios/materials")) {
        if (entry.path().extension() != ".toml") continue;
        ++files;
        INFO(entry.path().string());
        CHECK(std::find(names.begin(), names.end(), entry.path().stem().string()) != names.end());
    }
    CHECK(files == names.size());
    for (const std::string& name : names) {
        INFO(name);
        const Material material = scenario::library_material(name);
        CHECK(material.name == name);
        CHECK_FALSE(material.title.empty());
    }
    CHECK_THROWS_AS(scenario::library_material("moon-dust"), base::InternalError);
}
