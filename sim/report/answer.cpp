// The first page of a report: the answer and the job.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <limits>
#include <sstream>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/report/sections.hpp"
#include "sim/drawing/svg_canvas.hpp"
#include "sim/record/quantity_text.hpp"
#include "sim/record/text.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/sensor/layout.hpp"

namespace spotwright::report {

namespace {

using base::degree, base::mm, base::ms, base::mW, base::nm, base::um, base::us;
using scenario::Scenario;

double or_nan(std::optional<double> value, double unit) {
    return value ? *value / unit : std::numeric_limits<double>::quiet_NaN();
}

// A row of the answer. It may come from another study than the readings, so the value is given.
TextRow row_of(std::string_view name, double value) {
    const measure::Quantity& quantity = measure::quantity_named(name);
    return {std::string(quantity.long_name), signed_for_print(record::quantity_text(quantity, value, 0.0))};
}

bool is_over_time(const record::TextGroup& group) {
    using measure::Group;
    constexpr std::array over_time{Group::motion, Group::exposure, Group::scan};
    return std::find(over_time.begin(), over_time.end(), group.groups.front()) != over_time.end();
}

std::string contributions_table(const measure::Verdict& verdict) {
    if (verdict.contributions.empty()) return {};
    std::vector<TextRow> rows;
    for (const measure::Contribution& c : verdict.contributions) {
        rows.push_back({name_of(c),
                        c.systematic ? rounded_um_cell(c.size, verdict.expanded_uncertainty.value_or(0.0))
                                     : um_uncertainty_cell(c.size),
                        c.systematic ? "bias, added in full" : "standard deviation"});
    }
    return html_table("What the error of the readings is made of, largest effect first.", {"cause", "size / um", "as"},
                      rows);
}

std::string pair_text(const scenario::Pair& pair, double unit, const char* between, const char* symbol) {
    return fmt::format("{}{}{} {}", cell(pair[0] / unit), between, cell(pair[1] / unit), symbol);
}

void add_part_rows(const Scenario& s, std::vector<TextRow>& rows) {
    rows.push_back({"Part"});
    rows.push_back({"material",
                    record::one_line(s.target.made_of.title.empty() ? s.target.made_of.name : s.target.made_of.title)});
    rows.push_back({"shape", std::string(scenario::word_of(s, "target.shape"))});
    if (s.target.plate.backing_made_of)
        rows.push_back({"behind it", record::one_line(s.target.plate.backing_made_of->name)});
    rows.push_back({"displacement", cell(s.target.displacement / mm, 6) + " mm, + away from the sensor"});
    rows.push_back({"tilt, in-plane and out-of-plane", pair_text(s.target.tilt, degree, " and ", "deg")});
    if (!s.target.segments.material.empty()) {
        rows.push_back({"segments of the surface", std::to_string(s.target.segments.material.size())});
    }
    const scenario::Motion& motion = s.motion;
    if (motion.along != 0.0) rows.push_back({"speed along the beam", cell(motion.along / mm) + " mm/s"});
    if (motion.across[0] != 0.0 || motion.across[1] != 0.0) {
        rows.push_back({"speed across, x and y", pair_text(motion.across, mm, " and ", "mm/s")});
    }
    if (motion.vibration != 0.0) {
        rows.push_back({"vibration, amplitude",
                        fmt::format("{} um at {} Hz", um_cell(motion.vibration), cell(motion.vibration_frequency))});
    }
    if (motion.rotation != 0.0) rows.push_back({"rotation", cell(motion.rotation * 60.0) + " rpm"});
    if (!motion.path.empty()) rows.push_back({"path", record::one_line(motion.path)});
}

void add_sensor_rows(const Scenario& s, const std::optional<LaserNote>& laser, std::vector<TextRow>& rows) {
    rows.push_back({"Sensor and mounting"});
    rows.push_back({"principle", std::string(scenario::word_of(s, "principle"))});
    rows.push_back({"reference distance from the emitter face", cell(s.mount.reference_distance / mm, 6) + " mm"});
    rows.push_back({"measuring range", pair_text(s.mount.range, mm, " to ", "mm")});
    rows.push_back({"tilt of the sensor, in-plane and out-of-plane", pair_text(s.mount.tilt, degree, " and ", "deg")});
    rows.push_back({"light", fmt::format("{} nm, {} mW", cell(s.emitter.wavelength / nm), cell(s.emitter.power / mW))});
    if (laser) {
        const bool known = laser->estimate != "not estimated";
        rows.push_back({"laser class", laser->estimate + (known ? " (estimate, see the cautions)" : "")});
    }
    rows.push_back(
        {"beam waist, 1/e^2 radius in-plane and out-of-plane", pair_text(s.emitter.waist_radius, um, " and ", "um")});
    if (scenario::abilities_of(s.principle).array) {
        rows.push_back(
            {"angle between emitter and receiver axes", cell((s.receiver.angle - s.emitter.angle) / degree) + " deg"});
        rows.push_back({"array", fmt::format("{} pixels of {} um", s.detector.pixels, um_cell(s.detector.pitch))});
    }
    rows.push_back(
        {"receiver", fmt::format("f = {} mm, aperture {} mm wide in-plane", cell(s.receiver.focal_length / mm),
                                 cell(s.receiver.aperture.in_plane / mm))});
    rows.push_back(
        {"exposure", fmt::format("{}, {} us", scenario::word_of(s, "exposure.mode"), cell(s.exposure.exposure / us))});
    rows.push_back({"output", fmt::format("median of {}, average of {}", s.reading.median, s.reading.average)});
}

std::vector<std::string> sentences(const measure::Verdict& verdict) {
    std::vector<std::string> list;
    for (const measure::Reason& reason : verdict.reasons) list.push_back(in_words(reason));
    return list;
}

}  // namespace

namespace {

Answer answer_by(const measure::Verdict& verdict, const scenario::Scenario& s, const char* basis) {
    Answer answer;
    answer.headline = measure::name_of(verdict.level);
    answer.verdict = verdict;
    answer.uncertainty = verdict.expanded_uncertainty;
    answer.explanation = measure::explanation(verdict, s.requirement);
    answer.reasons = sentences(verdict);
    if (!verdict.contributions.empty()) {
        const measure::Contribution& first = verdict.contributions.front();
        answer.largest = fmt::format("{}, {} {}", name_of(first), first.systematic ? "off by" : "standard deviation",
                                     uncertainty_cell(first.size));
    }
    answer.next = measure::next_step(verdict, s);
    answer.basis = basis;
    return answer;
}

// The cheapest change that reaches a stable level, or the best of those that do not.
std::string best_change(const study::Advice& advice) {
    const auto& trials = advice.reaching.empty() ? advice.others : advice.reaching;
    if (trials.empty() || trials.front().changes.empty()) return {};
    std::string text;
    for (const std::string& change : trials.front().changes)
        text += (text.empty() ? "" : "; ") + record::one_line(change);
    const std::string error =
        trials.front().expanded_uncertainty
            ? fmt::format(", errors up to {}", uncertainty_cell(*trials.front().expanded_uncertainty))
            : "";
    return fmt::format("{} ({}{} where the part stands)", text, measure::name_of(trials.front().level), error);
}

// How far the answer hangs on what the data sheet of the sensor leaves open.
std::string ensemble_sentence(const study::EnsembleSpread& spread, measure::Level level) {
    std::string text = "The sheet of the sensor leaves open what sensor it is: " + in_words(spread, level);
    if (spread.expanded_uncertainty) {
        text += fmt::format("; expanded uncertainty from {} to {}",
                            base::uncertainty_text(spread.expanded_uncertainty->least),
                            base::uncertainty_text(spread.expanded_uncertainty->greatest));
    }
    return text + ".";
}

}  // namespace

std::optional<Answer> answer_of(const ReportContent& content) {
    std::optional<Answer> answer;
    if (content.budget) {
        answer = answer_by(content.budget->verdict, content.scenario, "uncertainty budget");
    } else if (content.read) {
        answer = answer_by(content.read->verdict, content.scenario, "readings of the part as it stands");
    } else if (content.advice) {
        const study::Trialled& now = content.advice->as_it_is;
        measure::Verdict verdict;
        verdict.level = now.level;
        verdict.valid_share = now.valid_share;
        verdict.expanded_uncertainty = now.expanded_uncertainty;
        answer = answer_by(verdict, content.scenario, "readings of the part as it stands");
        if (!now.obstacle.empty()) answer->reasons.push_back(now.obstacle);
    }
    if (answer && content.ensemble) answer->headline = study::headline(answer->verdict.level, *content.ensemble);
    if (answer && content.advice && answer->verdict.level != measure::Level::stable) {
        const std::string change = best_change(*content.advice);
        if (!change.empty()) answer->next = change;
    }
    return answer;
}

std::vector<TextRow> reading_rows(const ReportContent& content, About about) {
    std::vector<TextRow> rows;
    if (!content.read) return rows;
    for (const record::TextGroup& group : record::text_groups(*content.read, content.scenario)) {
        if (is_over_time(group) != (about == About::motion)) continue;
        // Without a budget the answer above holds these numbers.
        if (group.groups.front() == measure::Group::uncertainty && !content.budget) continue;
        rows.push_back({std::string(group.title)});
        for (const record::LabelledText& row : group.rows) {
            rows.push_back({std::string(row.label), signed_for_print(row.text)});
        }
    }
    return rows;
}

std::string verdict_section(const ReportContent& content) {
    const std::optional<Answer> answer = answer_of(content);
    if (!answer) return {};
    const Scenario& s = content.scenario;
    std::string text = html_paragraph(fmt::format("{}: {}. It holds for {}.", answer->headline, answer->explanation,
                                                  measure::name_of(answer->verdict.covers)));
    if (content.ensemble) text += html_paragraph(ensemble_sentence(*content.ensemble, answer->verdict.level));
    text += html_list(answer->reasons);
    if (content.advice && !content.advice->summary.empty()) text += html_paragraph(content.advice->summary);

    std::optional<double> percent;
    if (answer->uncertainty) percent = sensor::percent_of_span(s, *answer->uncertainty);
    text += html_table(
        "By " + answer->basis + ".", {"quantity", "value"},
        {row_of("tolerance_um", s.requirement.tolerance / um),
         row_of("expanded_uncertainty_um", or_nan(answer->uncertainty, um)),
         row_of("percent_of_span", or_nan(percent, 1.0)), row_of("valid_share", answer->verdict.valid_share)});
    const std::vector<TextRow> rows = reading_rows(content, About::part);
    if (!rows.empty()) text += html_table("The readings, the part where it stands.", {"quantity", "value"}, rows);
    if (content.read && !content.budget) text += contributions_table(content.read->verdict);
    return text;
}

std::string job_section(const ReportContent& content) {
    const Scenario& s = content.scenario;
    std::vector<TextRow> rows;
    add_part_rows(s, rows);
    add_sensor_rows(s, content.laser, rows);
    rows.push_back({"Surroundings and requirement"});
    rows.push_back({"temperature", cell(s.surroundings.temperature - base::zero_celsius) + " C"});
    rows.push_back({"ambient light", fmt::format("{} lx, {}", cell(s.surroundings.illuminance),
                                                 scenario::word_of(s, "surroundings.light"))});
    rows.push_back({"tolerance", "+-" + length_cell(s.requirement.tolerance)});
    rows.push_back({"response within", cell(s.requirement.response / ms) + " ms"});

    std::string toml;  // line by line: what is escaped is one line
    std::istringstream lines(record::valid_utf8(scenario::to_toml(s)));
    for (std::string line; std::getline(lines, line);) toml += drawing::escape(line) + "\n";
    return html_table("", {"quantity", "value"}, rows) +
           html_details("The whole scenario, every key, as a file that the program reads", "whole",
                        "<pre>" + toml + "</pre>\n");
}

}  // namespace spotwright::report
