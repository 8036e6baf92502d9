#include "sim/scenario/relief.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <vector>

#include "sim/scenario/table.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::scenario {

namespace {

struct Sample {
    double x = 0.0;
    double y = 0.0;
    double height = 0.0;
    int line = 0;
};

std::vector<double> places_of(const std::vector<Sample>& samples, double Sample::*coordinate) {
    std::vector<double> locations;
    locations.reserve(samples.size());
    for (const Sample& sample : samples) locations.push_back(sample.*coordinate);
    std::sort(locations.begin(), locations.end());
    locations.erase(std::unique(locations.begin(), locations.end()), locations.end());
    return locations;
}

HeightTable table_of(std::vector<Sample> samples, bool is_map, const std::string& file) {
    HeightTable table;
    table.x = places_of(samples, &Sample::x);
    if (is_map) table.y = places_of(samples, &Sample::y);
    if (table.x.size() < 2 || (is_map && table.y.size() < 2)) {
        reject_line(file, 0, "too few places", "at least two different ones along each axis");
    }
    std::sort(samples.begin(), samples.end(), [](const Sample& a, const Sample& b) {
        if (a.x != b.x) return a.x < b.x;
        return a.y != b.y ? a.y < b.y : a.line < b.line;
    });
    for (std::size_t i = 1; i < samples.size(); ++i) {
        if (samples[i].x == samples[i - 1].x && samples[i].y == samples[i - 1].y) {
            reject_line(file, samples[i].line, "this place was given before", "each place once");
        }
    }
    if (is_map && samples.size() != table.x.size() * table.y.size()) {
        reject_line(file, 0,
                    fmt::format("{} heights do not fill a grid of {} by {} places", samples.size(), table.x.size(),
                                table.y.size()),
                    "a height for each pair of x and y");
    }
    for (const Sample& sample : samples) table.height.push_back(sample.height);
    return table;
}

}  // namespace

HeightTable parse_heights(std::string_view text, const std::string& file) {
    constexpr std::array columns{Column{"x_mm"}, Column{"y_mm", false}, Column{"height_mm"}};
    const Table table = parse_table(text, file, columns);
    const bool is_map = !table.columns[1].empty();
    std::vector<Sample> samples;
    samples.reserve(table.lines.size());
    for (std::size_t i = 0; i < table.lines.size(); ++i) {
        samples.push_back(
            {table.columns[0][i], is_map ? table.columns[1][i] : 0.0, table.columns[2][i], table.lines[i]});
    }
    return table_of(std::move(samples), is_map, file);
}

HeightTable load_heights(const std::string& path) {
    constexpr std::uintmax_t largest = 64U << 20U;
    return parse_heights(read_text_file(path, largest), path);
}

}  // namespace spotwright::scenario
