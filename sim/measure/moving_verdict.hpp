// What a verdict says of a part that moves or changes while it is read.
#pragma once

#include <optional>
#include <vector>

#include "sim/measure/read.hpp"

namespace spotwright::measure {

/// Mean error and what changes about it. Speckle is a contribution of its own while it stays the same: where surface
/// passes, it is among what changes. Only with `following`.
[[nodiscard]] std::vector<Contribution> contributions_on_the_move(const ReadResult& result);

/// Why readings of this validity are lost.
[[nodiscard]] WhyLost why_lost_on_the_move(reading::Validity validity, const scenario::Scenario& scenario,
                                           const ReadResult& result);

/// What the motion costs: readings lost after changes of surface, lag, vibration that is not followed.
[[nodiscard]] std::vector<Reason> reasons_on_the_move(const scenario::Scenario& scenario, const ReadResult& result);

/// Why readings are not reliable, where that is too many of them for a verdict.
[[nodiscard]] std::optional<TooMuchWithinExposures> why_unresolved(const scenario::Scenario& scenario,
                                                                   const ReadResult& result);

}  // namespace spotwright::measure
