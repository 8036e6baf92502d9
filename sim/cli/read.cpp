#include <fmt/format.h>

#include <cmath>
#include <cstdint>
#include <initializer_list>
#include <optional>

#include "sim/base/cases.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/describe_studies.hpp"
#include "sim/cli/describe_statistics.hpp"
#include "sim/cli/read_output.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/drawing/averaging_chart.hpp"
#include "sim/drawing/crossover_chart.hpp"
#include "sim/record/date.hpp"
#include "sim/drawing/drawings.hpp"
#include "sim/record/json.hpp"
#include "sim/report/read_report.hpp"
#include "sim/record/series_file.hpp"
#include "sim/record/studies_json.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/study/averaging.hpp"
#include "sim/study/crossover.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::cli {

using base::mm, base::um, base::us, base::ms, base::uW, base::kHz, base::degree;

namespace {

// To the decimal place of the expanded uncertainty, where there is one.
std::string mean_text(const measure::ReadResult& r) {
    if (!r.statistics.mean) return "none";
    const std::optional<double> uncertainty = r.verdict.expanded_uncertainty;
    const auto in_mm = [&](double value) { return base::value_text(value, uncertainty.value_or(0.0), mm, 6); };
    return fmt::format("{} mm (true {} mm), bias {}", in_mm(*r.statistics.mean), in_mm(r.true_displacement),
                       r.bias ? base::rounded_length_text(*r.bias, uncertainty) : "none");
}

double valid_percent(const measure::SeriesStatistics& statistics) {
    return 100.0 * measure::valid_share(statistics);
}

std::string thickness_text(const scenario::Scenario& s, const measure::SeriesStatistics& statistics) {
    if (!statistics.mean_thickness) return "none: two faces were never found";
    const double deviation = statistics.thickness_deviation.value_or(0.0);
    const auto in_mm = [deviation](double value) { return base::value_text(value, deviation, mm, 6) + " mm"; };
    std::string text = in_mm(*statistics.mean_thickness);
    if (s.target.shape == scenario::ShapeKind::plate) {
        text += fmt::format(" (true {})", in_mm(s.target.plate.thickness));
    }
    return text +
           fmt::format(" for an index of {:g}, still sd {}; two faces in {:.4g} % of readings",
                       *s.reading.thickness_index,
                       deviation_text(statistics.thickness_deviation, statistics.thicknesses),
                       100.0 * static_cast<double>(statistics.thicknesses) / static_cast<double>(statistics.readings));
}

// The part in a few words: plain planes are not named as such.
std::string part_text(const scenario::Scenario& s) {
    std::string text = fmt::format("{} ({})", printable(s.target.made_of.name), printable(s.target.made_of.title));
    if (s.target.shape != scenario::ShapeKind::plane) text += ", " + std::string(scenario::word_of(s, "target.shape"));
    if (s.target.plate.backing_made_of) text += fmt::format(" on {}", printable(s.target.plate.backing_made_of->name));
    return text;
}

std::string speckle_text(const sensor::SpeckleStatistics& speckle) {
    const bool coherent = speckle.model == scenario::SpeckleModel::coherent;
    const std::string grain = speckle.grain_deviation ? fmt::format(", by the grain of the material alone {}",
                                                                    base::uncertainty_text(*speckle.grain_deviation))
                                                      : "";
    return fmt::format(
        "sd {} from patch to patch{}, this patch {} ({} model; closed form {})",
        deviation_text(speckle.standard_deviation, speckle.patches_read), grain,
        base::with_sign(base::rounded_length_text(speckle.offset.value_or(0.0), speckle.standard_deviation)),
        coherent ? "coherent" : "statistical", base::uncertainty_text(speckle.limit));
}

std::string pattern_text(const sensor::SpeckleStatistics& speckle, const scenario::Scenario& s) {
    return fmt::format("contrast {:.3g}, {:.3g} on the pixels; size {:.3g} um, {:.2g} px", speckle.pattern_contrast,
                       speckle.contrast, speckle.size / um, speckle.size / s.detector.pitch);
}

std::string signal_text(const scenario::Scenario& s, const measure::ReadResult& r) {
    const std::string peak = fmt::format("peak {:.4g} e, {:.3g} of full well", r.signal.peak, r.signal.peak_share);
    const std::string light = fmt::format("background {:.3g} e; {:.4g} nW on the detector", r.signal.background,
                                          r.signal.received_power / base::nW);
    const auto on_array = [&](const measure::TriangulationDetails&) {
        return fmt::format("{}; background {:.3g} e; {:.3g} uW on the array", peak, r.signal.background,
                           r.signal.received_power / uW);
    };
    const auto in_buckets = [&](const measure::PhaseDetails&) {
        return fmt::format("brightest bucket {:.4g} e, {:.3g} of full well; {}", r.signal.peak, r.signal.peak_share,
                           light);
    };
    const auto of_pulses = [&](const measure::PulseDetails& pulse) {
        const bool counts = s.flight.timing == scenario::PulseTiming::photon_counting;
        return fmt::format("{:.4g} e a pulse{}; {}", pulse.electrons,
                           counts ? "" : fmt::format(", {:.3g} times over the noise", pulse.noise_ratio), light);
    };
    return std::visit(base::Cases{on_array, in_buckets, of_pulses}, r.details);
}

// A head, and the rest of the line.
using Lines = std::vector<std::pair<std::string, std::string>>;

std::string depth_text(const measure::TimedLight& light) {
    constexpr double some_depth = 1e-6;
    const double depth = 0.5 * light.path_deviation;
    return depth > some_depth ? fmt::format("; depth within the spot sd {} mm", base::two_digits(depth / mm)) : "";
}

Lines phase_lines(const measure::PhaseDetails& phase) {
    Lines lines;
    for (const measure::FrequencyResult& f : phase.frequencies) {
        constexpr double some_electrons = 1e-3;
        if (f.amplitude < some_electrons) {
            lines.emplace_back(lines.empty() ? "phase" : "", fmt::format("none at {:g} MHz", f.frequency / base::MHz));
            continue;
        }
        lines.emplace_back(lines.empty() ? "phase" : "",
                           fmt::format("{} rad at {:g} MHz, sd {} rad; amplitude {:.4g} e of {:.4g} e",
                                       base::value_text(f.phase, f.deviation, 1.0, 4), f.frequency / base::MHz,
                                       base::two_digits(f.deviation), f.amplitude, f.offset));
    }
    std::string text = fmt::format("unambiguous over {:.5g} mm", phase.light.unambiguous_distance / mm);
    if (phase.frequencies.size() > 1) {
        const double chance = phase.wrap_error_chance;
        text += fmt::format("; chance of a wrong wrap {}, seen in {:.2g} of valid readings",
                            chance < 1e-9 ? "below 1e-9" : fmt::format("{:.2g}", chance), phase.wrong_wrap_share);
    }
    lines.emplace_back("distance", text + depth_text(phase.light));
    return lines;
}

Lines pulse_lines(const measure::PulseDetails& pulse) {
    const std::string each =
        pulse.deviation ? fmt::format(", sd {} ps each", base::two_digits(*pulse.deviation / base::ps)) : "";
    return {{"pulses", fmt::format("{:.4g} % give a time{}", 100.0 * pulse.answered_share, each)},
            {"distance", fmt::format("unambiguous over {:.5g} mm", pulse.light.unambiguous_distance / mm) +
                             depth_text(pulse.light)}};
}

// What only one principle has.
Lines detail_lines(const measure::Details& details) {
    return std::visit(base::Cases{[](const measure::TriangulationDetails&) { return Lines{}; },
                                  [](const measure::PhaseDetails& phase) { return phase_lines(phase); },
                                  [](const measure::PulseDetails& pulse) { return pulse_lines(pulse); }},
                      details);
}

Lines speckle_lines(const scenario::Scenario& s, const measure::ReadResult& r) {
    const sensor::SpeckleStatistics& speckle = *r.speckle;
    const auto on_array = [&](const measure::TriangulationDetails&) {
        return Lines{{"speckle", speckle_text(speckle)}, {"", pattern_text(speckle, s)}};
    };
    const auto timed = [&](const auto& details) {
        return Lines{{"speckle", fmt::format("sd {} from patch to patch; {:.3g} patterns on the detector",
                                             deviation_text(speckle.standard_deviation, speckle.patches_read),
                                             details.light.grains)}};
    };
    return std::visit(base::Cases{on_array, timed}, r.details);
}

}  // namespace

