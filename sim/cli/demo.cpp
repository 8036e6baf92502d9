#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <string_view>

#include "sim/base/errors.hpp"
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
#include "sim/record/quantity_text.hpp"
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

// Quantities of the table that compares scenarios.
constexpr std::array<std::string_view, 8> compared{"exposure_us",
                                                   "peak_share",
                                                   "valid_share",
                                                   "still_sd_um",
                                                   "replaced_sd_um",
                                                   "bias_without_speckle_um",
                                                   "expanded_uncertainty_um",
                                                   "tolerance_um"};

std::vector<std::string> head_of_table() {
    std::vector<std::string> head{"scenario", "material"};
    for (const std::string_view name : compared) head.emplace_back(name);
    head.emplace_back("verdict");
    return head;
}

std::vector<std::string> row_of(const fs::path& file, const scenario::Scenario& s, const measure::ReadResult& r) {
    std::vector<std::string> row{file.stem().string(), s.target.made_of.name};
    for (const std::string_view name : compared) row.push_back(record::number_in_column(name, r, s));
    row.emplace_back(measure::name_of(r.verdict.level));
    return row;
}

// Writes the files beside a series: the mounting, one reading, and the studies that its verdict asks for.
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

// @param report  Also receives the readings, if there is one.
measure::ReadResult read_into_file(const std::string& file, const scenario::Scenario& s, const sensor::Setup& setup,
                                   int threads, std::optional<report::ReadReport>& report) {
    record::SeriesFile series = record::open_series_file(file, s, record::current_date());
    measure::ReadOptions options;
    options.threads = threads;
    options.sink = [&series, &report](const measure::SeriesBlock& block) {
        series.append(block);
        if (report) report->add(block);
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

    std::vector<std::vector<std::string>> rows{head_of_table()};
    bool crossover_drawn = false;  // one study is enough: that of the first scenario by time of flight
    for (const fs::path& path : files) {
        const scenario::Scenario s = scenario::load(path);
        const sensor::Setup setup = sensor::set_up(s, options.threads);
        const std::string base_name = (fs::path(options.out) / path.stem()).string();
        std::optional<report::ReadReport> report;  // one is enough as an example
        if (path == files.front()) report.emplace(fs::path(options.out) / "report.html", s, record::current_date());
        const measure::ReadResult result = read_into_file(base_name + ".h5", s, setup, options.threads, report);
        if (report) {
            report->fill(setup, result, options.threads);
            report->commit();
        }
        std::string text = describe(s, result, Detail::answer) + draw_beside(base_name, setup, result, options.threads);
        if (scenario::abilities_of(s.principle).timing && !crossover_drawn) {
            text += draw_crossover_study(base_name, s, options.threads);
            crossover_drawn = true;
        }
        print("{}\n", text);
        rows.push_back(row_of(path, s, result));
    }
    print("{}\nSeries (.h5), drawings (.svg) and a report (.html) are in {}/; README says what is left out.\n",
          table(rows), options.out);
    return exit_done;
}

}  // namespace spotwright::cli
