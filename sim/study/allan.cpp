#include "sim/study/allan.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <limits>
#include <numeric>

#include "sim/base/errors.hpp"

namespace spotwright::study {

namespace {

// Sums of the first 0, 1, 2, ... readings, less their mean: it cancels, but for rounding.
std::vector<double> running_sums(std::span<const double> readings) {
    const double mean = std::accumulate(readings.begin(), readings.end(), 0.0) / static_cast<double>(readings.size());
    std::vector<double> sums{0.0};
    sums.reserve(readings.size() + 1);
    for (const double reading : readings) sums.push_back(sums.back() + (reading - mean));
    if (!std::isfinite(sums.back())) throw base::DomainError("sum of the readings", sums.back(), "finite readings");
    return sums;
}

// @param groups  Of `count` readings that one difference spans.
void require_readings(std::span<const double> readings, std::int64_t count, std::int64_t groups) {
    if (count < 1) throw base::DomainError("count", static_cast<double>(count), "at least 1");
    const auto n = static_cast<std::int64_t>(readings.size());
    if (count > n / groups) {
        throw base::DomainError("number of readings", static_cast<double>(n), "enough for one difference of averages");
    }
}

// Second differences of the sums over steps of m: m times the difference of neighbouring averages.
double second_difference(const std::vector<double>& sums, std::size_t first, std::size_t m) {
    return sums[first + 2 * m] - 2.0 * sums[first + m] + sums[first];
}

// Mean square of second differences whose first sums are `step` apart.
double mean_squared_difference(const std::vector<double>& sums, std::size_t m, std::size_t step) {
    double squares = 0.0;
    double terms = 0.0;
    for (std::size_t i = 0; i + 2 * m < sums.size(); i += step) {
        squares += std::pow(second_difference(sums, i, m), 2);
        terms += 1.0;
    }
    return squares / terms;
}

// Degrees of freedom of the overlapping estimate for white readings. Source: W. J. Riley, NIST SP 1065 (2008), 5.4.1,
// after D. A. Howe, D. W. Allan, J. A. Barnes, Proc. 35th Annual Symposium on Frequency Control (1981), W FM: N are the
// sums, m the readings averaged.
double freedom_of_white(double N, double m) {
    return (3.0 * (N - 1.0) / (2.0 * m) - 2.0 * (N - 2.0) / N) * 4.0 * m * m / (4.0 * m * m + 5.0);
}

struct Span {
    std::size_t first = 0;
    std::size_t length = 0;
};

Span longest_without_gap(std::span<const double> readings) {
    Span best;
    Span here;
    for (std::size_t i = 0; i < readings.size(); ++i) {
        if (!std::isfinite(readings[i])) {
            here = {i + 1, 0};
            continue;
        }
        ++here.length;
        if (here.length > best.length) best = here;
    }
    return best;
}

}  // namespace

double allan_deviation(std::span<const double> readings, std::int64_t count) {
    require_readings(readings, count, 2);
    const auto m = static_cast<std::size_t>(count);
    return std::sqrt(0.5 * mean_squared_difference(running_sums(readings), m, m)) / static_cast<double>(count);
}

double overlapping_allan_deviation(std::span<const double> readings, std::int64_t count) {
    require_readings(readings, count, 2);
    const auto m = static_cast<std::size_t>(count);
    return std::sqrt(0.5 * mean_squared_difference(running_sums(readings), m, 1)) / static_cast<double>(count);
}

double modified_allan_deviation(std::span<const double> readings, std::int64_t count) {
    require_readings(readings, count, 3);
    const auto m = static_cast<std::size_t>(count);
    const std::vector<double> sums = running_sums(readings);
    double inner = 0.0;
    for (std::size_t i = 0; i < m; ++i) inner += second_difference(sums, i, m);
    double squares = inner * inner;
    double terms = 1.0;
    for (std::size_t i = m; i + 2 * m < sums.size(); ++i) {
        inner += second_difference(sums, i, m) - second_difference(sums, i - m, m);
        squares += inner * inner;
        terms += 1.0;
    }
    return std::sqrt(0.5 * squares / terms) / static_cast<double>(count * count);
}

double time_deviation(std::span<const double> readings, std::int64_t count, double period) {
    return static_cast<double>(count) * period * modified_allan_deviation(readings, count) / std::sqrt(3.0);
}

double hadamard_deviation(std::span<const double> readings, std::int64_t count) {
    require_readings(readings, count, 3);
    const auto m = static_cast<std::size_t>(count);
    const std::vector<double> sums = running_sums(readings);
    double squares = 0.0;
    double terms = 0.0;
    for (std::size_t i = 0; i + 3 * m < sums.size(); i += m) {
        squares += std::pow(second_difference(sums, i + m, m) - second_difference(sums, i, m), 2);
        terms += 1.0;
    }
    return std::sqrt(squares / (6.0 * terms)) / static_cast<double>(count);
}

std::vector<AllanPoint> allan_curve(std::span<const double> readings, double period) {
    if (!(period > 0.0)) throw base::DomainError("period", period, "above 0 s");
    std::vector<AllanPoint> curve;
    const auto n = static_cast<std::int64_t>(readings.size());
    if (n < 4) return curve;
    const std::vector<double> sums = running_sums(readings);
    for (std::int64_t count = 1; count <= n / 4; count *= 2) {
        AllanPoint point;
        point.count = count;
        point.time = static_cast<double>(count) * period;
        point.deviation = std::sqrt(0.5 * mean_squared_difference(sums, static_cast<std::size_t>(count), 1)) /
                          static_cast<double>(count);
        const double freedom = freedom_of_white(static_cast<double>(n + 1), static_cast<double>(count));
        point.interval = deviation_interval_of(point.deviation, freedom);
        curve.push_back(point);
    }
    return curve;
}

std::string_view name_of(Gaps gaps) {
    static constexpr std::array<std::string_view, 3> names{"none", "closed", "longest run"};
    return names[static_cast<std::size_t>(gaps)];
}

OutputSeries::OutputSeries(const scenario::Reading& reading) : to_settle_(reading.average + reading.median - 1) {}

void OutputSeries::append(const measure::SeriesBlock& block) {
    for (std::size_t i = 0; i < block.validity.size(); ++i) {
        const bool valid = block.validity[i] == reading::Validity::valid;
        if (valid && to_settle_ > 0) --to_settle_;
        if (to_settle_ > 0) continue;
        outputs_.push_back(valid ? block.output[i] : std::numeric_limits<double>::quiet_NaN());
    }
}

AllanStudy allan_study(std::span<const double> readings, double period) {
    AllanStudy study;
    study.readings = static_cast<std::int64_t>(readings.size());
    std::vector<double> present;
    std::copy_if(readings.begin(), readings.end(), std::back_inserter(present),
                 [](double reading) { return std::isfinite(reading); });
    study.missing = static_cast<std::int64_t>(readings.size() - present.size());
    std::span<const double> used = present;
    if (study.missing > 0) {
        study.gaps = Gaps::closed;
        if (static_cast<double>(study.missing) >= share_closed * static_cast<double>(readings.size())) {
            study.gaps = Gaps::longest_run;
            const Span stretch = longest_without_gap(readings);
            used = readings.subspan(stretch.first, stretch.length);
        }
    }
    study.used = static_cast<std::int64_t>(used.size());
    study.curve = allan_curve(used, period);
    if (study.curve.empty()) return study;
    const auto least =
        std::min_element(study.curve.begin(), study.curve.end(),
                         [](const AllanPoint& a, const AllanPoint& b) { return a.deviation < b.deviation; });
    study.least = *least;
    study.min_inside = least != study.curve.begin() && least + 1 != study.curve.end();
    return study;
}

}  // namespace spotwright::study
