#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/read_output.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/averaging_chart.hpp"
#include "sim/record/crossover_chart.hpp"
#include "sim/record/layout_drawing.hpp"
#include "sim/record/series_file.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/study/layout.hpp"
#include "sim/study/sensor.hpp"

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

std::vector<std::string> row_of(const fs::path& file, const scenario::Scenario& s, const study::ReadResult& r) {
    const auto in_um = [](std::optional<double> value) {
        return value ? fmt::format("{:.3f}", *value / base::um) : std::string("none");
    };
    const double valid = static_cast<double>(r.statistics.validity[0]) / static_cast<double>(r.statistics.readings);
    return {file.stem().string(),
            s.material.name,
            fmt::format("{:g}", r.timing.exposure / base::us),
            fmt::format("{:.4f}", r.signal.peak_share),
            fmt::format("{:.2f}", 100.0 * valid),
            in_um(r.statistics.standard_deviation),
            in_um(r.speckle ? r.speckle->replaced_deviation : r.statistics.standard_deviation),
            in_um(r.systematic),
            in_um(r.verdict.expanded_uncertainty),
            fmt::format("{:g}", s.requirement.tolerance / base::um),
            std::string(study::name_of(r.verdict.level))};
}

}  // namespace

int run_demo(const DemoOptions& options) {
    const std::vector<fs::path> files = scenario_files(options.scenarios);
    std::error_code status;
    fs::create_directories(options.out, status);
    if (status) throw base::IoError("create folder", options.out, status.message(), base::FileUse::output);

    std::vector<std::vector<std::string>> rows{{"scenario", "material", "exposure us", "peak/full well", "valid %",
                                                "still sd um", "replaced sd um", "bias um", "U um", "tolerance um",
                                                "verdict"}};
    for (const fs::path& path : files) {
        const scenario::Scenario s = scenario::load(path);
        const study::Instrument instrument = study::make_instrument(s, options.threads);
        const fs::path base_name = fs::path(options.out) / path.stem();
        record::SeriesFile series = record::open_series_file(base_name.string() + ".h5", s, current_date());
        study::ReadOptions read_options;
        read_options.threads = options.threads;
        read_options.sink = [&series](const study::SeriesBlock& block) { series.append(block); };
        const study::ReadResult result = study::read(instrument, read_options);
        series.commit(result);
        record::write_text_file(base_name.string() + "-layout.svg", record::draw_layout(s, study::make_layout(s)));
        record::write_text_file(base_name.string() + "-reading.svg",
                                record::draw_profile(instrument, result.pose, result));
        std::string text = describe(s, result);
        if (study::speckle_decides(result.verdict)) {  // and so it says that averaging a still part would not help
            const auto errors = study::averaging_study(instrument, {.threads = options.threads});
            record::write_text_file(base_name.string() + "-averaging.svg", record::draw_averaging(s, errors));
            text += describe(errors);
        }
        fmt::print("{}\n", text);
        rows.push_back(row_of(path, s, result));
    }
    fmt::print("{}\nleft out: {}\nSeries (.h5) and drawings (.svg) are in {}/\n", table(rows), left_out(), options.out);
    return exit_done;
}

}  // namespace spotwright::cli
