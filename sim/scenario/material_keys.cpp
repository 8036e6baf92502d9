#include "sim/scenario/material_keys.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "sim/base/errors.hpp"

namespace spotwright::scenario {

namespace {

constexpr double shortest_nm = 100.0;
constexpr double longest_nm = 20000.0;
constexpr std::string_view source_meaning =
    "where the values come from: a publication, a measurement, or `from memory`, `assumed`";
constexpr std::string_view wavelengths = "[400.0, 700.0, 1050.0]";

constexpr MaterialKey source_key(std::string_view path) {
    return {path, "text", 0.0, 0.0, "\"assumed\"", source_meaning};
}
constexpr MaterialKey wavelength_key(std::string_view path) {
    return {path,
            "numbers",
            shortest_nm,
            longest_nm,
            wavelengths,
            "wavelengths of the table, rising, two or more; values between are linear, beyond "
            "them the material is not known"};
}
constexpr MaterialKey factors_key(std::string_view path, std::string_view meaning) {
    return {path, "two numbers", 0.0, 100.0, "[0.5, 2.0]", meaning};
}

constexpr std::array keys{
    MaterialKey{"name", "text", 0, 0, "\"my-material\"", "short name; appears in results"},
    MaterialKey{"title", "text", 0, 0, "\"My material, matt\"", "a line for people"},

    wavelength_key("reflectance.wavelength_nm"),
    MaterialKey{"reflectance.value", "numbers", 0, 1, "[0.25, 0.30, 0.35]",
                "share of the light that is scattered back to all sides, gloss excluded, one for each wavelength"},
    source_key("reflectance.source"),
    MaterialKey{"slope.deviation_deg", "number", 0, 45, "0.0",
                "rms slope of the facets of the base; 0: Lambertian, alike to all sides"},
    source_key("slope.source"),

    wavelength_key("index.wavelength_nm"),
    MaterialKey{"index.n", "numbers", 0.05, 10, "[1.5, 1.5, 1.5]", "real part of the refractive index"},
    MaterialKey{"index.k", "numbers", 0, 20, "[0.0, 0.0, 0.0]",
                "imaginary part, of metals; 0 for varnish, plastic, glass"},
    source_key("index.source"),
    MaterialKey{"roughness.rms_height_um", "number", 0, 1000, "0.5", "Rq; about 1.25 Ra. Weakens the mirror part"},
    MaterialKey{"roughness.rms_slope", "two numbers", 0.001, 1, "[0.1, 0.1]",
                "rms slope of the facets along the lay and across it. Widens the glossy lobe"},
    MaterialKey{"roughness.distribution", "`beckmann` or `ggx`", 0, 0, "\"beckmann\"",
                "of the slopes: `ggx` has longer tails"},
    source_key("roughness.source"),
    MaterialKey{"haze.rms_height_um", "number", 0, 0.01, "0.002", "Rq of the fine roughness of a polished face"},
    MaterialKey{"haze.corner_length_um", "number", 0.1, 1000, "5.0", "length beyond which its spectrum is level"},
    MaterialKey{"haze.exponent", "number", 1.05, 5, "2.0", "exponent of the spectrum of a profile"},
    source_key("haze.source"),

    wavelength_key("volume.wavelength_nm"),
    MaterialKey{"volume.reduced_scattering_per_mm", "numbers", 0.001, 10000, "[10.0, 10.0, 10.0]",
                "reduced scattering coefficient: the larger, the less deep light goes"},
    MaterialKey{"volume.absorption_per_mm", "numbers", 0, 10000, "[0.01, 0.01, 0.01]", "absorption coefficient"},
    MaterialKey{"volume.anisotropy", "numbers", -0.9, 0.99, "[0.6, 0.6, 0.6]",
                "mean cosine of a scatter; left out: 0, alike to all sides"},
    source_key("volume.source"),
    MaterialKey{"layer.thickness_um", "number", 0.1, 1e5, "50.0", "thickness of a volume that ends, such as a coat"},
    MaterialKey{"layer.backing", "text", 0, 0, "",
                "material of the library that lies below; a file has this key or backing_reflectance"},
    MaterialKey{"layer.backing_reflectance", "number", 0, 1, "0.5", "diffuse reflectance of what lies below"},
    source_key("layer.source"),
    MaterialKey{"grain.size_um", "number", 0.1, 1e5, "200.0", "diameter of the grains, as of a stone"},
    MaterialKey{"grain.relative_variation", "number", 0, 1, "0.1",
                "standard deviation over the mean of the light that a grain sends back"},
    source_key("grain.source"),
    MaterialKey{"coherence.polarisation_degree", "number", 0, 1, "0.0",
                "polarisation left in light that the base or volume sends back"},
    MaterialKey{"coherence.path_deviation_um", "number", 0, 1e6, "0.0",
                "standard deviation of its optical path below the base"},
    source_key("coherence.source"),

    factors_key("range.reflectance", "of the diffuse base"),
    factors_key("range.rms_slope", "of the interface, along and across alike"),
    factors_key("range.rms_height", "of the interface"),
    factors_key("range.reduced_scattering", "of the volume"),
    factors_key("range.absorption", "of the volume"),
    source_key("range.source"),
};

std::string_view section_of_path(std::string_view path) {
    const std::size_t dot = path.find('.');
    return dot == std::string_view::npos ? std::string_view() : path.substr(0, dot);
}

struct Section {
    std::string_view name;
    std::string_view meaning;
};

constexpr std::array sections{
    Section{"reflectance", "the diffuse base: matt parts have it alone, glossy ones below an interface"},
    Section{"slope", "belongs to `reflectance`"},
    Section{"index", "an interface: metals have it alone, varnish, plastic and glass above a base or volume"},
    Section{"roughness", "belongs to `index`"},
    Section{"haze", "of a polished interface; needs `index`"},
    Section{"volume", "light that enters the part: white plastic, paper, stone, paint"},
    Section{"layer", "a volume that ends, on a backing; needs `volume`"},
    Section{"grain", "places of more and of less light; needs `volume`"},
    Section{"coherence", "optional: what scattering inside leaves of coherence, for speckle"},
    Section{"range", "optional: how far real parts differ, as factors [from, to] of a value in this file"},
};

}  // namespace

std::span<const MaterialKey> material_keys() {
    return keys;
}

const MaterialKey& material_key(std::string_view path) {
    const auto* found =
        std::find_if(keys.begin(), keys.end(), [&](const MaterialKey& key) { return key.path == path; });
    if (found == keys.end()) throw base::InternalError(fmt::format("no key of materials \"{}\"", path));
    return *found;
}

std::string_view meaning_of_section(std::string_view section) {
    const auto* found =
        std::find_if(sections.begin(), sections.end(), [&](const Section& each) { return each.name == section; });
    return found == sections.end() ? std::string_view() : found->meaning;
}

std::string material_template() {
    std::string text =
        "# A material of your own: name it in a scenario by `material = \"FILE.toml\"` in [target].\n"
        "# This one is matt. Keys and sections behind # are for glossy, metallic and translucent parts: take the # "
        "away.\n"
        "# State where each value comes from.\n\n";
    std::string_view section;
    for (const MaterialKey& key : keys) {
        const std::string_view here = section_of_path(key.path);
        const bool active = here.empty() || here == "reflectance" || here == "slope";
        const char* const mark = active ? "" : "#";
        if (here != section) {
            text += fmt::format("\n# {}\n{}[{}]\n", meaning_of_section(here), mark, here);
            section = here;
        }
        const std::string_view name = here.empty() ? key.path : key.path.substr(here.size() + 1);
        if (key.example.empty()) {
            text += fmt::format("# {}: {}\n", name, key.meaning);
        } else {
            if (name != "source") text += fmt::format("# {}\n", key.meaning);
            text += fmt::format("{}{} = {}\n", mark, name, key.example);
        }
    }
    return text;
}

}  // namespace spotwright::scenario
