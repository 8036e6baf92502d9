// Diffraction at the round aperture, as the line spread that a tall pixel sees.
#pragma once

#include <vector>

namespace spotwright::receiver {

/// Optical transfer function of a round aperture in focus, (2/pi)(acos q - q sqrt(1 - q^2)), q = frequency over the
/// cut-off D / (lambda b). [1]  Source: J. W. Goodman, Introduction to Fourier Optics, ch. 6.
[[nodiscard]] double round_aperture_transfer(double frequency);

/// Edge spread: share of a point's light that falls below a straight edge. The distance x from the point is counted in
/// lambda N, N the working f-number. E(x) = 1/2 + (1/pi) int_0^1 OTF(q) sin(2 pi q x) / q dq; beyond the table the
/// leading tail 1 - E = 2 / (pi^3 x).
class EdgeSpread {
public:
    EdgeSpread();

    /// Absolute error below 2e-6 within the table, 5e-5 beyond it.
    [[nodiscard]] double operator()(double x) const {
        const double magnitude = x < 0.0 ? -x : x;
        const double upper = magnitude < table_end ? interpolate(magnitude) : 1.0 - tail(magnitude);
        return x < 0.0 ? 1.0 - upper : upper;
    }

private:
    static constexpr double table_end = 24.0;
    static constexpr double steps_per_unit = 512.0;

    [[nodiscard]] static double tail(double x);
    [[nodiscard]] double interpolate(double x) const {
        const double place = x * steps_per_unit;
        const auto i = static_cast<std::size_t>(place);
        const double share = place - static_cast<double>(i);
        return table_[i] + share * (table_[i + 1] - table_[i]);
    }

    std::vector<double> table_;
};

}  // namespace spotwright::receiver
