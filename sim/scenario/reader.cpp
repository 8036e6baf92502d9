#include "sim/scenario/reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <utility>

#include "sim/base/words.hpp"
#include "sim/scenario/checks.hpp"
#include "sim/scenario/design_rule.hpp"
#include "sim/scenario/resolve.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/scenario/schema_values.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::scenario {

namespace {

using base::Problem;

// Reads one scenario and gathers what is wrong with it.
class Reader {
public:
    explicit Reader(std::string file) { scenario_.file = std::move(file); }
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
    void store(const Key& key, const toml::node& node, const base::SourceLocation& location);
    void store_element(const Key& key, std::string_view index, const toml::node& node,
                       const base::SourceLocation& location);
    std::optional<double> number(const Key& key, const toml::node& node, const base::SourceLocation& location);
    void store_integer(const Key& key, std::int64_t& target, const toml::node& node,
                       const base::SourceLocation& location);
    std::optional<Pair> pair(const Key& key, const toml::node& node, const base::SourceLocation& location);
    void store_list(const Key& key, const ListKey& access, const toml::node& node,
                    const base::SourceLocation& location);
    void store_texts(const TextListKey& access, const toml::node& node, const base::SourceLocation& location);
    void store_aperture(const Key& key, Aperture& target, const toml::node& node, const base::SourceLocation& location);
    void store_word(const Key& key, const WordKey& access, const toml::node& node,
                    const base::SourceLocation& location);
    void store_choice(const Key& key, PeakChoice& target, const toml::node& node, const base::SourceLocation& location);
    void check_schema_version(const TomlSource& source);

    Scenario scenario_;
    std::vector<Problem> problems_;
};

std::vector<std::string> as_strings(std::span<const std::string_view> words) {
    return {words.begin(), words.end()};
}

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

void Reader::report_unknown(const base::SourceLocation& location, const std::string& path) {
    if (is_section(path)) {
        complain(location, "a section, not a key", fmt::format("[{}] with keys below it", path));
        return;
    }
    // Hundreds of unknown keys are not misspelt one by one, and looking for each one's neighbours takes long.
    constexpr std::size_t most_hints = 200;
    const std::string nearest = problems_.size() < most_hints ? suggestion(path) : "";
    complain(location, "no such key", "", base::did_you_mean(nearest));
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
            store(*key, *field.node, field.value_location);
        }
    }
    for (const auto& [path, section] : source.sections()) {
        if (find_key(path) != nullptr) store(*find_key(path), *section.node, section.value_location);
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
            store(*key, *field.node, field.value_location);
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
            store(*key, *field.node, field.value_location);
        }
    }
}