std::string describe(const scenario::Scenario& s, const measure::ReadResult& r) {
    const measure::SeriesStatistics& statistics = r.statistics;
    std::string text;
    const auto line = [&text](std::string_view head, const std::string& rest) {
        text += fmt::format("  {:<13}{}\n", head, rest);
    };
    text += fmt::format("{}\n", printable(s.title.empty() ? s.file : s.title));
    line("part", fmt::format("{} at {:g} mm, tilt {:g} and {:g} deg", part_text(s), s.target.displacement / mm,
                             s.target.tilt[0] / degree, s.target.tilt[1] / degree));
    line("signal", signal_text(s, r));
    line("readings",
         fmt::format("{}, {:.4g} % valid; exposure {:.4g} us, sampling {:.4g} kHz, step followed in {:.3g} ms",
                     statistics.readings, valid_percent(statistics), r.timing.exposure / us,
                     1.0 / r.timing.period / kHz, r.response_time / ms));
    line("mean", mean_text(r));
    for (const auto& [head, rest] : moving_lines(r)) line(head, rest);
    if (!r.tracking) line("still sd", deviation_text(statistics.standard_deviation, statistics.independent_outputs));
    if (r.speckle) {
        line("replaced sd", deviation_text(r.speckle->replaced_deviation, r.speckle->replaced_independent) +
                                ", each reading on another patch of the surface");
        for (const auto& [head, rest] : speckle_lines(s, r)) line(head, rest);
        if (!r.speckle->why_statistical.empty()) line("", "statistical model: " + r.speckle->why_statistical);
    }
    for (const auto& [head, rest] : detail_lines(r.details)) line(head, rest);
    if (s.reading.thickness_index) line("thickness", thickness_text(s, statistics));
    line("verdict", std::string(measure::name_of(r.verdict.level)));
    for (const measure::Reason& reason : r.verdict.reasons) {
        text += fmt::format("    - {}\n", wrapped(in_words(reason), 6));
    }
    return text;
}

