// Materials that are translucent: the volume of a file, and the surface made of it.

#include "sim/target/fresnel.hpp"
#include "sim/target/subsurface.hpp"
#include "sim/target/surface.hpp"
#include "sim/target/volume_paths.hpp"
#include "tests/support/scenario.hpp"

using namespace spotwright;
using Catch::Contains;
using scenario::Material;
using target::Volume;
using test::problems_of_material;

namespace {

/// A material file of a translucent part whose lines can be replaced one by one, by number.
std::string volume_text(int line = 0, const std::string& replacement = {}) {
    std::vector<std::string> lines{"name = \"jelly\"",
                                   "title = \"a sample\"",
                                   "[volume]",
                                   "wavelength_nm = [400.0, 500.0, 900.0]",
                                   "reduced_scattering_per_mm = [4.0, 2.0, 1.0]",
                                   "absorption_per_mm = [0.01, 0.03, 0.0]",
                                   "source = \"invented for the test\"",
                                   "[index]",
                                   "wavelength_nm = [300.0, 1000.0]",
                                   "n = [1.5, 1.4]",
                                   "k = [0.0, 0.001]",
                                   "source = \"invented for the test\"",
                                   "[roughness]",
                                   "rms_height_um = 1.0",
                                   "rms_slope = [0.1, 0.1]",
                                   "distribution = \"ggx\"",
                                   "source = \"invented for the test\""};
    if (line > 0) lines[static_cast<std::size_t>(line - 1)] = replacement;
    std::string text;
    for (const std::string& each : lines) text += each + "\n";
    return text;
}

}  // namespace

TEST_CASE("a translucent material is read in SI units, linear between its points", "[material][unit]") {
    const Material material = scenario::parse_material(volume_text(), "jelly.toml");
    REQUIRE(material.volume);
    CHECK(material.volume->source == "invented for the test");
    CHECK(scenario::reflectance_at(material, 500e-9) == 0.0);
    // Rounding of a conversion and an interpolation.
    const auto near = [](double got, double wanted) { return std::abs(got - wanted) <= 8 * 2.2e-16 * wanted; };
    CHECK(near(scenario::volume_at(material, 450e-9).reduced_scattering, 3000.0));
    CHECK(near(scenario::volume_at(material, 450e-9).absorption, 20.0));
    CHECK(near(scenario::volume_at(material, 800e-9).reduced_scattering, 1250.0));
    CHECK(near(scenario::volume_at(material, 800e-9).absorption, 7.5));
    // A file that says nothing of it scatters to all sides alike.
    CHECK(scenario::volume_at(material, 800e-9).anisotropy == 0.0);
    const Material forward = scenario::parse_material(
        volume_text(6, "absorption_per_mm = [0.01, 0.03, 0.0]\nanisotropy = [0.8, 0.6, 0.6]"), "jelly.toml");
    CHECK(near(scenario::volume_at(forward, 450e-9).anisotropy, 0.7));
    CHECK(near(target::make_surface(forward, 450e-9).volume->anisotropy, 0.7));
}

TEST_CASE("coefficients of a volume are not extrapolated", "[material][unit]") {
    const Material material = scenario::parse_material(volume_text(), "jelly.toml");
    CHECK_THROWS_WITH(scenario::volume_at(material, 901e-9),
                      Contains("volume of jelly") && Contains("901") && Contains("400 to 900 nm"));
    CHECK_THROWS_AS(scenario::volume_at(material, 399e-9), base::DomainError);
    CHECK_THROWS_AS(scenario::volume_at(Material{}, 500e-9), base::DomainError);
}

