#include "sim/scenario/sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <numbers>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/material.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::scenario {

namespace {

// A row of the table of keys: how a field of the file gets into the sheet. @return What is wrong; empty: nothing.
struct SheetKey {
    std::string_view name;
    std::function<std::string(Sheet&, const toml::node&)> read;
    std::string_view allowed;
};

constexpr double largest = 1e9;  // as written

std::optional<double> finite_number(const toml::node& node) {
    const std::optional<double> number = number_of(node);
    return number && std::isfinite(*number) && std::abs(*number) <= largest ? number : std::nullopt;
}

// Half a unit of the last digit, as the shortest text of the number has it.
double half_of_last_digit(double value) {
    const std::string text = fmt::format("{:.15g}", std::abs(value));
    const std::size_t exponent = text.find('e');
    const std::size_t point = text.find('.');
    const std::string mantissa = text.substr(0, exponent);
    const int decimals = point == std::string::npos ? 0 : static_cast<int>(mantissa.size() - point) - 1;
    const int power = exponent == std::string::npos ? 0 : std::stoi(text.substr(exponent + 1));
    return 0.5 * std::pow(10.0, power - decimals);
}

std::optional<Stated> stated_of(const toml::node& node) {
    if (const auto number = finite_number(node)) {
        const double half = half_of_last_digit(*number);
        return Stated{std::max(*number - half, 0.5 * *number), *number + half};
    }
    const toml::array* array = node.as_array();
    if (array == nullptr || array->size() != 2) return std::nullopt;
    const auto low = finite_number(*array->get(0));
    const auto high = finite_number(*array->get(1));
    if (!low || !high || *low > *high) return std::nullopt;
    return Stated{*low, *high};
}

std::optional<std::vector<double>> list_of(const toml::node& node) {
    std::vector<double> list;
    if (const auto number = finite_number(node)) return std::vector{*number};
    const toml::array* array = node.as_array();
    if (array == nullptr || array->empty()) return std::nullopt;
    for (const toml::node& entry : *array) {
        const auto number = finite_number(entry);
        if (!number || *number <= 0.0 || (!list.empty() && *number <= list.back())) return std::nullopt;
        list.push_back(*number);
    }
    return list;
}

std::string got(const toml::node& node) {
    return "cannot use " + node_text(node);
}

// Makers of rows. A value is above 0, in SI times `unit`.
template <class Member>
SheetKey stated_key(std::string_view name, double unit, Member member) {
    return {name,
            [unit, member](Sheet& sheet, const toml::node& node) {
                const std::optional<Stated> found = stated_of(node);
                if (!found || found->low <= 0.0) return got(node);
                member(sheet) = Stated{found->low * unit, found->high * unit};
                return std::string();
            },
            "a number above 0, or a range [low, high] of them"};
}

template <class Member>
SheetKey number_key(std::string_view name, double unit, Member member) {
    return {name,
            [unit, member](Sheet& sheet, const toml::node& node) {
                const std::optional<double> found = finite_number(node);
                if (!found || *found <= 0.0) return got(node);
                member(sheet) = *found * unit;
                return std::string();
            },
            "a number above 0"};
}

template <class Member>
SheetKey count_key(std::string_view name, Member member) {
    return {name,
            [member](Sheet& sheet, const toml::node& node) {
                const std::optional<std::int64_t> found = node.value_exact<std::int64_t>();
                constexpr std::int64_t most = 1000000;
                if (!found || *found < 1 || *found > most) return got(node);
                member(sheet) = *found;
                return std::string();
            },
            "a whole number from 1 to 1000000"};
}

template <class Member>
SheetKey pair_key(std::string_view name, double unit, bool positive, Member member) {
    return {name,
            [unit, positive, member](Sheet& sheet, const toml::node& node) {
                const toml::array* array = node.as_array();
                if (array == nullptr || array->size() != 2) return got(node);
                const auto first = finite_number(*array->get(0));
                const auto second = finite_number(*array->get(1));
                if (!first || !second || (positive && (*first <= 0.0 || *second <= 0.0))) return got(node);
                member(sheet) = Pair{*first * unit, *second * unit};
                return std::string();
            },
            positive ? "two numbers above 0" : "two numbers"};
}

template <class Member>
SheetKey text_key(std::string_view name, Member member) {
    return {name,
            [member](Sheet& sheet, const toml::node& node) {
                const auto found = node.value_exact<std::string>();
                if (!found) return got(node);
                member(sheet) = *found;
                return std::string();
            },
            "text in quotes"};
}

constexpr std::array<std::string_view, 2> mounts{"diffuse", "specular"};
constexpr std::array<std::string_view, 2> measures{"1/e2", "half maximum"};
constexpr std::array<std::string_view, 3> meanings{"standard deviation", "two standard deviations", "peak to peak"};
constexpr std::array<std::string_view, 4> classes{"1", "2", "3R", "3B"};
template <std::size_t N, class Set>
SheetKey sheet_word_key(std::string_view name, const std::array<std::string_view, N>& words, std::string_view allowed,
                        Set set) {
    return {name,
            [&words, set](Sheet& sheet, const toml::node& node) {
                const auto found = node.value_exact<std::string>();
                const auto place = std::find(words.begin(), words.end(), found.value_or(""));
                if (place == words.end()) return got(node);
                set(sheet, static_cast<int>(place - words.begin()));
                return std::string();
            },
            allowed};
}

SheetRepeatability& repeatability(Sheet& s) {
    if (!s.repeatability) s.repeatability.emplace();
    return *s.repeatability;
}

constexpr double percent = 0.01;
constexpr double milliradian = 1e-3;

std::vector<SheetKey> general_keys() {
    using base::mm, base::um;
    return {
        text_key("title", [](Sheet& s) -> std::string& { return s.title; }),
        sheet_word_key("principle", Principles::words, "\"triangulation\", \"phase-shift\" or \"pulsed\"",
                       [](Sheet& s, int word) { s.principle = Principles::all.at(static_cast<std::size_t>(word)); }),
        sheet_word_key("mount", mounts, "\"diffuse\" or \"specular\"",
                       [](Sheet& s, int word) { s.mount = static_cast<SheetMount>(word); }),
        number_key("reference_distance_mm", mm, [](Sheet& s) -> double& { return s.reference_distance; }),
        pair_key("range_mm", mm, false, [](Sheet& s) -> Pair& { return s.range; }),
        sheet_word_key("spot.measured_at", measures, "\"1/e2\" or \"half maximum\"",
                       [](Sheet& s, int word) { s.spot.measure = static_cast<SpotMeasure>(word); }),
        stated_key(
            "spot.in_plane_um", um, [](Sheet & s) -> auto& { return s.spot.in_plane; }),
        stated_key(
            "spot.out_of_plane_um", um, [](Sheet & s) -> auto& { return s.spot.out_of_plane; }),
        stated_key(
            "spot.in_plane_at_ends_um", um, [](Sheet & s) -> auto& { return s.spot.in_plane_at_ends; }),
        stated_key(
            "spot.in_plane_mm", mm, [](Sheet & s) -> auto& { return s.spot.in_plane; }),
        stated_key(
            "spot.out_of_plane_mm", mm, [](Sheet & s) -> auto& { return s.spot.out_of_plane; }),
        stated_key(
            "spot.in_plane_at_ends_mm", mm, [](Sheet & s) -> auto& { return s.spot.in_plane_at_ends; }),
        stated_key(
            "spot.divergence_mrad", milliradian, [](Sheet & s) -> auto& { return s.spot.divergence; }),
        stated_key(
            "light.wavelength_nm", base::nm, [](Sheet & s) -> auto& { return s.wavelength; }),
        stated_key(
            "light.power_mW", base::mW, [](Sheet & s) -> auto& { return s.power; }),
        count_key(
            "array.pixels", [](Sheet & s) -> auto& { return s.pixels; }),
        stated_key(
            "housing.windows_distance_mm", mm, [](Sheet & s) -> auto& { return s.windows_distance; }),
        pair_key("housing.window_mm", mm, true, [](Sheet& s) -> Pair& { return s.housing.window; }),
        number_key("housing.width_mm", mm, [](Sheet& s) -> double& { return s.housing.width; }),
        number_key("housing.depth_mm", mm, [](Sheet& s) -> double& { return s.housing.depth; }),
        number_key("housing.thickness_mm", mm, [](Sheet& s) -> double& { return s.housing.thickness; }),
        number_key("housing.beam_position_mm", mm, [](Sheet& s) -> double& { return s.housing.beam_position; }),
    };
}

std::string read_periods(Sheet& sheet, const toml::node& node) {
    const auto list = list_of(node);
    if (!list) return got(node);
    sheet.periods.clear();
    for (const double period : *list) sheet.periods.push_back(period * base::us);
    return {};
}

// Sampling can be slowed down: 2 to 32 times the shortest period, common practice. @param shortest  [s]
void offer_periods_from(double shortest, Sheet& sheet) {
    constexpr int doublings = 5;
    sheet.periods.clear();
    sheet.shortest_period_only = true;
    for (int i = 0; i <= doublings; ++i) sheet.periods.push_back(shortest * std::pow(2.0, i));
}

std::string read_shortest_period(Sheet& sheet, const toml::node& node) {
    const std::optional<double> shortest = finite_number(node);
    if (!shortest || *shortest <= 0.0) return got(node);
    offer_periods_from(*shortest * base::us, sheet);
    return {};
}

std::string read_sampling_rate(Sheet& sheet, const toml::node& node) {
    const std::optional<double> fastest = finite_number(node);
    if (!fastest || *fastest <= 0.0) return got(node);
    offer_periods_from(1.0 / (*fastest * base::kHz), sheet);
    return {};
}

std::string read_modulation(Sheet& sheet, const toml::node& node) {
    constexpr std::size_t most = 4;
    const auto list = list_of(node);
    if (!list || list->size() > most) return got(node);
    sheet.flight.modulation.clear();
    for (const double frequency : *list) sheet.flight.modulation.push_back(frequency * base::MHz);
    return {};
}

std::string read_laser_class(Sheet& sheet, const toml::node& node) {
    const auto number = node.value_exact<std::int64_t>();
    const std::string word = number ? fmt::format("{}", *number) : node.value_exact<std::string>().value_or("");
    if (std::find(classes.begin(), classes.end(), word) == classes.end()) return got(node);
    sheet.laser_class = word;
    return {};
}

std::string read_averages(Sheet& sheet, const toml::node& node) {
    const auto list = list_of(node);
    if (!list) return got(node);
    sheet.averages.clear();
    for (const double average : *list) {
        if (average != std::floor(average)) return got(node);
        sheet.averages.push_back(static_cast<std::int64_t>(average));
    }
    return {};
}

std::vector<SheetKey> performance_keys() {
    using base::us;
    return {
        {"light.laser_class", read_laser_class, "1, 2, \"3R\" or \"3B\""},
        {"timing.period_us", read_periods, "rising numbers above 0"},
        {"timing.shortest_period_us", read_shortest_period, "a number above 0"},
        pair_key(
            "timing.exposure_us", us, true, [](Sheet & s) -> auto& { return s.exposures; }),
        stated_key(
            "timing.white_exposure_us", us, [](Sheet & s) -> auto& { return s.white_exposure; }),
        {"timing.sampling_rate_kHz", read_sampling_rate, "a number above 0"},
        {"timing.averages", read_averages, "rising whole numbers above 0"},
        stated_key("repeatability.value_um", base::um, [](Sheet& s) -> Stated& { return repeatability(s).value; }),
        stated_key("repeatability.value_mm", base::mm, [](Sheet& s) -> Stated& { return repeatability(s).value; }),
        sheet_word_key("repeatability.meaning", meanings,
                       "\"standard deviation\", \"two standard deviations\" or \"peak to peak\"",
                       [](Sheet& s, int word) { repeatability(s).meaning = static_cast<Meaning>(word); }),
        count_key(
            "repeatability.readings", [](Sheet & s) -> auto& { return repeatability(s).readings; }),
        count_key(
            "repeatability.average", [](Sheet & s) -> auto& { return repeatability(s).average; }),
        number_key(
            "repeatability.period_us", us, [](Sheet & s) -> auto& { return repeatability(s).period; }),
        text_key("repeatability.material", [](Sheet& s) -> std::string& { return repeatability(s).material; }),
        stated_key(
            "resolution.step_um", base::um, [](Sheet & s) -> auto& { return s.resolution; }),
        stated_key(
            "resolution.step_mm", base::mm, [](Sheet & s) -> auto& { return s.resolution; }),
        stated_key(
            "linearity.percent_of_span", percent, [](Sheet & s) -> auto& { return s.linearity; }),
        stated_key(
            "temperature.percent_of_span_per_K", percent, [](Sheet & s) -> auto& { return s.temperature; }),
    };
}

std::vector<SheetKey> flight_keys() {
    return {
        {"flight.modulation_MHz", read_modulation, "1 to 4 rising numbers above 0"},
        stated_key(
            "flight.pulse_ns", base::ns, [](Sheet & s) -> auto& { return s.flight.pulse; }),
        stated_key(
            "flight.pulse_rate_kHz", base::kHz, [](Sheet & s) -> auto& { return s.flight.pulse_rate; }),
        count_key(
            "flight.pulses", [](Sheet & s) -> auto& { return s.flight.pulses; }),
    };
}

const std::vector<SheetKey>& sheet_keys() {
    static const std::vector<SheetKey> keys = [] {
        std::vector<SheetKey> all = general_keys();
        for (SheetKey& key : performance_keys()) all.push_back(std::move(key));
        for (SheetKey& key : flight_keys()) all.push_back(std::move(key));
        return all;
    }();
    return keys;
}

void read_field(const std::string& path, const Field& field, Sheet& sheet, std::vector<base::Problem>& problems) {
    if (path == "schema") {
        if (field.node->value<std::int64_t>().value_or(0) != 1)
            problems.push_back({field.value_location, got(*field.node), "1", ""});
        return;
    }
    const auto& keys = sheet_keys();
    const auto key = std::find_if(keys.begin(), keys.end(), [&](const SheetKey& each) { return each.name == path; });
    if (key == keys.end()) {
        std::vector<std::string> names;
        for (const SheetKey& each : keys) names.emplace_back(each.name);
        problems.push_back({field.key_location, printable("no such key of a data sheet: " + path), "",
                            base::did_you_mean(base::nearest_word(path, names))});
        return;
    }
    sheet.locations[path] = field.value_location;
    const std::string wrong = key->read(sheet, *field.node);
    if (!wrong.empty()) problems.push_back({field.value_location, printable(wrong), std::string(key->allowed), ""});
}

}  // namespace

