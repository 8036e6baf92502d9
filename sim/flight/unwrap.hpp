// From phases at several frequencies to one delay: which whole number of periods lies behind each phase.
#pragma once

#include <optional>
#include <span>

namespace spotwright::flight {

/// A phase as it was measured at one frequency.
struct PhaseReading {
    double frequency = 0.0;  ///< [Hz]
    double phase = 0.0;      ///< in [0, 2 pi). [rad]
    double deviation = 0.0;  ///< its standard deviation, > 0: what it weighs. [rad]
};

/// Delays between which the answer must lie. [s]
struct DelayRange {
    double least = 0.0;
    double greatest = 0.0;
};

struct Unwrapped {
    double delay = 0.0;  ///< weighted mean over the frequencies. [s]
    double wrap_risk =
        0.0;  ///< chance that another set of whole numbers is the right one, by the stated deviations. [1]
};

/// Longest span of delays in which a set of frequencies is unambiguous: 1 over their greatest common divisor, each
/// taken to the hertz. [s]
/// @throws DomainError  No frequency, or one below 1 Hz.
[[nodiscard]] double unambiguous_delay(std::span<const double> frequencies);

/// Finds the whole numbers for which the delays of all frequencies agree best within the range: least sum of squares
/// over the deviations, by going through those of the lowest frequency. The chance of a wrong wrap is that of all other
/// candidates by the likelihood, exp(-chi^2 / 2) over the sum of all. With two frequencies and a range of the
/// unambiguous delay this is the test m = round(M2 p1 - M1 p2), and wrong with the chance of `wrap_error_chance`.
/// @return none where no candidate lies within the range.
[[nodiscard]] std::optional<Unwrapped> unwrap(std::span<const PhaseReading> readings, const DelayRange& range);

/// Chance of a wrong whole number for two frequencies M1 g and M2 g, coprime: erfc(1 / (2 sqrt(2) s_m)),
/// s_m^2 = (M2^2 s1^2 + M1^2 s2^2) / (2 pi)^2. Wrapping about either end of the unambiguous range does not count.
/// Source: derived. [1]
/// @param first, second  Standard deviations of the phases. [rad]
[[nodiscard]] double wrap_error_chance(double first_multiple, double second_multiple, double first, double second);

}  // namespace spotwright::flight
