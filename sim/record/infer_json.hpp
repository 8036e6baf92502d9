// Ensembles, and sensors inferred from a data sheet, as JSON. Names end in their units.
#pragma once

#include <nlohmann/json.hpp>

#include "sim/study/ensemble.hpp"
#include "sim/study/infer.hpp"
#include "sim/study/specimens.hpp"

namespace spotwright::record {

/// Members by level, and [least, median, greatest] of each quantity in um; null where no member has it.
/// @param level  Of the sensor itself: `same_level` counts the members that share it.
[[nodiscard]] nlohmann::ordered_json to_json(const study::EnsembleSpread& spread, measure::Level level);

/// The same of specimens, with the standard deviation of their bias.
[[nodiscard]] nlohmann::ordered_json to_json(const study::Specimens& specimens, measure::Level level);

/// The table of the sheet, the parameters, what to measure, and what logs said.
[[nodiscard]] nlohmann::ordered_json to_json(const study::Inference& inference);

}  // namespace spotwright::record
