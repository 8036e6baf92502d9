#include "sim/bench/log.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/table.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::bench {

namespace {

using scenario::Column;
using scenario::reject_line;

// What a column of a log may be: its name before the unit, and the units it may be written in.
struct Role {
    std::string_view name;
    std::vector<std::string> units;
    std::string_view option;
};

const Role& time_role() {
    static const Role role{"time", {"s", "ms", "us"}, "--time"};
    return role;
}

const Role& reading_role() {
    static const Role role{"reading", {"mm", "um", "nm"}, "--reading"};
    return role;
}

const Role& reference_role() {
    static const Role role{"reference", {"mm", "um", "nm"}, "--reference"};
    return role;
}

std::string usual_names(const Role& role) {
    std::vector<std::string> names;
    for (const std::string& unit : role.units) names.push_back(fmt::format("`{}_{}`", role.name, unit));
    return base::alternatives(names);
}

std::string how_to_name(const Role& role) {
    return fmt::format("{0} NAME {0}-unit {1} names another column", role.option, role.units[1]);
}

struct Found {
    std::string name;
    base::Unit unit;
};

base::Unit unit_called(const Role& role, const std::string& unit, const std::string& file) {
    if (std::find(role.units.begin(), role.units.end(), unit) == role.units.end()) {
        reject_line(file, 0, fmt::format("no such unit of the {}: \"{}\"", role.name, scenario::printable(unit)),
                    base::alternatives(role.units));
    }
    return base::unit_of("_" + unit);
}

// A column named on the command line.
Found named_column(const Role& role, const std::string& name, const std::string& unit,
                   const std::vector<std::string>& header, const std::string& file) {
    const auto count = std::count(header.begin(), header.end(), name);
    if (count != 1) {
        reject_line(
            file, 0,
            fmt::format("{} columns are called \"{}\"", count == 0 ? "no" : "several", scenario::printable(name)),
            fmt::format("one of the first line: {}", scenario::printable(fmt::format("{}", fmt::join(header, ", ")))),
            base::nearest_word(name, header));
    }
    if (!unit.empty()) return {name, unit_called(role, unit, file)};
    const base::Unit of_name = base::unit_of(name);
    if (std::find(role.units.begin(), role.units.end(), of_name.symbol) != role.units.end()) return {name, of_name};
    reject_line(file, 0, fmt::format("no unit of a {} in the name \"{}\"", role.name, scenario::printable(name)),
                fmt::format("a name that ends in `_{}`", fmt::join(role.units, "`, `_")),
                fmt::format("say it by {}-unit {}", role.option, role.units[1]));
}

std::optional<Found> find_column(const Role& role, const std::string& name, const std::string& unit,
                                 const std::vector<std::string>& header, const std::string& file) {
    if (!name.empty()) return named_column(role, name, unit, header, file);
    std::optional<Found> found;
    for (const std::string& each : header) {
        for (const std::string& suffix : role.units) {
            if (each != fmt::format("{}_{}", role.name, suffix)) continue;
            if (found) {
                reject_line(file, 0,
                            fmt::format("two columns may be the {}: `{}` and `{}`", role.name, found->name, each),
                            "one of them", fmt::format("say which by {}", role.option));
            }
            found = Found{each, base::unit_of(each)};
        }
    }
    if (found && !unit.empty()) found->unit = unit_called(role, unit, file);
    return found;
}

Found needed_column(const Role& role, const std::string& name, const std::string& unit,
                    const std::vector<std::string>& header, const std::string& file) {
    if (auto found = find_column(role, name, unit, header, file)) return *found;
    const bool without_unit = std::find(header.begin(), header.end(), role.name) != header.end();
    reject_line(file, 0,
                without_unit
                    ? fmt::format("the column `{}` has no unit in its name", role.name)
                    : fmt::format("no column for the {} among: {}", role.name,
                                  scenario::printable(fmt::format("{}", fmt::join(header, ", "))).substr(0, 200)),
                usual_names(role),
                without_unit ? fmt::format("say it by {0} {1} {0}-unit {2}", role.option, role.name, role.units[1])
                             : how_to_name(role));
}

scenario::DecimalMark mark_called(const std::string& word, const std::string& file) {
    if (word.empty()) return scenario::DecimalMark::found;
    if (word == "point") return scenario::DecimalMark::point;
    if (word == "comma") return scenario::DecimalMark::comma;
    reject_line(file, 0, fmt::format("no such decimal mark: \"{}\"", scenario::printable(word)), "point or comma");
}

void require_rising_time(const BenchLog& log) {
    for (std::size_t i = 1; i < log.time.size(); ++i) {
        if (log.time[i] > log.time[i - 1]) continue;
        reject_line(log.file, log.lines[i],
                    log.time[i] == log.time[i - 1]
                        ? fmt::format("the time {:g} s is that of line {} again", log.time[i], log.lines[i - 1])
                        : fmt::format("the time {:g} s lies before that of line {}", log.time[i], log.lines[i - 1]),
                    "times that rise from line to line");
    }
}

double spread_of(const std::vector<double>& values) {
    double least = std::numeric_limits<double>::infinity();
    double greatest = -least;
    for (const double value : values) {
        if (std::isnan(value)) continue;
        least = std::min(least, value);
        greatest = std::max(greatest, value);
    }
    return greatest >= least ? greatest - least : 0.0;
}

}  // namespace

