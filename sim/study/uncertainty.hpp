// Uncertainty of a measurement: the rules of the GUM, and the Monte Carlo of its first supplement.
#pragma once

#include <cstdint>
#include <functional>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace spotwright::study {

struct Interval {
    double low = 0.0;
    double high = 0.0;
};

/// How a standard uncertainty was found. GUM 2.3.2, 2.3.3: from the scatter of observations, or otherwise.
enum class Evaluation { a, b };

inline constexpr double endless = std::numeric_limits<double>::infinity();  ///< degrees of freedom of what is known

/// One cause, in the unit of the measurand: sensitivity times standard uncertainty.
struct Component {
    std::string name;
    Evaluation evaluation = Evaluation::b;
    double standard_uncertainty = 0.0;
    double degrees_of_freedom = endless;
};

struct Combined {
    double standard_uncertainty = 0.0;
    double degrees_of_freedom = endless;  ///< effective ones, by Welch and Satterthwaite
    double coverage_factor = 2.0;
    double expanded = 0.0;
};

/// Independent causes together. Source: JCGM 100:2008, 5.1.2, G.4.1, G.6.4; degrees of freedom cut down to whole ones.
/// @param coverage  Probability, in (0, 1).  @throws DomainError  An uncertainty below zero, no component.
/// Equations (uncertainty.1) to (uncertainty.3).
[[nodiscard]] Combined combine(std::span<const Component> components, double coverage = 0.95);

/// A quantity that a result depends on.
struct Input {
    std::string name;
    double value = 0.0;
    double standard_uncertainty = 0.0;
    double degrees_of_freedom = endless;
    Evaluation evaluation = Evaluation::b;
};

using Model = std::function<double(std::span<const double> values)>;

/// Terms of propagation that are worked out. The second order takes 2 n^2 values of the model more.
enum class Order { first, second };

struct Propagated {
    double value = 0.0;
    std::vector<Component> components;  ///< of each input
    std::vector<double> changes;        ///< the same with their signs: sensitivity times standard uncertainty
    double second_order = 0.0;          ///< variance that independent normal inputs add to the first order: 5.1.2, note
};

/// Sensitivities from the model itself: half of what it changes by from one standard uncertainty below the input's
/// value to one above. Source: JCGM 100:2008, 5.1.3, note 2.
/// @throws DomainError  An uncertainty below zero, or the model gives no finite value.
/// Equations (uncertainty.4) and (uncertainty.5).
[[nodiscard]] Propagated propagate(const Model& model, std::span<const Input> inputs, Order order = Order::second);

/// Of inputs that are correlated, to first order. Source: JCGM 100:2008, 5.2.2.
/// @param correlation  Coefficients row by row, inputs times inputs.
/// @throws DomainError  Of another size, no correlation matrix.
/// Equation (uncertainty.6).
[[nodiscard]] double correlated_uncertainty(const Propagated& propagated, std::span<const double> correlation);

/// The shortest interval that holds a share of the values. Source: JCGM 101:2008, 7.7.
/// @param sorted  Rising, at least two.
[[nodiscard]] Interval shortest_interval(std::span<const double> sorted, double coverage);

/// The interval that leaves out as much at either end. Source: likewise.
[[nodiscard]] Interval symmetric_interval(std::span<const double> sorted, double coverage);

/// One draw of everything, by its index; none where no result comes out. May be called from several threads at a time.
using Trial = std::function<std::optional<double>(std::int64_t index)>;

struct MonteCarloOptions {
    double coverage = 0.95;
    int digits = 2;                ///< significant ones of the standard uncertainty that must not change any more
    std::int64_t block = 10000;    ///< trials between two looks, >= 2: see `monte_carlo_block`
    std::int64_t most = 10000000;  ///< trials that are never passed, but at least two blocks are made
    int threads = 0;               ///< 0: all cores
    std::function<void(std::int64_t done, std::int64_t all)> progress;  ///< may be empty
};

struct MonteCarlo {
    std::int64_t trials = 0;
    std::int64_t without_result = 0;
    double mean = 0.0;
    double standard_uncertainty = 0.0;
    Interval shortest;
    Interval symmetric;
    // Standard errors, from block to block.
    double mean_error = 0.0;
    double uncertainty_error = 0.0;  ///< of the standard uncertainty
    /// Of the ends of the shortest interval, the larger: it falls with the cube root of the blocks only. Source of the
    /// rate: J. Kim, D. Pollard, Ann. Statist. 18, 191 (1990).
    double end_error = 0.0;
    bool settled = false;  ///< the adaptive rule ended it, not `most`
};

/// Propagation of distributions, block by block until mean, standard uncertainty and both ends of the shortest interval
/// have settled: twice the standard error of each is within `numerical_tolerance`. Source: JCGM 101:2008, 7.9. The
/// result does not depend on the thread count. Trials without a result, or with one that is not finite, are counted and
/// left out. @throws DomainError  Fewer than two trials gave a result; an option outside its range.
[[nodiscard]] MonteCarlo monte_carlo(const Trial& trial, const MonteCarloOptions& options);

/// Trials of a block: 100 / (1 - coverage), at least 10000. Source: JCGM 101:2008, 7.9.4 b).
[[nodiscard]] std::int64_t monte_carlo_block(double coverage);

/// Half a unit of the last of `digits` significant digits of a standard uncertainty. Source: JCGM 101:2008, 7.9.2.
/// Equation (uncertainty.8).
[[nodiscard]] double numerical_tolerance(double standard_uncertainty, int digits);

/// Where the standard deviation lies from which n normal values with a sample deviation s were drawn.
/// Source: chi-squared interval, NIST/SEMATECH e-Handbook 7.2.3.  @param count  At least two.
/// Equation (uncertainty.9).
[[nodiscard]] Interval deviation_interval(double deviation, std::int64_t count, double coverage = 0.95);

/// The same where there is a deviation and it stands on at least two values; of few that are all alike there is none.
[[nodiscard]] std::optional<Interval> deviation_interval_or_none(std::optional<double> deviation, std::int64_t count);

/// The same for a deviation whose square has the chi-squared distribution of so many degrees of freedom, not
/// necessarily whole ones. @param degrees_of_freedom  > 0; endless: no width.
[[nodiscard]] Interval deviation_interval_of(double deviation, double degrees_of_freedom, double coverage = 0.95);

}  // namespace spotwright::study
