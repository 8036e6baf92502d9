#include "sim/scenario/paths.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/scenario/table.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::scenario {

namespace {

constexpr std::uintmax_t largest_file = 64U << 20U;
constexpr double longest_time = 1e9;  // s: thirty years

void check_times(const Table& table, const std::string& file) {
    const std::vector<double>& time = table.columns[0];
    if (time.size() < 2) reject_line(file, 0, fmt::format("a path of {} rows", time.size()), "at least two rows");
    for (std::size_t i = 1; i < time.size(); ++i) {
        if (time[i] > time[i - 1]) continue;
        reject_line(file, table.lines[i],
                    fmt::format("time {}: {:g} s after {:g} s", time[i] < time[i - 1] ? "runs backwards" : "repeats",
                                time[i], time[i - 1]),
                    "times that rise from row to row");
    }
}

}  // namespace

MotionPath parse_motion_path(std::string_view text, const std::string& file) {
    constexpr std::array columns{Column{"time_s", true, longest_time}, Column{"along_mm"}, Column{"across_mm", false}};
    Table table = parse_table(text, file, columns);
    check_times(table, file);
    MotionPath path{std::move(table.columns[0]), std::move(table.columns[1]), std::move(table.columns[2])};
    path.across.resize(path.time.size(), 0.0);
    return path;
}

TemperaturePath parse_temperature_path(std::string_view text, const std::string& file) {
    constexpr std::array columns{Column{"time_s", true, longest_time}, Column{"temperature_C", true, 200.0}};
    Table table = parse_table(text, file, columns);
    check_times(table, file);
    for (std::size_t i = 0; i < table.lines.size(); ++i) {
        const double celsius = table.columns[1][i] - base::zero_celsius;
        if (celsius >= -40.0 && celsius <= 120.0) continue;
        reject_line(file, table.lines[i], fmt::format("temperature out of bounds: {:g} C", celsius), "-40 to 120 C");
    }
    return {std::move(table.columns[0]), std::move(table.columns[1])};
}

MotionPath load_motion_path(const std::string& path) {
    return parse_motion_path(read_text_file(path, largest_file), path);
}

TemperaturePath load_temperature_path(const std::string& path) {
    return parse_temperature_path(read_text_file(path, largest_file), path);
}

double value_at(std::span<const double> time, std::span<const double> value, double when) {
    const auto after = std::upper_bound(time.begin(), time.end(), when);
    if (after == time.begin()) return value.front();
    if (after == time.end()) return value.back();
    const auto i = static_cast<std::size_t>(after - time.begin());
    return std::lerp(value[i - 1], value[i], (when - time[i - 1]) / (time[i] - time[i - 1]));
}

}  // namespace spotwright::scenario
