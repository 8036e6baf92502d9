#include "sim/scenario/resolve.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <optional>
#include <string>
#include <utility>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/checks.hpp"
#include "sim/scenario/input_files.hpp"
#include "sim/scenario/material_wavelengths.hpp"
#include "sim/scenario/material_words.hpp"
#include "sim/scenario/paths.hpp"
#include "sim/scenario/relief.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::scenario {

namespace {

class Resolver {
public:
    Resolver(Scenario& scenario, std::vector<base::Problem>& problems) : scenario_(scenario), problems_(problems) {}

    void resolve_names();

private:
    void complain(const base::SourceLocation& location, const std::string& message, std::string allowed = {},
                  std::string hint = {}) {
        problems_.push_back({location, printable(message), std::move(allowed), std::move(hint)});
    }
    void complain_about(const std::string& key, const std::string& message, std::string allowed) {
        complain(location_of(scenario_, key), message, std::move(allowed));
    }
    [[nodiscard]] bool sound(std::initializer_list<std::string_view> keys) const { return are_sound(problems_, keys); }
    [[nodiscard]] std::string beside(const std::string& name) const {
        return (std::filesystem::path(scenario_.file).parent_path() / name).string();
    }
    // Adds the problem of a file that the scenario may not name, if it is one.
    bool refuses(const std::string& key, const std::string& name) {
        std::optional<base::Problem> problem = refused_file(scenario_, location_of(scenario_, key), name);
        if (problem) problems_.push_back(std::move(*problem));
        return problem.has_value();
    }
    // @param name  Of the file that is wrong.
    void add_problems_of(const std::string& name, const base::ScenarioError& error) {
        const std::vector<base::Problem> shown = shown_problems(scenario_, beside(name), error.problems());
        problems_.insert(problems_.end(), shown.begin(), shown.end());
    }
    void resolve_material(const std::string& key, const std::string& name, bool files_too, Material& material);
    void require_known_wavelength(const base::SourceLocation& location, const std::string& name,
                                  const Material& material);
    void resolve_pattern();
    void check_plate();
    void check_volumes();

    // Reads the file that a key names into `target`.
    template <class T>
    void read_file(const std::string& key, const std::string& name, T (*load)(const std::string&), T& target) {
        if (refuses(key, name)) return;
        try {
            target = load(beside(name));
        } catch (const base::ScenarioError& error) {
            add_problems_of(name, error);
        } catch (const base::Error& error) {
            complain(location_of(scenario_, key), error.what());
        }
    }

