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

struct Propagated {
    double value = 0.0;
    std::vector<Component> components;  ///< of each input
    double second_order = 0.0;          ///< variance that first-order propagation leaves out: 5.1.2, note
};

/// Sensitivities from the model itself, by central differences.
[[nodiscard]] Propagated propagate(const Model& model, std::span<const Input> inputs);

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
    std::int64_t block = 10000;    ///< trials between two looks; at least two blocks are made
    std::int64_t most = 10000000;  ///< trials after which it ends in any case
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
    double end_error = 0.0;  ///< standard error of the ends of the shortest interval, from block to block
    bool settled = false;    ///< the adaptive rule ended it, not `most`
};

/// Propagation of distributions, block by block until the results have settled. Source: JCGM 101:2008, 7.9. The result
/// does not depend on the thread count. @throws DomainError  Fewer than two trials gave a result.
[[nodiscard]] MonteCarlo monte_carlo(const Trial& trial, const MonteCarloOptions& options);

/// Half a unit of the last of `digits` significant digits of a standard uncertainty. Source: JCGM 101:2008, 7.9.2.
[[nodiscard]] double numerical_tolerance(double standard_uncertainty, int digits);

/// Where the standard deviation lies from which n normal values with a sample deviation s were drawn.
/// Source: chi-squared interval, NIST/SEMATECH e-Handbook 7.2.3.  @param count  At least two.
[[nodiscard]] Interval deviation_interval(double deviation, std::int64_t count, double coverage = 0.95);

}  // namespace spotwright::study
