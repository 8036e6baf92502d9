// Changes against what the sensor itself brings, as it is made and stands; for the two lists of changes.
#pragma once

#include <vector>

#include "sim/measure/read.hpp"
#include "sim/study/changes.hpp"

namespace spotwright::study {

/// What its user can do: clean the window, calibrate behind the cover glass, a threshold above the ghost.
[[nodiscard]] std::vector<Change> instrument_changes_of_user(const scenario::Scenario& scenario,
                                                             const measure::ReadResult& result);

/// What its designer can do beside those: a better lens, a coated filter, a wider one.
[[nodiscard]] std::vector<Change> instrument_changes(const scenario::Scenario& scenario,
                                                     const measure::ReadResult& result);

}  // namespace spotwright::study
