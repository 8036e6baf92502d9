// From phases at several frequencies to one delay: which whole number of periods lies behind each phase.
#pragma once

#include <cstddef>
#include <optional>
#include <span>

namespace spotwright::flight {

inline constexpr std::size_t most_frequencies = 4;
inline constexpr double most_wraps = 1e5;      ///< periods of the highest frequency within a range
inline constexpr double min_deviation = 1e-9;  ///< smaller ones of a phase count as this. [rad]
inline constexpr double max_deviation = 1e3;   ///< and greater ones as this; both say all or nothing. [rad]

/// A phase as it was measured at one frequency.
struct PhaseReading {
    double frequency = 0.0;  ///< [Hz]
    double phase = 0.0;      ///< in [0, 2 pi). [rad]
    double deviation = 0.0;  ///< its standard deviation, > 0: what it weighs. [rad]
};

/// Delays between which the answer must lie: those that can occur, and some standard deviations more on either side.
/// [s]
struct DelayRange {
    double least = 0.0;
    double greatest = 0.0;
};

struct Unwrapped {
    double delay = 0.0;      ///< mean over the frequencies, weighted by f^2 over the variance of the phase. [s]
    double wrap_risk = 0.0;  ///< chance that other whole numbers are the right ones, by the stated deviations. [1]
};

/// Longest span of delays in which a set of frequencies is unambiguous: 1 over their greatest common divisor, each
/// taken to the hertz. Noise may leave less; see `min_wrap_distance`. [s]
/// @throws DomainError  No frequency, or one outside 1 Hz to 1e15 Hz.
[[nodiscard]] double unambiguous_delay(std::span<const double> frequencies);

/// How well a set of frequencies tells the delays of a range apart. The phases of all frequencies (in cycles) of a
/// delay are a point; as the delay grows the point runs along a line that wraps round in each of them. The result is
/// the least distance between two turns of that line: root sum of squares over the frequencies. With equal deviations s
/// of the phases in cycles, the two neighbours at that distance, one on either side, give a wrong wrap the chance
/// erfc(distance / (2 sqrt(2) s)); two coprime multiples of one frequency have 1 / sqrt(M1^2 + M2^2) in a range of
/// nearly their unambiguous delay, and 0 in a longer one. Below some 0.02 no real measurement tells the delays apart.
/// Source: derived. [cycles]
/// @return at most 1, which is that of a range of no length.
/// @throws DomainError  No frequency or more than four, one outside 1 Hz to 1e15 Hz, a range that ends before it begins
///   or holds more than 1e5 periods of the highest frequency.
[[nodiscard]] double min_wrap_distance(std::span<const double> frequencies, const DelayRange& range);

/// Finds the whole numbers for which the delays of all frequencies agree best within the range: least sum of squares
/// over the deviations, by going through those of the highest frequency and, with each, the two nearest of every other.
/// The chance of a wrong wrap is that of all other candidates by the likelihood, exp(-chi^2 / 2) over the sum of all,
/// as if phases were normal and every delay of the range as likely as the next.
/// With two frequencies and a range of the unambiguous delay this is the test m = round(M2 p1 - M1 p2), and wrong with
/// the chance of `wrap_error_chance`.
/// @return none where no candidate lies within the range.
/// @throws DomainError  As for `min_wrap_distance`; a phase that is not finite, a deviation not above 0.
[[nodiscard]] std::optional<Unwrapped> unwrap(std::span<const PhaseReading> readings, const DelayRange& range);

/// Chance of a wrong whole number for two frequencies M1 g and M2 g, coprime: erfc(1 / (2 sqrt(2) s_m)),
/// s_m^2 = (M2^2 s1^2 + M1^2 s2^2) / (2 pi)^2. Wrapping about either end of the unambiguous range does not count.
/// Source: derived, for normal phases; those of buckets have longer tails, which at 0.2 rad make it 1.24 times as
/// much. [1]
/// @param first, second  Standard deviations of the phases. [rad]
/// @throws DomainError  A multiple not above 0, a negative deviation.
[[nodiscard]] double wrap_error_chance(double first_multiple, double second_multiple, double first, double second);

}  // namespace spotwright::flight
