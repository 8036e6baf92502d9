#include "sim/scenario/material.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/embedded_library.hpp"
#include "sim/scenario/material_keys.hpp"
#include "sim/scenario/material_values.hpp"
#include "sim/scenario/toml_source.hpp"
#include "sim/scenario/material_words.hpp"

namespace spotwright::scenario {

namespace {

// Reads one material and gathers what is wrong with it.
class MaterialReader {
public:
    MaterialReader(std::string_view text, const std::string& file) : source_(text, file) {}

    Material read() {
        report_unknown_keys();
        Material material;
        material.name = text("name");
        material.title = text("title");
        const bool has_interface = has_section("index") || has_section("roughness");
        const bool has_volume = has_section("volume");
        const bool has_base = has_section("reflectance") || has_section("slope");
        if (has_volume) read_volume(material);
        if (has_base || !(has_interface || has_volume)) read_base(material);
        if (has_section("layer")) read_layer(material);
        if (has_section("grain")) read_grain(material);
        if (has_interface) read_interface(material);
        if (has_section("haze")) read_haze(material);
        if (has_section("coherence")) read_coherence(material);
        if (has_section("range")) read_range(material);
        if (!problems_.empty()) throw base::ScenarioError(std::move(problems_));
        return material;
    }

private:
    void complain(const base::SourceLocation& location, const std::string& message, std::string allowed = {},
                  std::string hint = {}) {
        problems_.push_back(base::Problem{location, printable(message), std::move(allowed), std::move(hint)});
    }

    void report_unknown_keys() {
        std::vector<std::string> known;
        std::vector<std::string> sections;
        for (const MaterialKey& key : material_keys()) {
            known.emplace_back(key.path);
            const std::string section(key.path.substr(0, key.path.find('.')));
            if (section != key.path && std::find(sections.begin(), sections.end(), section) == sections.end()) {
                sections.push_back(section);
            }
        }
        const auto report = [this, &known](const std::string& path, const Field& field) {
            const std::string nearest = base::nearest_word(path, known);
            complain(field.key_location, "no such key", base::alternatives(known), base::did_you_mean(nearest));
        };
        for (const auto& [path, field] : source_.fields()) {
            if (std::find(known.begin(), known.end(), path) == known.end()) report(path, field);
        }
        for (const auto& [path, section] : source_.sections()) {
            if (std::find(sections.begin(), sections.end(), path) == sections.end()) report(path, section);
        }
    }

    const Field* required(const std::string& path) {
        const Field* field = source_.find(path);
        if (field == nullptr) complain(source_.absent(path), "required, but missing");
        return field;
    }

    std::string text(const std::string& path) {
        const Field* field = required(path);
        if (field == nullptr) return {};
        const auto value = field->node->value_exact<std::string>();
        if (!value || value->empty()) complain(field->value_location, "must be text, got " + node_text(*field->node));
        return value.value_or("");
    }

    // Converted to SI by the unit in the key's name.
    double convert(const std::string& path, const Field& field, const toml::node& node) {
        const auto [low, high] = std::pair(material_key(path).low, material_key(path).high);
        const std::optional<double> value = number_of(node);
        if (!value || !(*value >= low && *value <= high)) {
            complain(field.value_location, "got " + node_text(node), fmt::format("numbers from {} to {}", low, high));
            return 0.0;
        }
        return base::to_si(base::unit_of(path), *value);
    }

    double number(const std::string& path) {
        const Field* field = required(path);
        return field == nullptr ? 0.0 : convert(path, *field, *field->node);
    }

    std::vector<double> numbers(const std::string& path) {
        const Field* field = required(path);
        if (field == nullptr) return {};
        const toml::array* array = field->node->as_array();
        if (array == nullptr) {
            complain(field->value_location, "must be an array of numbers, got " + node_text(*field->node));
            return {};
        }
        std::vector<double> result;
        for (const toml::node& node : *array) result.push_back(convert(path, *field, node));
        return result;
    }

    [[nodiscard]] bool has_section(const std::string& name) const { return source_.sections().contains(name); }

    void read_base(Material& material) {
        material.reflectance.wavelength = numbers("reflectance.wavelength_nm");
        material.reflectance.value = numbers("reflectance.value");
        material.reflectance.source = text("reflectance.source");
        material.slope.deviation = number("slope.deviation_deg");
        material.slope.source = text("slope.source");
        check_table("reflectance.wavelength_nm", material.reflectance.wavelength, {material.reflectance.value.size()});
    }

