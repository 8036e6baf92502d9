#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/read_output.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/drawing/averaging_chart.hpp"
#include "sim/drawing/crossover_chart.hpp"
#include "sim/record/date.hpp"
#include "sim/drawing/drawings.hpp"
#include "sim/report/read_report.hpp"
#include "sim/record/series_file.hpp"
#include "sim/measure/quantities.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/study/averaging.hpp"
#include "sim/study/crossover.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::cli {

namespace {

namespace fs = std::filesystem;

std::vector<fs::path> scenario_files(const std::string& folder) {
    std::error_code status;
    std::vector<fs::path> files;
    for (const auto& entry : fs::directory_iterator(folder, status)) {
        if (entry.path().extension() == ".toml") files.push_back(entry.path());
    }
    if (status) throw base::IoError("read", folder, status.message());
    if (files.empty()) throw base::IoError("read", folder, "no scenario (.toml) in this folder");
    std::sort(files.begin(), files.end());
    return files;
}

std::vector<std::string> row_of(const fs::path& file, const scenario::Scenario& s, const measure::ReadResult& r) {
    const auto in_um = [](std::optional<double> uncertainty) {
        return uncertainty ? base::two_digits(*uncertainty / base::um) : std::string("none");
    };
    const double uncertainty = r.verdict.expanded_uncertainty.value_or(0.0);
    const double valid = measure::valid_share(r.statistics);
    const double peak_share = measure::quantity("peak_share", r, s);
    return {file.stem().string(),
            s.target.made_of.name,
            fmt::format("{:g}", r.timing.exposure / base::us),
            std::isnan(peak_share) ? "none" : fmt::format("{:.4f}", peak_share),
            fmt::format("{:.2f}", 100.0 * valid),
            r.tracking ? "moves" : in_um(r.statistics.standard_deviation),
            r.speckle    ? in_um(r.speckle->replaced_deviation)
            : r.tracking ? "moves"
                         : in_um(r.statistics.standard_deviation),
            r.systematic ? base::value_text(*r.systematic, uncertainty, base::um, 3) : "none",
            in_um(r.verdict.expanded_uncertainty),
            fmt::format("{:g}", s.requirement.tolerance / base::um),
            std::string(measure::name_of(r.verdict.level))};
}

// What is written beside a series: the mounting, one reading, and the studies that its verdict asks for.
std::string draw_beside(const std::string& base_name, const sensor::Setup& setup, const measure::ReadResult& result,
                        int threads) {
    record::write_text_file(base_name + "-reading.svg", drawing::draw_reading(setup, result));
    record::write_text_file(base_name + "-layout.svg", drawing::draw_geometry(sensor::scenario_of(setup)));
    const auto* on_array = std::get_if<sensor::TriangulationSetup>(&setup);
    if (on_array == nullptr || !measure::speckle_decides(result.verdict)) return {};
    // The verdict says that averaging a still part would not help; the chart shows it.
    const auto errors = study::averaging_study(*on_array, {.threads = threads});
    record::write_text_file(base_name + "-averaging.svg", drawing::draw_averaging(on_array->scenario, errors));
    return describe(errors);
}

std::string draw_crossover_study(const std::string& base_name, const scenario::Scenario& s, int threads) {
    study::CrossoverOptions options;
    options.threads = threads;
    const study::CrossoverStudy study = study::crossover_study(s, options);
    record::write_text_file(base_name + "-crossover.svg", drawing::draw_crossover(s, study));
    return describe(study);
}

// @param report  Takes the readings too, if there is one.
measure::ReadResult read_into_file(const std::string& file, const scenario::Scenario& s, const sensor::Setup& setup,
                                   int threads, std::optional<report::ReadReport>& report) {
    record::SeriesFile series = record::open_series_file(file, s, record::current_date());
    measure::ReadOptions options;
    options.threads = threads;
    options.sink = [&series, &report](const measure::SeriesBlock& block) {
        series.append(block);
        if (report) report->take(block);
    };
    measure::ReadResult result = measure::read(setup, options);
    series.commit(result);
    return result;
}

}  // namespace

int run_demo(const DemoOptions& options) {
    const std::vector<fs::path> files = scenario_files(options.scenarios);
    std::error_code status;
    fs::create_directories(options.out, status);
    if (status) throw base::IoError("create folder", options.out, status.message(), base::FileUse::output);

    std::vector<std::vector<std::string>> rows{{"scenario", "material", "exposure us", "peak/full well", "valid %",
                                                "still sd um", "replaced sd um", "bias without speckle um", "U um",
                                                "tolerance um", "verdict"}};
    bool crossover_drawn = false;  // one study is enough: that of the first scenario by time of flight
    for (const fs::path& path : files) {
        const scenario::Scenario s = scenario::load(path);
        const sensor::Setup setup = sensor::set_up(s, options.threads);
        const std::string base_name = (fs::path(options.out) / path.stem()).string();
        std::optional<report::ReadReport> report;  // one shows what a report is
        if (path == files.front()) report.emplace(fs::path(options.out) / "report.html", s, record::current_date());
        const measure::ReadResult result = read_into_file(base_name + ".h5", s, setup, options.threads, report);
        if (report) {
            report->fill(setup, result, options.threads);
            report->commit();
        }
        std::string text = describe(s, result) + draw_beside(base_name, setup, result, options.threads);
        if (scenario::abilities_of(s.principle).timing && !crossover_drawn) {
            text += draw_crossover_study(base_name, s, options.threads);
            crossover_drawn = true;
        }
        fmt::print("{}\n", text);
        rows.push_back(row_of(path, s, result));
    }
    fmt::print("{}\nSeries (.h5), drawings (.svg) and a report (.html) are in {}/; README says what is left out.\n",
               table(rows), options.out);
    return exit_done;
}

}  // namespace spotwright::cli
