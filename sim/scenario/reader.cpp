#include "sim/scenario/reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "sim/base/words.hpp"
#include "sim/scenario/checks.hpp"
#include "sim/scenario/design_rule.hpp"
#include "sim/scenario/resolve.hpp"
#include "sim/scenario/input_files.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/scenario/schema_values.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/scenario/store_value.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::scenario {

namespace {

using base::Problem;

// Reads one scenario and gathers what is wrong with it.
class Reader {
public:
    Reader(std::string file, FileReach reach) {
        scenario_.file = std::move(file);
        scenario_.reach = reach;
    }
    explicit Reader(Scenario scenario) : scenario_(std::move(scenario)) {}

    void read_file(const TomlSource& source);
    void read_parts(std::span<const PartOfScenario> parts);
    void take_sensor(const std::string& name, const base::SourceLocation& location);
    void change_sensor(const base::SourceLocation& location);
    void apply_setting(const std::string& setting);
    std::vector<Problem> problems_of_names(const std::string& key);
    std::vector<Problem> take_problems() { return std::exchange(problems_, {}); }
    Scenario unfinished() { return std::move(scenario_); }
    Scenario finish();

private:
    void complain(const base::SourceLocation& location, const std::string& message, std::string allowed = {},
                  std::string hint = {}) {
        problems_.push_back(Problem{location, printable(message), std::move(allowed), std::move(hint)});
    }
    void report_unknown(const base::SourceLocation& location, const std::string& path);
    void read_sensor(const TomlSource& source);
    void read_part(const PartOfScenario& part);
    void check_schema_version(const TomlSource& source);

