// Changes that the user of a sensor can make: what it offers, its mounting, the part's preparation, the surroundings.
#pragma once

#include <optional>
#include <vector>

#include "sim/study/changes.hpp"

namespace spotwright::study {

/// As `possible_changes`, of a scenario that names its sensor. Other sensors of the library come last and are marked.
[[nodiscard]] std::vector<Change> changes_of_user(const scenario::Scenario& scenario,
                                                  const measure::ReadResult& result);

/// As `suited_exposure`, within what the sensor offers.
[[nodiscard]] std::optional<Change> suited_exposure_of_user(const scenario::Scenario& scenario, double peak_share,
                                                            double exposure);

}  // namespace spotwright::study
