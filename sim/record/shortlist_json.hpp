// A shortlist of sensors as JSON. Names end in their units; a value that does not exist is null.
#pragma once

#include <nlohmann/json.hpp>

#include "sim/study/shortlist.hpp"

namespace spotwright::record {

/// The job and its sensors, best first.
[[nodiscard]] nlohmann::ordered_json to_json(const study::Shortlist& list, const scenario::Job& job);

/// One sensor with all poses.
[[nodiscard]] nlohmann::ordered_json to_json(const study::RankedSensor& ranked, const scenario::Job& job);

}  // namespace spotwright::record
