// Diffraction at the aperture: the share of a point's light that falls into a rectangle.
#pragma once

#include <array>
#include <cstddef>
#include <vector>

#include "sim/receiver/edge_spread_table.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::receiver {

/// Optical transfer function of a round aperture in focus, (2/pi)(acos q - q sqrt(1 - q^2)), q = frequency over the
/// cut-off D / (lambda b). [1]  Source: J. W. Goodman, Introduction to Fourier Optics, ch. 6.
[[nodiscard]] double round_aperture_transfer(double frequency);

/// The same of a rectangular aperture along either side, 1 - q, the width for D; its line spread is sinc^2.
[[nodiscard]] double rectangular_aperture_transfer(double frequency);

/// The pattern of an aperture in focus, integrated. Distances from the point are counted in lambda N, N the working
/// f-number of the aperture's width along the same axis.
///
/// The share of light in a rectangle is a sum of few products,
///     sum_r sign_r (a_r(x1) - a_r(x0)) (a_r(y1) - a_r(y0)),   a_r odd.
/// a_0 is the edge spread minus a half. A rectangular aperture has only this term, and it is exact. A round one has
/// seven more (tests/reference/round_aperture_pattern.py makes them); the light of a pixel anywhere in the pattern is
/// right within 4e-4 of that of the same pixel at its centre. With the first term alone a square pixel of 0.2 lambda N
/// would get 8 % too little at the centre.
class EdgeSpread {
public:
    explicit EdgeSpread(scenario::ApertureShape shape = scenario::ApertureShape::round);

    [[nodiscard]] scenario::ApertureShape shape() const { return shape_; }

    /// Edge spread: share of a point's light that falls below a straight edge,
    /// E(x) = 1/2 + (1/pi) int_0^1 OTF(q) sin(2 pi q x) / q dq. Absolute error below 2e-6 within the table, 5e-5
    /// beyond.
    [[nodiscard]] double operator()(double x) const;

    /// How many terms count: 8 of a round aperture, 1 of a rectangular one.
    [[nodiscard]] std::size_t count() const { return count_; }

    /// a_r at a distance: the first `count()` are filled, the others 0.
    [[nodiscard]] PatternTerms terms(double x) const;

    /// For kernels: entry i of the table stands for the distance (i - 1) / steps_per_unit, and those from 1 to
    /// round_aperture_entries for distances from 0 on.
    [[nodiscard]] const PatternTerms* table() const { return table_->data(); }

    /// Growth of 1 / (1 - E) with distance beyond the table.
    [[nodiscard]] double tail_slope() const { return tail_slope_; }

    /// sign_r.
    [[nodiscard]] const PatternTerms& signs() const { return signs_; }

    /// Share of the light in the rectangle [x0, x1] x [y0, y1], x along the array, y across it. [1]
    [[nodiscard]] double share(double x0, double x1, double y0, double y1) const;

private:
    using Table = std::vector<PatternTerms>;
    static constexpr double steps_per_unit = round_aperture_steps_per_unit;

    static Table round_table();
    static Table rectangular_table();

    scenario::ApertureShape shape_;
    std::size_t count_;
    double tail_slope_;
    PatternTerms signs_{};
    const Table* table_;  // never changes and lives as long as the program
};

}  // namespace spotwright::receiver
