#include <boost/math/statistics/univariate_statistics.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <numeric>

#include "sim/base/median.hpp"
#include "sim/scenario/table.hpp"
#include "sim/bench/log.hpp"

namespace spotwright::bench {

namespace {

// Line by least squares about the middle of the times.
struct Line {
    double slope = 0.0;
    double squares_of_time = 0.0;
    std::vector<double> residuals;
};

Line line_through(const std::vector<double>& time, const std::vector<double>& value) {
    const double n = static_cast<double>(time.size());
    const double middle = std::accumulate(time.begin(), time.end(), 0.0) / n;
    const double mean = std::accumulate(value.begin(), value.end(), 0.0) / n;
    Line line;
    double products = 0.0;
    for (std::size_t i = 0; i < time.size(); ++i) {
        line.squares_of_time += (time[i] - middle) * (time[i] - middle);
        products += (time[i] - middle) * (value[i] - mean);
    }
    line.slope = products / line.squares_of_time;
    for (std::size_t i = 0; i < time.size(); ++i) {
        line.residuals.push_back(value[i] - mean - line.slope * (time[i] - middle));
    }
    return line;
}

// Sums over the autocorrelation r_k of residuals, up to the first that is not positive (initial positive sequence:
// C. J. Geyer, Statist. Sci. 7, 473 (1992), from memory).
struct Correlation {
    double of_mean = 1.0;      // 1 + 2 sum r_k: how much the variance of a mean grows
    double of_variance = 1.0;  // 1 + 2 sum r_k^2: likewise of a variance (M. S. Bartlett, 1946, from memory)
};

Correlation correlation_of(const std::vector<double>& residuals) {
    constexpr std::size_t most_products = 200000000;
    const std::size_t n = residuals.size();
    const std::size_t most = std::min(n / 4, most_products / std::max<std::size_t>(n, 1));
    double squares = 0.0;
    for (const double r : residuals) squares += r * r;
    Correlation result;
    if (!(squares > 0.0)) return result;
    for (std::size_t lag = 1; lag <= most; ++lag) {
        double products = 0.0;
        for (std::size_t i = lag; i < n; ++i) products += residuals[i] * residuals[i - lag];
        const double r = products / squares;
        if (r <= 0.0) break;
        result.of_mean += 2.0 * r;
        result.of_variance += 2.0 * r * r;
    }
    return result;
}

// The longest stretch of readings between gaps of time.
std::vector<double> longest_stretch(const BenchLog& log, double longest_step) {
    std::size_t best_first = 0;
    std::size_t best_length = 0;
    std::size_t first = 0;
    for (std::size_t i = 0; i < log.time.size(); ++i) {
        if (i > 0 && log.time[i] - log.time[i - 1] > longest_step) first = i;
        if (i + 1 - first <= best_length) continue;
        best_first = first;
        best_length = i + 1 - first;
    }
    const auto begin = log.reading.begin() + static_cast<std::ptrdiff_t>(best_first);
    return {begin, begin + static_cast<std::ptrdiff_t>(best_length)};
}

void add_deviation(const std::vector<double>& time, const std::vector<double>& value, TimeStatistics& statistics) {
    const auto n = static_cast<double>(value.size());
    statistics.deviation = std::sqrt(boost::math::statistics::sample_variance(value));
    if (value.size() < 3) {
        statistics.independent = static_cast<std::int64_t>(value.size());
        statistics.interval = study::deviation_interval_or_none(statistics.deviation, statistics.independent);
        return;
    }
    const Line line = line_through(time, value);
    const Correlation correlation = correlation_of(line.residuals);
    statistics.independent = std::max<std::int64_t>(2, std::llround(std::floor(n / correlation.of_variance)));
    statistics.interval = study::deviation_interval_or_none(statistics.deviation, statistics.independent);
    double squares = 0.0;
    for (const double r : line.residuals) squares += r * r;
    statistics.drift = line.slope;
    statistics.drift_uncertainty = std::sqrt(squares / (n - 2.0) * correlation.of_mean / line.squares_of_time);
}

// Errors of one place and direction.
struct Repeats {
    std::vector<double> errors;

