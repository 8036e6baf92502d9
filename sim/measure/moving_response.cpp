#include "sim/measure/moving_response.hpp"

#include <boost/math/special_functions/sinc.hpp>
#include <boost/math/tools/roots.hpp>

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"

namespace spotwright::measure {

using base::pi;

double exposure_response(double frequency, double exposure) {
    return std::abs(boost::math::sinc_pi(pi * frequency * exposure));
}

double average_response(double frequency, std::int64_t average, double period) {
    const auto n = static_cast<double>(average);
    const double below = n * std::sin(pi * frequency * period);
    constexpr double vanishing = 1e-12;  // whole multiples of the sampling frequency look like no frequency at all
    if (std::abs(below) < vanishing * n) return 1.0;
    return std::abs(std::sin(pi * frequency * n * period) / below);
}

double bandwidth(double exposure, std::int64_t average, double period) {
    // Both fall steadily up to the first zero of either; one reading averages nothing.
    const double first_zero = 1.0 / std::max(exposure, average > 1 ? static_cast<double>(average) * period : 0.0);
    const auto excess = [&](double share) {
        const double f = share * first_zero;
        return exposure_response(f, exposure) * average_response(f, average, period) - std::sqrt(0.5);
    };
    std::uintmax_t steps = 100;
    const auto [low, high] =
        boost::math::tools::toms748_solve(excess, 0.0, 1.0, boost::math::tools::eps_tolerance<double>(48), steps);
    return 0.5 * (low + high) * first_zero;
}

double smoothing_delay(const scenario::Reading& reading, double period) {
    return 0.5 * static_cast<double>(reading.average - 1 + reading.median - 1) * period;
}

double alias_of(double frequency, double period) {
    return std::abs(frequency - std::round(frequency * period) / period);
}

}  // namespace spotwright::measure
