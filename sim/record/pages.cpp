#include "sim/record/pages.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "sim/base/units.hpp"
#include "sim/scenario/material_keys.hpp"
#include "sim/scenario/material_values.hpp"
#include "sim/scenario/material_wavelengths.hpp"
#include "sim/scenario/material_words.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/target/subsurface.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::record {

namespace {

std::string row(const validation::Check& check) {
    return fmt::format("| `{}` | {} | {}{:.9g} {} | {:.6g} | {:.2g} | {} | {} | {} |\n", check.id, check.claim,
                       validation::symbol_of(check.relation), check.expected, check.unit, check.got, check.tolerance,
                       check.why, check.source, validation::passes(check) ? "yes" : "**NO**");
}

std::string row(const validation::ExperimentResult& result) {
    return fmt::format("| `{}` | {} | {:.4g} {} | {:.4g} | {:.2g} | {} | {} | {} |\n", result.id, result.quantity,
                       result.published, result.unit, result.simulated, result.tolerance, result.why,
                       validation::agrees(result) ? "yes" : "**no**", result.comment);
}

std::string section(const validation::Experiment& experiment) {
    std::string text = fmt::format(
        "\n### {}\n\n- Article: {}.\n- Set-up: {}\n- Simulation: {}\n\n"
        "| id | quantity | published | simulated | tolerance | why | agrees | comment |\n"
        "| --- | --- | --- | --- | --- | --- | --- | --- |\n",
        experiment.title, experiment.article, experiment.setup, experiment.model);
    for (const validation::ExperimentResult& result : experiment.results) text += row(result);
    return text;
}

// Experiments, and what of them does not agree.
std::string experiments_section(const std::vector<validation::Experiment>& experiments) {
    std::string text =
        "\n## Experiments\n\n"
        "Measured values of others beside what the program gives for their set-up. Nothing was adjusted to agree, "
        "except\n"
        "where a section says so. A difference is not a failed check; it is listed below with its probable cause.\n"
        "Sensors are described by geometry and wavelength only.\n";
    std::string differences;
    std::size_t all = 0;
    std::size_t agreeing = 0;
    for (const validation::Experiment& experiment : experiments) {
        text += section(experiment);
        for (const validation::ExperimentResult& result : experiment.results) {
            ++all;
            if (validation::agrees(result)) {
                ++agreeing;
            } else {
                differences += fmt::format("| `{}` | {} | {:.4g} {} | {:.4g} | {} |\n", result.id, result.quantity,
                                           result.published, result.unit, result.simulated, result.comment);
            }
        }
    }
    text += fmt::format("\n### What does not agree\n\n{} of {} results agree. These do not:\n\n", agreeing, all);
    text += "| id | quantity | published | simulated | probable cause |\n| --- | --- | --- | --- | --- |\n";
    return text + differences +
           "\n### Not compared\n\n"
           "No open text with numbers and a set-up was found for these; the articles give them in figures, or behind a "
           "paywall:\n\n"
           "- standard deviation of triangulation readings under speckle against the aperture (R. G. Dorsch, G. "
           "Haeusler,\n"
           "  J. M. Herrmann, 1994: the abstract says that experiments confirm the formula, which is checked above)\n"
           "- error of triangulation against tilt, and against the roughness of metal\n"
           "- error at a border of black and white under the spot (B. Curless, M. Levoy, 1995: measured values in a "
           "figure);\n"
           "  the closed form is checked under `markings`\n";
}

std::string kind_of(const scenario::Key& key) {
    struct Kind {
        std::string operator()(const scenario::NumberKey&) const { return "number"; }
        std::string operator()(const scenario::NumberOrWordKey& k) const {
            return fmt::format("number or `{}`", k.word);
        }
        std::string operator()(const scenario::PairKey&) const { return "two numbers"; }
        std::string operator()(const scenario::ListKey&) const { return "numbers"; }
        std::string operator()(const scenario::TextListKey&) const { return "texts"; }
        std::string operator()(const scenario::ApertureKey&) const { return "number or two numbers"; }
        std::string operator()(const scenario::IntegerKey&) const { return "whole number"; }
        std::string operator()(const scenario::TextKey&) const { return "text"; }
        std::string operator()(const scenario::WordKey& k) const {
            return fmt::format("`{}`", fmt::join(k.words, "` `"));
        }
        std::string operator()(const scenario::ChoiceKey&) const {
            return fmt::format("`{}` or an index", fmt::join(scenario::peak_rule_words(), "` `"));
        }
    };
    return std::visit(Kind{}, key.access);
}

}  // namespace

