#include <fmt/format.h>

#include <cmath>
#include <cstdint>
#include <initializer_list>
#include <optional>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/describe_ensemble.hpp"
#include "sim/cli/describe_studies.hpp"
#include "sim/cli/describe_statistics.hpp"
#include "sim/cli/read_output.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/json_text.hpp"
#include "sim/drawing/averaging_chart.hpp"
#include "sim/drawing/crossover_chart.hpp"
#include "sim/record/date.hpp"
#include "sim/drawing/drawings.hpp"
#include "sim/record/infer_json.hpp"
#include "sim/record/json.hpp"
#include "sim/report/read_report.hpp"
#include "sim/record/series_file.hpp"
#include "sim/record/studies_json.hpp"
#include "sim/record/study_tables.hpp"
#include "sim/scenario/input_files.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/study/averaging.hpp"
#include "sim/study/crossover.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::cli {

std::string describe(std::span<const study::AveragedError> errors) {
    if (errors.empty()) return "  averaging    no valid outputs: there is nothing to average\n";
    return "  averaging    rms error of outputs, by the number of readings averaged\n" +
           indented_table(record::averaging_table(errors));
}

std::string describe(const study::CrossoverStudy& study) {
    const std::string found =
        study.crossover ? fmt::format("beyond {:.2g} m time of flight has the smaller uncertainty", *study.crossover)
                        : std::string("none among these distances");
    return fmt::format("  crossover    {}\n               expanded uncertainty of the same sensor by distance:\n",
                       found) +
           indented_table(record::crossover_table(study));
}

namespace {

// Where `--out` goes, open before the long work: a series, a picture of the first reading, or a report.
struct Output {
    std::optional<record::SeriesFile> series;
    std::optional<record::AtomicFile> picture;
    std::optional<report::ReadReport> report;
};

// Rejects before the long work what cannot be kept.
void check_frames(const Options& options, const scenario::Scenario& s) {
    if (options.frames == 0) return;
    if (!options.out.ends_with(".h5")) {
        base::SourceLocation place;
        place.file = "<--frames>";
        throw base::ScenarioError({{place, "frames are kept in HDF5 alone", "--out FILE.h5", ""}});
    }
    measure::require_raw_frames(s, options.frames);
}

Output open_output(const std::string& out, const scenario::Scenario& s) {
    Output output;
    if (out.empty()) return output;
    const std::string extension = record::checked_extension(out, {".h5", ".csv", ".svg", ".html"});
    if (extension == ".svg") {
        record::keep_inputs(out, scenario::input_files(s));
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

std::optional<record::AtomicFile> open_chart(const std::string& file, const scenario::Scenario& s,
                                             std::initializer_list<std::string> others) {
    if (file.empty()) return std::nullopt;
    static_cast<void>(record::checked_extension(file, {".svg"}));
    record::keep_inputs(file, scenario::input_files(s));
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
    charts.averaging = open_chart(options.averaging, s, {options.out});
    charts.crossover = open_chart(options.crossover, s, {options.out, options.averaging});
    return charts;
}

}  // namespace

int run_read(const Options& options) {
    const scenario::Scenario s = load_scenario(options);
    check_frames(options, s);
    Charts charts = open_charts(options, s);
    Output output = open_output(options.out, s);
    const sensor::Setup setup = sensor::set_up(s, options.threads);

    study::OutputSeries outputs(s.reading);
    if (options.allan) require_memory_for_outputs(s);
    measure::ReadResult result;
    {
        Progress progress("reading", options.progress, "run.readings");
        measure::ReadOptions read_options;
        read_options.threads = options.threads;
        read_options.sink = [&](const measure::SeriesBlock& block) {
            if (output.series) output.series->append(block);
            if (output.report) output.report->add(block);
            if (options.allan) outputs.append(block);
        };
        read_options.progress = [&progress](std::int64_t done, std::int64_t all) { progress.show(done, all); };
        result = measure::read(setup, read_options);
    }
    if (output.series) {
        if (options.frames > 0) {
            output.series->put_frames(measure::raw_frames(setup, result, options.frames, options.threads));
        }
        output.series->commit(result);
    }
    if (output.picture) {
        output.picture->write(drawing::draw_reading(setup, result));
        output.picture->commit();
    }
    const std::optional<study::EnsembleSpread> ensemble =
        ensemble_beside(s, study::EnsembleJudgement::reading, options);
    if (output.report) {
        output.report->content().ensemble = ensemble;
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

    const std::optional<study::Specimens> specimens = specimens_beside(s, options);

    if (options.json) {
        nlohmann::ordered_json json = record::to_json(result, s);
        add_to_json(studies, json);
        if (ensemble) json["ensemble"] = record::to_json(*ensemble, result.verdict.level);
        if (specimens) json["specimens"] = record::to_json(*specimens, result.verdict.level);
        if (charts.averaging) json["averaging"] = record::to_json(errors);
        if (crossover) json["crossover"] = record::to_json(*crossover);
        if (drift) json["drift"] = record::to_json(*drift, s);
        print("{}\n", record::json_text(json));
    } else {
        const Detail detail = options.all ? Detail::all : Detail::answer;
        print("{}{}{}{}", describe(s, result, detail, ensemble), charts.averaging ? describe(errors) : "",
              crossover ? describe(*crossover) : "", describe(studies) + (drift ? describe(*drift, s) : ""));
        if (ensemble) print("{}", describe(*ensemble, result.verdict.level));
        if (specimens) print("{}", describe(*specimens, result.verdict.level));
        const std::string left_out = report::left_out(s);
        if (!left_out.empty()) print("  left out     {}\n", left_out);
        for (const std::string& file : {options.out, options.averaging, options.crossover}) {
            if (!file.empty()) print("  written      {}\n", file);
        }
        if (!options.all) print("  more         --all: every number; `budget`: what is not known of the part\n");
    }
    return code_of(options, result.verdict.level, ensemble);
}

}  // namespace spotwright::cli
