// The verdict on readings: one rule for every command, and the words that explain it.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/measure/cause.hpp"
#include "sim/measure/reason.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::measure {

enum class Level { stable, marginal, unstable, unreadable };

/// `stable`, `marginal`, ...
[[nodiscard]] std::string_view name_of(Level level);

/// What a verdict answers for. Both apply the same rule; the second holds more causes of error.
enum class Covers {
    part_as_it_stands,  ///< the part as the scenario has it, on any patch of its surface
    open_questions      ///< as well what `[uncertainty]` leaves open: where it stands, its tilt, temperature, material
};

/// In words: "the part as it stands, on any patch of its surface".
[[nodiscard]] std::string_view name_of(Covers covers);

struct Verdict {
    Level level = Level::unreadable;
    Covers covers = Covers::part_as_it_stands;
    double valid_share = 0.0;                    ///< of readings, the least of those that are judged. [1]
    std::optional<double> expanded_uncertainty;  ///< the error found, bias included; none without valid outputs. [m]
    std::vector<Contribution> contributions;     ///< largest effect first
    std::vector<Reason> reasons;                 ///< the decisive one first
};

/// The error that a stable part may have: the tolerance over `uncertainty_ratio`. [m]
[[nodiscard]] double allowed_error(const scenario::Requirement& requirement);

/// By the valid share and the error found: see `Requirement`. @param uncertainty  None: not known. [m]
[[nodiscard]] Level level_of(const scenario::Requirement& requirement, double valid_share,
                             std::optional<double> uncertainty);

/// Why the level is what it is, in one line without a full stop: "errors within a quarter of the tolerance, 7.5 um
/// allowed, 5.3 um found". Terminal, report, pictures and JSON take it from here.
[[nodiscard]] std::string explanation(const Verdict& verdict, const scenario::Requirement& requirement);

/// What to try first against the largest cause of error, in a few words; empty for a stable part.
/// @param scenario  Of a sensor that it names, only what its user can do is said.
[[nodiscard]] std::string next_step(const Verdict& verdict, const scenario::Scenario& scenario);

/// Whether a part does not read stably, and speckle is the largest cause: averaging a still part would not help.
[[nodiscard]] bool speckle_decides(const Verdict& verdict);

}  // namespace spotwright::measure