    void read_interface(Material& material) {
        IndexTable index;
        index.wavelength = numbers("index.wavelength_nm");
        index.n = numbers("index.n");
        index.k = numbers("index.k");
        index.source = text("index.source");
        check_table("index.wavelength_nm", index.wavelength, {index.n.size(), index.k.size()});
        material.index = std::move(index);

        Roughness& roughness = material.roughness;
        roughness.rms_height = number("roughness.rms_height_um");
        const std::vector<double> slope = numbers("roughness.rms_slope");
        if (slope.size() == 2) {
            roughness.rms_slope = {slope[0], slope[1]};
        } else if (const Field* field = source_.find("roughness.rms_slope");
                   field != nullptr && field->node->is_array() && field->node->as_array()->size() != 2) {
            complain(field->value_location, "must be two numbers, got " + node_text(*field->node), "[along, across]");
        }
        roughness.source = text("roughness.source");
        const std::string word = text("roughness.distribution");
        if (word == "ggx") roughness.distribution = FacetDistribution::ggx;
        if (word != "ggx" && word != "beckmann" && !word.empty()) {
            complain(source_.find("roughness.distribution")->value_location,
                     fmt::format("no such distribution: \"{}\"", word), "beckmann or ggx");
        }
    }

    void read_haze(Material& material) {
        if (!has_section("index")) {
            complain(source_.sections().at("haze").key_location, "[haze] needs [index], whose interface it roughens");
        }
        Haze haze;
        // The theory is that of heights far below the wavelength; the exponent keeps them finite.
        haze.rms_height = number("haze.rms_height_um");
        haze.corner_length = number("haze.corner_length_um");
        haze.exponent = number("haze.exponent");
        haze.source = text("haze.source");
        material.haze = std::move(haze);
    }

    void read_volume(Material& material) {
        VolumeTable volume;
        volume.wavelength = numbers("volume.wavelength_nm");
        volume.reduced_scattering = numbers("volume.reduced_scattering_per_mm");
        volume.absorption = numbers("volume.absorption_per_mm");
        // Light scatters to all sides alike where a file says nothing.
        volume.anisotropy = source_.find("volume.anisotropy") != nullptr
                                ? numbers("volume.anisotropy")
                                : std::vector<double>(volume.wavelength.size(), 0.0);
        volume.source = text("volume.source");
        check_table("volume.wavelength_nm", volume.wavelength,
                    {volume.reduced_scattering.size(), volume.absorption.size(), volume.anisotropy.size()});
        material.volume = std::move(volume);
    }

    // Layers and grains are of a volume.
    void check_has_volume(const std::string& section) {
        if (has_section("volume")) return;
        complain(source_.sections().at(section).key_location, fmt::format("[{}] needs [volume]", section));
    }

    void read_layer(Material& material) {
        check_has_volume("layer");
        Layer layer;
        layer.thickness = number("layer.thickness_um");
        layer.source = text("layer.source");
        const Field* named = source_.find("layer.backing");
        const Field* stated = source_.find("layer.backing_reflectance");
        if ((named == nullptr) == (stated == nullptr)) {
            complain(source_.sections().at("layer").key_location, "the file must state once what lies below the layer",
                     "backing or backing_reflectance");
            return;
        }
        if (stated != nullptr) {
            layer.backing_reflectance = number("layer.backing_reflectance");
        } else {
            layer.backing = text("layer.backing");
            read_backing(*named, layer);
        }
        material.layer = std::move(layer);
    }

    void read_backing(const Field& field, Layer& layer) {
        const std::vector<std::string> names = material_names();
        if (std::find(names.begin(), names.end(), layer.backing) == names.end()) {
            complain(field.value_location, fmt::format("no such material: \"{}\"", layer.backing),
                     "a name of the library (`spotwright materials` lists them)", material_hint(layer.backing));
            return;
        }
        // Named by itself, it would be read without end.
        const Material below = layer.backing == material_name() ? Material{} : library_material(layer.backing);
        layer.backing_base = below.reflectance;
        if (below.reflectance.wavelength.empty() && !below.volume) layer.backing_index = below.index;
        if (layer.backing_base.wavelength.empty() && !layer.backing_index) {
            complain(field.value_location, fmt::format("\"{}\" cannot lie below a layer", layer.backing),
                     "a material with a diffuse base, or a metal");
        }
    }

    [[nodiscard]] std::string material_name() const {
        const Field* field = source_.find("name");
        return field == nullptr ? std::string() : field->node->value_or(std::string());
    }

    void read_grain(Material& material) {
        check_has_volume("grain");
        Grain grain;
        grain.size = number("grain.size_um");
        grain.variation = number("grain.relative_variation");
        grain.source = text("grain.source");
        material.grain = std::move(grain);
    }

    void read_coherence(Material& material) {
        material.coherence.polarisation_degree = number("coherence.polarisation_degree");
        material.coherence.path_deviation = number("coherence.path_deviation_um");
        material.coherence.source = text("coherence.source");
    }

    // Factors of values that the file has.
    void read_range(Material& material) {
        MaterialRange range;
        for (const RangedProperty& property : ranged_properties) {
            const std::string key = fmt::format("range.{}", property.name);
            const Field* field = source_.find(key);
            if (field == nullptr) continue;
            if (!has_section(section_of(property))) {
                complain(field->key_location,
                         fmt::format("a range of a value that the file does not have: no [{}]", section_of(property)));
            }
            const std::vector<double> factors = numbers(key);
            if (factors.size() == 2 && factors[0] <= 1.0 && factors[1] >= 1.0) {
                range.*property.factors = Factors{factors[0], factors[1]};
            } else if (problems_.empty()) {
                complain(field->value_location, "got " + node_text(*field->node),
                         "[from, to], factors of the value: from <= 1 <= to");
            }
        }
        range.source = text("range.source");
        material.range = std::move(range);
    }

