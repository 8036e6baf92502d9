// How far a result hangs on what the data sheet of a sensor leaves open: the same part before every sensor that fits.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/study/sweep.hpp"

namespace spotwright::study {

/// What one sensor of an ensemble comes to.
struct EnsembleMember {
    measure::Level level = measure::Level::unreadable;
    double valid_share = 0.0;                         ///< [1]
    std::optional<double> bias;                       ///< [m]
    std::optional<double> scatter;                    ///< of outputs on a still part, standard deviation. [m]
    std::optional<double> replaced;                   ///< the same, the part moved between readings. [m]
    std::optional<double> expanded_uncertainty;       ///< by which it was judged. [m]
    std::string obstacle;                             ///< why this sensor cannot be built or read; else empty
    std::optional<double> systematic = std::nullopt;  ///< bias, without speckle. [m]
};

/// Least, median and greatest of a quantity over the members that have it. SI.
struct Spread {
    double least = 0.0;
    double median = 0.0;
    double greatest = 0.0;
    bool operator==(const Spread&) const = default;
};

/// @return none for no values. Of an even number the lower of the two middle ones is the median.
[[nodiscard]] std::optional<Spread> spread_of(std::vector<double> values);

/// All members together.
struct EnsembleSpread {
    std::int64_t members = 0;
    std::array<std::int64_t, 4> levels{};  ///< members by level, in the order of `measure::Level`
    std::optional<Spread> bias;
    std::optional<Spread> scatter;
    std::optional<Spread> replaced;
    std::optional<Spread> expanded_uncertainty;
    std::int64_t hindered = 0;   ///< members that could not be built or read; counted as unreadable
    std::string first_obstacle;  ///< of the first of them

    /// Members of a level.
    [[nodiscard]] std::int64_t at(measure::Level level) const { return levels.at(static_cast<std::size_t>(level)); }
};

[[nodiscard]] EnsembleSpread spread_over(std::span<const EnsembleMember> members);

/// How each member is judged.
enum class EnsembleJudgement {
    reading,  ///< by the verdict of `read`
    budget    ///< by the lines of a budget, without its Monte Carlo
};

struct EnsembleOptions {
    EnsembleJudgement judgement = EnsembleJudgement::reading;
    int threads = 0;  ///< 0: all cores
    /// Members are read less often than the sensor itself, so that all of them take seconds: readings and patches of
    /// each at most.
    std::int64_t readings = 512;
    std::int64_t patches = 32;
    std::function<void(std::int64_t done, std::int64_t all)> progress;
    double corrected_bias = 0.0;  ///< that the user takes off, as the known scale of a tilted sensor; of a budget. [m]
};

/// Every member of the ensemble of the scenario's sensor before the scenario's part, in the order of the sensor file;
/// empty without an ensemble. A sensor that cannot be built or read counts as unreadable and carries its obstacle.
[[nodiscard]] std::vector<EnsembleMember> read_ensemble(const scenario::Scenario& scenario,
                                                        const EnsembleOptions& options);

/// The same of given sensors, each before its own part.
[[nodiscard]] std::vector<EnsembleMember> read_members(std::span<const scenario::Scenario> members,
                                                       const EnsembleOptions& options);

/// The spread at every point of a sweep, in the order of their numbers; empty without an ensemble, or where an axis
/// exchanges the sensor.
[[nodiscard]] std::vector<EnsembleSpread> sweep_ensemble(const Sweep& sweep, const EnsembleOptions& options);

/// Points of a sweep up to which `sweep_ensemble` is worth its time: each costs a reading of every member.
inline constexpr std::int64_t most_ensemble_points = 100;

/// The level of most members; of two that share that, the worse. @param spread  Of one member at least.
[[nodiscard]] measure::Level most_common_level(const EnsembleSpread& spread);

/// The level of a verdict beside those of the members, for its headline: "marginal, as for 28 of 32 sensors that fit
/// the sheet", or "marginal for the sensor that fits the sheet best, but unstable for 20 of 32 that fit it".
[[nodiscard]] std::string headline(measure::Level level, const EnsembleSpread& spread);

/// "stable for 31 of 32 sensors that fit the sheet" and, where members differ, what the others come to.
[[nodiscard]] std::string in_words(const EnsembleSpread& spread, measure::Level level);

/// The same of members by another name.
[[nodiscard]] std::string levels_in_words(const EnsembleSpread& spread, measure::Level level, std::string_view members);

}  // namespace spotwright::study
