#include "sim/scenario/table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::scenario {

namespace {

std::string_view trimmed(std::string_view text) {
    constexpr std::string_view blanks = " \t\r";
    const std::size_t first = text.find_first_not_of(blanks);
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(blanks) - first + 1);
}

std::vector<std::string_view> cells_of(std::string_view line, char separator) {
    std::vector<std::string_view> cells;
    for (std::size_t begin = 0; begin <= line.size();) {
        const std::size_t end = std::min(line.find(separator, begin), line.size());
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

char separator_of(std::string_view names) {
    for (const char separator : {';', '\t'}) {
        if (names.find(separator) != std::string_view::npos) return separator;
    }
    return ',';
}

// The lines that hold something, one after the other.
class Lines {
public:
    explicit Lines(std::string_view text) : text_(without_mark(text)) {}

    // The next line that is neither empty nor a remark, in `row`; false at the end.
    bool next() {
        while (!text_.empty()) {
            ++line;
            const std::size_t end = std::min(text_.find('\n'), text_.size());
            row = trimmed(text_.substr(0, end));
            text_.remove_prefix(std::min(end + 1, text_.size()));
            constexpr std::string_view of_spreadsheets = "sep=";
            const bool names_separator = row.starts_with(of_spreadsheets) && row.size() <= of_spreadsheets.size() + 1;
            if (!row.empty() && row.front() != '#' && !names_separator) return true;
        }
        return false;
    }

    std::string_view row;
    int line = 0;

private:
    std::string_view text_;
};

// Whether commas only group digits by threes, as in 1,234,567: then they are no decimal marks, or it cannot be told.
bool may_group_digits(std::string_view cell) {
    if (!cell.empty() && (cell.front() == '-' || cell.front() == '+')) cell.remove_prefix(1);
    std::size_t length = std::min(cell.find(','), cell.size());
    if (length < 1 || length > 3 || cell.front() == '0') return false;
    while (length < cell.size()) {
        cell.remove_prefix(length + 1);
        length = std::min(cell.find(','), cell.size());
        if (length != 3 || cell.find_first_not_of("0123456789,") != std::string_view::npos) return false;
    }
    return true;
}

[[noreturn]] void reject_doubt(std::string_view cell, const std::string& file, int line) {
    reject_line(file, line, fmt::format("a comma that may be a decimal mark, or group digits: \"{}\"", shown(cell)),
                "numbers that leave no doubt, such as 1,5 or 0,250",
                "declare the decimal mark (`bench --decimal comma`)");
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

double number_in(std::string_view cell, const Column& column, bool comma, const std::string& file, int line) {
    double value = std::numeric_limits<double>::quiet_NaN();
    if (column.may_be_empty && is_missing(cell)) return value;
    std::string with_point(cell);
    const bool mixed = comma && cell.find('.') != std::string_view::npos;
    if (comma) std::replace(with_point.begin(), with_point.end(), ',', '.');
    value = base::number_of(with_point).value_or(value);
    if (mixed || !(std::abs(value) <= column.largest)) {
        reject_line(file, line, fmt::format("`{}` is not such a number: \"{}\"", column.name, shown(cell)),
                    fmt::format("a number between {:g} and {:g}", -column.largest, column.largest),
                    mixed ? "the decimal mark of this file is a comma" : "");
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

std::vector<std::string> table_header(std::string_view text, const std::string& /*file*/) {
    Lines lines(text);
    if (!lines.next()) return {};
    const std::vector<std::string_view> cells = cells_of(lines.row, separator_of(lines.row));
    return {cells.begin(), cells.end()};
}

namespace {

// Whether commas are decimal marks: declared, or told by the cells of the columns that are read.
bool has_decimal_commas(Lines lines, char separator, const std::vector<int>& locations, const std::string& file,
                        DecimalMark mark) {
    if (mark == DecimalMark::point) return false;
    if (separator == ',') {
        if (mark == DecimalMark::found) return false;
        reject_line(file, lines.line, "decimal commas in a file whose columns commas separate",
                    "columns separated by semicolons or tabs");
    }
    if (mark == DecimalMark::comma) return true;
    std::string_view doubtful;
    int line_of_doubt = 0;
    while (lines.next()) {
        const std::vector<std::string_view> cells = cells_of(lines.row, separator);
        for (const int location : locations) {
            if (location < 0 || static_cast<std::size_t>(location) >= cells.size()) continue;
            const std::string_view cell = cells[static_cast<std::size_t>(location)];
            if (cell.find(',') == std::string_view::npos) continue;
            if (!may_group_digits(cell)) return true;
            if (doubtful.empty()) {
                doubtful = cell;
                line_of_doubt = lines.line;
            }
        }
    }
    if (!doubtful.empty()) reject_doubt(doubtful, file, line_of_doubt);
    return false;
}

}  // namespace

Table parse_table(std::string_view text, const std::string& file, std::span<const Column> columns, OtherColumns others,
                  DecimalMark mark) {
    Table table;
    table.columns.resize(columns.size());
    Lines lines(text);
    if (!lines.next()) reject_line(file, 0, "an empty file", first_line(columns));
    const char separator = separator_of(lines.row);
    const std::size_t width = cells_of(lines.row, separator).size();
    const std::vector<int> locations =
        cells_of_columns(cells_of(lines.row, separator), columns, file, lines.line, others);
    const bool comma = has_decimal_commas(lines, separator, locations, file, mark);
    while (lines.next()) {
        const std::vector<std::string_view> cells = cells_of(lines.row, separator);
        if (cells.size() != width) {
            const bool decimal_commas = separator == ',' && cells.size() == 2 * width;
            reject_line(file, lines.line, fmt::format("{} values", cells.size()), fmt::format("{} values", width),
                        decimal_commas ? "decimal commas need columns separated by semicolons or tabs" : "");
        }
        for (std::size_t i = 0; i < columns.size(); ++i) {
            if (locations[i] < 0) continue;
            const std::string_view cell = cells[static_cast<std::size_t>(locations[i])];
            table.columns[i].push_back(number_in(cell, columns[i], comma, file, lines.line));
        }
        table.lines.push_back(lines.line);
    }
    return table;
}

}  // namespace spotwright::scenario