    Scenario scenario_;
    std::vector<Problem> problems_;
};

const Key* find_key(std::string_view path) {
    const std::size_t dot = path.rfind('.');
    const std::string_view section = path.substr(0, dot == std::string_view::npos ? 0 : dot);
    const std::string_view name = path.substr(dot + 1);
    for (const Key& key : schema()) {
        if (key.name == name && key.section == section && dot != 0) return &key;
    }
    return nullptr;
}

// Where the index of one number of several begins; none: a whole key.
std::size_t bracket_of(std::string_view path) {
    return path.ends_with(']') ? path.find('[') : std::string_view::npos;
}

std::string without_prefix(const std::string& path) {
    return path.starts_with(design_prefix) ? path.substr(design_prefix.size()) : path;
}

// The key of a setting: `key = value` is meant like `key=value`.
std::string trimmed_path(const std::string& setting) {
    std::string path = setting.substr(0, setting.find('='));
    path.erase(path.find_last_not_of(' ') + 1);
    return without_prefix(path);
}

// Keys whose value names a material or a file.
bool names_something(const Key& key) {
    const bool is_text = std::holds_alternative<TextKey>(key.access);
    return (is_text && key.name != "title") || std::holds_alternative<TextListKey>(key.access);
}

bool is_section(const std::string& path) {
    const auto here = [&path](const Key& key) { return key.section == path; };
    return !path.empty() && std::any_of(schema().begin(), schema().end(), here);
}

// True for what stands in a section that is itself unknown: one report is enough.
bool inside_unknown(const Field& field) {
    return !field.section.empty() && !is_section(field.section);
}

// The keys of a section, where they are few; empty of a section that is not known.
std::string keys_of_section(const std::string& path) {
    constexpr std::size_t few = 8;
    const std::string_view section = std::string_view(path).substr(0, std::min(path.rfind('.'), path.size()));
    std::vector<std::string> names;
    for (const Key& key : schema()) {
        if (!key.section.empty() && key.section == section) names.emplace_back(key.name);
    }
    return names.empty() || names.size() > few ? std::string() : base::alternatives(names);
}

// The known name that was probably meant: the same key of another section, or the nearest in spelling, first within
// the section, then anywhere.
std::string suggestion(const std::string& path) {
    const std::size_t dot = path.rfind('.');
    const std::string_view section = std::string_view(path).substr(0, dot == std::string::npos ? 0 : dot);
    const std::string_view name = std::string_view(path).substr(dot + 1);
    std::vector<std::string> here;
    std::vector<std::string> anywhere;
    for (const Key& key : schema()) {
        if (key.name == name) return dotted(key);
        anywhere.emplace_back(key.name);
        if (key.section == section) here.emplace_back(key.name);
        if (section.empty() && !key.section.empty()) here.emplace_back(key.section);
    }
    if (section.empty()) here.emplace_back("schema");
    const std::string nearest = base::nearest_word(name, here);
    if (!nearest.empty()) return section.empty() ? nearest : fmt::format("{}.{}", section, nearest);
    const std::string elsewhere = base::nearest_word(name, anywhere);
    return elsewhere.empty() ? "" : suggestion(elsewhere);
}

// Sections that other kinds of files have: what the file is then.
std::string_view kind_of_file_with(std::string_view path) {
    const std::string_view section = path.substr(0, path.find_first_of(".["));
    if (section == "part") return "this is a job: `spotwright shortlist` reads it";
    if (section == "offers" || section == "ensemble") return "this is a sensor file: a scenario takes it by `sensor`";
    if (section == "spot" || section == "light" || section == "timing") {
        return "this looks like a data sheet: `spotwright infer` reads it";
    }
    return "";
}

void Reader::report_unknown(const base::SourceLocation& location, const std::string& path) {
    if (const std::string_view kind = kind_of_file_with(path); !kind.empty()) {
        complain(location, "no such key", "", std::string(kind));
        return;
    }
    if (is_section(path)) {
        complain(location, "a section, not a key", fmt::format("[{}] with keys below it", path));
        return;
    }
    // Hundreds of unknown keys are not misspelt one by one, and looking for each one's neighbours takes long.
    constexpr std::size_t most_hints = 200;
    const std::string nearest = problems_.size() < most_hints ? suggestion(path) : "";
    const std::string keys = keys_of_section(path);
    // Beside all keys of the section, a word that is merely spelled alike elsewhere only leads astray.
    const auto name_in = [](const std::string& of) { return of.substr(of.rfind('.') + 1); };
    const bool same_section = nearest.substr(0, nearest.rfind('.')) == path.substr(0, path.rfind('.'));
    const bool helps = keys.empty() || same_section || name_in(nearest) == name_in(path);
    complain(location, "no such key", keys, helps ? base::did_you_mean(nearest) : std::string());
}

void Reader::read_file(const TomlSource& source) {
    check_schema_version(source);
    for (const auto& [path, section] : source.sections()) {
        if (path == "schema" || inside_unknown(section)) continue;
        if (!is_section(path) && find_key(path) == nullptr) report_unknown(section.key_location, path);
    }
    for (const auto& [path, field] : source.fields()) {
        if (path == "schema" || inside_unknown(field)) continue;
        const Key* key = find_key(path);
        if (key == nullptr) {
            report_unknown(field.key_location, path);
        } else {
            store_value(*key, *field.node, field.value_location, scenario_, problems_);
        }
    }
    for (const auto& [path, section] : source.sections()) {
        const Key* key = find_key(path);
        if (key != nullptr) store_value(*key, *section.node, section.value_location, scenario_, problems_);
    }
}

void Reader::check_schema_version(const TomlSource& source) {
    const Field* field = source.find("schema");
    if (const auto section = source.sections().find("schema"); section != source.sections().end()) {
        field = &section->second;
    }
    if (field == nullptr) return;
    const auto version = field->node->value_exact<std::int64_t>();
    if (version != 1)
        complain(field->value_location, "this program reads schema 1, got " + node_text(*field->node), "1");
}

void Reader::read_part(const PartOfScenario& part) {
    const auto skipped = [&part](const std::string& path) { return part.leaves_alone && part.leaves_alone(path); };
    for (const auto& [path, section] : part.source->sections()) {
        const bool known = is_section(path) || find_key(path) != nullptr;
        if (!skipped(path) && !inside_unknown(section) && !known) report_unknown(section.key_location, path);
    }
    for (const auto& [path, field] : part.source->fields()) {
        if (skipped(path) || inside_unknown(field)) continue;
        const Key* key = find_key(path);
        if (key == nullptr) {
            report_unknown(field.key_location, path);
        } else if (path == "sensor" || !free_to_user(*key)) {
            complain(field.key_location, "a key of the sensor: a job leaves sensors open",
                     "keys of target, motion, surroundings, uncertainty, requirement and run");
        } else {
            store_value(*key, *field.node, field.value_location, scenario_, problems_);
        }
    }
}

void Reader::read_parts(std::span<const PartOfScenario> parts) {
    for (const PartOfScenario& part : parts) read_part(part);
}

// The keys of a sensor file: those of the sensor, and what is no key.
void Reader::read_sensor(const TomlSource& source) {
    scenario_.sensor_file = read_sensor_file(source, problems_);
    check_schema_version(source);
    for (const auto& [path, field] : source.fields()) {
        if (is_sensor_file_path(path)) continue;
        const Key* key = find_key(path);
        if (key == nullptr) {
            report_unknown(field.key_location, path);
        } else if (!belongs_to_sensor(*key)) {
            complain(field.key_location, "no key of a sensor: it belongs to the scenario",
                     "principle and keys of mount, housing, emitter, receiver, detector, flight, thermal, exposure, "
                     "reading; title, offers, ensemble");
        } else {
            store_value(*key, *field.node, field.value_location, scenario_, problems_);
        }
    }
}

// A sensor in place of what stands there: its keys, all others of a sensor at their defaults.
void Reader::take_sensor(const std::string& name, const base::SourceLocation& location) {
    forget_sensor(scenario_);
    if (name.empty()) return;
    if (name.ends_with(".toml")) {
        if (const std::optional<Problem> refused = refused_file(scenario_, location, name)) {
            problems_.push_back(*refused);
            return;
        }
    }
    try {
        if (const std::optional<SensorText> found = sensor_text(name, scenario_.file)) {
            const std::size_t before = problems_.size();
            try {
                read_sensor(TomlSource(found->text, found->file));
            } catch (const base::ScenarioError& error) {
                problems_.insert(problems_.end(), error.problems().begin(), error.problems().end());
            }
            if (!name.ends_with(".toml")) return;
            const auto first = problems_.begin() + static_cast<std::ptrdiff_t>(before);
            const std::vector<Problem> shown = shown_problems(scenario_, found->file, {first, problems_.end()});
            std::copy(shown.begin(), shown.end(), first);
            return;
        }
        const std::string nearest = base::nearest_word(name, sensor_names());
        complain(location, fmt::format("no such sensor: \"{}\"", name),
                 "a name of the library (`spotwright sensors` lists them), or a sensor file (.toml)",
                 base::did_you_mean(nearest));
    } catch (const base::ScenarioError& error) {
        problems_.insert(problems_.end(), error.problems().begin(), error.problems().end());
    } catch (const base::Error& error) {
        complain(location, error.what());
    }
}

// Another sensor before the same part: what the user wrote stays written.
void Reader::change_sensor(const base::SourceLocation& location) {
    Scenario before = scenario_;
    take_sensor(scenario_.sensor, location);
    for (const auto& [name, place] : before.locations) {
        const Key* key = find_key(name);
        if (key == nullptr || !belongs_to_sensor(*key) || !written_by_user(before, place)) continue;
        copy_value(*key, before, scenario_);
        scenario_.locations[name] = place;
    }
}

void Reader::apply_setting(const std::string& setting) {
    base::SourceLocation location;
    constexpr std::size_t longest_setting = std::size_t{1} << 16U;
    if (setting.size() > longest_setting) {
        location.file = "<--set>";
        location.key = setting.substr(0, std::min<std::size_t>(setting.find('='), 64));
        complain(location, fmt::format("a setting of {} bytes", setting.size()),
                 fmt::format("up to {} bytes", longest_setting));
        return;
    }
    const std::size_t equals = setting.find('=');
    const std::string path = trimmed_path(setting);
    const bool designing = setting.starts_with(design_prefix);
    location.file = fmt::format("<--set {}{}>", designing ? design_prefix : "", printable(path));
    location.key = printable(path);
    if (equals == std::string::npos) {
        complain(location, fmt::format("`{}` has no value", location.key), "key=value, as in detector.pitch_um=7");
        return;
    }
    const std::size_t bracket = bracket_of(path);
    const Key* key = find_key(path.substr(0, bracket));
    if (key == nullptr) {
        report_unknown(location, path.substr(0, bracket));
        return;
    }
    // A value is read as TOML; what is not TOML is taken as a word, so that words need no quotes.
    const std::string text = setting.substr(equals + 1);
    toml::table table;
    try {
        table = toml::parse("value = " + text);
    } catch (const toml::parse_error&) {
        table.clear();
    }
    if (table.size() != 1 || !table.contains("value")) {
        try {
            table = toml::parse("value = " + toml_string(text));
        } catch (const toml::parse_error&) {
            complain(location, "not valid UTF-8 text");
            return;
        }
    }
    if (bracket == std::string::npos) {
        store_value(*key, *table.get("value"), location, scenario_, problems_);
        if (path == "sensor") change_sensor(location);
    } else {
        const std::string_view index = std::string_view(path).substr(bracket + 1, path.size() - bracket - 2);
        store_element(*key, index, *table.get("value"), location, scenario_, problems_);
    }
}

// What is wrong with the name that a key holds. The wavelength counts as not known, so that no material is held against
// it; a part that no model follows is a matter of several keys.
std::vector<Problem> Reader::problems_of_names(const std::string& key) {
    base::SourceLocation wavelength;
    wavelength.key = "emitter.wavelength_nm";
    std::vector<Problem> found{{wavelength, "", "", ""}};
    Scenario copy = scenario_;
    resolve_names(copy, found);
    const auto of_others = [&](const Problem& problem) {
        return problem.location.key != key && problem.location.file == location_of(copy, problem.location.key).file;
    };
    found.erase(found.begin());
    found.erase(std::remove_if(found.begin(), found.end(), of_others), found.end());
    return found;
}

Scenario Reader::finish() {
    check_offers(scenario_, problems_);
    apply_design_rule(scenario_, problems_);
    check_together(scenario_, problems_);
    resolve_names(scenario_, problems_);
    if (!problems_.empty()) throw base::ScenarioError(std::move(problems_));
    return std::move(scenario_);
}

}  // namespace

