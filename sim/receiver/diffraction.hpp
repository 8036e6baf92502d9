// Diffraction at the aperture, as the line spread that a tall pixel sees.
#pragma once

#include <cstddef>
#include <vector>

#include "sim/scenario/scenario.hpp"

namespace spotwright::receiver {

/// Optical transfer function of a round aperture in focus, (2/pi)(acos q - q sqrt(1 - q^2)), q = frequency over the
/// cut-off D / (lambda b). [1]  Source: J. W. Goodman, Introduction to Fourier Optics, ch. 6.
[[nodiscard]] double round_aperture_transfer(double frequency);

/// The same of a rectangular aperture along either side, 1 - q, the width for D; its line spread is sinc^2.
[[nodiscard]] double rectangular_aperture_transfer(double frequency);

/// Edge spread: share of a point's light that falls below a straight edge. The distance x from the point is counted in
/// lambda N, N the working f-number of the width square to the edge.
/// E(x) = 1/2 + (1/pi) int_0^1 OTF(q) sin(2 pi q x) / q dq; beyond the table the leading tail, by the slope of OTF at
/// 0: 1 - E = 2 / (pi^3 x) for a round aperture, 1 / (2 pi^2 x) for a rectangular one.
class EdgeSpread {
public:
    explicit EdgeSpread(scenario::ApertureShape shape = scenario::ApertureShape::round);

    [[nodiscard]] scenario::ApertureShape shape() const { return shape_; }

    /// Absolute error below 2e-6 within the table, 5e-5 beyond it.
    [[nodiscard]] double operator()(double x) const {
        const double magnitude = x < 0.0 ? -x : x;
        const double upper = magnitude < table_end ? interpolate(magnitude) : 1.0 - 1.0 / (tail_slope_ * magnitude);
        return x < 0.0 ? 1.0 - upper : upper;
    }

private:
    static constexpr double table_end = 24.0;
    static constexpr double steps_per_unit = 512.0;

    [[nodiscard]] double interpolate(double x) const {
        const double place = x * steps_per_unit;
        const auto i = static_cast<std::size_t>(place);
        const double share = place - static_cast<double>(i);
        return table_[i] + share * (table_[i + 1] - table_[i]);
    }

    scenario::ApertureShape shape_;
    double tail_slope_;  // growth of 1 / (1 - E) with distance
    std::vector<double> table_;
};

}  // namespace spotwright::receiver
