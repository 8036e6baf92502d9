// Axes of a sweep: from text, checked, and as labels.
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>
#include <optional>
#include <set>
#include <type_traits>
#include <utility>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/study/sweep.hpp"

namespace spotwright::study {

namespace {

using base::Problem;

constexpr const char* ways_to_write = "KEY=START:STOP:COUNT, or KEY=VALUE,VALUE,...";

base::SourceLocation place_of_axis(std::string_view key) {
    base::SourceLocation place;
    place.key = base::printable(key);
    place.file = fmt::format("<--over {}>", place.key);
    return place;
}

[[noreturn]] void reject_axis(std::string_view key, const std::string& message, const std::string& allowed,
                              const std::string& hint = {}) {
    throw base::ScenarioError({{place_of_axis(key), message, allowed, hint}});
}

std::string_view trim(std::string_view text) {
    const std::size_t begin = text.find_first_not_of(" \t");
    if (begin == std::string_view::npos) return {};
    return text.substr(begin, text.find_last_not_of(" \t") + 1 - begin);
}

// Parts at a character that stands outside brackets and quotes.
std::vector<std::string_view> parts_of(std::string_view text, char separator) {
    std::vector<std::string_view> parts;
    std::size_t begin = 0;
    int depth = 0;
    char quote = '\0';
    for (std::size_t i = 0; i < text.size(); ++i) {
        const char c = text[i];
        if (quote != '\0') {
            if (c == '\\' && quote == '"') ++i;
            if (c == quote) quote = '\0';
        } else if (c == '"' || c == '\'') {
            quote = c;
        } else if (c == '[' || c == '{') {
            ++depth;
        } else if (c == ']' || c == '}') {
            --depth;
        } else if (c == separator && depth <= 0) {
            parts.push_back(trim(text.substr(begin, i - begin)));
            begin = i + 1;
        }
    }
    parts.push_back(trim(text.substr(begin)));
    return parts;
}

template <class Number>
std::optional<Number> number_of(std::string_view text) {
    if (text.starts_with('+')) text.remove_prefix(1);
    if constexpr (std::is_same_v<Number, double>) {
        return base::number_of(text);
    } else {
        Number value{};
        const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
        if (text.empty() || error != std::errc() || end != text.data() + text.size()) return std::nullopt;
        return value;
    }
}

std::vector<std::string> evenly_spaced(std::string_view key, const std::vector<std::string_view>& parts) {
    const auto end_of = [&](std::string_view text) {
        const auto value = number_of<double>(text);
        if (value && std::isfinite(*value)) return *value;
        reject_axis(key, fmt::format("no number to start or stop at: \"{}\"", base::printable(text)), ways_to_write);
    };
    const double start = end_of(parts[0]);
    const double stop = end_of(parts[1]);
    const auto count = number_of<std::int64_t>(parts[2]);
    if (!count || *count < 1 || *count > most_axis_values) {
        reject_axis(key, fmt::format("no count of values: \"{}\"", base::printable(parts[2])),
                    fmt::format("a whole number from 1 to {}", most_axis_values));
    }
    if (*count == 1 && start != stop) {
        reject_axis(key, fmt::format("one value cannot be both {} and {}", start, stop), "a count of at least 2");
    }
    std::vector<std::string> values;
    values.reserve(static_cast<std::size_t>(*count));
    for (std::int64_t i = 0; i < *count; ++i) {
        const double steps = static_cast<double>(*count - 1);
        double value = i == 0 ? start : start + static_cast<double>(i) * (stop - start) / steps;
        if (i == *count - 1) value = stop;
        values.push_back(fmt::format("{}", value));
    }
    return values;
}

}  // namespace

SweepAxis parse_axis(std::string_view text) {
    const std::size_t equals = text.find('=');
    const std::string_view key = trim(text.substr(0, equals));
    if (equals == std::string_view::npos || key.empty()) {
        reject_axis(key, fmt::format("no key with values: \"{}\"", base::printable(text)), ways_to_write);
    }
    const std::string_view values = trim(text.substr(equals + 1));
    const std::vector<std::string_view> listed = parts_of(values, ',');
    const std::vector<std::string_view> bounds = parts_of(values, ':');
    SweepAxis axis{std::string(key), {}};
    if (listed.size() == 1 && bounds.size() == 3) {
        axis.values = evenly_spaced(key, bounds);
        return axis;
    }
    if (listed.size() == 1 && bounds.size() == 2 && number_of<double>(bounds[0]) && number_of<double>(bounds[1])) {
        reject_axis(key, fmt::format("how many values from {} to {}?", bounds[0], bounds[1]), ways_to_write);
    }
    for (const std::string_view value : listed) {
        if (value.empty()) reject_axis(key, "a value is missing", ways_to_write);
        axis.values.emplace_back(value);
    }
    return axis;
}

namespace {

// A key's name, and which of its numbers.
struct KeyPart {
    std::string key;
    std::optional<std::int64_t> index;
};

KeyPart part_of(const std::string& text) {
    const std::size_t bracket = text.ends_with(']') ? text.find('[') : std::string::npos;
    if (bracket == std::string::npos) return {text, std::nullopt};
    return {text.substr(0, bracket),
            number_of<std::int64_t>(std::string_view(text).substr(bracket + 1, text.size() - bracket - 2))};
}

class SweepChecker {
public:
    SweepChecker(const scenario::Scenario& scenario, const std::vector<SweepAxis>& axes)
        : scenario_(scenario), axes_(axes) {}

