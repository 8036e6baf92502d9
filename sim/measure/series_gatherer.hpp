// Smooths blocks of readings in order, and gathers what there is to say of them.
#pragma once

#include <limits>
#include <optional>
#include <vector>

#include "sim/reading/smoothing.hpp"
#include "sim/measure/series.hpp"

namespace spotwright::measure {

/// Mean and sum of squared deviations of a growing set.
/// Source: T. F. Chan, G. H. Golub, R. J. LeVeque, "Updating formulae and a pairwise algorithm for computing sample
/// variances", Stanford STAN-CS-79-773 (1979).
struct Moments {
    double count = 0.0;
    double mean = 0.0;
    double squares = 0.0;

    void add(const std::vector<double>& values);

    /// Of a sample; none for fewer than two.
    [[nodiscard]] std::optional<double> deviation() const;
};

/// Outputs of full windows less the truth at the middle of their newest exposure.
struct ErrorStatistics {
    Moments error;         ///< [m]
    Moments truth;         ///< of the same outputs. [m]
    double largest = 0.0;  ///< of their sizes. [m]
};

class SeriesGatherer {
public:
    explicit SeriesGatherer(const scenario::Reading& options) : options_(options), smoother_(options) {}

    /// Fills the block's outputs. Blocks come in order.
    void add(SeriesBlock& block);

    [[nodiscard]] SeriesStatistics statistics() const;

    /// Of blocks with moments; empty without.
    [[nodiscard]] const ErrorStatistics& errors() const { return errors_; }

private:
    void add_errors(const SeriesBlock& block);

    scenario::Reading options_;
    reading::Smoother smoother_;
    SeriesStatistics statistics_;
    std::vector<double> settled_;          // outputs of full windows in this block
    std::vector<std::size_t> settled_at_;  // where they stand in it
    Moments moments_;
    Moments thickness_;
    ErrorStatistics errors_;
    double least_ = std::numeric_limits<double>::infinity();
    double greatest_ = -std::numeric_limits<double>::infinity();
};

}  // namespace spotwright::measure
