#include <fmt/format.h>

#include <algorithm>
#include <span>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/cli/read_output.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/quantity_text.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/sensor/layout.hpp"

namespace spotwright::cli {

namespace {

using base::mm, base::degree;

std::string line_text(std::string_view head, const std::string& rest) {
    return fmt::format("  {:<13}{}\n", head, rest);
}

// The part in a few words: the shape of a plane is not named.
std::string part_text(const scenario::Scenario& s) {
    std::string text = fmt::format("{} ({})", printable(s.target.made_of.name), printable(s.target.made_of.title));
    if (s.target.shape != scenario::ShapeKind::plane) text += ", " + std::string(scenario::word_of(s, "target.shape"));
    if (s.target.plate.backing_made_of) text += fmt::format(" on {}", printable(s.target.plate.backing_made_of->name));
    return text + fmt::format(" at {:g} mm, tilt {:g} and {:g} deg", s.target.displacement / mm,
                              s.target.tilt[0] / degree, s.target.tilt[1] / degree);
}

std::string phase_text(const measure::FrequencyResult& f) {
    constexpr double some_electrons = 1e-3;
    if (f.amplitude < some_electrons) return fmt::format("none at {:g} MHz", f.frequency / base::MHz);
    return fmt::format("{} rad at {:g} MHz, standard deviation {} rad; amplitude {} e of {} e",
                       base::value_text(f.phase, f.deviation, 1.0, 4), f.frequency / base::MHz,
                       base::two_digits(f.deviation), base::number_text(f.amplitude, 4),
                       base::number_text(f.offset, 4));
}

// The lists of one principle; the table of quantities holds single numbers.
std::string lists_text(const measure::Details& details) {
    const auto of_phases = [](const measure::PhaseDetails& phase) {
        std::string text;
        for (const measure::FrequencyResult& f : phase.frequencies) {
            text += line_text(text.empty() ? "phase" : "", phase_text(f));
        }
        return text;
    };
    const auto of_array = [](const measure::TriangulationDetails&) { return std::string(); };
    const auto of_pulses = [](const measure::PulseDetails&) { return std::string(); };
    return std::visit(base::Cases{of_array, of_phases, of_pulses}, details);
}

// What numbers do not say about their group.
std::string remark_of(std::string_view title, const scenario::Scenario& s, const measure::ReadResult& r) {
    if (title != "speckle" || !r.speckle) return {};
    if (!r.speckle->why_statistical.empty()) return "statistical model: " + r.speckle->why_statistical;
    if (!scenario::abilities_of(s.principle).array) return {};
    const bool coherent = r.speckle->model == scenario::SpeckleModel::coherent;
    const std::string_view why = sensor::why_speckle_is_below_the_law(s.receiver);
    return fmt::format("{} model{}{}", coherent ? "coherent" : "statistical", why.empty() ? "" : "; ", why);
}

std::string group_text(const record::TextGroup& group, std::size_t width) {
    std::string text;
    for (const record::LabelledText& row : group.rows) {
        text += line_text(text.empty() ? group.title : "", fmt::format("{:<{}}  {}", row.label, width, row.text));
    }
    return text;
}

std::string title_text(const scenario::Scenario& s) {
    return fmt::format("{}\n", printable(s.title.empty() ? s.file : s.title));
}

std::string reasons_text(std::span<const measure::Reason> reasons) {
    std::string text;
    for (const measure::Reason& reason : reasons) text += fmt::format("    - {}\n", wrapped(in_words(reason), 6));
    return text;
}

using Ensemble = std::optional<study::EnsembleSpread>;

std::string everything(const scenario::Scenario& s, const measure::ReadResult& r, const Ensemble& ensemble) {
    const std::vector<record::TextGroup> groups = record::text_groups(r, s);
    std::size_t width = 0;
    for (const record::TextGroup& group : groups) {
        for (const record::LabelledText& row : group.rows) width = std::max(width, row.label.size());
    }
    std::string text = title_text(s);
    text += line_text("part", part_text(s));
    for (const record::TextGroup& group : groups) {
        text += group_text(group, width);
        const std::string remark = remark_of(group.title, s, r);
        if (!remark.empty()) text += line_text("", wrapped(remark, 15));
    }
    text += lists_text(r.details);
    if (r.scan && !r.scan->run_out && !r.scan->roll && !r.scan->step) {
        text += line_text("scan", "too few valid readings: whole revolutions, or both sides of an edge");
    }
    return text + describe(r.verdict, s.requirement, ensemble) + reasons_text(r.verdict.reasons);
}

// A quantity with its unit as the whole table has it, without an interval unless few outputs stand behind it.
std::string short_text(std::string_view name, const scenario::Scenario& s, const measure::ReadResult& r) {
    const measure::Quantity& quantity = measure::quantity_named(name);
    return record::stands_on_few(quantity, r) ? record::quantity_text(quantity, r, s)
                                              : record::short_quantity_text(quantity, r, s);
}

std::string readings_text(const scenario::Scenario& s, const measure::ReadResult& r) {
    const auto value = [&](std::string_view name) { return short_text(name, s, r); };
    std::string text = line_text("read", fmt::format("mean {}, true {}, bias without speckle {}", value("mean_mm"),
                                                     value("true_mm"), value("bias_without_speckle_um")));
    if (r.tracking) {
        text += line_text("", fmt::format("error on the way: standard deviation {}, largest {}", value("error_sd_um"),
                                          value("largest_error_um")));
    } else {
        text += line_text("", fmt::format("standard deviation {} standing still, {} from patch to patch of the surface",
                                          value("still_sd_um"), value("replaced_sd_um")));
    }
    std::string valid = fmt::format("{} of {} readings valid", value("valid_share"), r.statistics.readings);
    if (r.speckle && !r.tracking) valid += fmt::format(", {} from patch to patch", value("replaced_valid_share"));
    return text + line_text("", valid);
}

// Causes that together decide; what is below a twentieth of the largest does not.
std::string causes_text(const measure::Verdict& verdict) {
    constexpr std::size_t most = 3;
    constexpr double counts = 0.05;
    std::string text;
    std::size_t shown = 0;
    for (const measure::Contribution& c : verdict.contributions) {
        if (shown == most || !(c.size > counts * verdict.contributions.front().size)) break;
        const std::string size = c.systematic ? base::rounded_length_text(c.size, verdict.expanded_uncertainty)
                                              : base::uncertainty_text(c.size);
        text += line_text(shown == 0 ? "causes" : "",
                          fmt::format("{}: {} {}", name_of(c), c.systematic ? "off by" : "standard deviation", size));
        ++shown;
    }
    return text;
}

// The largest error stands among the causes already.
std::vector<measure::Reason> further_reasons(const measure::Verdict& verdict) {
    std::vector<measure::Reason> list;
    for (const measure::Reason& reason : verdict.reasons) {
        if (!std::holds_alternative<measure::LargestError>(reason)) list.push_back(reason);
    }
    return list;
}

std::string answer(const scenario::Scenario& s, const measure::ReadResult& r, const Ensemble& ensemble) {
    std::string text =
        title_text(s) + describe(r.verdict, s.requirement, ensemble) + reasons_text(further_reasons(r.verdict));
    text += line_text("part", part_text(s)) + readings_text(s, r) + causes_text(r.verdict);
    const std::string next = next_step(r.verdict, s);
    if (!next.empty()) text += line_text("try first", wrapped(next, 15));
    return text;
}

}  // namespace

std::string describe(const measure::Verdict& verdict, const scenario::Requirement& requirement,
                     const std::optional<study::EnsembleSpread>& ensemble) {
    const std::string level =
        ensemble ? study::headline(verdict.level, *ensemble) : std::string(measure::name_of(verdict.level));
    const std::string why = fmt::format("{}: {}", level, explanation(verdict, requirement));
    return line_text("verdict", wrapped(why, 15)) +
           line_text("", wrapped(fmt::format("for {}", measure::name_of(verdict.covers)), 15));
}

std::string describe(const scenario::Scenario& s, const measure::ReadResult& r, Detail detail,
                     const std::optional<study::EnsembleSpread>& ensemble) {
    return detail == Detail::all ? everything(s, r, ensemble) : answer(s, r, ensemble);
}

}  // namespace spotwright::cli
