#include "sim/cli/sweep_result.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string_view>

#include "sim/cli/terminal.hpp"
#include "sim/record/infer_json.hpp"
#include "sim/record/json_number.hpp"
#include "sim/record/quantity_text.hpp"
#include "sim/record/text.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::cli {

namespace {

using nlohmann::ordered_json;

constexpr std::array sweep_levels{measure::Level::stable, measure::Level::marginal, measure::Level::unstable,
                                  measure::Level::unreadable};

// Quantities in a table for people. Their names head the columns, as in files.
constexpr std::array<std::string_view, 4> shown_in_table{"bias_um", "still_sd_um", "replaced_sd_um",
                                                         "expanded_uncertainty_um"};
constexpr std::array shown_extremes{std::string_view("valid_share"),
                                    std::string_view("peak_share"),
                                    std::string_view("bias_um"),
                                    std::string_view("bias_without_speckle_um"),
                                    std::string_view("still_sd_um"),
                                    std::string_view("replaced_sd_um"),
                                    std::string_view("expanded_uncertainty_um")};

std::size_t place_of_quantity(std::string_view name) {
    const auto all = measure::sweep_quantities();
    const auto found = std::find_if(all.begin(), all.end(), [name](const auto& each) { return each.name == name; });
    return static_cast<std::size_t>(found - all.begin());
}

std::string line_of_sweep(std::string_view head, const std::string& rest) {
    return fmt::format("  {:<13}{}\n", head, wrapped(rest, 15));
}

// A value of an axis: numbers to six significant digits.
std::string short_label(const study::AxisLabels& labels, std::size_t place) {
    if (labels.kind == study::AxisLabels::Kind::numbers) return fmt::format("{:.6g}", labels.numbers[place]);
    return printable(labels.words[place]);
}

std::string number_text(double value) {
    return std::isnan(value) ? "-" : fmt::format("{:.4g}", value);
}

std::string column_text(std::string_view name, const std::vector<double>& values) {
    const std::string_view uncertainty = measure::quantity_named(name).rounding.uncertainty;
    return record::number_in_column(name, values[place_of_quantity(name)],
                                    uncertainty.empty() ? 0.0 : values[place_of_quantity(uncertainty)]);
}

}  // namespace

SweepResult::SweepResult(const study::Sweep& sweep, std::int64_t kept)
    : sweep_(sweep),
      keeps_(sweep.points <= kept),
      least_(measure::sweep_quantities().size()),
      greatest_(measure::sweep_quantities().size()) {
    for (std::size_t i = 0; i < sweep.axes.size(); ++i) labels_.push_back(study::labels_of(sweep, i));
}

void SweepResult::add(std::int64_t point, const study::SweepPoint& result) {
    ++levels_[static_cast<std::size_t>(result.level)];
    for (std::size_t q = 0; q < result.values.size(); ++q) {
        const double value = result.values[q];
        if (std::isnan(value)) continue;
        // Of equal values the first point counts, whatever the order in which they come.
        const auto take = [&](Extreme& extreme, bool better) {
            const bool first_of_equals = value == extreme.value && point < extreme.point;
            if (extreme.point < 0 || better || first_of_equals) extreme = {value, point};
        };
        take(least_[q], value < least_[q].value);
        take(greatest_[q], value > greatest_[q].value);
    }
    if (!result.obstacle.empty()) {
        ++hindered_;
        constexpr std::size_t most_kinds = 1000;
        if (obstacles_.size() < most_kinds || obstacles_.contains(result.obstacle)) {
            Obstacle& kind = obstacles_[result.obstacle];
            kind.first = kind.points == 0 ? point : std::min(kind.first, point);
            ++kind.points;
        }
    }
    if (keeps_) points_.emplace(point, result);
}

std::string SweepResult::axes_text() const {
    std::string text;
    for (std::size_t i = 0; i < sweep_.axes.size(); ++i) {
        const std::vector<std::string>& words = labels_[i].words;
        constexpr std::size_t most_listed = 6;
        std::string values = fmt::format("{}", fmt::join(words, ", "));
        if (words.size() > most_listed) {
            values = fmt::format("{} values, {} to {}", words.size(), words.front(), words.back());
        }
        text += line_of_sweep(i == 0 ? "over" : "", printable(fmt::format("{} = {}", sweep_.axes[i].key, values)));
    }
    return text;
}

std::string SweepResult::place_text(std::int64_t point) const {
    const std::vector<std::size_t> places = study::places_of(sweep_, point);
    std::vector<std::string> words;
    for (std::size_t i = 0; i < places.size(); ++i) words.push_back(short_label(labels_[i], places[i]));
    return fmt::format("{}", fmt::join(words, ", "));
}

std::string SweepResult::points_table() const {
    std::vector<std::vector<std::string>> rows(1);
    for (const study::SweepAxis& axis : sweep_.axes) rows[0].push_back(axis.key);
    for (const std::string_view name : shown_in_table) rows[0].emplace_back(name);
    rows[0].emplace_back("verdict");
    if (!spreads_.empty()) rows[0].emplace_back("sensors of the sheet that share it");
    for (const auto& [point, result] : points_) {
        std::vector<std::string> row;
        const std::vector<std::size_t> places = study::places_of(sweep_, point);
        for (std::size_t i = 0; i < places.size(); ++i) row.push_back(short_label(labels_[i], places[i]));
        for (const std::string_view name : shown_in_table) row.push_back(column_text(name, result.values));
        row.emplace_back(result.obstacle.empty() ? measure::name_of(result.level) : "hindered");
        if (!spreads_.empty()) {
            const study::EnsembleSpread& spread = spreads_[static_cast<std::size_t>(point)];
            row.push_back(fmt::format("{} of {}", spread.at(result.level), spread.members));
        }
        rows.push_back(std::move(row));
    }
    return indented_table(rows);
}

