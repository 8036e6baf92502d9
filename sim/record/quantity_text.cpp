#include "sim/record/quantity_text.hpp"

#include <fmt/format.h>

#include <cmath>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/study/uncertainty.hpp"

namespace spotwright::record {

namespace {

using base::mm, base::um;
using measure::Quantity;
using Rule = measure::Rounding::Rule;

constexpr int otherwise = 4;  // significant digits or decimals where no uncertainty is known

bool is_length(std::string_view units) {
    return units == "um" || units == "mm";
}

// [m] for lengths; other units are used as they are.
double factor_of(std::string_view units) {
    return units == "um" ? um : units == "mm" ? mm : 1.0;
}

std::string with_unit(const std::string& number, std::string_view units) {
    return units == "1" ? number : fmt::format("{} {}", number, units);
}

std::string rounded_text(const Quantity& quantity, double value, double uncertainty) {
    const double factor = factor_of(quantity.units);
    if (quantity.units == "um") return base::rounded_length_text(value * factor, uncertainty);
    // Displacements in mm have the decimals of a nanometre where no uncertainty is known.
    constexpr int nanometres = 6;
    const int decimals = quantity.units == "mm" ? nanometres : otherwise;
    return with_unit(base::value_text(value * factor, uncertainty, factor, decimals), quantity.units);
}

std::string digits_text(const Quantity& quantity, double value) {
    const int digits = quantity.rounding.digits;
    return quantity.units == "um" ? base::length_text(value * um, digits)
                                  : with_unit(base::number_text(value, digits), quantity.units);
}

// Without an exponent.
std::string probability_text(double value) {
    constexpr double least = 1e-6;
    if (value == 0.0) return "0";
    return value < least ? "below 0.000001" : base::two_digits(value);
}

// The ends of an interval, to the second digit of the standard deviation or to the first at which they differ.
std::string ends_text(const study::Interval& interval, double deviation, double unit) {
    constexpr int most_decimals = 9;
    int decimals = base::decimals_for(deviation, unit).value_or(otherwise);
    const auto end = [&](double value) { return base::decimal_text(value / unit, decimals); };
    while (decimals < most_decimals && end(interval.low) == end(interval.high)) ++decimals;
    return end(interval.low) + " to " + end(interval.high);
}

// In the units of the table.
double uncertainty_of(const Quantity& quantity, const measure::ReadResult& result, const scenario::Scenario& scenario) {
    if (quantity.rounding.rule != Rule::to_uncertainty) return 0.0;
    return measure::quantity(quantity.rounding.uncertainty, result, scenario);
}

}  // namespace

std::string deviation_text(std::optional<double> deviation, std::int64_t count) {
    if (!deviation) return "none";
    const std::string text = base::uncertainty_text(*deviation);
    const auto interval = study::deviation_interval_or_none(deviation, count);
    if (!interval || text == "0 um") return text;
    const double unit = text.ends_with("mm") ? mm : um;
    return fmt::format("{} (95 %: {})", text, ends_text(*interval, *deviation, unit));
}

std::string quantity_text(const Quantity& quantity, double value, double uncertainty) {
    if (!std::isfinite(value)) return "none";
    switch (quantity.rounding.rule) {
        case Rule::digits:
            return digits_text(quantity, value);
        case Rule::whole:
            return fmt::format("{:.0f}", value);
        case Rule::percent:
            return base::number_text(100.0 * value, quantity.rounding.digits) + " %";
        case Rule::probability:
            return probability_text(value);
        case Rule::deviation:
            return is_length(quantity.units) ? base::uncertainty_text(value * factor_of(quantity.units))
                                             : with_unit(base::two_digits(value), quantity.units);
        case Rule::to_uncertainty:
            return rounded_text(quantity, value,
                                uncertainty * factor_of(measure::quantity_named(quantity.rounding.uncertainty).units));
    }
    return "none";
}

std::string short_quantity_text(const Quantity& quantity, const measure::ReadResult& result,
                                const scenario::Scenario& scenario) {
    return quantity_text(quantity, quantity.value(result, scenario), uncertainty_of(quantity, result, scenario));
}

std::string quantity_text(const Quantity& quantity, const measure::ReadResult& result,
                          const scenario::Scenario& scenario) {
    const double value = quantity.value(result, scenario);
    const std::string text = short_quantity_text(quantity, result, scenario);
    if (quantity.independent == nullptr || !std::isfinite(value)) return text;
    const std::int64_t count = quantity.independent(result);
    const bool few = stands_on_few(quantity, result);
    const bool is_deviation = quantity.rounding.rule == Rule::deviation;
    const bool has_interval = is_deviation && !(few && (value == 0.0 || count < 2));
    if (has_interval) return deviation_text(value * factor_of(quantity.units), count);
    const std::string_view what = is_deviation ? "value" : "output";
    return few ? fmt::format("{} (of {} {}{})", text, count, what, count == 1 ? "" : "s") : text;
}

bool stands_on_few(const Quantity& quantity, const measure::ReadResult& result) {
    if (quantity.independent == nullptr) return false;
    const std::int64_t count = quantity.independent(result);
    return count > 0 && count < measure::few_outputs;
}

std::string number_in_column(std::string_view name, double value, double uncertainty) {
    const Quantity& quantity = measure::quantity_named(name);
    const measure::Rounding& rounding = quantity.rounding;
    if (!std::isfinite(value)) return "-";
    switch (rounding.rule) {
        case Rule::whole:
            return fmt::format("{:.0f}", value);
        case Rule::deviation:
            return base::two_digits(value);
        case Rule::to_uncertainty: {
            const double factor = factor_of(measure::quantity_named(rounding.uncertainty).units);
            const double unit = factor_of(quantity.units);
            const bool known = base::decimals_for(uncertainty * factor, unit).has_value();
            return known ? base::value_text(value * unit, uncertainty * factor, unit, otherwise)
                         : base::number_text(value, otherwise);
        }
        case Rule::digits:
        case Rule::percent:
        case Rule::probability:
            break;
    }
    return base::number_text(value, rounding.digits);
}

std::string number_in_column(std::string_view name, const measure::ReadResult& result,
                             const scenario::Scenario& scenario) {
    const Quantity& quantity = measure::quantity_named(name);
    return number_in_column(name, quantity.value(result, scenario), uncertainty_of(quantity, result, scenario));
}

std::vector<TextGroup> text_groups(const measure::ReadResult& result, const scenario::Scenario& scenario) {
    std::vector<TextGroup> list;
    for (const measure::QuantityGroup& group : measure::quantity_groups()) {
        if (!group.exists(result, scenario)) continue;
        if (list.empty() || list.back().title != group.title) list.push_back({group.title, {}, {}});
        list.back().groups.push_back(group.group);
        for (const Quantity& each : measure::quantities()) {
            if (each.group != group.group) continue;
            list.back().rows.push_back({each.long_name, quantity_text(each, result, scenario)});
        }
    }
    return list;
}

}  // namespace spotwright::record