    std::int64_t checked_points();

private:
    void complain(const SweepAxis& axis, const std::string& message, std::string allowed = {}) {
        problems_.push_back({place_of_axis(axis.key), message, std::move(allowed), {}});
    }
    void check_values(const SweepAxis& axis);
    void check_once(const SweepAxis& axis);
    void check_pairs();

    const scenario::Scenario& scenario_;
    const std::vector<SweepAxis>& axes_;
    std::vector<Problem> problems_;
};

// Each value alone. One key that is wrong in the same way for every value is reported once.
void SweepChecker::check_values(const SweepAxis& axis) {
    if (axis.values.empty()) {
        complain(axis, "no value", ways_to_write);
        return;
    }
    if (axis.key.find('=') != std::string::npos) {  // the setting would be one of another key
        complain(axis, "no such key");
        return;
    }
    std::vector<std::string> settings;
    settings.reserve(axis.values.size());
    for (const std::string& value : axis.values) settings.push_back(axis.key + "=" + value);
    constexpr std::size_t most_reported = 20;
    std::set<std::string> messages;
    for (Problem& problem : scenario::problems_of(scenario_, settings)) {
        if (messages.size() == most_reported || !messages.insert(problem.message).second) continue;
        if (problem.location.file.starts_with("<--set")) problem.location = place_of_axis(axis.key);
        problems_.push_back(std::move(problem));
    }
    if (messages.empty()) check_once(axis);
}

void SweepChecker::check_once(const SweepAxis& axis) {
    std::set<std::string> seen;
    for (const std::string& value : axis.values) {
        const std::string written = scenario::value_of_setting(scenario_, axis.key + "=" + value);
        if (seen.insert(written).second) continue;
        complain(axis, fmt::format("a value is listed twice: {}", base::printable(written)), "each value once");
        return;
    }
}

void SweepChecker::check_pairs() {
    for (std::size_t i = 0; i < axes_.size(); ++i) {
        for (std::size_t k = 0; k < i; ++k) {
            const KeyPart one = part_of(axes_[i].key);
            const KeyPart other = part_of(axes_[k].key);
            if (one.key != other.key || (one.index && other.index && *one.index != *other.index)) continue;
            complain(axes_[i], one.index == other.index ? "the key is listed twice" : "a part of another axis",
                     "each key once, as a whole or number by number");
        }
    }
}

std::int64_t SweepChecker::checked_points() {
    base::SourceLocation place;
    place.file = "<--over>";
    if (axes_.empty()) problems_.push_back({place, "no key to sweep over", ways_to_write, ""});
    if (axes_.size() > most_sweep_axes) {
        problems_.push_back(
            {place, fmt::format("{} axes", axes_.size()), fmt::format("up to {}", most_sweep_axes), ""});
    }
    std::int64_t points = 1;
    bool too_many = false;
    for (const SweepAxis& axis : axes_) {
        check_values(axis);
        const auto count = static_cast<std::int64_t>(std::max<std::size_t>(axis.values.size(), 1));
        too_many = too_many || count > most_sweep_points / points;
        if (!too_many) points *= count;
    }
    if (too_many) problems_.push_back({place, "too many points", fmt::format("up to {}", most_sweep_points), ""});
    check_pairs();
    if (!problems_.empty()) throw base::ScenarioError(std::move(problems_));
    return points;
}

}  // namespace

namespace {

// Values as the program writes them, so that 20 and 20.0 are one. Texts stay as they are, quotes included.
void write_alike(const scenario::Scenario& scenario, SweepAxis& axis) {
    const scenario::Key* key = scenario::find_key_of(axis.key);
    if (key == nullptr || std::holds_alternative<scenario::TextKey>(key->access) ||
        std::holds_alternative<scenario::TextListKey>(key->access)) {
        return;
    }
    for (std::string& value : axis.values)
        value = scenario::value_of_setting(scenario, fmt::format("{}={}", axis.key, value));
}

}  // namespace

Sweep make_sweep(scenario::Scenario scenario, std::vector<SweepAxis> axes) {
    for (SweepAxis& axis : axes) {
        axis.key = trim(axis.key);
        const KeyPart part = part_of(axis.key);
        if (part.index) axis.key = fmt::format("{}[{}]", part.key, *part.index);
    }
    const std::int64_t points = SweepChecker(scenario, axes).checked_points();
    for (SweepAxis& axis : axes) write_alike(scenario, axis);
    return {std::move(scenario), std::move(axes), points};
}

std::vector<std::size_t> places_of(const Sweep& sweep, std::int64_t point) {
    std::vector<std::size_t> places(sweep.axes.size());
    for (std::size_t i = sweep.axes.size(); i-- > 0;) {
        const auto count = static_cast<std::int64_t>(sweep.axes[i].values.size());
        places[i] = static_cast<std::size_t>(point % count);
        point /= count;
    }
    return places;
}

std::vector<std::string> settings_of(const Sweep& sweep, std::int64_t point) {
    const std::vector<std::size_t> places = places_of(sweep, point);
    std::vector<std::string> settings;
    for (std::size_t i = 0; i < places.size(); ++i) {
        settings.push_back(sweep.axes[i].key + "=" + sweep.axes[i].values[places[i]]);
    }
    return settings;
}

namespace {

// Numbers of a list as TOML; none where it is no list of numbers.
std::optional<std::vector<double>> numbers_in(std::string_view written) {
    if (!written.starts_with('[')) return std::nullopt;
    std::vector<double> numbers;
    for (const std::string_view part : parts_of(written.substr(1, written.size() - 2), ',')) {
        const auto value = number_of<double>(part);
        if (!value) return std::nullopt;
        numbers.push_back(*value);
    }
    return numbers;
}

// What each place of lists holds; empty unless all are lists of numbers.
std::vector<std::vector<double>> places_of_lists(const std::vector<std::string>& written) {
    std::vector<std::vector<double>> columns;
    for (std::size_t i = 0; i < written.size(); ++i) {
        const auto numbers = numbers_in(written[i]);
        if (!numbers) return {};
        const std::vector<double> absent(written.size(), std::numeric_limits<double>::quiet_NaN());
        if (columns.size() < numbers->size()) columns.resize(numbers->size(), absent);
        for (std::size_t k = 0; k < numbers->size(); ++k) columns[k][i] = (*numbers)[k];
    }
    return columns;
}

}  // namespace

AxisLabels labels_of(const Sweep& sweep, std::size_t axis) {
    const SweepAxis& from = sweep.axes.at(axis);
    const scenario::Key& key = *scenario::find_key_of(from.key);
    AxisLabels labels;
    const std::string_view symbol = base::unit_of(key.name).symbol;
    labels.units = symbol.empty() ? "1" : symbol;
    labels.meaning = key.meaning;
    std::vector<std::string> written;
    for (const std::string& value : from.values) {
        written.push_back(scenario::value_of_setting(sweep.scenario, from.key + "=" + value));
    }
    const bool is_text = std::holds_alternative<scenario::TextKey>(key.access);
    for (const std::string& text : written) {
        const auto number = number_of<double>(text);
        if (number && !is_text) labels.numbers.push_back(*number);
        if (const auto whole = number_of<std::int64_t>(text)) labels.whole.push_back(*whole);
    }
    labels.kind = AxisLabels::Kind::words;
    if (labels.numbers.size() == written.size()) {
        const bool are_whole = std::holds_alternative<scenario::IntegerKey>(key.access);
        labels.kind = are_whole ? AxisLabels::Kind::whole_numbers : AxisLabels::Kind::numbers;
    } else {
        labels.numbers.clear();
    }
    if (labels.kind != AxisLabels::Kind::whole_numbers) labels.whole.clear();
    labels.of = places_of_lists(written);
    // Numbers and lists stand there as the user wrote them, for they are looked up by it.
    const bool as_written = labels.kind != AxisLabels::Kind::words || !labels.of.empty();
    labels.words = as_written ? from.values : written;
    return labels;
}

}  // namespace spotwright::study
