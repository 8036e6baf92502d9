// Logs of the bench, their statistics and what the model says of them. Names carry their units.
#pragma once

#include <optional>
#include <string>

#include <nlohmann/json.hpp>

#include "sim/study/bench_fit.hpp"
#include "sim/study/bench_log.hpp"

namespace spotwright::record {

[[nodiscard]] nlohmann::ordered_json to_json(const study::BenchLog& log, const study::TimeStatistics& statistics);
[[nodiscard]] nlohmann::ordered_json to_json(const study::BenchLog& log, const study::LinearityStatistics& statistics);

/// `compared` and `fit`.
[[nodiscard]] nlohmann::ordered_json to_json(const study::Bench& bench);

/// The size in SI of the unit in which a quantity of this name is shown: 1e-6 for `still_sd_um`.
[[nodiscard]] double unit_size(const std::string& name);

/// The text of a log, as `spotwright bench` reads it. @param remark  A line of comment at its head.
[[nodiscard]] std::string log_text(const study::BenchLog& log, const std::string& remark);

}  // namespace spotwright::record