TEST_CASE("every mistake in a volume has its place", "[material][unit]") {
    const auto each = GENERATE(values<test::MaterialMistake>({
        {4, "wavelength_nm = [400.0, 500.0]", 17, "volume.wavelength_nm", "as many of one as of the other", ""},
        {4, "wavelength_nm = [900.0, 500.0, 400.0]", 17, "volume.wavelength_nm", "must rise", ""},
        {5, "reduced_scattering_per_mm = [4.0, 0.0, 1.0]", 29, "volume.reduced_scattering_per_mm", "got 0",
         "0.001 to 10000"},
        {5, "reduced_scattering_per_mm = 4.0", 29, "volume.reduced_scattering_per_mm", "must be an array", ""},
        {6, "absorption_per_mm = [0.01, -0.03, 0.0]", 21, "volume.absorption_per_mm", "got -0.03", "0 to 10000"},
        {6, "absorption_per_mm = [0.01, nan, 0.0]", 21, "volume.absorption_per_mm", "got nan", "0 to 10000"},
        {6, "anisotropy = [0.5, 1.0, 0.5]\nabsorption_per_mm = [0.01, 0.03, 0.0]", 14, "volume.anisotropy", "got 1",
         "-0.9 to 0.99"},
        {4, "wavelength_nm = [400.0, 500.0, 900.0]\nanisotropy = [0.5, 0.5]", 17, "volume.wavelength_nm",
         "as many of one as of the other", ""},
        {7, "source = 5", 10, "volume.source", "must be text", ""},
    }));
    INFO(each.replacement);
    const auto problems = problems_of_material(volume_text(each.line, each.replacement));
    test::check_reported(problems, each);
}

TEST_CASE("a volume needs all of its keys", "[material][unit]") {
    for (const int line : {4, 5, 6, 7}) {
        const auto problems = problems_of_material(volume_text(line, ""));
        REQUIRE(problems.size() == 1);
        CHECK(problems[0].message == "required, but missing");
    }
    const auto unknown = problems_of_material(volume_text() + "[volume2]\n");
    REQUIRE(unknown.size() == 1);
    CHECK(unknown[0].message == "no such key");
}

TEST_CASE("a volume may stand with a base, which tells the same light for other shapes", "[material][unit]") {
    const std::string base = "[reflectance]\nwavelength_nm = [400.0, 900.0]\nvalue = [0.5, 0.5]\nsource = \"?\"\n";
    const std::string slope = "[slope]\ndeviation_deg = 5\nsource = \"?\"\n";
    const Material both = scenario::parse_material(volume_text() + base + slope, "jelly.toml");
    CHECK(scenario::has_base(both));
    const target::Surface inside = target::make_surface(both, 500e-9);
    CHECK(inside.volume);
    CHECK(inside.reflectance == 0.0);
    const target::Surface face = target::make_opaque_surface(both, 500e-9);
    CHECK_FALSE(face.volume);
    CHECK(face.reflectance == 0.5);
    CHECK(face.gloss);
    // Without a base there is no other way to tell its light.
    CHECK(target::make_opaque_surface(scenario::parse_material(volume_text(), "jelly.toml"), 500e-9).volume);
}

TEST_CASE("a volume without an interface is porous to its face: its index is that of air", "[material][unit]") {
    const std::string text = volume_text();
    const Material porous = scenario::parse_material(text.substr(0, text.find("[index]")), "powder.toml");
    const target::Surface surface = target::make_surface(porous, 500e-9);
    REQUIRE(surface.volume);
    CHECK(surface.volume->index == 1.0);
    CHECK_FALSE(surface.gloss);
    CHECK(scenario::reflectance_at(porous, 500e-9) == 0.0);
}

TEST_CASE("a layer has a thickness and a backing", "[material][layer][unit]") {
    const auto text = [](const std::string& layer) {
        return volume_text() + "[layer]\nthickness_um = 40\n" + layer + "\nsource = \"invented\"\n";
    };
    const auto volume = [&](const std::string& layer) {
        return *target::make_surface(scenario::parse_material(text(layer), "coat.toml"), 600e-9).volume;
    };
    CHECK(volume("backing_reflectance = 0.4").thickness == Approx(40e-6).epsilon(1e-12));
    CHECK(volume("backing_reflectance = 0.4").backing == 0.4);
    CHECK(volume("backing = \"grey-card\"").backing ==
          scenario::reflectance_at(scenario::library_material("grey-card"), 600e-9));
    // A metal by Fresnel's reflectance for diffuse light from within the layer.
    const auto steel = scenario::index_at(scenario::library_material("blasted-steel"), 600e-9);
    CHECK(volume("backing = \"blasted-steel\"").backing ==
          Approx(target::diffuse_fresnel(steel / volume("backing_reflectance = 1").index)).epsilon(1e-12));
    CHECK_FALSE(target::is_layer(*target::make_surface(scenario::parse_material(volume_text(), "x"), 600e-9).volume));

    const auto message = [&](const std::string& layer) { return problems_of_material(text(layer)).at(0).message; };
    CHECK_THAT(message(""), Contains("state once"));
    CHECK_THAT(message("backing = \"brass\"\nbacking_reflectance = 0.1"), Contains("state once"));
    CHECK_THAT(message("backing = \"bras\""), Contains("no such material"));
    CHECK_THAT(message("backing = \"marble\""), Contains("cannot lie below a layer"));
    CHECK_THAT(message("backing_reflectance = 1.2"), Contains("got 1.2"));
}