std::string scenario_page() {
    std::string text =
        "# Scenario files\n\n"
        "Made from the table of keys that the program reads with; a test keeps the two the same.\n\n"
        "A scenario is a TOML file with `schema = 1`. Every key has a default except `material` in `[target]`. The "
        "unit is\n"
        "in the name. An unknown key is an error. `--set section.key=value` overrides a key from the command line.\n"
        "Pairs are in-plane, out-of-plane, or near, far, or shortest, longest, as the meaning says.\n";
    const scenario::Scenario defaults;
    std::string_view section = "none";
    for (const scenario::Key& key : scenario::schema()) {
        if (key.section != section) {
            section = key.section;
            text +=
                fmt::format("\n## {}\n\n| key | default | kind | bounds | meaning |\n| --- | --- | --- | --- | --- |\n",
                            section.empty() ? "Top level" : fmt::format("[{}]", section));
        }
        text += fmt::format("| `{}` | `{}` | {} | {} | {} |\n", key.name, scenario::value_text(key, defaults),
                            kind_of(key), scenario::describe_limits(key), key.meaning);
    }
    return text;
}

// A value with its range beside it: "0.04 (0.03 to 0.06)".
std::string with_range(const std::optional<scenario::Factors>& factors, double value,
                       double most = std::numeric_limits<double>::infinity()) {
    const auto ends = scenario::from_to(factors, value, most);
    return ends ? fmt::format("{:g} ({:.2g} to {:.2g})", value, (*ends)[0], (*ends)[1]) : fmt::format("{:g}", value);
}

std::string volume_line(const scenario::Material& m) {
    const scenario::MaterialRange range = m.range.value_or(scenario::MaterialRange{});
    std::string list;
    for (const double wavelength : m.volume->wavelength) {
        const scenario::VolumeCoefficients at = scenario::volume_at(m, wavelength);
        const target::Volume volume = *target::make_surface(m, wavelength).volume;
        list += fmt::format(
            "{}{:g} nm: {}, {} and {:g} [{:.3f}]", list.empty() ? "" : ", ", wavelength / base::nm,
            with_range(range.reduced_scattering, base::from_si(base::unit_of("_per_mm"), at.reduced_scattering)),
            with_range(range.absorption, base::from_si(base::unit_of("_per_mm"), at.absorption)), at.anisotropy,
            target::diffuse_reflectance(volume));
    }
    return fmt::format(
        "- volume, reduced scattering and absorption per mm, and anisotropy [diffuse reflectance by diffusion]: {}. "
        "{}\n",
        list, m.volume->source);
}

std::string layer_line(const scenario::Layer& layer) {
    const std::string below =
        layer.backing.empty() ? fmt::format("a diffuse reflectance of {:g}", layer.backing_reflectance) : layer.backing;
    return fmt::format("- a layer: {:g} um on {}. {}\n", layer.thickness / base::um, below, layer.source);
}

std::string grain_line(const scenario::Grain& grain) {
    return fmt::format("- grain: {:g} um, varies by {:g}. {}\n", grain.size / base::um, grain.variation, grain.source);
}

std::string bounds_of(const scenario::MaterialKey& key) {
    if (key.low == 0.0 && key.high == 0.0) return {};
    const std::string_view unit = base::unit_of(key.path).symbol;
    return fmt::format("{:g} to {:g}{}{}", key.low, key.high, unit.empty() ? "" : " ", unit);
}

std::string material_keys_section() {
    std::string text =
        "\n## Keys of a material file\n\n"
        "`spotwright materials --template > my.toml` prints a file that loads as it stands, with every key commented.\n"
        "Each section of values has a `source`. A section that is there needs all of its keys, except where it says "
        "otherwise.\n\n"
        "| key | kind | bounds | meaning |\n| --- | --- | --- | --- |\n";
    std::string_view section;
    for (const scenario::MaterialKey& key : scenario::material_keys()) {
        const std::size_t dot = key.path.find('.');
        const std::string_view here = dot == std::string_view::npos ? std::string_view() : key.path.substr(0, dot);
        if (here != section) {
            section = here;
            text += fmt::format("| **[{}]** |  |  | {} |\n", here, scenario::meaning_of_section(here));
        }
        text += fmt::format("| `{}` | {} | {} | {} |\n", key.path, key.kind, bounds_of(key), key.meaning);
    }
    return text;
}

std::string material_words_section() {
    std::string text =
        "\n## Other words for materials\n\n"
        "A word that is no name of the library leads to the nearest material: an error names it, and\n"
        "`spotwright materials --like WORD` lists it. Nearest is meant by colour, gloss and depth of the light.\n\n"
        "| words | nearest |\n| --- | --- |\n";
    for (const scenario::MaterialWords& row : scenario::material_words()) {
        text += fmt::format("| {} | {} |\n", row.words, row.materials);
    }
    return text;
}

