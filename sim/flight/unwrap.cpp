#include "sim/flight/unwrap.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <numeric>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/flight/require.hpp"

namespace spotwright::flight {

namespace {

constexpr double whole_turn = 2.0 * base::pi;

void require_valid(const DelayRange& range) {
    require(std::isfinite(range.least), "least delay", range.least, "finite");
    require(std::isfinite(range.greatest) && range.greatest >= range.least, "greatest delay", range.greatest,
            "not below the least");
}

void require_frequency(double frequency) {
    require(frequency >= 1.0 && frequency <= 1e15, "frequency", frequency, "1 Hz to 1e15 Hz");
}

/// A phase in cycles, and what it weighs: 1 / variance. [1/cycle^2]
struct Line {
    double frequency;
    double cycles;
    double weight;
};

/// The highest frequency stands first.
struct Lines {
    std::array<Line, most_frequencies> of{};
    std::size_t count = 0;

    void add(const Line& line) {
        require_frequency(line.frequency);
        of[count++] = line;
        if (line.frequency > of[0].frequency) std::swap(of[0], of[count - 1]);
    }
};

void require_count(std::size_t count) {
    require(count >= 1 && count <= most_frequencies, "number of frequencies", static_cast<double>(count), "1 to 4");
}

/// What is left between the phases and one delay.
struct Fit {
    double delay;                              ///< of the highest frequency's whole number: what `off` is counted from
    std::array<double, most_frequencies> off;  ///< phase + whole number - frequency delay. [cycles]
};

struct WholeNumbers {
    std::int64_t least;
    std::int64_t greatest;
};

// Those of the highest frequency whose delays lie in the range, and one more on either side: the mean over all
// frequencies may lie in the range where the delay of one does not.
WholeNumbers whole_numbers(const Line& highest, const DelayRange& range) {
    const double periods = (range.greatest - range.least) * highest.frequency;
    require(periods <= most_wraps, "periods of the highest frequency in the range", periods, "at most 100000");
    const double first = range.least * highest.frequency - highest.cycles - 1.0;
    require(std::abs(first) < 1e12, "periods before the range", first, "less than 1e12");
    const auto least = static_cast<std::int64_t>(std::ceil(first));
    return {least, least + static_cast<std::int64_t>(std::floor(periods)) + 2};
}

// Calls visit(fit) for each set of whole numbers that may be meant when the highest frequency has the whole number k:
// of every other frequency, the two that lie nearest. All of them are needed, for where noise exceeds half a cycle the
// nearest is not always the best when the delay is that of all frequencies together.
template <class Visit>
void visit_sets(const Lines& lines, std::int64_t k, const Visit& visit) {
    Fit nearest{};
    nearest.delay = (lines.of[0].cycles + static_cast<double>(k)) / lines.of[0].frequency;
    for (std::size_t i = 1; i < lines.count; ++i) {
        const double off = lines.of[i].cycles - lines.of[i].frequency * nearest.delay;
        nearest.off[i] = off - std::round(off);
    }
    const std::size_t sets = std::size_t{1} << (lines.count - 1);
    for (std::size_t set = 0; set < sets; ++set) {
        Fit fit = nearest;
        for (std::size_t i = 1; i < lines.count; ++i) {
            const bool second = ((set >> (i - 1)) & 1U) != 0;
            if (second) fit.off[i] += fit.off[i] > 0.0 ? -1.0 : 1.0;
        }
        visit(fit);
    }
}

// Delay of the least sum of squares, from that of the highest frequency. [s]
double best_shift(const Lines& lines, const Fit& fit) {
    double numerator = 0.0;
    double denominator = 0.0;
    for (std::size_t i = 0; i < lines.count; ++i) {
        const Line& line = lines.of[i];
        numerator += line.weight * line.frequency * fit.off[i];
        denominator += line.weight * line.frequency * line.frequency;
    }
    return numerator / denominator;
}

double sum_of_squares(const Lines& lines, const Fit& fit, double shift) {
    double sum = 0.0;
    for (std::size_t i = 0; i < lines.count; ++i) {
        const double off = fit.off[i] - lines.of[i].frequency * shift;
        sum += lines.of[i].weight * off * off;
    }
    return sum;
}

Lines lines_of(std::span<const PhaseReading> readings) {
    require_count(readings.size());
    Lines lines;
    for (const PhaseReading& reading : readings) {
        require(std::isfinite(reading.phase), "phase", reading.phase, "finite");
        require(reading.deviation > 0.0 && std::isfinite(reading.deviation), "deviation of a phase", reading.deviation,
                "> 0");
        const double cycles = reading.phase / whole_turn;
        const double deviation = std::clamp(reading.deviation, min_deviation, max_deviation) / whole_turn;
        lines.add({reading.frequency, cycles - std::floor(cycles), 1.0 / (deviation * deviation)});
    }
    return lines;
}

}  // namespace

double unambiguous_delay(std::span<const double> frequencies) {
    require(!frequencies.empty(), "number of frequencies", 0.0, "at least 1");
    std::int64_t divisor = 0;
    for (const double frequency : frequencies) {
        require_frequency(frequency);
        divisor = std::gcd(divisor, static_cast<std::int64_t>(std::llround(frequency)));
    }
    return 1.0 / static_cast<double>(divisor);
}

// Equation (phase.14).
double min_wrap_distance(std::span<const double> frequencies, const DelayRange& range) {
    require_count(frequencies.size());
    require_valid(range);
    Lines lines;
    for (const double frequency : frequencies) lines.add({frequency, 0.0, 1.0});
    const double span = range.greatest - range.least;
    const WholeNumbers numbers = whole_numbers(lines.of[0], {0.0, span});
    double least = 1.0;  // of one whole number and no delay
    for (std::int64_t k = 0; k <= numbers.greatest; ++k) {
        visit_sets(lines, k, [&](const Fit& fit) {
            const double delay = std::clamp(fit.delay + best_shift(lines, fit), 0.0, span);
            const double squares = sum_of_squares(lines, fit, delay - fit.delay);
            const bool no_turn =
                k == 0 && std::all_of(fit.off.begin(), fit.off.end(), [](double o) { return o == 0.0; });
            if (!no_turn) least = std::min(least, std::sqrt(squares));
        });
    }
    return least;
}

// Equations (phase.11) and (phase.12).
std::optional<Unwrapped> unwrap(std::span<const PhaseReading> readings, const DelayRange& range) {
    require_valid(range);
    const Lines lines = lines_of(readings);
    const WholeNumbers numbers = whole_numbers(lines.of[0], range);
    std::optional<Unwrapped> best;
    double least = 0.0;   // of the sums of squares
    double others = 0.0;  // likelihood of all but the best, over that of the best
    for (std::int64_t k = numbers.least; k <= numbers.greatest; ++k) {
        visit_sets(lines, k, [&](const Fit& fit) {
            const double shift = best_shift(lines, fit);
            const double delay = fit.delay + shift;
            if (delay < range.least || delay > range.greatest) return;
            const double squares = sum_of_squares(lines, fit, shift);
            if (!best || squares < least) {
                if (best) others = (others + 1.0) * std::exp(0.5 * (squares - least));
                best = Unwrapped{delay, 0.0};
                least = squares;
            } else {
                others += std::exp(0.5 * (least - squares));
            }
        });
    }
    if (best) best->wrap_risk = others / (1.0 + others);
    return best;
}

// Equation (phase.13).
double wrap_error_chance(double first_multiple, double second_multiple, double first, double second) {
    require(first_multiple > 0.0, "first multiple", first_multiple, "> 0");
    require(second_multiple > 0.0, "second multiple", second_multiple, "> 0");
    require(first >= 0.0, "first deviation", first, ">= 0");
    require(second >= 0.0, "second deviation", second, ">= 0");
    const double deviation = std::hypot(second_multiple * first, first_multiple * second) / whole_turn;
    if (deviation == 0.0) return 0.0;
    return std::erfc(0.5 / (std::sqrt(2.0) * deviation));
}

}  // namespace spotwright::flight
