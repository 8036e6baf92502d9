// Checks of the models against published or independently derived values, by running the models.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace spotwright::validation {

enum class Relation { equal, at_least, at_most };

/// One check: what the model gave beside what a source says.
struct Check {
    std::string id;      ///< short and stable, as in `geometry.scheimpflug`
    std::string claim;   ///< a sentence
    std::string source;  ///< where `expected` comes from
    std::string unit;
    double expected = 0.0;
    double got = 0.0;
    double tolerance = 0.0;  ///< absolute, in `unit`
    std::string why;         ///< why this tolerance
    Relation relation = Relation::equal;
};

/// equal: |got - expected| <= tolerance; at_least: got >= expected - tolerance; at_most: got <= expected + tolerance.
[[nodiscard]] bool passes(const Check& check);

/// "", ">= " or "<= ".
[[nodiscard]] std::string_view symbol_of(Relation relation);

/// All checks, in a fixed order; the same numbers whatever the thread count.
[[nodiscard]] std::vector<Check> published_checks(int threads);

// By subject; `published_checks` joins them.
[[nodiscard]] std::vector<Check> geometry_checks();
[[nodiscard]] std::vector<Check> light_checks();
[[nodiscard]] std::vector<Check> lens_checks();
[[nodiscard]] std::vector<Check> target_checks();
[[nodiscard]] std::vector<Check> marking_checks();
[[nodiscard]] std::vector<Check> detector_checks();
[[nodiscard]] std::vector<Check> peak_checks();
[[nodiscard]] std::vector<Check> over_time_checks();
[[nodiscard]] std::vector<Check> system_checks(int threads);
[[nodiscard]] std::vector<Check> speckle_checks(int threads);
[[nodiscard]] std::vector<Check> temperature_checks();
[[nodiscard]] std::vector<Check> surroundings_checks();
[[nodiscard]] std::vector<Check> phase_shift_checks(int threads);
[[nodiscard]] std::vector<Check> pulse_checks(int threads);
[[nodiscard]] std::vector<Check> photon_counting_checks();  ///< part of `pulse_checks`
[[nodiscard]] std::vector<Check> uncertainty_checks(int threads);
[[nodiscard]] std::vector<Check> statistics_checks();

}  // namespace spotwright::validation