    void check_table(const std::string& key, const std::vector<double>& wavelength,
                     const std::vector<std::size_t>& sizes) {
        if (!problems_.empty()) return;
        const base::SourceLocation location = source_.find(key)->value_location;
        const bool alike = std::all_of(sizes.begin(), sizes.end(),
                                       [&wavelength](std::size_t size) { return size == wavelength.size(); });
        if (wavelength.size() < 2 || !alike) {
            complain(location, "wavelengths and values must be two or more, and as many of one as of the other");
        }
        if (std::adjacent_find(wavelength.begin(), wavelength.end(), std::greater_equal<>{}) != wavelength.end()) {
            complain(location, "wavelengths must rise");
        }
    }

    TomlSource source_;
    std::vector<base::Problem> problems_;
};

// Where a wavelength stands in a rising table.
struct Bracket {
    std::size_t below;
    double share;
};

Bracket bracket_in(const std::vector<double>& known, double wavelength, const std::string& what) {
    if (known.empty() || wavelength < known.front() || wavelength > known.back()) {
        const std::string allowed =
            known.empty() ? "none known"
                          : fmt::format("{:g} to {:g} nm", known.front() / base::nm, known.back() / base::nm);
        throw base::DomainError("wavelength in nm for the " + what, wavelength / base::nm, allowed);
    }
    const auto above =
        std::max<std::ptrdiff_t>(1, std::lower_bound(known.begin(), known.end(), wavelength) - known.begin());
    const auto i = static_cast<std::size_t>(above);
    return {i - 1, (wavelength - known[i - 1]) / (known[i] - known[i - 1])};
}

}  // namespace

namespace {

double value_at(const ReflectanceTable& table, double wavelength, const std::string& of) {
    const Bracket at = bracket_in(table.wavelength, wavelength, "reflectance of " + of);
    return std::lerp(table.value[at.below], table.value[at.below + 1], at.share);
}

std::complex<double> value_at(const IndexTable& table, double wavelength, const std::string& of) {
    const Bracket at = bracket_in(table.wavelength, wavelength, "refractive index of " + of);
    return {std::lerp(table.n[at.below], table.n[at.below + 1], at.share),
            std::lerp(table.k[at.below], table.k[at.below + 1], at.share)};
}

}  // namespace

double reflectance_at(const Material& material, double wavelength) {
    if (!has_base(material) && (material.index || material.volume)) return 0.0;
    return value_at(material.reflectance, wavelength, material.name);
}

std::complex<double> index_at(const Material& material, double wavelength) {
    return value_at(material.index.value_or(IndexTable{}), wavelength, material.name);
}

LayerBacking layer_backing_at(const Layer& layer, double wavelength) {
    if (layer.backing.empty()) return {layer.backing_reflectance, std::nullopt};
    if (layer.backing_index) return {0.0, value_at(*layer.backing_index, wavelength, layer.backing)};
    return {value_at(layer.backing_base, wavelength, layer.backing), std::nullopt};
}

VolumeCoefficients volume_at(const Material& material, double wavelength) {
    const VolumeTable table = material.volume.value_or(VolumeTable{});
    const Bracket here = bracket_in(table.wavelength, wavelength, "volume of " + material.name);
    const auto at = [&here](const std::vector<double>& value) {
        return std::lerp(value[here.below], value[here.below + 1], here.share);
    };
    return {at(table.reduced_scattering), at(table.absorption), at(table.anisotropy)};
}

double volume_index_at(const Material& material, double wavelength) {
    return material.index ? index_at(material, wavelength).real() : 1.0;
}

bool has_base(const Material& material) {
    return !material.reflectance.wavelength.empty();
}

double nearest_known_wavelength(const Material& material, double wavelength) {
    const auto into = [](const std::vector<double>& known, double at) {
        return known.empty() ? at : std::clamp(at, known.front(), known.back());
    };
    // All tables know the emitter's wavelength, so that the order does not matter.
    double nearest = into(material.reflectance.wavelength, wavelength);
    if (material.index) nearest = into(material.index->wavelength, nearest);
    if (material.volume) nearest = into(material.volume->wavelength, nearest);
    return nearest;
}

std::vector<std::string> material_names() {
    std::vector<std::string> names;
    for (const EmbeddedFile& file : embedded_materials()) names.emplace_back(file.name);
    std::sort(names.begin(), names.end());
    return names;
}

std::string_view library_material_text(std::string_view name) {
    for (const EmbeddedFile& file : embedded_materials()) {
        if (file.name == name) return file.text;
    }
    throw base::InternalError(fmt::format("no library material \"{}\"", name));
}

Material library_material(std::string_view name) {
    return parse_material(library_material_text(name), fmt::format("materials/{}.toml", name));
}

Material parse_material(std::string_view text, const std::string& file) {
    return MaterialReader(text, file).read();
}

}  // namespace spotwright::scenario
