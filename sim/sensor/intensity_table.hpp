// A table that corrects the delay of an echo by its strength, as calibration makes it.
#pragma once

#include <functional>
#include <vector>

namespace spotwright::sensor {

/// Delays that the sensor finds too long, over the strength of the echo, interpolated by cubics (makima: H. Akima, J.
/// ACM 17, 589 (1970), modified); beyond its ends that of the end holds. Equation (flight.11).
class IntensityTable {
public:
    /// @param strength  Ascending, at least four.  @param delay  Of as many. [s]
    /// @throws DomainError  Strengths that do not ascend, or fewer than four.
    IntensityTable(std::vector<double> strength, std::vector<double> delay);

    /// Too long by so much. [s]
    [[nodiscard]] double delay_at(double strength) const;

    /// Largest error found half-way between its points, by intensity. [s]
    double left = 0.0;

private:
    double least_ = 0.0;
    double greatest_ = 0.0;
    std::function<double(double strength)> interpolate_;
};

}  // namespace spotwright::sensor
