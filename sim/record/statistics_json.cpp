#include "sim/record/statistics_json.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/record/json_number.hpp"
#include "sim/record/text.hpp"

namespace spotwright::record {

namespace {

using base::mm, base::um;
using nlohmann::ordered_json;

ordered_json point_json(const study::AllanPoint& point) {
    return {{"averages", point.count},
            {"time_s", json_number(point.time, 1.0)},
            {"deviation_um", json_number(point.deviation, um)},
            {"interval_um", interval_json(point.interval)}};
}

ordered_json line_json(const study::NonLinearity& line, double span) {
    return {{"largest_um", json_number(line.largest, um)},
            {"percent_of_span", json_number(100.0 * line.largest / span, 1.0)},
            {"offset_um", json_number(line.offset, um)},
            {"slope_um_per_mm", json_number(line.slope, um / mm)}};
}

}  // namespace

ordered_json interval_json(const std::optional<study::Interval>& interval) {
    if (!interval) return nullptr;
    return ordered_json::array({json_number(interval->low, um), json_number(interval->high, um)});
}

ordered_json to_json(const study::AllanStudy& study) {
    ordered_json curve = ordered_json::array();
    for (const study::AllanPoint& point : study.curve) curve.push_back(point_json(point));
    ordered_json least;
    if (study.least) {
        least = point_json(*study.least);
        least["inside"] = study.min_inside;
    }
    return {{"gaps", study::name_of(study.gaps)},
            {"readings", study.readings},
            {"missing", study.missing},
            {"used", study.used},
            {"curve", curve},
            {"minimum", least}};
}

ordered_json to_json(const study::LinearityFigures& figures, double span) {
    return {{"terminal", line_json(figures.terminal, span)},
            {"zero_based", line_json(figures.zero, span)},
            {"independent", line_json(figures.independent, span)},
            {"least_squares", line_json(figures.least_squares, span)}};
}

ordered_json to_json(std::span<const study::LinearityCurve> curves, double span) {
    ordered_json list = ordered_json::array();
    for (const study::LinearityCurve& curve : curves) {
        ordered_json displacement = ordered_json::array();
        ordered_json error = ordered_json::array();
        double largest = 0.0;
        for (std::size_t i = 0; i < curve.error.size(); ++i) {
            displacement.push_back(json_number(curve.displacement[i], mm));
            error.push_back(json_number(curve.error[i], um));
            largest = std::max(largest, std::abs(curve.error[i]));
        }
        ordered_json entry{{"material", valid_utf8(curve.material)},
                           {"displacement_mm", displacement},
                           {"error_um", error},
                           {"unread", curve.unread}};
        entry["largest_error_um"] = curve.error.empty() ? ordered_json() : json_number(largest, um);
        entry["figures"] = curve.figures ? to_json(*curve.figures, span) : ordered_json();
        list.push_back(entry);
    }
    return list;
}

}  // namespace spotwright::record
