// At which wavelengths materials are known, and what is said of the others.

#include "sim/base/units.hpp"
#include "sim/scenario/material_wavelengths.hpp"
#include "tests/support/scenario.hpp"

using namespace spotwright;
using base::nm;
using Catch::Contains;

TEST_CASE("a material is known where all of its tables are", "[material][unit]") {
    const scenario::Material marble = scenario::library_material("marble");  // index 400 to 1050, volume 460 to 700 nm
    CHECK(scenario::known_wavelengths(marble)[0] == Approx(460.0 * nm));
    CHECK(scenario::known_wavelengths(marble)[1] == Approx(700.0 * nm));
    CHECK(scenario::is_known_at(marble, 655.0 * nm));
    CHECK_FALSE(scenario::is_known_at(marble, 850.0 * nm));
    // A backing that is known from 500 nm on narrows what lies on it.
    scenario::Material coat = scenario::library_material("white-coat-on-steel");
    coat.layer->backing_base.wavelength = {500.0 * nm, 1050.0 * nm};
    CHECK(scenario::known_wavelengths(coat)[0] == Approx(500.0 * nm));
}

TEST_CASE("known wavelengths are those at which every value can be asked for", "[material][unit]") {
    for (const std::string& name : scenario::material_names()) {
        INFO(name);
        const scenario::Material m = scenario::library_material(name);
        const auto [from, to] = scenario::known_wavelengths(m);
        CHECK(from < to);
        CHECK(from <= 655.0 * nm);  // the default emitter
        CHECK(to >= 655.0 * nm);
        for (const double wavelength : {from, to}) {
            CHECK_NOTHROW(scenario::reflectance_at(m, wavelength));
            if (m.index) CHECK_NOTHROW(scenario::index_at(m, wavelength));
            if (m.volume) CHECK_NOTHROW(scenario::volume_at(m, wavelength));
            if (m.layer) CHECK_NOTHROW(scenario::layer_backing_at(*m.layer, wavelength));
        }
    }
}

TEST_CASE("most of the library is known from 400 to 1050 nm", "[material][unit]") {
    // Aluminium, zinc and tin were extended by further rows of the publications that their files name.
    for (const char* name : {"mirror", "milled-aluminium", "bead-blasted-aluminium", "galvanised-steel"}) {
        INFO(name);
        CHECK(scenario::is_known_at(scenario::library_material(name), 400.0 * nm));
        CHECK(scenario::is_known_at(scenario::library_material(name), 1050.0 * nm));
    }
    CHECK(scenario::is_known_at(scenario::library_material("tin-plated"), 1050.0 * nm));
    std::size_t all = 0;
    for (const std::string& name : scenario::material_names()) {
        const scenario::Material m = scenario::library_material(name);
        all += scenario::is_known_at(m, 400.0 * nm) && scenario::is_known_at(m, 1050.0 * nm) ? 1U : 0U;
    }
    CHECK(all >= 60);
}

TEST_CASE("materials like another are of its kind, known there, and the nearest in reflectance first",
          "[material][unit]") {
    const auto near_grey = scenario::similar_materials_at(scenario::library_material("grey-card"), 850.0 * nm, 4);
    REQUIRE(near_grey.size() == 4);
    double last = 0.0;
    for (const std::string& name : near_grey) {
        const scenario::Material m = scenario::library_material(name);
        CHECK(scenario::is_known_at(m, 850.0 * nm));
        const double difference = std::abs(scenario::reflectance_at(m, 850.0 * nm) - 0.18);
        CHECK(difference >= last);
        last = difference;
    }
    CHECK(last < 0.1);
    // White stone is like white parts, though only its interface is a table of reflection.
    for (const std::string& name :
         scenario::similar_materials_at(scenario::library_material("marble"), 850.0 * nm, 4)) {
        INFO(name);
        const scenario::Material m = scenario::library_material(name);
        CHECK((!scenario::has_base(m) || scenario::reflectance_at(m, 850.0 * nm) > 0.5));
    }
    for (const std::string& name :
         scenario::similar_materials_at(scenario::library_material("tin-plated"), 450.0 * nm, 4)) {
        CHECK(scenario::library_material(name).reflectance.wavelength.empty());  // metals, and no matt part
    }
}

TEST_CASE("a wavelength outside is told with the range and with materials that are known there", "[material][unit]") {
    const auto problems = test::problems_of("[target]\nmaterial = \"grey-card\"\n[emitter]\nwavelength_nm = 850.0\n");
    REQUIRE(problems.size() == 1);
    CHECK(problems[0].location.key == "target.material");
    CHECK(problems[0].location.line == 2);
    CHECK_THAT(problems[0].message, Contains("\"grey-card\" is not known at 850 nm"));
    CHECK_THAT(problems[0].allowed, Contains("emitter.wavelength_nm from 400 to 700"));
    CHECK_THAT(problems[0].hint, Contains("known at 850 nm: "));
}

TEST_CASE("a part of a material's name is answered with the names that have it", "[material][unit]") {
    for (const auto& [word, names] : std::vector<std::pair<std::string, std::vector<std::string>>>{
             {"steel", {"polished-steel", "ground-steel", "stainless-steel"}},
             {"rubber", {"black-rubber", "natural-rubber"}},
             {"glass", {"clear-glass", "sandblasted-glass"}},
             {"aluminum", {"milled-aluminium"}}}) {
        const auto problems = test::problems_of("[target]\nmaterial = \"" + word + "\"\n");
        REQUIRE(problems.size() == 1);
        for (const std::string& name : names) CHECK_THAT(problems[0].hint, Contains("`" + name + "`"));
    }
}
