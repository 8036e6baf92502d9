// Errors less what arithmetic leaves.
#pragma once

#include <cmath>

namespace spotwright::study {

/// The error, 0 below a picometre: what rounding leaves of metres by way of phases is no error, and differs between
/// machines. [m]
[[nodiscard]] inline double real_error(double error) {
    constexpr double rounding = 1e-12;
    return std::abs(error) < rounding ? 0.0 : error;
}

}  // namespace spotwright::study
