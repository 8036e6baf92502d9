// Specimens of one sensor: the same part before each that the tolerances of its making allow.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/study/ensemble.hpp"

namespace spotwright::study {

/// How the specimens of a sensor come out.
struct Specimens {
    EnsembleSpread spread;
    std::optional<double>
        bias_deviation;  ///< of the bias without speckle, from specimen to specimen: standard deviation. [m]
};

/// The scenario with each of `run.specimens` specimens, `detector.device_seed` counting up from its own; empty where
/// one alone is wanted, or light is timed.
[[nodiscard]] std::vector<scenario::Scenario> specimens_of(const scenario::Scenario& scenario);

/// Error of a reading by each specimen without noise and speckle, each calibrated as it is made; none where it gives no
/// reading or cannot be calibrated. [m]
[[nodiscard]] std::vector<std::optional<double>> errors_of_specimens(std::span<const scenario::Scenario> specimens,
                                                                     int threads);

/// Reads the part by all of them; none without `specimens_of`. Fewer readings than by `read`: see `EnsembleOptions`.
[[nodiscard]] std::optional<Specimens> read_specimens(const scenario::Scenario& scenario,
                                                      const EnsembleOptions& options);

/// "stable for 7 of 8 specimens (marginal 1)".
[[nodiscard]] std::string in_words(const Specimens& specimens, measure::Level level);

}  // namespace spotwright::study