std::string materials_page() {
    std::string text =
        "# Materials\n\n"
        "Made from `scenarios/materials`; a test keeps the two the same. Values are linear between the wavelengths "
        "given\n"
        "and not known beyond them. A matt part has a diffuse base alone, a metal an interface alone, a glossy part "
        "both,\n"
        "a translucent part a volume; a base beside it tells the same light as from the face, for shapes whose inside "
        "is not\n"
        "modelled. Of a volume the total by diffusion is given too, in share of what passes the interface. Diffuse "
        "reflectance is the share of the power of light at\n"
        "normal incidence that is scattered back into the whole half-space, as a sphere instrument with light at\n"
        "8 deg tells it, gloss excluded; of a base under an interface in share of what passes the interface, so that\n"
        "all together is R + (1 - R) times this. In brackets beside a value: from what to what real parts of the "
        "material have it,\n"
        "with its own source; values without brackets are not ranged.\n"
        "A scenario may also name a material file of its own (`material = \"my.toml\"`): see\n"
        "[keys of a material file](#keys-of-a-material-file).\n" +
        material_keys_section() + material_words_section();
    for (const std::string& name : scenario::material_names()) {
        const scenario::Material m = scenario::library_material(name);
        const scenario::MaterialRange range = m.range.value_or(scenario::MaterialRange{});
        const auto [from, to] = scenario::known_wavelengths(m);
        text += fmt::format("\n## {}\n\n{}\n\n- known from {:g} to {:g} nm\n", name, m.title, from / base::nm,
                            to / base::nm);
        const auto at = [](const std::vector<double>& wavelength, const auto& value) {
            std::string list;
            for (std::size_t i = 0; i < wavelength.size(); ++i) {
                list += fmt::format("{}{:g} nm: {}", i > 0 ? ", " : "", wavelength[i] / base::nm, value(i));
            }
            return list;
        };
        if (!m.reflectance.wavelength.empty()) {
            text += fmt::format(
                "- diffuse reflectance: {}. {}\n",
                at(m.reflectance.wavelength,
                   [&](std::size_t i) { return with_range(range.reflectance, m.reflectance.value[i], 1.0); }),
                m.reflectance.source);
            text += fmt::format("- facet slope of the base: {:g} deg. {}\n", m.slope.deviation / base::degree,
                                m.slope.source);
        }
        if (m.index) {
            text += fmt::format(
                "- index of the interface: {}. {}\n",
                at(m.index->wavelength,
                   [&m](std::size_t i) { return fmt::format("{:g} + {:g} i", m.index->n[i], m.index->k[i]); }),
                m.index->source);
            text += fmt::format("- roughness: Rq {} um, rms slope {} along and {} across the lay, {}. {}\n",
                                with_range(range.rms_height, m.roughness.rms_height / base::um),
                                with_range(range.rms_slope, m.roughness.rms_slope[0]),
                                with_range(range.rms_slope, m.roughness.rms_slope[1]),
                                m.roughness.distribution == scenario::FacetDistribution::ggx ? "GGX" : "Beckmann",
                                m.roughness.source);
        }
        if (m.haze) {
            text += fmt::format("- haze: Rq {:g} um, corner length {:g} um, exponent {:g}. {}\n",
                                m.haze->rms_height / base::um, m.haze->corner_length / base::um, m.haze->exponent,
                                m.haze->source);
        }
        if (m.volume) text += volume_line(m);
        if (m.layer) text += layer_line(*m.layer);
        if (m.grain) text += grain_line(*m.grain);
        if (m.range) text += fmt::format("- range: {}\n", m.range->source);
    }
    return text;
}

std::string validation_page(const std::vector<validation::Check>& checks,
                            const std::vector<validation::Experiment>& experiments) {
    const auto failed = std::count_if(checks.begin(), checks.end(),
                                      [](const validation::Check& check) { return !validation::passes(check); });
    std::string text = fmt::format(
        "# Validation\n\n"
        "Made by `spotwright validate --out docs/validation.md`; a test keeps the two the same. {} checks, {} "
        "failed.\n\n"
        "What stands under *got* the program's own functions gave when this page was made: the closed form where the\n"
        "model is one, a simulation otherwise. Two rows hold no model: `peak.bound` and `peak.bound.read` are the "
        "bound\n"
        "itself, which the check computes and compares with its worked value, and by which the rows after them are "
        "judged.\n"
        "In `ambient.pixel` the sun is scaled to that of the worked value, so that only the optics are compared.\n"
        "*Worked value*: computed for this project from the cited formula, independently of the program.\n\n"
        "The models of light are held against each other on [scenes drawn at random](validation-random.md). "
        "[Experiments](#experiments)\n"
        "of others come after the checks.\n",
        checks.size(), failed);
    std::string subject;
    for (const validation::Check& check : checks) {
        const std::string its_subject = check.id.substr(0, check.id.find('.'));
        if (its_subject != subject) {
            subject = its_subject;
            text += fmt::format(
                "\n## {}\n\n| id | claim | expected | got | tolerance | why | source | pass |\n"
                "| --- | --- | --- | --- | --- | --- | --- | --- |\n",
                subject);
        }
        text += row(check);
    }
    return text + experiments_section(experiments);
}

}  // namespace spotwright::record
