// Logs of the bench, their statistics and their comparison with the model. Names end in their units.
#pragma once

#include <optional>
#include <string>

#include <nlohmann/json.hpp>

#include "sim/bench/fit.hpp"
#include "sim/bench/log.hpp"

namespace spotwright::record {

[[nodiscard]] nlohmann::ordered_json to_json(const bench::BenchLog& log, const bench::TimeStatistics& statistics);
[[nodiscard]] nlohmann::ordered_json to_json(const bench::BenchLog& log, const bench::LinearityStatistics& statistics);

/// `compared` and `fit`.
[[nodiscard]] nlohmann::ordered_json to_json(const bench::Bench& bench);

/// Statistics of a log and, if given, its comparison with a model.
template <class Statistics>
[[nodiscard]] nlohmann::ordered_json bench_json(const bench::BenchLog& log, const Statistics& statistics,
                                                const std::optional<bench::Bench>& bench) {
    nlohmann::ordered_json json = to_json(log, statistics);
    if (bench) json.update(to_json(*bench));
    return json;
}

/// The size in SI of the unit in which a quantity of this name is shown: 1e-6 for `still_sd_um`.
[[nodiscard]] double unit_size(const std::string& name);

/// First line of logs that were not measured.
inline constexpr const char* simulated_remark = "simulated by spotwright, not measured";

/// The text of a log, as `spotwright bench` reads it. @param remark  A comment for its first line.
[[nodiscard]] std::string log_text(const bench::BenchLog& log, const std::string& remark);

}  // namespace spotwright::record
