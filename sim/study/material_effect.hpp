// What it does to a reading that a real part of a material differs from the values of its file.
#pragma once

#include <string_view>
#include <vector>

#include "sim/sensor/sensor.hpp"

namespace spotwright::study {

/// Change of the error of a reading without noise and speckle at both ends of a property's range. Between them a
/// parabola through both and through 0 at the file's value stands for it.
struct MaterialEffect {
    std::string_view property;
    double at_from = 0.0;  ///< [m]
    double at_to = 0.0;    ///< [m]

    /// @param position  In the range: -1 at its lower end, 0 at the file's value, 1 at its upper end. [m]
    [[nodiscard]] double at(double position) const {
        return 0.5 * (at_to - at_from) * position + 0.5 * (at_to + at_from) * position * position;
    }
    /// Mean and variance over positions from -1 to 1 of equal probability: a t + b t^2 has the mean b / 3 and the
    /// variance a^2 / 3 + 4 b^2 / 45.
    [[nodiscard]] double mean() const { return (at_to + at_from) / 6.0; }
    [[nodiscard]] double variance() const {
        const double slope = 0.5 * (at_to - at_from);
        const double bend = 0.5 * (at_to + at_from);
        return slope * slope / 3.0 + 4.0 * bend * bend / 45.0;
    }
};

/// Of each property of the part's material whose range is known, times `uncertainty.material_share` of it. An end at
/// which the part gives no reading counts as no change.
[[nodiscard]] std::vector<MaterialEffect> material_effects(const sensor::Setup& setup, int threads);

}  // namespace spotwright::study