BenchLog parse_log(std::string_view text, const std::string& file, const LogNames& names) {
    const std::vector<std::string> header = scenario::table_header(text, file);
    if (header.empty()) reject_line(file, 0, "an empty file", "a first line that names the columns");
    BenchLog log;
    log.file = file;
    const auto reference = find_column(reference_role(), names.reference, names.reference_unit, header, file);
    const Found reading = needed_column(reading_role(), names.reading, names.reading_unit, header, file);
    const Found other = reference ? *reference : needed_column(time_role(), names.time, names.time_unit, header, file);
    constexpr double seconds_of_ages = 1e13;
    constexpr double far_away = 1e9;
    const std::array<Column, 3> columns{
        Column{other.name, true, reference ? far_away : seconds_of_ages, false, other.unit},
        Column{reading.name, true, far_away, true, reading.unit},
        Column{"signal_share", false, 1e3, true, std::nullopt}};
    scenario::Table table =
        scenario::parse_table(text, file, columns, scenario::OtherColumns::ignored, mark_called(names.decimal, file));
    (reference ? log.reference : log.time) = std::move(table.columns[0]);
    log.reading = std::move(table.columns[1]);
    log.signal = std::move(table.columns[2]);
    log.lines = std::move(table.lines);
    for (const std::string& name : header) {
        if (name != other.name && name != reading.name && name != "signal_share") log.ignored.push_back(name);
    }
    const std::size_t needed = reference ? 3 : 2;
    if (log.reading.size() < needed) {
        reject_line(
            file, log.lines.empty() ? 0 : log.lines.back(),
            fmt::format("only {} {} of readings", log.reading.size(), log.reading.size() == 1 ? "line" : "lines"),
            fmt::format("at least {}", needed));
    }
    require_rising_time(log);
    return log;
}

BenchLog load_log(const std::string& path, const LogNames& names) {
    constexpr std::uintmax_t largest = 64U << 20U;
    return parse_log(scenario::read_text_file(path, largest), path, names);
}

void require_within_range(const BenchLog& log, const scenario::Scenario& s) {
    constexpr double leeway = 1.1;  // of a stage that reaches past the range
    const double span = s.mount.range[1] - s.mount.range[0];
    const auto require = [&](const std::vector<double>& values, const Role& role) {
        const double spread = spread_of(values);
        if (spread <= leeway * span) return;
        reject_line(log.file, 0, fmt::format("the {} spreads over {}", role.name, base::length_text(spread, 4)),
                    fmt::format("no more than the range of the scenario, {}", base::length_text(span, 4)),
                    fmt::format("if it is written in another unit, say so by {}-unit", role.option));
    };
    require(log.reading, reading_role());
    require(log.reference, reference_role());
}

}  // namespace spotwright::bench
