// What exposure and smoothing let through of a motion, in closed form, and how late it comes.
#pragma once

#include <cstdint>

#include "sim/scenario/scenario.hpp"

namespace spotwright::measure {

/// Amplitude that an exposure passes of a vibration: |sin(pi f t) / (pi f t)|. [1]  Derived.
/// Equation (motion.6).
[[nodiscard]] double exposure_response(double frequency, double exposure);

/// Amplitude that a moving average of N readings passes: |sin(pi f N T) / (N sin(pi f T))|. [1]
/// Source: A. V. Oppenheim, R. W. Schafer, Discrete-Time Signal Processing, from memory.
/// Equation (motion.7).
[[nodiscard]] double average_response(double frequency, std::int64_t average, double period);

/// Lowest frequency at which both together pass 1/sqrt 2. A median has no such frequency and is left out. [Hz]
/// Equation (motion.8).
[[nodiscard]] double bandwidth(double exposure, std::int64_t average, double period);

/// By how much the output lags behind the middle of the newest exposure while the part moves steadily:
/// ((average - 1) / 2 + (median - 1) / 2) periods. [s]  Derived.
/// Equation (motion.9).
[[nodiscard]] double smoothing_delay(const scenario::Reading& reading, double period);

/// Frequency at which a vibration shows in readings: |f - k fs|, k = round(f / fs). [Hz]
/// Equation (motion.10).
[[nodiscard]] double alias_of(double frequency, double period);

}  // namespace spotwright::measure
