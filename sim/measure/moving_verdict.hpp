// What a verdict says of a part that moves or changes while it is read.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"

namespace spotwright::measure {

/// Mean error and what changes about it. Speckle is a contribution of its own while it stays the same: where surface
/// passes, it is among what changes. Only with `following`.
[[nodiscard]] std::vector<Contribution> contributions_on_the_move(const ReadResult& result);

/// Why readings of this kind are lost, after "x % of readings are ...: ".
[[nodiscard]] std::string why_lost_on_the_move(reading::Validity validity, const scenario::Scenario& scenario,
                                               const ReadResult& result);

/// Sentences on what the motion costs: lost after changes of surface, lag, vibration that is not followed.
[[nodiscard]] std::vector<std::string> reasons_on_the_move(const scenario::Scenario& scenario,
                                                           const ReadResult& result);

/// Why readings are not reliable, where that is too many of them for a verdict.
[[nodiscard]] std::optional<std::string> why_not_followed(const scenario::Scenario& scenario, const ReadResult& result);

}  // namespace spotwright::measure