std::string describe(std::span<const study::AveragedError> errors) {
    if (errors.empty()) return "  averaging    no valid outputs: there is nothing to average\n";
    std::vector<std::vector<std::string>> rows{{"average", "still um", "moved um", "noise alone um"}};
    const auto in_um = [](double size) { return fmt::format("{:.4f}", size / um); };
    for (const study::AveragedError& error : errors) {
        rows.push_back({fmt::format("{}", error.average), in_um(error.still), in_um(error.moved), in_um(error.noise)});
    }
    return "  averaging    rms error of outputs: part that stands still, and moved on between readings\n" +
           indented_table(rows);
}

std::string describe(const study::CrossoverStudy& study) {
    std::vector<std::vector<std::string>> rows{
        {"distance m", "triangulation um", "valid %", "time of flight um", "valid %"}};
    for (const study::CrossoverPoint& point : study.points) {
        std::vector<std::string> row{fmt::format("{:.3f}", point.distance)};
        for (const study::ErrorAtDistance* error : {&point.triangulation, &point.flight}) {
            row.push_back(error->uncertainty ? fmt::format("{:.1f}", *error->uncertainty / um) : error->obstacle);
            row.push_back(fmt::format("{:.1f}", 100.0 * error->valid_share));
        }
        rows.push_back(row);
    }
    const std::string found = study.crossover
                                  ? fmt::format("beyond {:.3g} m time of flight is the better choice", *study.crossover)
                                  : std::string("none among these distances");
    return fmt::format("  crossover    {}\n               expanded uncertainty of the same sensor pointed farther:\n",
                       found) +
           indented_table(rows);
}