Scenario parse(std::string_view text, const std::string& file, std::span<const std::string> settings, FileReach reach) {
    Reader reader(file, reach);
    const TomlSource source(text, file);
    if (const Field* sensor = source.find("sensor")) {
        reader.take_sensor(sensor->node->value_or(std::string()), sensor->value_location);
    }
    reader.read_file(source);
    for (const std::string& setting : settings) reader.apply_setting(setting);
    return reader.finish();
}

Scenario parse_without_sensor(std::span<const PartOfScenario> parts, const std::string& file, FileReach reach) {
    Reader reader(file, reach);
    reader.read_parts(parts);
    return reader.finish();
}

Scenario with_settings(Scenario scenario, std::span<const std::string> settings) {
    Reader reader(std::move(scenario));
    for (const std::string& setting : settings) reader.apply_setting(setting);
    return reader.finish();
}

std::vector<base::Problem> problems_of(const Scenario& scenario, std::span<const std::string> settings) {
    std::vector<Problem> all;
    Scenario bare = scenario;  // what its keys name may be large
    bare.target.relief.heights = {};
    bare.motion.places = {};
    bare.surroundings.temperatures = {};
    for (const std::string& setting : settings) {
        Reader reader(bare);
        reader.apply_setting(setting);
        std::vector<Problem> found = reader.take_problems();
        const Key* key = find_key_of(trimmed_path(setting));
        if (found.empty() && key != nullptr && names_something(*key)) found = reader.problems_of_names(dotted(*key));
        all.insert(all.end(), found.begin(), found.end());
    }
    return all;
}

