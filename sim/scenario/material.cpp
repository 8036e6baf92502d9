#include "sim/scenario/material.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/embedded_materials.hpp"
#include "sim/scenario/toml_source.hpp"

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
        material.reflectance.wavelength = numbers("reflectance.wavelength_nm", 100.0, 20000.0);
        material.reflectance.value = numbers("reflectance.value", 0.0, 1.0);
        material.reflectance.source = text("reflectance.source");
        material.slope.deviation = number("slope.deviation_deg", 0.0, 45.0);
        material.slope.source = text("slope.source");
        check_table(material.reflectance);
        if (!problems_.empty()) throw base::ScenarioError(std::move(problems_));
        return material;
    }

private:
    void complain(const base::Place& place, const std::string& message, std::string allowed = {},
                  std::string hint = {}) {
        problems_.push_back(base::Problem{place, printable(message), std::move(allowed), std::move(hint)});
    }

    void report_unknown_keys() {
        static const std::vector<std::string> known{"name",
                                                    "title",
                                                    "reflectance.wavelength_nm",
                                                    "reflectance.value",
                                                    "reflectance.source",
                                                    "slope.deviation_deg",
                                                    "slope.source"};
        const auto report = [this](const std::string& path, const Field& field) {
            const std::string nearest = base::nearest_word(path, known);
            complain(field.key_place, "no such key", base::alternatives(known),
                     nearest.empty() ? "" : fmt::format("did you mean `{}`?", nearest));
        };
        for (const auto& [path, field] : source_.fields()) {
            if (std::find(known.begin(), known.end(), path) == known.end()) report(path, field);
        }
        for (const auto& [path, section] : source_.sections()) {
            if (path != "reflectance" && path != "slope") report(path, section);
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
        if (!value || value->empty()) complain(field->value_place, "must be text, got " + node_text(*field->node));
        return value.value_or("");
    }

    // Converted to SI by the unit in the key's name.
    double convert(const std::string& path, const Field& field, const toml::node& node, double low, double high) {
        const std::optional<double> value = number_of(node);
        if (!value || !(*value >= low && *value <= high)) {
            complain(field.value_place, "got " + node_text(node), fmt::format("numbers from {} to {}", low, high));
            return 0.0;
        }
        return base::to_si(base::unit_of(path), *value);
    }

    double number(const std::string& path, double low, double high) {
        const Field* field = required(path);
        return field == nullptr ? 0.0 : convert(path, *field, *field->node, low, high);
    }

    std::vector<double> numbers(const std::string& path, double low, double high) {
        const Field* field = required(path);
        if (field == nullptr) return {};
        const toml::array* array = field->node->as_array();
        if (array == nullptr) {
            complain(field->value_place, "must be an array of numbers, got " + node_text(*field->node));
            return {};
        }
        std::vector<double> result;
        for (const toml::node& node : *array) result.push_back(convert(path, *field, node, low, high));
        return result;
    }

    void check_table(const ReflectanceTable& table) {
        if (!problems_.empty()) return;
        const base::Place place = source_.find("reflectance.wavelength_nm")->value_place;
        if (table.wavelength.size() < 2 || table.wavelength.size() != table.value.size()) {
            complain(place, "wavelengths and values must be two or more, and as many of one as of the other");
        }
        if (std::adjacent_find(table.wavelength.begin(), table.wavelength.end(), std::greater_equal<>{}) !=
            table.wavelength.end()) {
            complain(place, "wavelengths must rise");
        }
    }

    TomlSource source_;
    std::vector<base::Problem> problems_;
};

}  // namespace

double reflectance_at(const Material& material, double wavelength) {
    const std::vector<double>& known = material.reflectance.wavelength;
    const std::vector<double>& value = material.reflectance.value;
    if (known.empty() || wavelength < known.front() || wavelength > known.back()) {
        const std::string allowed =
            known.empty() ? "none known"
                          : fmt::format("{:g} to {:g} nm", known.front() / base::nm, known.back() / base::nm);
        throw base::DomainError("wavelength in nm for the reflectance of " + material.name, wavelength / base::nm,
                                allowed);
    }
    const auto above =
        std::max<std::ptrdiff_t>(1, std::lower_bound(known.begin(), known.end(), wavelength) - known.begin());
    const auto i = static_cast<std::size_t>(above);
    const double share = (wavelength - known[i - 1]) / (known[i] - known[i - 1]);
    return std::lerp(value[i - 1], value[i], share);
}

std::vector<std::string> material_names() {
    std::vector<std::string> names;
    for (const EmbeddedFile& file : embedded_materials()) names.emplace_back(file.name);
    std::sort(names.begin(), names.end());
    return names;
}

Material library_material(std::string_view name) {
    for (const EmbeddedFile& file : embedded_materials()) {
        if (file.name == name) return parse_material(file.text, fmt::format("materials/{}.toml", name));
    }
    throw base::InternalError(fmt::format("no library material \"{}\"", name));
}

Material parse_material(std::string_view text, const std::string& file) {
    return MaterialReader(text, file).read();
}

}  // namespace spotwright::scenario
