#include "sim/scenario/relief.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <limits>

#include "sim/base/units.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::scenario {

namespace {

constexpr double largest_mm = 1e5;

[[noreturn]] void complain(const std::string& file, int line, const std::string& message, const std::string& allowed) {
    base::Place place;
    place.file = file;
    place.line = line;
    throw base::ScenarioError({base::Problem{place, message, allowed, ""}});
}

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

// Where x_mm, y_mm and height_mm stand; -1 for a profile's missing y_mm.
using Columns = std::array<int, 3>;

Columns columns_of(const std::vector<std::string_view>& cells, const std::string& file, int line) {
    constexpr std::array<std::string_view, 3> names{"x_mm", "y_mm", "height_mm"};
    Columns columns{-1, -1, -1};
    for (std::size_t i = 0; i < cells.size(); ++i) {
        const auto name = std::find(names.begin(), names.end(), cells[i]);
        if (name == names.end() || columns[static_cast<std::size_t>(name - names.begin())] >= 0) {
            complain(file, line,
                     fmt::format("no such column, or named twice: \"{}\"", printable(cells[i].substr(0, 40))),
                     "a first line `x_mm,height_mm` (profile) or `x_mm,y_mm,height_mm` (map)");
        }
        columns[static_cast<std::size_t>(name - names.begin())] = static_cast<int>(i);
    }
    if (columns[0] < 0 || columns[2] < 0) {
        complain(file, line, "a column is missing",
                 "a first line `x_mm,height_mm` (profile) or `x_mm,y_mm,height_mm` (map)");
    }
    return columns;
}

struct Sample {
    double x = 0.0;
    double y = 0.0;
    double height = 0.0;
    int line = 0;
};

double number_in(std::string_view cell, const std::string& file, int line) {
    double value = std::numeric_limits<double>::quiet_NaN();
    const auto [end, status] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
    if (status != std::errc() || end != cell.data() + cell.size() || !(std::abs(value) <= largest_mm)) {
        complain(file, line, fmt::format("not a length in mm: \"{}\"", printable(cell.substr(0, 40))),
                 fmt::format("a number between {:g} and {:g}", -largest_mm, largest_mm));
    }
    return value * base::mm;
}

std::vector<double> places_of(const std::vector<Sample>& samples, double Sample::*coordinate) {
    std::vector<double> places;
    places.reserve(samples.size());
    for (const Sample& sample : samples) places.push_back(sample.*coordinate);
    std::sort(places.begin(), places.end());
    places.erase(std::unique(places.begin(), places.end()), places.end());
    return places;
}

HeightTable table_of(std::vector<Sample> samples, bool is_map, const std::string& file) {
    HeightTable table;
    table.x = places_of(samples, &Sample::x);
    if (is_map) table.y = places_of(samples, &Sample::y);
    if (table.x.size() < 2 || (is_map && table.y.size() < 2)) {
        complain(file, 0, "too few places", "at least two different ones along each axis");
    }
    std::sort(samples.begin(), samples.end(), [](const Sample& a, const Sample& b) {
        if (a.x != b.x) return a.x < b.x;
        return a.y != b.y ? a.y < b.y : a.line < b.line;
    });
    for (std::size_t i = 1; i < samples.size(); ++i) {
        if (samples[i].x == samples[i - 1].x && samples[i].y == samples[i - 1].y) {
            complain(file, samples[i].line, "this place was given before", "each place once");
        }
    }
    if (is_map && samples.size() != table.x.size() * table.y.size()) {
        complain(file, 0,
                 fmt::format("{} heights do not fill a grid of {} by {} places", samples.size(), table.x.size(),
                             table.y.size()),
                 "a height for each pair of x and y");
    }
    for (const Sample& sample : samples) table.height.push_back(sample.height);
    return table;
}

}  // namespace

HeightTable parse_heights(std::string_view text, const std::string& file) {
    Columns columns{-1, -1, -1};
    std::size_t width = 0;
    std::vector<Sample> samples;
    int line = 0;
    while (!text.empty()) {
        ++line;
        const std::size_t end = std::min(text.find('\n'), text.size());
        const std::string_view row = trimmed(text.substr(0, end));
        text.remove_prefix(std::min(end + 1, text.size()));
        if (row.empty() || row.front() == '#') continue;
        const std::vector<std::string_view> cells = cells_of(row);
        if (width == 0) {
            columns = columns_of(cells, file, line);
            width = cells.size();
            continue;
        }
        if (cells.size() != width) {
            complain(file, line, fmt::format("{} values", cells.size()), fmt::format("{} values", width));
        }
        const auto value = [&](std::size_t column) {
            return columns[column] < 0 ? 0.0 : number_in(cells[static_cast<std::size_t>(columns[column])], file, line);
        };
        samples.push_back({value(0), value(1), value(2), line});
    }
    return table_of(std::move(samples), columns[1] >= 0, file);
}

HeightTable load_heights(const std::string& path) {
    constexpr std::uintmax_t largest = 64U << 20U;
    return parse_heights(read_text_file(path, largest), path);
}

}  // namespace spotwright::scenario