std::string value_of_setting(const Scenario& scenario, const std::string& setting) {
    Reader reader(scenario);
    reader.apply_setting(setting);
    if (std::vector<Problem> found = reader.take_problems(); !found.empty()) throw base::ScenarioError(found);
    Scenario changed = reader.unfinished();
    const std::string path = trimmed_path(setting);
    const Key& key = *find_key_of(path);
    if (const auto* text = std::get_if<TextKey>(&key.access)) return text->value(changed);
    std::string value = value_text(key, changed);
    if (value.front() == '"') return value.substr(1, value.size() - 2);  // a word, without anything to escape
    if (bracket_of(path) == std::string_view::npos) return value;
    std::size_t begin = 1;
    for (int left = std::stoi(path.substr(bracket_of(path) + 1)); left > 0; --left) begin = value.find(", ", begin) + 2;
    return value.substr(begin, value.find_first_of(",]", begin) - begin);
}

const Key* find_key_of(const std::string& path) {
    const std::string key = without_prefix(path);
    return find_key(key.substr(0, bracket_of(key)));
}

Scenario load(const std::filesystem::path& path, std::span<const std::string> settings, FileReach reach) {
    return parse(read_text_file(path.string()), path.string(), settings, reach);
}

}  // namespace spotwright::scenario
