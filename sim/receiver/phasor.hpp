// A complex number by amplitude and phase.
#pragma once

#include <cmath>
#include <complex>

namespace spotwright::receiver {

/// amplitude exp(i phase). The amplitude may be negative, for which std::polar is undefined: one library then gives
/// this, another none at all.
[[nodiscard]] inline std::complex<double> phasor(double amplitude, double phase) {
    return {amplitude * std::cos(phase), amplitude * std::sin(phase)};
}

}  // namespace spotwright::receiver
