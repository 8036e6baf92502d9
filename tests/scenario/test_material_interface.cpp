// Materials with an interface that reflects: refractive index and roughness of a file, and what is refused there.

#include <complex>

#include "tests/support/scenario.hpp"

using namespace spotwright;
using Catch::Contains;
using scenario::Material;
using test::problems_of_material;

namespace {

/// A material of interface alone, whose lines can be replaced one by one, by number.
std::string interface_text(int line = 0, const std::string& replacement = {}) {
    std::vector<std::string> lines{"name = \"sample\"",
                                   "title = \"a polished sample\"",
                                   "[index]",
                                   "wavelength_nm = [400.0, 600.0, 1000.0]",
                                   "n = [1.0, 2.0, 4.0]",
                                   "k = [5.0, 4.0, 0.0]",
                                   "source = \"invented for the test\"",
                                   "[roughness]",
                                   "rms_height_um = 0.05",
                                   "rms_slope = [0.02, 0.01]",
                                   "distribution = \"ggx\"",
                                   "source = \"invented for the test\""};
    if (line > 0) lines[static_cast<std::size_t>(line - 1)] = replacement;
    std::string text;
    for (const std::string& each : lines) text += each + "\n";
    return text;
}

}  // namespace

TEST_CASE("index and roughness of a material are read in SI units with their sources", "[material][unit]") {
    const Material material = scenario::parse_material(interface_text(), "sample.toml");
    REQUIRE(material.index.has_value());
    CHECK(material.index->source == "invented for the test");
    CHECK(material.roughness.rms_height == 0.05 * base::um);
    CHECK(material.roughness.rms_slope == scenario::Pair{0.02, 0.01});
    CHECK(material.roughness.distribution == scenario::FacetDistribution::ggx);
    CHECK(material.roughness.source == "invented for the test");
    CHECK(scenario::parse_material(interface_text(11, "distribution = \"beckmann\""), "sample.toml")
              .roughness.distribution == scenario::FacetDistribution::beckmann);
}

TEST_CASE("the index is linear between the points of its table, exact at them, and not extrapolated",
          "[material][unit]") {
    const Material material = scenario::parse_material(interface_text(), "sample.toml");
    CHECK(scenario::index_at(material, 600.0 * base::nm) == std::complex<double>(2.0, 4.0));
    // Rounding: a handful of operations on numbers below 5. Catches a wrong interval, or n taken for k.
    constexpr double rounding = 8 * 5.0 * 2.2e-16;
    CHECK(std::abs(scenario::index_at(material, 450.0 * base::nm) - std::complex<double>(1.25, 4.75)) < rounding);
    CHECK(std::abs(scenario::index_at(material, 900.0 * base::nm) - std::complex<double>(3.5, 1.0)) < rounding);
    CHECK_THROWS_WITH(scenario::index_at(material, 399.0 * base::nm), Contains("399") && Contains("400 to 1000 nm"));
    CHECK_THROWS_AS(scenario::index_at(Material{}, 500.0 * base::nm), base::DomainError);
}

TEST_CASE("a bare interface scatters nothing from below it", "[material][unit]") {
    const Material material = scenario::parse_material(interface_text(), "sample.toml");
    CHECK(scenario::reflectance_at(material, 650.0 * base::nm) == 0.0);
}

TEST_CASE("every mistake in an interface has its place", "[material][unit]") {
    const auto each = GENERATE(values<test::MaterialMistake>({
        {4, "wavelength_nm = [400.0, 600.0]", 17, "index.wavelength_nm", "as many of one as of the other", ""},
        {4, "wavelength_nm = [600.0, 400.0, 1000.0]", 17, "index.wavelength_nm", "must rise", ""},
        {5, "n = [1.0, 0.0, 4.0]", 5, "index.n", "got 0.0", "0.05 to 10"},
        {5, "n = [1.0, nan, 4.0]", 5, "index.n", "got nan", "0.05 to 10"},
        {5, "n = 1.5", 5, "index.n", "must be an array of numbers, got 1.5", ""},
        {6, "k = [5.0, -4.0, 0.0]", 5, "index.k", "got -4.0", "0 to 20"},
        {6, "k = [5.0, inf, 0.0]", 5, "index.k", "got inf", "0 to 20"},
        {7, "source = 5", 10, "index.source", "must be text, got 5", ""},
        {9, "rms_height_um = -0.1", 17, "roughness.rms_height_um", "got -0.1", "0 to 1000"},
        {9, "rms_height_um = [0.1]", 17, "roughness.rms_height_um", "got [0.1]", "0 to 1000"},
        {10, "rms_slope = [0.02]", 13, "roughness.rms_slope", "must be two numbers, got [0.02]", "[along, across]"},
        {10, "rms_slope = []", 13, "roughness.rms_slope", "must be two numbers, got []", "[along, across]"},
        {10, "rms_slope = [0.02, 0.0]", 13, "roughness.rms_slope", "got 0.0", "0.001 to 1"},
        {11, "distribution = \"gauss\"", 16, "roughness.distribution", "no such distribution: \"gauss\"",
         "beckmann or ggx"},
    }));
    INFO(each.replacement);
    test::check_reported(problems_of_material(interface_text(each.line, each.replacement)), each);
}

TEST_CASE("an interface needs its source, and both of its sections", "[material][unit]") {
    for (const int line : {7, 12}) {
        const auto problems = problems_of_material(interface_text(line, ""));
        REQUIRE(problems.size() == 1);
        CHECK(problems[0].location.key == (line == 7 ? "index.source" : "roughness.source"));
        CHECK(problems[0].message == "required, but missing");
    }
    const std::string index_only = interface_text().substr(0, interface_text().find("[roughness]"));
    CHECK(problems_of_material(index_only).size() == 4);
}

TEST_CASE("a wavelength outside the table of the index is reported at the material's name", "[material][unit]") {
    const test::TemporaryFolder folder;
    folder.write("sample.toml", interface_text(4, "wavelength_nm = [700.0, 800.0, 900.0]"));
    const auto problems = test::problems_of("[target]\nmaterial = \"sample.toml\"\n", {}, folder.path() / "job.toml");
    REQUIRE(problems.size() == 1);
    CHECK(problems[0].location.line == 2);
    CHECK(problems[0].location.key == "target.material");
    CHECK_THAT(problems[0].message, Contains("655"));
    CHECK_THAT(problems[0].allowed, Contains("from 700 to 900"));
}
