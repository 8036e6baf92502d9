// Statistics of series and of error curves against published sets of numbers.
#include <fmt/format.h>

#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/study/allan.hpp"
#include "sim/study/linearity.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/support.hpp"

namespace spotwright::validation {

namespace {

using base::mm, base::um;

// The 1000 points of NIST SP 1065: a linear congruential generator, values in (0, 1).
std::vector<double> thousand_points() {
    std::vector<double> points;
    std::int64_t n = 1234567890;
    for (int i = 0; i < 1000; ++i) {
        points.push_back(static_cast<double>(n) / 2147483647.0);
        n = 16807 * n % 2147483647;
    }
    return points;
}

Check seven_digits(std::string id, std::string claim, std::string source, std::string unit, double expected,
                   double got) {
    return printed(std::move(id), std::move(claim), std::move(source), std::move(unit), expected, 7, got);
}

std::vector<Check> thousand_point_checks() {
    constexpr const char* source = "W. J. Riley, NIST SP 1065 (2008), 1000-point test set";
    const std::vector<double> points = thousand_points();
    struct Row {
        const char* id;
        const char* name;
        double (*statistic)(std::span<const double>, std::int64_t);
        std::vector<double> published;
    };
    const auto time = [](std::span<const double> readings, std::int64_t count) {
        return study::time_deviation(readings, count, 1.0);
    };
    const std::vector<Row> rows{
        {"allan", "Allan", study::allan_deviation, {2.922319e-01, 9.965736e-02, 3.897804e-02}},
        {"overlapping",
         "overlapping Allan",
         study::overlapping_allan_deviation,
         {2.922319e-01, 9.159953e-02, 3.241343e-02}},
        {"modified", "modified Allan", study::modified_allan_deviation, {2.922319e-01, 6.172376e-02, 2.170921e-02}},
        {"time", "time", time, {1.687202e-01, 3.563623e-01, 1.253382e+00}},
        {"hadamard", "Hadamard", study::hadamard_deviation, {2.943883e-01, 1.052754e-01, 3.910860e-02}}};
    std::vector<Check> checks;
    for (const Row& row : rows) {
        std::int64_t count = 1;
        for (const double published : row.published) {
            checks.push_back({fmt::format("allan.{}.{}", row.id, count),
                              fmt::format("{} deviation at averages of {}", row.name, count), source, "1", published,
                              row.statistic(points, count), 2.0 * half_last_digit(published, 7),
                              "the published value's last digit: one is cut, not rounded"});
            count *= 10;
        }
    }
    return checks;
}

std::vector<Check> short_set_checks() {
    constexpr const char* source = "NBS 9-point set, in W. J. Riley, NIST SP 1065 (2008)";
    const std::vector<double> points{892.0, 809.0, 823.0, 798.0, 671.0, 644.0, 883.0, 903.0, 677.0};
    std::vector<double> ramp;
    for (int i = 0; i < 1000; ++i) ramp.push_back(0.2 * 0.1 * i);
    return {
        seven_digits("allan.nine.1", "Allan deviation of nine points", source, "1", 91.22945,
                     study::allan_deviation(points, 1)),
        seven_digits("allan.nine.2", "the same at averages of 2", source, "1", 115.8082,
                     study::allan_deviation(points, 2)),
        seven_digits("allan.nine.overlapping", "the same, overlapping", source, "1", 85.95287,
                     study::overlapping_allan_deviation(points, 2)),
        worked("allan.drift", "Allan deviation of a drift of 0.2 um/s at 10 s, read at 10 Hz",
               "drift times time over sqrt(2): derived; worked value", "um", 1.41421356,
               study::overlapping_allan_deviation(ramp, 100)),
    };
}

std::vector<Check> linearity_checks() {
    constexpr const char* source = "definitions of IEC 61298-2 (from memory), set invented for the check; worked value";
    std::vector<double> reference;
    for (int i = 0; i <= 10; ++i) reference.push_back(i * mm);
    std::vector<double> error{0.0, 2.1, 3.4, 3.9, 3.1, 1.0, -1.8, -4.2, -5.0, -3.6, 0.8};
    for (double& e : error) e *= um;
    const study::LinearityFigures figures = study::linearity_of(reference, error);
    const std::vector<double> rising{0.0, 2.0 * um, 4.5 * um, 6.1 * um, 8.0 * um};
    const std::vector<double> falling{0.6 * um, 3.1 * um, 5.9 * um, 6.9 * um, 8.0 * um};
    return {
        worked("linearity.terminal", "non-linearity about the line through both ends", source, "um", 5.64,
               figures.terminal.largest / um),
        worked("linearity.independent", "about the line for which it is least", source, "um", 3.34285714,
               figures.independent.largest / um),
        worked("linearity.independent.slope", "slope of that line", source, "um/mm", -0.442857143,
               figures.independent.slope * mm / um),
        worked("linearity.independent.offset", "its offset", source, "um", 1.88571429, figures.independent.offset / um),
        worked("linearity.zero", "about the line through the near end for which it is least", source, "um", 4.2,
               figures.zero.largest / um),
        worked("linearity.zero.slope", "slope of that line", source, "um/mm", -0.1, figures.zero.slope * mm / um),
        worked("linearity.least-squares", "largest residual of the line by least squares", source, "um", 3.78636364,
               figures.least_squares.largest / um),
        worked("linearity.hysteresis", "largest difference between falling and rising runs", source, "um", 1.4,
               study::hysteresis_of(rising, falling) / um),
    };
}

}  // namespace

std::vector<Check> statistics_checks() {
    return joined({thousand_point_checks(), short_set_checks(), linearity_checks()});
}

}  // namespace spotwright::validation
