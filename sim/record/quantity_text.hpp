// The numbers of a reading as text for people, by the table of quantities: terminal, report and pictures.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/measure/quantities.hpp"

namespace spotwright::record {

/// "1.2 um (95 %: 1.1 to 1.3)", "none", or without an interval if fewer than two values are behind it. [m]
/// @param count  Of independent values.
[[nodiscard]] std::string deviation_text(std::optional<double> deviation, std::int64_t count);

/// A value of a quantity with its unit, rounded as the table says; "none" where it does not exist.
/// @param value  In the units of the quantity.  @param uncertainty  In its own units; used by `to_uncertainty` alone.
[[nodiscard]] std::string quantity_text(const measure::Quantity& quantity, double value, double uncertainty);

/// The same of a result.
[[nodiscard]] std::string short_quantity_text(const measure::Quantity& quantity, const measure::ReadResult& result,
                                              const scenario::Scenario& scenario);

/// The same, a standard deviation with its 95 % interval, and a mean of few outputs with their number.
[[nodiscard]] std::string quantity_text(const measure::Quantity& quantity, const measure::ReadResult& result,
                                        const scenario::Scenario& scenario);

/// Whether few outputs stand behind a quantity (`measure::few_outputs`), so that its text should say so, however short.
[[nodiscard]] bool stands_on_few(const measure::Quantity& quantity, const measure::ReadResult& result);

/// The number alone, in the units at the end of its name, for a column under that name. "-" if it does not exist.
[[nodiscard]] std::string number_in_column(std::string_view name, double value, double uncertainty);

/// The same of a result.
[[nodiscard]] std::string number_in_column(std::string_view name, const measure::ReadResult& result,
                                           const scenario::Scenario& scenario);

/// A number with its label.
struct LabelledText {
    std::string_view label;  ///< the long name of the table
    std::string text;
};

/// Quantities under one title.
struct TextGroup {
    std::string_view title;
    std::vector<measure::Group> groups;
    std::vector<LabelledText> rows;
};

/// All numbers of a result by groups; a group that the result does not have is left out.
[[nodiscard]] std::vector<TextGroup> text_groups(const measure::ReadResult& result, const scenario::Scenario& scenario);

}  // namespace spotwright::record
