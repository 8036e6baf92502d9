// Statistics of series and error curves as JSON. Names end in their units; a value that does not exist is null.
#pragma once

#include <optional>
#include <span>

#include <nlohmann/json.hpp>

#include "sim/study/allan.hpp"
#include "sim/study/linearity.hpp"

namespace spotwright::record {

/// [low, high] in um; null for none.
[[nodiscard]] nlohmann::ordered_json interval_json(const std::optional<study::Interval>& interval);

/// `gaps` is `none`, `closed` or `longest run`; `minimum` is null for an empty curve.
[[nodiscard]] nlohmann::ordered_json to_json(const study::AllanStudy& study);

/// The four figures in um and in per cent of a span.
[[nodiscard]] nlohmann::ordered_json to_json(const study::LinearityFigures& figures, double span);

/// One entry for each material.
[[nodiscard]] nlohmann::ordered_json to_json(std::span<const study::LinearityCurve> curves, double span);

}  // namespace spotwright::record
