#include "sim/record/study_tables.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/record/text.hpp"

namespace spotwright::record {

namespace {

using base::mm, base::ms, base::um;

constexpr int digits = digits_without_uncertainty;
constexpr double atom = 1e-10;  // a smaller length is mere rounding. [m]

// A length in um with its standard uncertainty; by digits where that is unknown.
std::string um_text(double length, double uncertainty) {
    if (!base::decimals_for(uncertainty, um)) return record::um_text(length);
    return base::value_text(length, uncertainty, um, digits);
}

// Of a standard deviation from n independent normal values: s / sqrt(2 n). Source: JCGM 100:2008, E.4.3.
double uncertainty_of(double deviation, double values) {
    return values > 0.0 ? deviation / std::sqrt(2.0 * values) : 0.0;
}

double largest_error(const study::LinearityCurve& curve) {
    double largest = 0.0;
    for (const double error : curve.error) {
        if (std::abs(error) > std::abs(largest)) largest = error;
    }
    return largest;
}

// Of lengths.
std::string percent_text(double part, double whole) {
    return std::abs(part) < atom ? "0" : base::number_text(100.0 * part / whole, digits);
}

std::string minutes_text(double interval) {
    return std::isfinite(interval) ? base::number_text(interval / 60.0, 4) + " min" : "never";
}

}  // namespace

std::string um_text(double length) {
    if (!std::isfinite(length)) return "none";
    return std::abs(length) < atom ? "0" : base::number_text(length / um, digits);
}

TextTable allan_table(std::span<const study::AllanPoint> curve) {
    TextTable table{{"readings", "time / ms", "Allan deviation / um", "95 % low / um", "95 % high / um"}, {}};
    for (const study::AllanPoint& point : curve) {
        const double width = point.interval.high - point.interval.low;
        const double uncertainty = std::isfinite(width) ? 0.25 * width : 0.0;
        table.rows.push_back({fmt::format("{}", point.count), base::number_text(point.time / ms, 4),
                              um_text(point.deviation, uncertainty), um_text(point.interval.low, uncertainty),
                              um_text(point.interval.high, uncertainty)});
    }
    return table;
}

TextTable linearity_table(std::span<const study::LinearityCurve> curves, double span) {
    TextTable table{{"material", "independent / um", "terminal / um", "zero-based / um", "least squares / um",
                     "independent / % of span", "largest error / um", "points unread"},
                    {}};
    for (const study::LinearityCurve& curve : curves) {
        std::vector<std::string> row{one_line(curve.material)};
        if (curve.figures) {
            const study::LinearityFigures& f = *curve.figures;
            for (const auto* line : {&f.independent, &f.terminal, &f.zero, &f.least_squares}) {
                row.push_back(record::um_text(line->largest));
            }
            row.push_back(percent_text(f.independent.largest, span));
            row.push_back(record::um_text(largest_error(curve)));
        } else {
            row.insert(row.end(), 6, "none");
        }
        row.push_back(fmt::format("{}", curve.unread));
        table.rows.push_back(row);
    }
    return table;
}

TextTable averaging_table(std::span<const study::AveragedError> errors) {
    TextTable table{{"readings", "rms error, part still / um", "rms error, patches replaced / um", "noise alone / um"},
                    {}};
    for (const study::AveragedError& error : errors) {
        const auto text = [](double size, double values) { return um_text(size, uncertainty_of(size, values)); };
        table.rows.push_back({fmt::format("{}", error.average), text(error.still, error.still_values),
                              text(error.moved, error.moved_values), text(error.noise, error.noise_values)});
    }
    return table;
}

TextTable crossover_table(const study::CrossoverStudy& study) {
    TextTable table{{"distance / m", "triangulation / um", "valid / %", "time of flight / um", "valid / %"}, {}};
    for (const study::CrossoverPoint& point : study.points) {
        std::vector<std::string> row{base::number_text(point.distance, digits)};
        for (const study::ErrorAtDistance* error : {&point.triangulation, &point.flight}) {
            row.push_back(error->uncertainty ? base::two_digits(*error->uncertainty / um) : error->obstacle);
            row.push_back(base::number_text(100.0 * error->valid_share, digits));
        }
        table.rows.push_back(row);
    }
    return table;
}

TextTable drift_table(std::span<const study::DriftCause> causes, double span) {
    TextTable table{{"cause", "near end / um/K", "at the part / um/K", "far end / um/K", "at the part / % of span/K"},
                    {}};
    for (const study::DriftCause& cause : causes) {
        table.rows.push_back({one_line(cause.name), record::um_text(cause.near), record::um_text(cause.here),
                              record::um_text(cause.far), percent_text(cause.here, span)});
    }
    return table;
}

TextTable resets_table(std::span<const study::ResetInterval> resets) {
    TextTable table{{"zero set every", "rms error / um", "largest error / um"}, {}};
    for (const study::ResetInterval& reset : resets) {
        table.rows.push_back(
            {minutes_text(reset.interval), record::um_text(reset.rms), record::um_text(reset.largest)});
    }
    return table;
}

}  // namespace spotwright::record
