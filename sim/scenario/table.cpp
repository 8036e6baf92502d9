#include "sim/scenario/table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>

#include "sim/base/units.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::scenario {

namespace {

std::string_view trimmed(std::string_view text) {
    constexpr std::string_view blanks = " \t\r";
    const std::size_t first = text.find_first_not_of(blanks);
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(blanks) - first + 1);
}

std::vector<std::string_view> cells_of(std::string_view line) {
    std::vector<std::string_view> cells;
    for (std::size_t begin = 0; begin <= line.size();) {
        const std::size_t end = std::min(line.find(',', begin), line.size());
        cells.push_back(trimmed(line.substr(begin, end - begin)));
        begin = end + 1;
    }
    return cells;
}

std::string shown(std::string_view cell) {
    constexpr std::size_t longest = 40;
    return printable(cell.substr(0, longest));
}

// Some programs begin a text with a byte order mark.
std::string_view without_mark(std::string_view text) {
    constexpr std::string_view mark = "\xEF\xBB\xBF";
    if (text.starts_with(mark)) text.remove_prefix(mark.size());
    return text;
}

// What parts the columns of a first line, where it is no comma.
void check_commas(std::string_view row, const std::string& file, int line) {
    if (row.find(',') != std::string_view::npos) return;
    const char* found = row.find(';') != std::string_view::npos    ? "semicolons"
                        : row.find('\t') != std::string_view::npos ? "tabs"
                                                                   : nullptr;
    if (found == nullptr) return;
    reject_line(file, line, fmt::format("columns parted by {}: \"{}\"", found, shown(row)),
                "columns parted by commas, numbers with a decimal point");
}

// `x_mm,height_mm`, and what may come besides.
std::string first_line(std::span<const Column> columns) {
    std::string needed;
    std::string possible;
    for (const Column& column : columns) {
        std::string& list = column.required ? needed : possible;
        list += (list.empty() ? "" : ",") + std::string(column.name);
    }
    return fmt::format("a first line with the columns `{}`{}", needed,
                       possible.empty() ? "" : fmt::format(", and if wanted `{}`", possible));
}

// Which cell of a row holds each column; -1: none.
std::vector<int> cells_of_columns(const std::vector<std::string_view>& cells, std::span<const Column> columns,
                                  const std::string& file, int line, OtherColumns others) {
    std::vector<int> locations(columns.size(), -1);
    for (std::size_t i = 0; i < cells.size(); ++i) {
        const auto column = std::find_if(columns.begin(), columns.end(),
                                         [&](const Column& candidate) { return candidate.name == cells[i]; });
        if (column == columns.end() && others == OtherColumns::ignored) continue;
        if (column == columns.end() || locations[static_cast<std::size_t>(column - columns.begin())] >= 0) {
            reject_line(file, line, fmt::format("no such column, or named twice: \"{}\"", shown(cells[i])),
                        first_line(columns));
        }
        locations[static_cast<std::size_t>(column - columns.begin())] = static_cast<int>(i);
    }
    for (std::size_t i = 0; i < columns.size(); ++i) {
        if (!columns[i].required || locations[i] >= 0) continue;
        reject_line(file, line, fmt::format("the column `{}` is missing", columns[i].name), first_line(columns));
    }
    return locations;
}

bool is_missing(std::string_view cell) {
    constexpr std::string_view word = "nan";
    const auto lower = [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; };
    return cell.empty() || std::equal(cell.begin(), cell.end(), word.begin(), word.end(),
                                      [&](char c, char expected) { return lower(c) == expected; });
}

double number_in(std::string_view cell, const Column& column, const std::string& file, int line) {
    double value = std::numeric_limits<double>::quiet_NaN();
    if (column.may_be_empty && is_missing(cell)) return value;
    const auto [end, status] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
    if (status != std::errc() || end != cell.data() + cell.size() || !(std::abs(value) <= column.largest)) {
        reject_line(file, line, fmt::format("`{}` is not such a number: \"{}\"", column.name, shown(cell)),
                    fmt::format("a number between {:g} and {:g}", -column.largest, column.largest));
    }
    return base::to_si(column.unit.value_or(base::unit_of(column.name)), value);
}

}  // namespace

void reject_line(const std::string& file, int line, const std::string& message, const std::string& allowed,
                 const std::string& hint) {
    base::SourceLocation location;
    location.file = file;
    location.line = line;
    throw base::ScenarioError({base::Problem{location, message, allowed, hint}});
}

std::vector<std::string> table_header(std::string_view text, const std::string& file) {
    text = without_mark(text);
    int line = 0;
    while (!text.empty()) {
        ++line;
        const std::size_t end = std::min(text.find('\n'), text.size());
        const std::string_view row = trimmed(text.substr(0, end));
        text.remove_prefix(std::min(end + 1, text.size()));
        if (row.empty() || row.front() == '#') continue;
        check_commas(row, file, line);
        const std::vector<std::string_view> cells = cells_of(row);
        return {cells.begin(), cells.end()};
    }
    return {};
}

Table parse_table(std::string_view text, const std::string& file, std::span<const Column> columns,
                  OtherColumns others) {
    Table table;
    table.columns.resize(columns.size());
    std::vector<int> locations;
    std::size_t width = 0;
    int line = 0;
    text = without_mark(text);
    while (!text.empty()) {
        ++line;
        const std::size_t end = std::min(text.find('\n'), text.size());
        const std::string_view row = trimmed(text.substr(0, end));
        text.remove_prefix(std::min(end + 1, text.size()));
        if (row.empty() || row.front() == '#') continue;
        const std::vector<std::string_view> cells = cells_of(row);
        if (width == 0) {
            check_commas(row, file, line);
            locations = cells_of_columns(cells, columns, file, line, others);
            width = cells.size();
            continue;
        }
        if (cells.size() != width) {
            reject_line(file, line, fmt::format("{} values", cells.size()), fmt::format("{} values", width));
        }
        for (std::size_t i = 0; i < columns.size(); ++i) {
            if (locations[i] < 0) continue;
            const std::string_view cell = cells[static_cast<std::size_t>(locations[i])];
            table.columns[i].push_back(number_in(cell, columns[i], file, line));
        }
        table.lines.push_back(line);
    }
    if (width == 0) reject_line(file, 0, "an empty file", first_line(columns));
    return table;
}

}  // namespace spotwright::scenario