    [[nodiscard]] std::optional<double> mean() const {
        if (errors.empty()) return std::nullopt;
        return boost::math::statistics::mean(errors);
    }
};

struct Visited {
    double reference = 0.0;
    Repeats rising;
    Repeats falling;
};

// Whether each line was reached from below. Lines at the same reference share the direction; the first goes
// where it leaves for.
std::vector<bool> reached_from_below(const std::vector<double>& reference, double same) {
    std::vector<bool> below(reference.size(), true);
    bool known = false;
    for (std::size_t i = 1; i < reference.size(); ++i) {
        const double step = reference[i] - reference[i - 1];
        below[i] = below[i - 1];
        if (std::abs(step) <= same) continue;
        below[i] = step > 0.0;
        if (!known) std::fill(below.begin(), below.begin() + static_cast<std::ptrdiff_t>(i), step > 0.0);
        known = true;
    }
    return below;
}

std::vector<Visited> visited_places(const BenchLog& log, double same) {
    const std::vector<bool> below = reached_from_below(log.reference, same);
    std::vector<std::size_t> order(log.reference.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return log.reference[a] < log.reference[b]; });
    std::vector<Visited> places;
    std::vector<double> here;
    const auto close = [&] {
        if (!here.empty()) places.back().reference = boost::math::statistics::mean(here);
    };
    double begin = 0.0;
    for (const std::size_t i : order) {
        if (std::isnan(log.reading[i])) continue;
        if (here.empty() || log.reference[i] - begin > same) {
            close();
            places.emplace_back();
            here.clear();
            begin = log.reference[i];
        }
        here.push_back(log.reference[i]);
        const double error = log.reading[i] - log.reference[i];
        (below[i] ? places.back().rising : places.back().falling).errors.push_back(error);
    }
    close();
    return places;
}

// Readings of the opposite direction, or a thousand times as large, are no error curve.
void require_same_measure(const BenchLog& log) {
    std::vector<double> reference;
    std::vector<double> reading;
    for (std::size_t i = 0; i < log.reading.size(); ++i) {
        if (std::isnan(log.reading[i])) continue;
        reference.push_back(log.reference[i]);
        reading.push_back(log.reading[i]);
    }
    const Line line = line_through(reference, reading);
    constexpr double far_off = 3.0;
    if (line.slope > 1.0 / far_off && line.slope < far_off) return;
    constexpr double hardly = 1e-7;  // below any mix-up of nm, um and mm
    const char* const hint = std::abs(line.slope) < hardly
                                 ? "the reading does not follow the reference: a held output, or another column "
                                   "(--reading NAME)"
                                 : "see --reading-unit and --reference-unit, or turn the sign of one";
    scenario::reject_line(log.file, 0, fmt::format("the reading changes by {:.3g} mm per mm of reference", line.slope),
                          "a reading and a reference of the same direction, that change together", hint);
}

void add_repeatability(const std::vector<Visited>& places, LinearityStatistics& statistics) {
    double squares = 0.0;
    for (const Visited& place : places) {
        for (const Repeats* repeats : {&place.rising, &place.falling}) {
            if (repeats->errors.size() < 2) continue;
            const auto n = static_cast<std::int64_t>(repeats->errors.size());
            squares += boost::math::statistics::sample_variance(repeats->errors) * static_cast<double>(n - 1);
            statistics.repeats += n - 1;
        }
    }
    if (statistics.repeats == 0) return;
    statistics.repeatability = std::sqrt(squares / static_cast<double>(statistics.repeats));
    statistics.repeatability_interval =
        study::deviation_interval_of(*statistics.repeatability, static_cast<double>(statistics.repeats));
}

}  // namespace

TimeStatistics time_statistics(const BenchLog& log) {
    TimeStatistics statistics;
    statistics.readings = static_cast<std::int64_t>(log.reading.size());
    std::vector<double> steps;
    for (std::size_t i = 1; i < log.time.size(); ++i) steps.push_back(log.time[i] - log.time[i - 1]);
    statistics.period = base::upper_median(steps);
    statistics.duration = log.time.back() - log.time.front();
    const double longest_step = gap_steps * statistics.period;
    statistics.gaps = std::count_if(steps.begin(), steps.end(), [&](double step) { return step > longest_step; });
    std::vector<double> time;
    std::vector<double> value;
    std::vector<double> signal;
    for (std::size_t i = 0; i < log.reading.size(); ++i) {
        if (std::isnan(log.reading[i])) continue;
        time.push_back(log.time[i]);
        value.push_back(log.reading[i]);
        if (!log.signal.empty() && !std::isnan(log.signal[i])) signal.push_back(log.signal[i]);
    }
    statistics.valid = static_cast<std::int64_t>(value.size());
    if (!value.empty()) {
        statistics.mean = boost::math::statistics::mean(value);
        const auto [least, greatest] = std::minmax_element(value.begin(), value.end());
        statistics.peak_to_peak = *greatest - *least;
    }
    if (value.size() > 1) add_deviation(time, value, statistics);
    if (!signal.empty()) statistics.signal = boost::math::statistics::mean(signal);
    if (signal.size() > 1) statistics.signal_deviation = std::sqrt(boost::math::statistics::sample_variance(signal));
    statistics.allan = study::allan_study(longest_stretch(log, longest_step), statistics.period);
    return statistics;
}

LinearityStatistics linearity_statistics(const BenchLog& log) {
    const auto [least, greatest] = std::minmax_element(log.reference.begin(), log.reference.end());
    constexpr double places_in_span = 2000.0;
    const std::vector<Visited> visited = visited_places(log, (*greatest - *least) / places_in_span);
    if (visited.size() < 3) {
        scenario::reject_line(log.file, 0, fmt::format("valid readings at {} places", visited.size()),
                              "at least 3 places of the reference",
                              *greatest > *least
                                  ? ""
                                  : "no motion in the log: the reference stays the same; --reference NAME "
                                    "names another column");
    }
    require_same_measure(log);
    LinearityStatistics statistics;
    statistics.readings = static_cast<std::int64_t>(log.reading.size());
    std::vector<double> reference;
    std::vector<double> error;
    std::vector<double> rising;
    std::vector<double> falling;
    for (const Visited& visit : visited) {
        PlaceErrors place{visit.reference, visit.rising.mean(), visit.falling.mean(), 0.0};
        statistics.valid += static_cast<std::int64_t>(visit.rising.errors.size() + visit.falling.errors.size());
        place.error = place.rising && place.falling ? 0.5 * (*place.rising + *place.falling)
                                                    : place.rising.value_or(place.falling.value_or(0.0));
        if (place.rising && place.falling) {
            rising.push_back(*place.rising);
            falling.push_back(*place.falling);
        }
        if (std::abs(place.error) > std::abs(statistics.largest_error)) statistics.largest_error = place.error;
        reference.push_back(place.reference);
        error.push_back(place.error);
        statistics.places.push_back(place);
    }
    statistics.figures = study::linearity_of(reference, error);
    if (!rising.empty()) statistics.hysteresis = study::hysteresis_of(rising, falling);
    add_repeatability(visited, statistics);
    return statistics;
}

}  // namespace spotwright::bench