std::string SweepResult::extremes_table() const {
    std::vector<std::vector<std::string>> rows{{"quantity", "least", "at", "greatest", "at"}};
    for (const std::string_view name : shown_extremes) {
        const std::size_t q = place_of_quantity(name);
        if (least_[q].point < 0) continue;
        rows.push_back({std::string(name), number_text(least_[q].value), place_text(least_[q].point),
                        number_text(greatest_[q].value), place_text(greatest_[q].point)});
    }
    return rows.size() > 1 ? indented_table(rows) : "";
}

std::string SweepResult::obstacles_text() const {
    if (hindered_ == 0) return {};
    std::string text = line_of_sweep("hindered", fmt::format("{} points give no reading", hindered_));
    std::vector<std::pair<std::int64_t, std::string>> kinds;  // most frequent first, then by place
    for (const auto& [obstacle, kind] : obstacles_) kinds.emplace_back(kind.first, obstacle);
    std::sort(kinds.begin(), kinds.end(), [this](const auto& one, const auto& other) {
        const std::int64_t a = obstacles_.at(one.second).points;
        const std::int64_t b = obstacles_.at(other.second).points;
        return a != b ? a > b : one.first < other.first;
    });
    constexpr std::size_t most_shown = 5;
    for (std::size_t i = 0; i < std::min(kinds.size(), most_shown); ++i) {
        text +=
            line_of_sweep("", fmt::format("{}: {}", obstacles_.at(kinds[i].second).points, printable(kinds[i].second)));
    }
    if (kinds.size() > most_shown)
        text += line_of_sweep("", fmt::format("and {} other kinds", kinds.size() - most_shown));
    return text;
}

std::string SweepResult::text() const {
    const scenario::Scenario& s = sweep_.scenario;
    std::string text = fmt::format("{}\n{}", printable(s.title.empty() ? s.file : s.title), axes_text());
    std::vector<std::string> counts;
    for (const measure::Level level : sweep_levels) {
        const std::int64_t count = levels_[static_cast<std::size_t>(level)];
        if (count > 0) counts.push_back(fmt::format("{} {}", count, measure::name_of(level)));
    }
    text += line_of_sweep("points", fmt::format("{}: {}", sweep_.points, fmt::join(counts, ", ")));
    text += sweep_.points <= most_points_in_table && keeps_ ? points_table() : extremes_table();
    return text + obstacles_text();
}

ordered_json SweepResult::value_json(std::size_t axis, std::size_t place) const {
    using Kind = study::AxisLabels::Kind;
    const study::AxisLabels& labels = labels_[axis];
    if (labels.kind == Kind::whole_numbers) return labels.whole[place];
    if (labels.kind == Kind::numbers) return labels.numbers[place];
    if (labels.of.empty()) return record::valid_utf8(labels.words[place]);
    ordered_json list = ordered_json::array();
    for (const std::vector<double>& column : labels.of) {
        if (!std::isnan(column[place])) list.push_back(column[place]);
    }
    return list;
}

ordered_json SweepResult::point_json(std::int64_t point, const study::SweepPoint& result) const {
    ordered_json settings = ordered_json::object();
    const std::vector<std::size_t> places = study::places_of(sweep_, point);
    for (std::size_t i = 0; i < places.size(); ++i) settings[sweep_.axes[i].key] = value_json(i, places[i]);
    ordered_json json{{"settings", settings}};
    for (std::size_t q = 0; q < result.values.size(); ++q) {
        json[std::string(measure::sweep_quantities()[q].name)] = record::json_number(result.values[q]);
    }
    json["verdict"] = measure::name_of(result.level);
    if (!spreads_.empty()) {
        json["ensemble"] = record::to_json(spreads_[static_cast<std::size_t>(point)], result.level);
    }
    json["obstacle"] = result.obstacle.empty() ? ordered_json() : ordered_json(record::valid_utf8(result.obstacle));
    return json;
}

ordered_json SweepResult::json() const {
    ordered_json over = ordered_json::array();
    for (std::size_t i = 0; i < sweep_.axes.size(); ++i) {
        ordered_json values = ordered_json::array();
        for (std::size_t k = 0; k < labels_[i].words.size(); ++k) values.push_back(value_json(i, k));
        over.push_back({{"key", sweep_.axes[i].key}, {"values", values}});
    }
    ordered_json verdicts = ordered_json::object();
    for (const measure::Level level : sweep_levels) {
        verdicts[std::string(measure::name_of(level))] = levels_[static_cast<std::size_t>(level)];
    }
    ordered_json results;
    if (keeps_) {
        results = ordered_json::array();
        for (const auto& [point, result] : points_) results.push_back(point_json(point, result));
    }
    return {{"title", record::valid_utf8(sweep_.scenario.title)},
            {"seed", sweep_.scenario.seed},
            {"over", over},
            {"points", sweep_.points},
            {"verdicts", verdicts},
            {"results", results}};
}

}  // namespace spotwright::cli
