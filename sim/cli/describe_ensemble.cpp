#include "sim/cli/describe_ensemble.hpp"

#include <fmt/format.h>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/cli/terminal.hpp"

namespace spotwright::cli {

namespace {

constexpr int digits = 3;

std::string lines_of(const study::EnsembleSpread& spread) {
    const auto range = [](const std::optional<study::Spread>& s) {
        if (!s) return std::string("none");
        return fmt::format("{} to {} um", base::number_text(s->least / base::um, digits),
                           base::number_text(s->greatest / base::um, digits));
    };
    std::string text =
        fmt::format("{:15}bias {}; still standard deviation {}\n", "", range(spread.bias), range(spread.scatter));
    text += fmt::format("{:15}replaced standard deviation {}; expanded uncertainty {}\n", "", range(spread.replaced),
                        range(spread.expanded_uncertainty));
    if (spread.hindered > 0) {
        text +=
            fmt::format("{:15}{} sensors give no reading: {}\n", "", spread.hindered, printable(spread.first_obstacle));
    }
    return text;
}

}  // namespace

std::string describe(const study::EnsembleSpread& spread, measure::Level level) {
    return fmt::format("  {:<13}{}\n", "by the sheet", wrapped(in_words(spread, level), 15)) + lines_of(spread);
}

std::string describe(const study::Specimens& specimens, measure::Level level) {
    std::string text = fmt::format("  {:<13}{}\n", "specimens", wrapped(in_words(specimens, level), 15));
    if (specimens.bias_deviation) {
        text += fmt::format("{:15}bias without speckle, from specimen to specimen: standard deviation {} um\n", "",
                            base::number_text(*specimens.bias_deviation / base::um, digits));
    }
    return text + lines_of(specimens.spread);
}

std::optional<study::Specimens> specimens_beside(const scenario::Scenario& s, const Options& options) {
    if (s.run.specimens < 2) return std::nullopt;
    Progress progress("specimens of the sensor", options.progress);
    study::EnsembleOptions each;
    each.threads = options.threads;
    each.progress = [&progress](std::int64_t done, std::int64_t all) { progress.show(done, all); };
    return study::read_specimens(s, each);
}

std::optional<study::EnsembleSpread> ensemble_beside(const scenario::Scenario& s, study::EnsembleJudgement judgement,
                                                     const Options& options) {
    if (s.sensor_file.ensemble.empty()) return std::nullopt;
    Progress progress("sensors that fit the sheet", options.progress);
    study::EnsembleOptions each;
    each.judgement = judgement;
    each.threads = options.threads;
    each.progress = [&progress](std::int64_t done, std::int64_t all) { progress.show(done, all); };
    return study::spread_over(study::read_ensemble(s, each));
}

int code_of(const Options& options, measure::Level level, const std::optional<study::EnsembleSpread>& ensemble) {
    const bool stable =
        level == measure::Level::stable && (!ensemble || study::most_common_level(*ensemble) == measure::Level::stable);
    return options.strict && !stable ? exit_not_stable : exit_done;
}

}  // namespace spotwright::cli