    Scenario& scenario_;
    std::vector<base::Problem>& problems_;
};

// A material of the library, or with `files_too` of a file beside the scenario; it must know the wavelength.
void Resolver::resolve_material(const std::string& key, const std::string& name, bool files_too, Material& material) {
    const std::vector<std::string> names = material_names();
    const std::string allowed =
        std::string("a name of the library, such as white-ceramic (`spotwright materials` lists them)") +
        (files_too ? ", or a material file (.toml)" : "");
    const base::SourceLocation location = location_of(scenario_, key);
    if (name.empty()) {
        if (sound({key})) complain(location, "required, but missing", allowed);
        return;
    }
    if (files_too && name.ends_with(".toml") && refuses(key, name)) return;
    try {
        if (files_too && name.ends_with(".toml")) {
            material = parse_material(read_text_file(beside(name)), beside(name));
        } else if (std::find(names.begin(), names.end(), name) != names.end()) {
            material = library_material(name);
        } else {
            complain(location, fmt::format("no such material: \"{}\"", name), allowed, material_hint(name));
            return;
        }
        if (!sound({"emitter.wavelength_nm"})) return;
        require_known_wavelength(location, name, material);
    } catch (const base::ScenarioError& error) {
        add_problems_of(name, error);
    } catch (const base::Error& error) {
        complain(location, error.what());
    }
}

// Nothing is extrapolated: the emitter's wavelength must lie within the tables of the material.
void Resolver::require_known_wavelength(const base::SourceLocation& location, const std::string& name,
                                        const Material& material) {
    const double wavelength = scenario_.emitter.wavelength;
    if (is_known_at(material, wavelength)) return;
    const auto [from, to] = known_wavelengths(material);
    const std::string nm_text = base::number_text(wavelength / base::nm, 6);
    const std::string allowed =
        from > to ? std::string("another material: the tables of this one have no wavelength in common")
                  : fmt::format("emitter.wavelength_nm from {} to {}, or another material",
                                base::number_text(from / base::nm, 6), base::number_text(to / base::nm, 6));
    constexpr std::size_t most = 4;
    const std::vector<std::string> similar = similar_materials_at(material, wavelength, most);
    const std::string hint = similar.empty() ? std::string()
                                             : fmt::format("nearest in reflectance of those known at {} nm: {}",
                                                           nm_text, fmt::join(similar, ", "));
    complain(location, fmt::format("\"{}\" is not known at {} nm", name, nm_text), allowed, hint);
}

// The second material of a pattern, and the picture that says where it lies.
void Resolver::resolve_pattern() {
    Pattern& pattern = scenario_.target.pattern;
    pattern.covered_with.reset();
    pattern.picture = {};
    if (pattern.kind == PatternKind::none) return;
    resolve_material("target.pattern.material", pattern.material, true, pattern.covered_with.emplace());
    if (pattern.kind != PatternKind::picture) return;
    if (!pattern.file.empty()) {
        read_file("target.pattern.file", pattern.file, load_picture, pattern.picture);
    } else if (sound({"target.pattern.file"})) {
        complain_about("target.pattern.file", "required for a picture, but missing", "a PGM image");
    }
}

// Light must get through a plate: a real index and no base that scatters.
void Resolver::check_plate() {
    if (!sound({"target.material", "target.shape", "emitter.wavelength_nm"})) return;
    const Material& m = scenario_.target.made_of;
    constexpr double clear = 1e-6;  // takes 4 % of the light on its way through 1 mm and back: left out of the model
    const bool is_clear = m.index && !m.volume && m.reflectance.wavelength.empty() &&
                          index_at(m, scenario_.emitter.wavelength).imag() < clear;
    if (!is_clear) {
        complain_about("target.material",
                       fmt::format("a plate must be clear, \"{}\" is not", scenario_.target.material),
                       "a material with an index without absorption and no diffuse base, such as clear-glass");
    }
}

void Resolver::check_volumes() {
    const std::vector<Material>& pieces = scenario_.target.segments.made_of;
    const auto only_volume = [](const Material& m) { return m.volume && !has_base(m); };
    const std::optional<Material>& cover = scenario_.target.pattern.covered_with;
    const bool translucent = only_volume(scenario_.target.made_of) || (cover && only_volume(*cover)) ||
                             std::any_of(pieces.begin(), pieces.end(), only_volume);
    if (scenario_.target.shape != ShapeKind::plane && translucent) {
        complain_about("target.shape", "a translucent part must be a plane: light inside other shapes is not modelled",
                       "plane, or a material that has a diffuse base");
    }
}

void Resolver::resolve_names() {
    const Target& target = scenario_.target;
    scenario_.target.made_of = {};
    scenario_.reading.reference = {};
    scenario_.target.plate.backing_made_of.reset();
    scenario_.target.segments.made_of.clear();
    scenario_.target.relief.heights = {};
    scenario_.motion.places = {};
    scenario_.surroundings.temperatures = {};
    resolve_material("target.material", target.material, true, scenario_.target.made_of);
    resolve_material("reading.calibrated_on", scenario_.reading.calibrated_on, false, scenario_.reading.reference);
    for (const std::string& name : target.segments.material) {
        resolve_material("target.segments.material", name, true, scenario_.target.segments.made_of.emplace_back());
    }
    resolve_pattern();
    if (target.shape == ShapeKind::relief) {
        if (!target.relief.file.empty()) {
            read_file("target.relief.file", target.relief.file, load_heights, scenario_.target.relief.heights);
        } else if (sound({"target.relief.file"})) {
            complain_about("target.relief.file", "required for this shape, but missing", "a CSV file");
        }
    }
    if (!scenario_.motion.path.empty()) {
        read_file("motion.path", scenario_.motion.path, load_motion_path, scenario_.motion.places);
    }
    if (!scenario_.surroundings.temperature_path.empty()) {
        read_file("surroundings.temperature_path", scenario_.surroundings.temperature_path, load_temperature_path,
                  scenario_.surroundings.temperatures);
    }
    if (target.shape == ShapeKind::plate && problems_.empty()) check_plate();
    check_volumes();
    if (target.shape == ShapeKind::plate && target.plate.backing != "none") {
        resolve_material("target.plate.backing", target.plate.backing, true,
                         scenario_.target.plate.backing_made_of.emplace());
    }
}

}  // namespace

void resolve_names(Scenario& scenario, std::vector<base::Problem>& problems) {
    Resolver(scenario, problems).resolve_names();
}

}  // namespace spotwright::scenario
