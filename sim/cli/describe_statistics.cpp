#include "sim/cli/describe_statistics.hpp"

#include <fmt/format.h>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/statistics_json.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::cli {

namespace {

using base::mm, base::ms, base::um, base::us;

std::string time_text(double seconds) {
    if (seconds < 1e-3) return fmt::format("{:.4g} us", seconds / us);
    if (seconds < 1.0) return fmt::format("{:.4g} ms", seconds / ms);
    return fmt::format("{:.4g} s", seconds);
}

std::string gaps_text(const study::AllanStudy& study) {
    switch (study.gaps) {
        case study::Gaps::none:
            return "";
        case study::Gaps::closed:
            return fmt::format("; {} of {} invalid, gaps closed", study.missing, study.readings);
        case study::Gaps::longest_run:
            return fmt::format("; {} of {} invalid: the longest stretch of {} without a gap", study.missing,
                               study.readings, study.used);
    }
    return "";
}

std::string minimum_text(const study::AllanStudy& study) {
    if (!study.least) return "too few readings";
    const study::AllanPoint& least = *study.least;
    const std::string where =
        fmt::format("least {} over {}", base::uncertainty_text(least.deviation), time_text(least.time));
    if (study.min_inside) return where + ": the best averaging time";
    return where + (least.count == 1 ? ": averaging makes it worse" : ": the longest that the series allows");
}

std::string linearity_text(const SeriesStudies& studies) {
    return fmt::format(
               "  linearity    largest distance of the error from four straight lines, without noise and speckle, at "
               "{} points;\n               % of the span of {:.6g} mm\n",
               study::places_over_range, studies.span / mm) +
           indented_table(record::linearity_table(studies.linearity, studies.span));
}

}  // namespace

void require_memory_for_outputs(const scenario::Scenario& scenario) {
    constexpr std::int64_t most = 20000000;  // 160 MB
    if (scenario.run.readings <= most) return;
    scenario::reject(scenario, "run.readings",
                     fmt::format("{} readings, and --allan keeps all of them in memory", scenario.run.readings),
                     fmt::format("up to {} with --allan", most));
}

SeriesStudies study_series(const Options& options, const sensor::Setup& setup, std::span<const double> outputs,
                           double period) {
    SeriesStudies studies;
    const auto [near, far] = sensor::scenario_of(setup).mount.range;
    studies.span = far - near;
    if (options.allan) studies.allan = study::allan_study(outputs, period);
    if (options.linearity) {
        const std::vector<std::string> others = study::materials_compared();
        studies.linearity = study::linearity_study(setup, others, study::places_over_range, options.threads);
    }
    return studies;
}

void add_to_json(const SeriesStudies& studies, nlohmann::ordered_json& json) {
    if (studies.allan) json["allan"] = record::to_json(*studies.allan);
    if (!studies.linearity.empty()) json["linearity"] = record::to_json(studies.linearity, studies.span);
}

std::string describe(const study::AllanStudy& study) {
    std::string text = fmt::format("  allan        {}{}\n", minimum_text(study), gaps_text(study));
    if (study.curve.empty()) return text;
    return text + indented_table(record::allan_table(study.curve));
}

std::string describe(const SeriesStudies& studies) {
    std::string text;
    if (studies.allan) text += describe(*studies.allan);
    if (!studies.linearity.empty()) text += linearity_text(studies);
    return text;
}

}  // namespace spotwright::cli
