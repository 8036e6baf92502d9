// Text of statistics of series and of error curves.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

#include "sim/cli/options.hpp"
#include "sim/study/allan.hpp"
#include "sim/study/linearity.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::cli {

/// Results of `--allan` and `--linearity`.
struct SeriesStudies {
    std::optional<study::AllanStudy> allan;
    std::vector<study::LinearityCurve> linearity;
    double span = 0.0;  ///< [m]
};

/// @throws ScenarioError  More readings are asked for than `--allan` keeps in memory.
void require_memory_for_outputs(const scenario::Scenario& scenario);

[[nodiscard]] SeriesStudies study_series(const Options& options, const sensor::Setup& setup,
                                         std::span<const double> outputs, double period);

void add_to_json(const SeriesStudies& studies, nlohmann::ordered_json& json);

/// Tables among the lines of a result; empty without a study.
[[nodiscard]] std::string describe(const SeriesStudies& studies);

[[nodiscard]] std::string describe(const study::AllanStudy& study);

}  // namespace spotwright::cli
