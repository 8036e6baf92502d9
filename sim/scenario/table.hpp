// A table of numbers from a text of separated values (RFC 4180 without quotes; semicolons and tabs, too).
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::scenario {

/// A column that a table may have. Its name ends in the unit in which it is written, as base/units.hpp has them.
struct Column {
    std::string_view name;
    bool required = true;
    double largest = 1e5;                           ///< by absolute value, as written
    bool may_be_empty = false;                      ///< an empty cell or `nan` is NaN
    std::optional<base::Unit> unit = std::nullopt;  ///< none: that of the name
};

/// What becomes of columns that nobody asked for.
enum class OtherColumns { refused, ignored };

/// How numbers are written. Found: commas are decimal marks where semicolons or tabs separate the columns and no cell
/// leaves a doubt; a doubt is an error.
enum class DecimalMark { found, point, comma };

struct Table {
    std::vector<std::vector<double>> columns;  ///< in SI, in the order asked for; an absent one is empty
    std::vector<int> lines;                    ///< of the text in which each row stands
};

/// A byte order mark at the start is passed over. The first line names the columns, in any order; empty lines and lines
/// that begin with # are passed over, and `sep=;` before the names, as spreadsheets write it. A semicolon in the line
/// of names, else a tab, else a comma separates the columns.
/// @param file  Named in errors.
/// @throws ScenarioError  No first line, an unknown, missing or repeated column, a row of another width, what is no
/// number, commas that may be decimal marks or group digits: with the line.
[[nodiscard]] Table parse_table(std::string_view text, const std::string& file, std::span<const Column> columns,
                                OtherColumns others = OtherColumns::refused, DecimalMark mark = DecimalMark::found);

/// Names of the columns, from the first line; empty for a text without one.
[[nodiscard]] std::vector<std::string> table_header(std::string_view text, const std::string& file);

/// One problem with a line of a file of numbers; line 0: with the file as a whole.
[[noreturn]] void reject_line(const std::string& file, int line, const std::string& message, const std::string& allowed,
                              const std::string& hint = {});

}  // namespace spotwright::scenario