// A sensor in place of what stands there: its keys, all others of a sensor at their defaults.
void Reader::take_sensor(const std::string& name, const base::SourceLocation& location) {
    forget_sensor(scenario_);
    if (name.empty()) return;
    try {
        if (const std::optional<SensorText> found = sensor_text(name, scenario_.file)) {
            read_sensor(TomlSource(found->text, found->file));
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
    const std::size_t equals = setting.find('=');
    const std::string path = trimmed_path(setting);
    base::SourceLocation location;
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
        store(*key, *table.get("value"), location);
        if (path == "sensor") change_sensor(location);
    } else {
        const std::string_view index = std::string_view(path).substr(bracket + 1, path.size() - bracket - 2);
        store_element(*key, index, *table.get("value"), location);
    }
}

// One number of several, by its index.
void Reader::store_element(const Key& key, std::string_view index, const toml::node& node,
                           const base::SourceLocation& location) {
    std::span<double> values;
    if (const auto* pair = std::get_if<PairKey>(&key.access)) values = pair->value(scenario_);
    if (const auto* list = std::get_if<ListKey>(&key.access)) values = list->value(scenario_);
    if (values.empty()) {
        complain(location, "no key of several numbers", fmt::format("{} as a whole", dotted(key)));
        return;
    }
    std::size_t place_of_value = values.size();
    const auto [end, error] = std::from_chars(index.data(), index.data() + index.size(), place_of_value);
    if (error != std::errc() || end != index.data() + index.size() || place_of_value >= values.size()) {
        complain(location, fmt::format("no such number of {}: [{}]", dotted(key), index),
                 fmt::format("[0] to [{}]", values.size() - 1));
        return;
    }
    if (const auto value = number(key, node, location)) values[place_of_value] = *value;
    scenario_.locations[dotted(key)] = location;
}

std::optional<double> Reader::number(const Key& key, const toml::node& node, const base::SourceLocation& location) {
    const std::optional<double> written = number_of(node);
    if (!written) {
        complain(location, "must be a number, got " + node_text(node), describe_limits(key));
        return std::nullopt;
    }
    const auto [low, high, low_open] = key.limits;
    const bool inside = std::isfinite(*written) && *written <= high && (low_open ? *written > low : *written >= low);
    if (!inside) {
        complain(location, "out of bounds, got " + node_text(node), describe_limits(key));
        return std::nullopt;
    }
    return base::to_si(base::unit_of(key.name), *written);
}

void Reader::store_integer(const Key& key, std::int64_t& target, const toml::node& node,
                           const base::SourceLocation& location) {
    if (!node.is_integer()) {
        complain(location, "must be a whole number, got " + node_text(node), describe_limits(key));
        return;
    }
    if (number(key, node, location)) target = node.as_integer()->get();
}

std::optional<Pair> Reader::pair(const Key& key, const toml::node& node, const base::SourceLocation& location) {
    const toml::array* array = node.as_array();
    if (array == nullptr || array->size() != 2) {
        complain(location, "must be two numbers, got " + node_text(node), "[first, second]; " + describe_limits(key));
        return std::nullopt;
    }
    const std::optional<double> first = number(key, *array->get(0), location);
    const std::optional<double> second = number(key, *array->get(1), location);
    if (!first || !second) return std::nullopt;
    return Pair{*first, *second};
}

void Reader::store_list(const Key& key, const ListKey& access, const toml::node& node,
                        const base::SourceLocation& location) {
    const toml::array* array = node.as_array();
    if (array == nullptr || array->size() < access.least || array->size() > access.most) {
        complain(location,
                 fmt::format("must be a list of {} to {} numbers, got {}", access.least, access.most, node_text(node)),
                 "[first, ...]; " + describe_limits(key));
        return;
    }
    std::vector<double> values;
    for (const toml::node& entry : *array) {
        if (const auto value = number(key, entry, location)) values.push_back(*value);
    }
    if (values.size() == array->size()) access.value(scenario_) = std::move(values);
}

void Reader::store_texts(const TextListKey& access, const toml::node& node, const base::SourceLocation& location) {
    const toml::array* array = node.as_array();
    const bool are_texts = array != nullptr && array->size() <= access.most &&
                           std::all_of(array->begin(), array->end(), [](const toml::node& n) { return n.is_string(); });
    if (!are_texts) {
        complain(location,
                 fmt::format("must be a list of up to {} texts in quotes, got {}", access.most, node_text(node)),
                 "[\"first\", ...]");
        return;
    }
    std::vector<std::string>& values = access.value(scenario_);
    values.clear();
    for (const toml::node& entry : *array) values.push_back(entry.as_string()->get());
}

void Reader::store_aperture(const Key& key, Aperture& target, const toml::node& node,
                            const base::SourceLocation& location) {
    if (number_of(node)) {
        if (const auto diameter = number(key, node, location)) target = round_aperture(*diameter);
        return;
    }
    const toml::array* array = node.as_array();
    if (array == nullptr || array->size() != 2) {
        complain(location, "must be a number or two, got " + node_text(node),
                 "a diameter, or [in-plane width, out-of-plane width]; " + describe_limits(key));
        return;
    }
    if (const auto widths = pair(key, node, location)) {
        target = {ApertureShape::rectangular, (*widths)[0], (*widths)[1]};
    }
}

void Reader::store_word(const Key& key, const WordKey& access, const toml::node& node,
                        const base::SourceLocation& location) {
    const std::vector<std::string> words = as_strings(access.words);
    const auto text = node.value_exact<std::string>();
    for (std::size_t i = 0; text && i < words.size(); ++i) {
        if (words[i] == *text) {
            access.set(scenario_, static_cast<int>(i));
            return;
        }
    }
    const std::string nearest = text ? base::nearest_word(*text, words) : "";
    complain(location, fmt::format("no such {}: {}", key.name, node_text(node)), base::alternatives(words),
             base::did_you_mean(nearest));
}

void Reader::store_choice(const Key& key, PeakChoice& target, const toml::node& node,
                          const base::SourceLocation& location) {
    if (node.is_integer()) {
        target.rule = PeakRule::index;
        store_integer(key, target.index, node, location);
        return;
    }
    const std::vector<std::string> words = as_strings(peak_rule_words());
    const auto text = node.value_exact<std::string>();
    for (std::size_t i = 0; text && i < words.size(); ++i) {
        if (words[i] == *text) {
            target = PeakChoice{static_cast<PeakRule>(i), 0};
            return;
        }
    }
    complain(location, "no such choice: " + node_text(node), base::alternatives(words) + ", or the index of a peak");
}

void Reader::store(const Key& key, const toml::node& node, const base::SourceLocation& location) {
    scenario_.locations[dotted(key)] = location;
    if (const auto* k = std::get_if<NumberKey>(&key.access)) {
        if (const auto value = number(key, node, location)) k->value(scenario_) = *value;
    } else if (const auto* n = std::get_if<NumberOrWordKey>(&key.access)) {
        if (node.value_exact<std::string>() == std::string(n->word)) {
            n->value(scenario_).reset();
        } else if (node.is_string()) {
            complain(location, "no such word: " + node_text(node), fmt::format("`{}`, or a number", n->word));
        } else if (const auto value = number(key, node, location)) {
            n->value(scenario_) = *value;
        }
    } else if (const auto* p = std::get_if<PairKey>(&key.access)) {
        if (const auto value = pair(key, node, location)) p->value(scenario_) = *value;
    } else if (const auto* l = std::get_if<ListKey>(&key.access)) {
        store_list(key, *l, node, location);
    } else if (const auto* texts = std::get_if<TextListKey>(&key.access)) {
        store_texts(*texts, node, location);
    } else if (const auto* a = std::get_if<ApertureKey>(&key.access)) {
        store_aperture(key, a->value(scenario_), node, location);
    } else if (const auto* i = std::get_if<IntegerKey>(&key.access)) {
        store_integer(key, i->value(scenario_), node, location);
    } else if (const auto* t = std::get_if<TextKey>(&key.access)) {
        if (const auto text = node.value_exact<std::string>()) {
            t->value(scenario_) = *text;
        } else {
            complain(location, "must be text in quotes, got " + node_text(node));
        }
    } else if (const auto* w = std::get_if<WordKey>(&key.access)) {
        store_word(key, *w, node, location);
    } else if (const auto* c = std::get_if<ChoiceKey>(&key.access)) {
        store_choice(key, c->value(scenario_), node, location);
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

Scenario parse(std::string_view text, const std::string& file, std::span<const std::string> settings) {
    Reader reader(file);
    const TomlSource source(text, file);
    if (const Field* sensor = source.find("sensor")) {
        reader.take_sensor(sensor->node->value_or(std::string()), sensor->value_location);
    }
    reader.read_file(source);
    for (const std::string& setting : settings) reader.apply_setting(setting);
    return reader.finish();
}

Scenario parse_without_sensor(std::span<const PartOfScenario> parts, const std::string& file) {
    Reader reader(file);
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

Scenario load(const std::filesystem::path& path, std::span<const std::string> settings) {
    return parse(read_text_file(path.string()), path.string(), settings);
}

}  // namespace spotwright::scenario