namespace {

// Where `--out` goes, open before the long work: a series, a picture of the first reading, or a report.
struct Output {
    std::optional<record::SeriesFile> series;
    std::optional<record::AtomicFile> picture;
    std::optional<report::ReadReport> report;
};

Output open_output(const std::string& out, const scenario::Scenario& s) {
    Output output;
    if (out.empty()) return output;
    const std::string extension = record::checked_extension(out, {".h5", ".csv", ".svg", ".html"});
    if (extension == ".svg") {
        output.picture.emplace(out);
        return output;
    }
    if (extension == ".html") {
        output.report.emplace(out, s, record::current_date());
        return output;
    }
    output.series.emplace(record::open_series_file(out, s, record::current_date()));
    return output;
}

// Charts, open before the long work likewise.
struct Charts {
    std::optional<record::AtomicFile> averaging;
    std::optional<record::AtomicFile> crossover;
};

std::optional<record::AtomicFile> open_chart(const std::string& file, std::initializer_list<std::string> others) {
    if (file.empty()) return std::nullopt;
    static_cast<void>(record::checked_extension(file, {".svg"}));
    for (const std::string& other : others) {
        if (file != other) continue;
        base::SourceLocation place;
        place.file = file;
        throw base::ScenarioError({{place, "one file for two pictures", "another name for each", ""}});
    }
    return std::optional<record::AtomicFile>(std::in_place, file);
}

Charts open_charts(const Options& options, const scenario::Scenario& s) {
    if (!options.averaging.empty() && !scenario::abilities_of(s.principle).array) {
        scenario::reject(s, "principle", "the study of averages needs the frozen speckle of triangulation",
                         "triangulation with --averaging");
    }
    Charts charts;
    charts.averaging = open_chart(options.averaging, {options.out});
    charts.crossover = open_chart(options.crossover, {options.out, options.averaging});
    return charts;
}

}  // namespace

int run_read(const Options& options) {
    const scenario::Scenario s = scenario::load(options.scenario, options.settings);
    Charts charts = open_charts(options, s);
    Output output = open_output(options.out, s);
    const sensor::Setup setup = sensor::set_up(s, options.threads);

    study::OutputSeries outputs(s.reading);
    if (options.allan) require_memory_for_outputs(s);
    measure::ReadResult result;
    {
        Progress progress("reading", options.quiet);
        measure::ReadOptions read_options;
        read_options.threads = options.threads;
        read_options.sink = [&](const measure::SeriesBlock& block) {
            if (output.series) output.series->append(block);
            if (output.report) output.report->take(block);
            if (options.allan) outputs.append(block);
        };
        read_options.progress = [&progress](std::int64_t done, std::int64_t all) { progress.show(done, all); };
        result = measure::read(setup, read_options);
    }
    if (output.series) output.series->commit(result);
    if (output.picture) {
        output.picture->write(drawing::draw_reading(setup, result));
        output.picture->commit();
    }
    if (output.report) {
        output.report->fill(setup, result, options.threads);
        output.report->commit();
    }
    std::vector<study::AveragedError> errors;
    if (charts.averaging) {
        errors = study::averaging_study(std::get<sensor::TriangulationSetup>(setup), {.threads = options.threads});
        charts.averaging->write(drawing::draw_averaging(s, errors));
        charts.averaging->commit();
    }
    std::optional<study::CrossoverStudy> crossover;
    if (charts.crossover) {
        study::CrossoverOptions crossover_options;
        crossover_options.threads = options.threads;
        crossover = study::crossover_study(s, crossover_options);
        charts.crossover->write(drawing::draw_crossover(s, *crossover));
        charts.crossover->commit();
    }

    std::optional<study::DriftStudy> drift;
    if (options.drift) drift = study::drift_study(setup, options.threads);
    const SeriesStudies studies = study_series(options, setup, outputs.outputs(), result.timing.period);

    if (options.json) {
        nlohmann::ordered_json json = record::to_json(result, s);
        add_to_json(studies, json);
        if (charts.averaging) json["averaging"] = record::to_json(errors);
        if (crossover) json["crossover"] = record::to_json(*crossover);
        if (drift) json["drift"] = record::to_json(*drift, s);
        fmt::print("{}\n", json.dump(2));
    } else {
        fmt::print("{}{}{}{}", describe(s, result), charts.averaging ? describe(errors) : "",
                   crossover ? describe(*crossover) : "", describe(studies) + (drift ? describe(*drift, s) : ""));
        const std::string left_out = report::left_out(s);
        if (!left_out.empty()) fmt::print("  left out   {}\n", left_out);
        for (const std::string& file : {options.out, options.averaging, options.crossover}) {
            if (!file.empty()) fmt::print("  written    {}\n", file);
        }
    }
    const bool stable = result.verdict.level == measure::Level::stable;
    return options.strict && !stable ? exit_not_stable : exit_done;
}

}  // namespace spotwright::cli
