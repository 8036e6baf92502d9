#include "sim/scenario/job.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::scenario {

namespace {

constexpr std::array<std::string_view, 4> shared_sections{"surroundings", "uncertainty", "requirement", "run"};
constexpr double largest_mm = 1e6;

// Reads one job and gathers what is wrong with it.
class JobReader {
public:
    JobReader(const TomlSource& source, FileReach reach) : source_(source), reach_(reach) {}

    Job read();

private:
    void complain(const base::SourceLocation& location, const std::string& message, std::string allowed = {},
                  std::string hint = {}) {
        problems_.push_back({location, printable(message), std::move(allowed), std::move(hint)});
    }
    [[nodiscard]] std::optional<double> length(const std::string& key, const toml::node& node,
                                               const base::SourceLocation& location);
    void read_clearance();
    void read_place(const Field& field);
    void read_span();
    void check_names();
    void read_parts();
    void read_part(const toml::table& table, std::size_t index);
    void read_tilt_range(const Field& field, Pair& range);

    const TomlSource& source_;
    FileReach reach_;
    std::vector<base::Problem> problems_;
    Job job_;
};

std::optional<double> JobReader::length(const std::string& key, const toml::node& node,
                                        const base::SourceLocation& location) {
    const std::optional<double> number = number_of(node);
    if (number && std::isfinite(*number) && *number > 0.0 && *number <= largest_mm) return *number * base::mm;
    complain(location, fmt::format("{}, got {}", number ? "out of bounds" : "must be a number", node_text(node)),
             fmt::format("0 < {} <= {:g} mm", key, largest_mm));
    return std::nullopt;
}

void JobReader::read_clearance() {
    constexpr const char* allowed = "[least, most], least < most, both above 0 mm";
    const Field* field = source_.find("job.clearance_mm");
    if (const Field* at = source_.find("job.at_mm")) {
        if (field != nullptr) {
            complain(at->key_location, "both at_mm and clearance_mm", "where the sensor stands, or between what");
            return;
        }
        read_place(*at);
        return;
    }
    if (field == nullptr) {
        complain(source_.absent("job.clearance_mm"), "required, but missing",
                 std::string(allowed) + "; or at_mm, where the sensor stands");
        return;
    }
    const toml::array* array = field->node->as_array();
    if (array == nullptr || array->size() != 2) {
        complain(field->value_location, "must be two numbers, got " + node_text(*field->node), allowed);
        return;
    }
    const auto least = length("clearance_mm", *array->get(0), field->value_location);
    const auto most = length("clearance_mm", *array->get(1), field->value_location);
    if (!least || !most) return;
    if (*least >= *most) complain(field->value_location, "least is not below most", allowed);
    job_.clearance = {*least, *most};
}

// From the sensor's front to the middle of the span.
void JobReader::read_place(const Field& field) {
    const auto at = length("at_mm", *field.node, field.value_location);
    if (!at) return;
    job_.at_one_place = true;
    job_.clearance = {*at, *at};
}

void JobReader::read_span() {
    const Field* field = source_.find("job.span_mm");
    if (field == nullptr) {
        complain(source_.absent("job.span_mm"), "required, but missing", "a length above 0 mm");
        return;
    }
    if (const auto span = length("span_mm", *field->node, field->value_location)) job_.span = *span;
    if (job_.at_one_place) {
        const double at = job_.clearance[0];
        if (0.5 * job_.span >= at) {
            complain(field->value_location,
                     fmt::format("a span of {:g} mm about {:g} mm reaches the sensor's front", job_.span / base::mm,
                                 at / base::mm),
                     fmt::format("value < {:g} mm", 2.0 * at / base::mm));
        }
        constexpr double rounding = 1e-9;  // what sums of lengths may lose
        job_.clearance = {at - 0.5 * job_.span - rounding, at + 0.5 * job_.span + rounding};
        return;
    }
    const double window = job_.clearance[1] - job_.clearance[0];
    if (problems_.empty() && job_.span > window) {
        complain(field->value_location,
                 fmt::format("a span of {:g} mm does not fit into a clearance of {:g} to {:g} mm", job_.span / base::mm,
                             job_.clearance[0] / base::mm, job_.clearance[1] / base::mm),
                 fmt::format("value <= {:g} mm", window / base::mm));
    }
}

// Names at the top level and in [job]; those of a scenario's sections are the scenario's business.
void JobReader::check_names() {
    std::vector<std::string> known{"schema", "title", "seed", "job", "part"};
    known.insert(known.end(), shared_sections.begin(), shared_sections.end());
    const auto check = [&](const std::string& path, const Field& field, const std::vector<std::string>& names) {
        const std::string name = path.substr(path.rfind('.') + 1);
        if (std::find(names.begin(), names.end(), name) != names.end()) return;
        complain(field.key_location, "no such key of a job", base::alternatives(names),
                 base::did_you_mean(base::nearest_word(name, names)));
    };
    const std::vector<std::string> of_job{"clearance_mm", "at_mm", "span_mm"};
    for (const auto& [path, field] : source_.sections()) {
        if (field.section.empty()) check(path, field, known);
    }
    for (const auto& [path, field] : source_.fields()) {
        if (field.section.empty()) check(path, field, known);
        if (field.section == "job") check(path, field, of_job);
    }
}

void JobReader::read_tilt_range(const Field& field, Pair& range) {
    constexpr double steepest_deg = 45.0;
    const toml::array* array = field.node->as_array();
    bool sound = array != nullptr && array->size() == 2;
    for (std::size_t i = 0; sound && i < 2; ++i) {
        const std::optional<double> number = number_of(*array->get(i));
        sound = number && *number >= 0.0 && *number <= steepest_deg;
        if (sound) range[i] = *number * base::degree;
    }
    if (sound) return;
    complain(field.value_location, "must be two angles, got " + node_text(*field.node),
             fmt::format("[in-plane, out-of-plane], each 0 to {:g} deg to either side", steepest_deg));
}

void JobReader::read_part(const toml::table& table, std::size_t index) {
    const TomlSource inside(source_, table);
    JobPart part;
    part.title = fmt::format("part {}", index + 1);
    if (const Field* field = inside.find("tilt_range_deg")) read_tilt_range(*field, part.tilt_range);
    for (const char* key : {"target.displacement_mm", "mount.tilt_deg"}) {
        if (const Field* field = inside.find(key)) {
            complain(field->key_location, "a job leaves the mounting open", "clearance_mm and span_mm of [job]");
        }
    }
    const auto of_job = [](const std::string& path) {
        const std::string_view section = std::string_view(path).substr(0, path.find('.'));
        return path != "seed" &&
               std::find(shared_sections.begin(), shared_sections.end(), section) == shared_sections.end();
    };
    const auto of_part = [](const std::string& path) { return path == "tilt_range_deg"; };
    try {
        const std::array<PartOfScenario, 2> both{{{&source_, of_job}, {&inside, of_part}}};
        part.scenario = parse_without_sensor(both, job_.file, reach_);
        if (!part.scenario.title.empty()) part.title = part.scenario.title;
        job_.parts.push_back(std::move(part));
    } catch (const base::ScenarioError& error) {
        for (const base::Problem& problem : error.problems()) {
            // What all parts share is wrong once.
            const auto same = [&problem](const base::Problem& other) {
                return problem.location.line > 0 && other.location.line == problem.location.line &&
                       other.location.column == problem.location.column && other.message == problem.message;
            };
            if (std::none_of(problems_.begin(), problems_.end(), same)) problems_.push_back(problem);
        }
    }
}

void JobReader::read_parts() {
    constexpr const char* allowed = "one or more [[part]] tables, each with [part.target]";
    const Field* field = source_.find("part");
    const toml::array* array = field == nullptr ? nullptr : field->node->as_array();
    if (array == nullptr || array->empty()) {
        const auto section = source_.sections().find("part");
        const bool single = section != source_.sections().end();
        complain(single ? section->second.key_location : source_.absent("part"),
                 single ? "a single table, not a list of parts" : "required, but missing", allowed,
                 single ? "write [[part]]" : "");
        return;
    }
    for (std::size_t i = 0; i < array->size(); ++i) {
        if (const toml::table* table = array->get(i)->as_table()) {
            read_part(*table, i);
        } else {
            complain(field->value_location, "must be a table, got " + node_text(*array->get(i)), allowed);
        }
    }
}

Job JobReader::read() {
    job_.file = source_.file();
    if (const Field* title = source_.find("title")) job_.title = title->node->value_or(std::string());
    if (const Field* schema = source_.find("schema"); schema != nullptr && schema->node->value_or(0) != 1) {
        complain(schema->value_location, "this program reads schema 1, got " + node_text(*schema->node), "1");
    }
    check_names();
    read_clearance();
    read_span();
    read_parts();
    if (!problems_.empty()) throw base::ScenarioError(std::move(problems_));
    return std::move(job_);
}

}  // namespace

Job parse_job(std::string_view text, const std::string& file, FileReach reach) {
    const TomlSource source(text, file);
    return JobReader(source, reach).read();
}

Job load_job(const std::filesystem::path& path, FileReach reach) {
    return parse_job(read_text_file(path.string()), path.string(), reach);
}

}  // namespace spotwright::scenario
