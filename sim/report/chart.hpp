// Charts of a report as figures, and how its numbers are written.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "sim/drawing/chart.hpp"
#include "sim/report/html.hpp"

namespace spotwright::report {

using drawing::Chart, drawing::ChartAxis, drawing::ChartBars, drawing::ChartCurve, drawing::CurveFill,
    drawing::CurveStyle, drawing::Marker, drawing::curve_style;

/// The figure: the chart, its caption, and its data as a table to open.
[[nodiscard]] std::string chart_figure(const Chart& chart);

/// The unit for lengths up to a size: um below a millimetre, mm from there on.
struct LengthUnit {
    double size = 1.0;  ///< [m]
    std::string_view symbol;
};
[[nodiscard]] LengthUnit length_unit(double largest);

/// A length with its unit, "none" where it does not exist. [m]
[[nodiscard]] std::string length_cell(std::optional<double> value, int digits = 4);

/// The number of a length in um; 0 if it is smaller than an atom, and so mere rounding. [m]
[[nodiscard]] std::string um_cell(std::optional<double> length, int digits = 4);

/// An uncertainty with its unit: two significant digits, "none" where it does not exist. [m]
[[nodiscard]] std::string uncertainty_cell(std::optional<double> uncertainty);

/// A length with its unit, rounded to the decimal place of its uncertainty; without one as `length_cell`. [m]
[[nodiscard]] std::string rounded_length_cell(std::optional<double> value, std::optional<double> uncertainty);

/// Likewise the numbers of a column in um. [m]
[[nodiscard]] std::string um_uncertainty_cell(double uncertainty);
[[nodiscard]] std::string rounded_um_cell(double length, double uncertainty);

/// A length in mm, rounded likewise; without an uncertainty to a nanometre. [m]
[[nodiscard]] std::string rounded_mm_cell(std::optional<double> length, std::optional<double> uncertainty);

/// A number with the minus sign of print.
[[nodiscard]] std::string signed_for_print(const std::string& number);

/// A number of a table: some significant digits, "none" where it does not exist or is not finite.
[[nodiscard]] std::string cell(std::optional<double> value, int digits = 4);

}  // namespace spotwright::report