TEST_CASE("grain is of a volume", "[material][unit]") {
    const std::string grain = "[grain]\nsize_um = 300\nrelative_variation = 0.1\nsource = \"invented\"\n";
    const Material stone = scenario::parse_material(volume_text() + grain, "stone.toml");
    REQUIRE(stone.grain);
    CHECK(stone.grain->size == Approx(300e-6).epsilon(1e-12));
    CHECK(stone.grain->variation == 0.1);
    const std::string matt =
        "name = \"m\"\ntitle = \"m\"\n[reflectance]\nwavelength_nm = [400, 900]\nvalue = [0.5, "
        "0.5]\nsource = \"?\"\n[slope]\ndeviation_deg = 0\nsource = \"?\"\n";
    CHECK(problems_of_material(matt + grain).at(0).message == "[grain] needs [volume]");
    CHECK(problems_of_material(matt + "[layer]\nthickness_um = 1\nbacking_reflectance = 0\nsource = \"?\"\n")
              .at(0)
              .message == "[layer] needs [volume]");
}

TEST_CASE("a volume of the library sends back what its file states as reflectance", "[material][volume][physics]") {
    for (const std::string& name : scenario::material_names()) {
        const Material material = scenario::library_material(name);
        if (!material.volume || !scenario::has_base(material)) continue;
        const double stated = scenario::reflectance_at(material, 655e-9);
        const Volume volume = *target::make_surface(material, 655e-9).volume;
        const auto walk = target::walk_volume(volume, {1.0, {0.5, 0.0}}, {8192, 32768, 1, 3.0, 0.1});
        INFO(name);
        // 0.3 % of the walk, and coefficients that are rounded to two or three digits.
        CHECK(target::reflected_share(volume, walk) == Approx(stated).margin(0.015));
        // Diffusion, for ambient light and tables.
        CHECK(target::diffuse_reflectance(volume) == Approx(stated).margin(0.03));
    }
}

TEST_CASE("a surface of a translucent material has its volume and no base", "[material][target][unit]") {
    const Material material = scenario::parse_material(volume_text(), "jelly.toml");
    const target::Surface surface = target::make_surface(material, 650e-9);
    REQUIRE(surface.volume);
    CHECK(surface.reflectance == 0.0);
    CHECK(surface.volume->index == surface.gloss->index.real());
    CHECK(std::abs(surface.volume->index - 1.45) < 1e-12);
    CHECK(std::abs(surface.volume->reduced_scattering - 1625.0) < 1e-9);
    CHECK_THROWS_AS(target::make_surface(material, 950e-9), base::DomainError);
    CHECK_FALSE(target::make_surface(scenario::library_material("white-ceramic"), 650e-9).volume);
}

TEST_CASE("translucent library materials send back what was published for them", "[material][published]") {
    // H. W. Jensen et al., SIGGRAPH (2001), printed to two digits, red channel; from memory.
    const auto reflected = [](const char* name) {
        const target::Surface surface = target::make_surface(scenario::library_material(name), 655e-9);
        return target::total_reflectance(target::make_dipole(surface.volume.value()));
    };
    CHECK(std::abs(reflected("marble") - 0.83) < 0.005);
    CHECK(std::abs(reflected("whole-milk") - 0.91) < 0.005);
    CHECK(reflected("translucent-polymer") > 0.7);
}
