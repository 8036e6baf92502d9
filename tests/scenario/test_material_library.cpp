// The library: every material has a range with a source, no value leaves what is possible anywhere in its range, and
// tables that were copied from publications give what handbooks say.

#include <algorithm>
#include <cmath>
#include <complex>
#include <set>

#include "sim/scenario/material_values.hpp"
#include "tests/support/scenario.hpp"

using namespace spotwright;
using Catch::Contains;
using scenario::Material;
using scenario::MaterialRange;

namespace {

std::vector<Material> library() {
    std::vector<Material> all;
    for (const std::string& name : scenario::material_names()) all.push_back(scenario::library_material(name));
    return all;
}

double mirrored(const Material& material, double wavelength) {
    const std::complex<double> n = scenario::index_at(material, wavelength);
    return std::norm((n - 1.0) / (n + 1.0));
}

}  // namespace

TEST_CASE("the library has what is met in a workshop: 60 materials or more", "[material][unit]") {
    CHECK(scenario::material_names().size() >= 60);
    std::set<std::string> titles;
    for (const Material& material : library()) titles.insert(material.title);
    CHECK(titles.size() == scenario::material_names().size());
}

TEST_CASE("every material of the library has a range with a source, and its value lies in it", "[material][unit]") {
    for (const Material& material : library()) {
        INFO(material.name);
        REQUIRE(material.range);
        CHECK_FALSE(material.range->source.empty());
        int ranged = 0;
        for (const scenario::RangedProperty& property : scenario::ranged_properties) {
            const auto& factors = (*material.range).*property.factors;
            if (!factors) continue;
            INFO(property.name);
            ++ranged;
            CHECK((*factors)[0] > 0.0);
            CHECK((*factors)[0] <= 1.0);
            CHECK((*factors)[1] >= 1.0);
            CHECK((*factors)[0] < (*factors)[1]);
            // The factors change something: the property is the material's.
            CHECK_FALSE(scenario::with_factor(material, property, (*factors)[0] * 0.9) == material);
        }
        CHECK(ranged > 0);
        // Sources say where the interval comes from: a number from published or handbook data, practice, or memory.
        const std::string& source = material.range->source;
        const bool honest =
            source.find("from memory") != std::string::npos || source.find("handbook") != std::string::npos ||
            source.find("common practice") != std::string::npos || source.find("assumed") != std::string::npos;
        CHECK(honest);
    }
}

TEST_CASE("no diffuse base, white ones included, sends back more than it gets anywhere in its range",
          "[material][unit]") {
    for (const Material& material : library()) {
        INFO(material.name);
        const MaterialRange range = material.range.value_or(MaterialRange{});
        const scenario::Factors factors = range.reflectance.value_or(scenario::Factors{1.0, 1.0});
        for (const double value : material.reflectance.value) {
            CHECK(value * factors[0] >= 0.0);
            CHECK(value * factors[1] <= 1.0);  // without the limit that `with_factor` has
        }
    }
}

TEST_CASE("a material at an end of its range is one that a file may hold", "[material][unit]") {
    for (const Material& material : library()) {
        INFO(material.name);
        const MaterialRange range = material.range.value_or(MaterialRange{});
        for (const scenario::RangedProperty& property : scenario::ranged_properties) {
            const std::optional<scenario::Factors>& factors = range.*property.factors;
            if (!factors) continue;
            for (const double factor : *factors) {
                const Material end = scenario::with_factor(material, property, factor);
                constexpr double rounding = 1.0 + 1e-12;
                for (const double slope : end.roughness.rms_slope) {
                    CHECK(slope * rounding >= 0.001);
                    CHECK(slope <= 1.0);
                }
                CHECK(end.roughness.rms_height <= 1000.0 * base::um);
                if (!end.volume) continue;
                for (const double scattering : end.volume->reduced_scattering) CHECK(scattering >= 1.0);
                for (const double absorption : end.volume->absorption) CHECK(absorption >= 0.0);
            }
        }
    }
}

