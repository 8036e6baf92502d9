// Changes that would make a part read stably, tried in the model.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/study/ensemble.hpp"

namespace spotwright::study {

/// What a change costs, each 0 for nothing.
struct ChangeCost {
    double speed = 0.0;  ///< loss of sampling rate or of response, as a share. [1]
    double range = 0.0;  ///< loss of measuring range, as a share. [1]
    int parts = 0;       ///< parts of the sensor or its mounting that must be other ones
};

/// One change, or several together, and what they lead to.
struct Trialled {
    std::vector<std::string> changes;   ///< in words for people
    std::vector<std::string> settings;  ///< the same as key=value
    ChangeCost cost;
    double total_cost = 0.0;  ///< by which they are ranked. [1]
    measure::Level level = measure::Level::unreadable;
    std::optional<double> expanded_uncertainty;  ///< [m]
    double valid_share = 0.0;                    ///< [1]
    bool other_sensor = false;                   ///< another sensor of the shelf is among the changes
    std::string obstacle;                        ///< why the changed sensor cannot be built or read; else empty
};

struct Advice {
    Trialled as_it_is;
    std::vector<Trialled> reaching;  ///< those that reach `stable`, cheapest first
    std::vector<Trialled> others;    ///< the rest, best first
    std::string summary;             ///< one sentence: what to do, or that nothing tried helps and why
    /// The advice is that for the sensor that fits its sheet best. What all that fit it come to by their budgets with
    /// the first of `reaching`, or as it is where nothing is to change or nothing reaches; none without an ensemble, or
    /// where the time does not reach for it.
    std::optional<EnsembleSpread> ensemble = std::nullopt;
};

struct AdviceOptions {
    int threads = 0;
    std::function<void(std::int64_t done, std::int64_t all)> progress;
    double seconds = 0.0;                  ///< after which nothing new is tried; 0: no limit. [s]
    std::function<double()> elapsed = {};  ///< time since the call, for that limit. [s]
};

/// Changes are tried one by one, then the best of them together, each with the exposure that suits its light: what
/// helps only in company is found too. Of a scenario that names a sensor they are those that its user can make; another
/// sensor is tried last, where nothing else is enough.
/// Power is never raised past the laser class of the scenario.
[[nodiscard]] Advice advise(const scenario::Scenario& scenario, const AdviceOptions& options);

}  // namespace spotwright::study