double widths_ratio() {
    return std::sqrt(2.0 / std::numbers::ln2);
}

Stated stated(double si, double unit, int digits) {
    const double written = si / unit;
    const double step = std::pow(10.0, std::floor(std::log10(std::abs(written))) - (digits - 1));
    const double rounded = std::round(written / step) * step;
    return {(rounded - 0.5 * step) * unit, (rounded + 0.5 * step) * unit};
}

base::SourceLocation location_of(const Sheet& sheet, const std::string& key) {
    const auto found = sheet.locations.find(key);
    if (found != sheet.locations.end()) return found->second;
    base::SourceLocation location;
    location.file = sheet.file;
    location.key = key;
    return location;
}

Sheet parse_sheet(std::string_view text, const std::string& file) {
    const TomlSource source(text, file);
    Sheet sheet;
    sheet.file = file;
    std::vector<base::Problem> problems;
    for (const auto& [path, field] : source.fields()) read_field(path, field, sheet, problems);
    if (problems.empty()) check_together(sheet, problems);
    if (!problems.empty()) throw base::ScenarioError(std::move(problems));
    return sheet;
}

Sheet load_sheet(const std::filesystem::path& path) {
    return parse_sheet(read_text_file(path.string()), path.string());
}

}  // namespace spotwright::scenario