TEST_CASE("a value with a range has its two ends, below the limit of the quantity", "[material][unit]") {
    const auto ends = scenario::from_to(scenario::Factors{0.5, 2.0}, 0.3);
    REQUIRE(ends);
    CHECK((*ends)[0] == 0.15);
    CHECK((*ends)[1] == 0.6);
    CHECK((*scenario::from_to(scenario::Factors{0.5, 2.0}, 0.8, 1.0))[1] == 1.0);
    CHECK_FALSE(scenario::from_to(std::nullopt, 0.3));
}

TEST_CASE("a range of what the file does not have is reported with its place", "[material][unit]") {
    const std::string matt =
        "name = \"t\"\ntitle = \"t\"\n[reflectance]\nwavelength_nm = [400.0, 1050.0]\nvalue = [0.4, 0.4]\n"
        "source = \"s\"\n[slope]\ndeviation_deg = 0.0\nsource = \"s\"\n[range]\n";
    for (const std::string property : {"rms_slope", "rms_height", "reduced_scattering", "absorption"}) {
        INFO(property);
        const auto problems = test::problems_of_material(matt + property + " = [0.5, 2.0]\nsource = \"s\"\n");
        REQUIRE(problems.size() == 1);
        CHECK(problems[0].location.key == "range." + property);
        CHECK(problems[0].location.line == 11);
        CHECK_THAT(problems[0].message, Contains("does not have"));
    }
    CHECK(test::problems_of_material(matt + "reflectance = [0.5, 2.0]\n")[0].location.key == "range.source");
}

TEST_CASE("metals of published index mirror as handbooks say", "[material][published]") {
    // Reflectance at normal incidence near 650 nm of handbook tables, from memory: films and crystals of one metal
    // differ by 0.05. Catches a column taken for another and a line that is missing.
    struct Metal {
        const char* name;
        double reflectance;
    };
    for (const Metal& metal :
         {Metal{"titanium-machined", 0.58}, Metal{"nickel-plated", 0.68}, Metal{"tungsten-ground", 0.51},
          Metal{"hard-chrome-ground", 0.56}, Metal{"tin-plated", 0.81}, Metal{"die-cast-aluminium", 0.905}}) {
        INFO(metal.name);
        CHECK(std::abs(mirrored(scenario::library_material(metal.name), 650e-9) - metal.reflectance) < 0.05);
    }
    // As the file says, above what light itself finds; the table is linear between 620 and 708 nm.
    CHECK(mirrored(scenario::library_material("galvanised-steel"), 650e-9) == Approx(0.875).margin(0.005));
    // Oxide and carbon are dark: magnetite 0.17, pressed graphite 0.15 to 0.2, from memory.
    CHECK(mirrored(scenario::library_material("hot-rolled-steel"), 650e-9) == Approx(0.17).margin(0.02));
    CHECK(mirrored(scenario::library_material("graphite"), 650e-9) == Approx(0.17).margin(0.03));
}

TEST_CASE("a word for a family of materials finds its members", "[material][unit]") {
    const std::vector<std::string> plastics = scenario::materials_like("Plastic");
    for (const char* name : {"white-pom", "abs-black", "frosted-plastic"}) {
        INFO(name);
        CHECK(std::find(plastics.begin(), plastics.end(), name) != plastics.end());
    }
    CHECK(std::find(plastics.begin(), plastics.end(), "white-paper") == plastics.end());
}

TEST_CASE("black to the eye is not black to a near infrared emitter, unless carbon makes it so", "[material][unit]") {
    const auto rise = [](const char* name) {
        const Material material = scenario::library_material(name);
        return scenario::reflectance_at(material, 850e-9) / scenario::reflectance_at(material, 650e-9);
    };
    for (const char* dyed : {"textile-black", "leather-black", "black-anodised-aluminium"}) CHECK(rise(dyed) > 4.0);
    for (const char* carbon : {"black-ink", "matt-black-paint", "black-powder-coat", "abs-black", "epdm-foam"}) {
        CHECK(rise(carbon) == Approx(1.0));
    }
}
