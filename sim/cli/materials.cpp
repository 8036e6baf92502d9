#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include <nlohmann/json.hpp>

#include "sim/base/errors.hpp"
#include "sim/base/printable.hpp"
#include "sim/base/units.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/json.hpp"
#include "sim/record/json_text.hpp"
#include "sim/scenario/material_keys.hpp"
#include "sim/scenario/material_values.hpp"
#include "sim/scenario/material_wavelengths.hpp"
#include "sim/scenario/material_words.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::cli {

namespace {

struct Texts {
    std::string base = "unknown";
    std::string reflected = "-";
    std::string mirror = "-";
};

Texts texts_of(const scenario::Material& material, double wavelength) {
    Texts texts;
    try {
        const target::Surface surface = target::make_surface(material, wavelength);
        texts.base =
            fmt::format("{:.3f}", surface.volume ? target::diffuse_reflectance(*surface.volume) : surface.reflectance);
        if (surface.gloss) {
            texts.reflected = fmt::format("{:.3f}", target::fresnel(surface.gloss->index, 1.0).unpolarised());
            texts.mirror = fmt::format("{:.3f}", target::mirror_share(*surface.gloss, 1.0));
        }
    } catch (const base::DomainError&) {  // not known at this wavelength
    }
    return texts;
}

// From what to what real parts may differ; "-" where nothing is known.
std::string base_range(const scenario::Material& material, double wavelength) {
    if (!material.range || !material.range->reflectance) return "-";
    try {
        const auto ends =
            *scenario::from_to(material.range->reflectance, scenario::reflectance_at(material, wavelength), 1.0);
        return fmt::format("{:.2g} to {:.2g}", ends[0], ends[1]);
    } catch (const base::DomainError&) {
        return "unknown";
    }
}

std::string slope_range(const scenario::Material& material) {
    if (!material.range || !material.range->rms_slope) return "-";
    const auto along = *scenario::from_to(material.range->rms_slope, material.roughness.rms_slope[0]);
    const auto across = *scenario::from_to(material.range->rms_slope, material.roughness.rms_slope[1]);
    return fmt::format("{:.2g} / {:.2g} to {:.2g} / {:.2g}", along[0], across[0], along[1], across[1]);
}

std::string sources_of(const scenario::Material& material) {
    std::string text;
    const auto add = [&text](const char* what, const std::string& source) {
        if (!source.empty()) text += fmt::format("{}{}: {}", text.empty() ? "" : "; ", what, source);
    };
    add("reflectance", material.reflectance.source);
    add("slope", material.slope.source);
    if (material.index) add("index", material.index->source);
    add("roughness", material.roughness.source);
    if (material.haze) add("haze", material.haze->source);
    if (material.volume) add("volume", material.volume->source);
    if (material.range) add("range", material.range->source);
    if (material.layer) add("layer", material.layer->source);
    if (material.grain) add("grain", material.grain->source);
    return text;
}

// Which part of the material sends the light back.
std::string light_from(const scenario::Material& material) {
    if (material.volume) return "volume";
    if (material.layer) return "layer";
    return scenario::has_base(material) ? "face" : "-";
}

[[noreturn]] void reject_name(const char* key, const std::string& name) {
    base::SourceLocation place;
    place.key = key;
    throw base::ScenarioError(
        {{place, fmt::format("no such material: \"{}\"", base::printable(name)),
          "a name of the library (`spotwright materials` lists them)", scenario::material_hint(name)}});
}

// What the command names: materials, and a scenario for the wavelength.
struct Asked {
    std::vector<std::string> names;
    double wavelength = scenario::Scenario{}.emitter.wavelength;
};

Asked asked_of(const Options& options) {
    Asked asked;
    const std::vector<std::string> known = scenario::material_names();
    for (const std::string& name : options.materials) {
        if (name.ends_with(".toml")) {
            asked.wavelength = scenario::load(name, options.settings).emitter.wavelength;
        } else if (std::find(known.begin(), known.end(), name) != known.end()) {
            asked.names.push_back(name);
        } else {
            reject_name("materials", name);
        }
    }
    return asked;
}

// What it is at a wavelength, and its file.
std::string in_full(const std::string& name, double wavelength) {
    const scenario::Material material = scenario::library_material(name);
    const Texts texts = texts_of(material, wavelength);
    const auto [from, to] = scenario::known_wavelengths(material);
    return fmt::format(
        "{}: {}\n  known from {:.0f} to {:.0f} nm; light from: {}; at {:g} nm: diffuse base {}, interface {}, mirror "
        "share "
        "{}\n\n{}",
        name, material.title, std::ceil(from / base::nm), std::floor(to / base::nm), light_from(material),
        wavelength / base::nm, texts.base, texts.reflected, texts.mirror, scenario::library_material_text(name));
}

// The entries of the named materials.
nlohmann::ordered_json json_of(const std::vector<std::string>& names, double wavelength) {
    nlohmann::ordered_json all = record::materials_json(wavelength);
    nlohmann::ordered_json& list = all.contains("materials") ? all["materials"] : all;
    nlohmann::ordered_json kept = nlohmann::ordered_json::array();
    for (const auto& each : list) {
        if (std::find(names.begin(), names.end(), each.value("name", "")) != names.end()) kept.push_back(each);
    }
    list = kept;
    return all;
}

}  // namespace

int run_materials(const Options& options) {
    if (options.material_template) {
        print("{}", scenario::material_template());
        return exit_done;
    }
    const Asked asked = asked_of(options);
    const double wavelength = asked.wavelength;
    if (!asked.names.empty() && !options.json) {
        for (const std::string& name : asked.names) print("{}\n", in_full(name, wavelength));
        return exit_done;
    }
    const std::vector<std::string> names =
        options.like.empty() ? scenario::material_names() : scenario::materials_like(options.like);
    if (names.empty()) reject_name("--like", options.like);
    std::vector<std::vector<std::string>> rows{{"material", "known / nm", "light from", "diffuse base", "range",
                                                "interface", "mirror share", "rms slope", "range", "description"}};
    std::string sources;
    for (const std::string& name : names) {
        const scenario::Material material = scenario::library_material(name);
        const Texts texts = texts_of(material, wavelength);
        const auto& slope = material.roughness.rms_slope;
        const auto [from, to] = scenario::known_wavelengths(material);
        rows.push_back({name, fmt::format("{:.0f} to {:.0f}", std::ceil(from / base::nm), std::floor(to / base::nm)),
                        light_from(material), texts.base, base_range(material, wavelength), texts.reflected,
                        texts.mirror, material.index ? fmt::format("{:g} / {:g}", slope[0], slope[1]) : "-",
                        slope_range(material), material.title});
        sources += fmt::format("  {}: {}\n", name, wrapped(sources_of(material), 4));
    }
    if (options.json) {
        print("{}\n", record::json_text(json_of(asked.names.empty() ? names : asked.names, wavelength)));
    } else {
        print(
            "At {:g} nm: reflectance of the diffuse base, or of all that comes back from a volume; of the interface "
            "at\n"
            "normal incidence; share of that which stays a mirror's; rms slope of the facets along and across the "
            "lay;\n"
            "light from: face, opaque like a paint; volume, into which it goes, so that readings lie deeper; layer;\n"
            "range: from what to what real parts differ, beside the value; known: wavelengths within its tables, "
            "unknown\n"
            "where the wavelength lies beyond them.\n\n{}\nsources\n{}",
            wavelength / base::nm, table(rows), sources);
    }
    return exit_done;
}

}  // namespace spotwright::cli
