#include "sim/scenario/sensor_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>

#include "sim/base/units.hpp"
#include "sim/scenario/embedded_library.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema_values.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::scenario {

namespace {

constexpr std::string_view offers_section = "offers.";
constexpr std::string_view ensemble_key = "ensemble";

bool is_one_of(std::string_view word, std::initializer_list<std::string_view> words) {
    return std::find(words.begin(), words.end(), word) != words.end();
}

// Reads what a sensor file says beside values of keys.
class SensorFileReader {
public:
    SensorFileReader(const TomlSource& source, std::vector<base::Problem>& problems)
        : source_(source), problems_(problems) {}

    SensorFile read();

private:
    void complain(const base::SourceLocation& location, const std::string& message, std::string allowed = {},
                  std::string hint = {}) {
        problems_.push_back({location, printable(message), std::move(allowed), std::move(hint)});
    }
    Offer& offer_for(const std::string& key);
    void read_offer(const std::string& path, const Field& field);
    void read_list(Offer& offer, const Field& field);
    void read_bound(Offer& offer, std::size_t end, const Field& field);
    void check_offers();
    void read_ensemble(const Field& field);

    const TomlSource& source_;
    std::vector<base::Problem>& problems_;
    SensorFile file_;
};

Offer& SensorFileReader::offer_for(const std::string& key) {
    const auto same = [&key](const Offer& offer) { return offer.key == key; };
    const auto found = std::find_if(file_.offers.begin(), file_.offers.end(), same);
    if (found != file_.offers.end()) return *found;
    file_.offers.push_back({key, std::nullopt, {}, {}});
    return file_.offers.back();
}

void SensorFileReader::read_list(Offer& offer, const Field& field) {
    const toml::array* array = field.node->as_array();
    if (array == nullptr || array->empty()) {
        complain(field.value_location, "must be a list of what the user may choose, got " + node_text(*field.node),
                 "[1, 2, 4] or [\"fixed\", \"automatic\"] or { from = 1, to = 100 }");
        return;
    }
    for (const toml::node& entry : *array) {
        if (const auto number = number_of(entry); number && std::isfinite(*number)) {
            offer.values.push_back(*number);
        } else if (const auto word = entry.value_exact<std::string>()) {
            offer.words.push_back(*word);
        } else {
            complain(field.value_location, "neither a number nor a word: " + node_text(entry));
        }
    }
}

void SensorFileReader::read_bound(Offer& offer, std::size_t end, const Field& field) {
    const std::optional<double> number = number_of(*field.node);
    if (!number || !std::isfinite(*number)) {
        complain(field.value_location, "must be a number, got " + node_text(*field.node));
        return;
    }
    if (!offer.bounds) offer.bounds = Pair{std::nan(""), std::nan("")};
    (*offer.bounds)[end] = *number;
}

void SensorFileReader::read_offer(const std::string& path, const Field& field) {
    std::string key = path.substr(offers_section.size());
    const bool from = key.ends_with(".from");
    const bool to = key.ends_with(".to");
    if (from || to) key.erase(key.rfind('.'));
    const Key* known = find_key_of(key);
    if (known == nullptr || !belongs_to_sensor(*known)) {
        complain(field.key_location,
                 known == nullptr ? "no such key to offer: " + key : "every user may set this key: " + key,
                 "keys of mount, emitter, receiver, detector, flight, thermal, exposure and reading");
        return;
    }
    Offer& offer = offer_for(key);
    if (from || to) {
        read_bound(offer, from ? 0 : 1, field);
    } else {
        read_list(offer, field);
    }
}

void SensorFileReader::check_offers() {
    for (const Offer& offer : file_.offers) {
        if (!offer.bounds || (*offer.bounds)[0] <= (*offer.bounds)[1]) continue;
        complain(source_.absent("offers." + offer.key), fmt::format("no range: {} needs `from` and `to`", offer.key),
                 "{ from = 1, to = 100 }, the smaller first");
    }
}

// A value as a setting has it.
std::string setting_text(const toml::node& node) {
    if (const auto number = number_of(node)) return fmt::format("{}", *number);
    if (const auto word = node.value_exact<std::string>()) return toml_string(*word);
    std::string list;
    if (const toml::array* array = node.as_array()) {
        for (const toml::node& entry : *array) list += (list.empty() ? "" : ", ") + setting_text(entry);
    }
    return "[" + list + "]";
}

// Each entry is a table of the sections of a sensor, with the keys that differ.
void SensorFileReader::read_ensemble(const Field& field) {
    constexpr const char* allowed = "[[ensemble]] tables such as receiver = { angle_deg = 28.0 }";
    const toml::array* array = field.node->as_array();
    for (std::size_t i = 0; array != nullptr && i < array->size(); ++i) {
        const toml::table* table = array->get(i)->as_table();
        std::vector<std::string> settings;
        if (table == nullptr)
            complain(field.value_location, "must be a table, got " + node_text(*array->get(i)), allowed);
        for (const auto& [section, keys] : table == nullptr ? toml::table{} : *table) {
            if (!keys.is_table()) complain(field.value_location, "no section: " + std::string(section.str()), allowed);
            for (const auto& [key, value] : keys.is_table() ? *keys.as_table() : toml::table{}) {
                settings.push_back(
                    fmt::format("{}{}.{}={}", design_prefix, section.str(), key.str(), setting_text(value)));
            }
        }
        file_.ensemble.push_back(std::move(settings));
    }
    if (array == nullptr) complain(field.value_location, "must be tables, got " + node_text(*field.node), allowed);
}

SensorFile SensorFileReader::read() {
    file_.file = source_.file();
    for (const auto& [path, field] : source_.fields()) {
        if (path.starts_with(offers_section)) {
            read_offer(path, field);
        } else if (path == "title") {
            file_.title = field.node->value_or(std::string());
        } else if (path == ensemble_key) {
            read_ensemble(field);
        }
    }
    check_offers();
    return std::move(file_);
}

}  // namespace

std::vector<std::string> sensor_names() {
    std::vector<std::string> names;
    for (const EmbeddedFile& file : embedded_sensors()) names.emplace_back(file.name);
    std::sort(names.begin(), names.end());
    return names;
}

std::optional<SensorText> sensor_text(const std::string& name, const std::string& scenario_file) {
    if (name.ends_with(".toml")) {
        const std::string path = (std::filesystem::path(scenario_file).parent_path() / name).string();
        return SensorText{read_text_file(path), path};
    }
    for (const EmbeddedFile& file : embedded_sensors()) {
        if (file.name == name) return SensorText{std::string(file.text), fmt::format("sensors/{}.toml", name)};
    }
    return std::nullopt;
}

bool belongs_to_sensor(const Key& key) {
    if (key.section.empty()) return key.name == "principle";
    if (key.section == "mount") return key.name != "tilt_deg";
    return is_one_of(key.section, {"housing", "emitter", "receiver", "making", "detector", "flight", "thermal",
                                   "exposure", "reading"});
}

bool free_to_user(const Key& key) {
    return !belongs_to_sensor(key) || (key.section == "reading" && key.name.starts_with("zero_reset"));
}

bool is_sensor_file_path(std::string_view path) {
    return path == "schema" || path == "title" || path == "offers" || path == ensemble_key ||
           path.starts_with(offers_section);
}

SensorFile read_sensor_file(const TomlSource& source, std::vector<base::Problem>& problems) {
    return SensorFileReader(source, problems).read();
}

void forget_sensor(Scenario& s) {
    Scenario fresh;
    for (const Key& key : schema()) {
        if (belongs_to_sensor(key)) copy_value(key, fresh, s);
    }
    std::erase_if(s.locations, [&s](const auto& entry) { return !written_by_user(s, entry.second); });
    s.sensor_file = {};
}

bool written_by_user(const Scenario& s, const base::SourceLocation& location) {
    return s.sensor_file.file.empty() || location.file != s.sensor_file.file;
}

std::string describe_offer(const Offer& offer) {
    const std::string_view symbol = base::unit_of(offer.key).symbol;
    const std::string unit = symbol.empty() || symbol == "1" ? "" : " " + std::string(symbol);
    if (offer.bounds) return fmt::format("{:g} to {:g}{}", (*offer.bounds)[0], (*offer.bounds)[1], unit);
    if (!offer.words.empty()) return base::alternatives(offer.words);
    std::vector<std::string> values;
    for (const double value : offer.values) values.push_back(fmt::format("{:g}", value));
    return base::alternatives(values) + unit;
}

const Offer* offer_of(const Scenario& s, std::string_view dotted_key) {
    for (const Offer& offer : s.sensor_file.offers) {
        if (offer.key == dotted_key) return &offer;
    }
    return nullptr;
}

namespace {

constexpr std::string_view design_setting = "<--set design.";

bool is_offered(const Offer& offer, const Key& key, Scenario& s) {
    if (const auto word = written_word(key, s)) {
        return std::find(offer.words.begin(), offer.words.end(), *word) != offer.words.end();
    }
    constexpr double rounding = 1e-9;  // of a conversion to SI and back
    const auto within = [&offer](double value) {
        const double slack = rounding * std::abs(value);
        if (offer.bounds) return value >= (*offer.bounds)[0] - slack && value <= (*offer.bounds)[1] + slack;
        return std::any_of(offer.values.begin(), offer.values.end(),
                           [&](double offered) { return std::abs(value - offered) <= slack; });
    };
    const std::vector<double> numbers = written_numbers(key, s);
    return std::all_of(numbers.begin(), numbers.end(), within);
}

std::string offered_keys(const Scenario& s) {
    if (s.sensor_file.offers.empty()) return "this sensor offers no settings";
    std::vector<std::string> names;
    for (const Offer& offer : s.sensor_file.offers) names.push_back(offer.key);
    return base::alternatives(names);
}

}  // namespace

void check_offers(const Scenario& scenario, std::vector<base::Problem>& problems) {
    if (scenario.sensor_file.file.empty()) return;
    Scenario s = scenario;
    for (const auto& [name, location] : scenario.locations) {
        const Key* key = find_key_of(name);
        if (key == nullptr || free_to_user(*key) || !written_by_user(s, location) ||
            location.file.starts_with(design_setting)) {
            continue;
        }
        const Offer* offer = offer_of(s, name);
        if (offer == nullptr) {
            problems.push_back({location, fmt::format("the sensor \"{}\" does not offer this key", printable(s.sensor)),
                                offered_keys(s), fmt::format("a designer may use --set design.{}=VALUE", name)});
        } else if (!is_offered(*offer, *key, s)) {
            problems.push_back({location,
                                fmt::format("the sensor \"{}\" does not offer this value: {}", printable(s.sensor),
                                            value_text(*key, s)),
                                describe_offer(*offer), ""});
        }
    }
}

WrittenScenario as_written(const Scenario& s) {
    WrittenScenario written{"schema = 1\n", {}};
    std::string_view section;
    for (const Key& key : schema()) {
        const auto place = s.locations.find(dotted(key));
        if (place == s.locations.end() || !written_by_user(s, place->second)) continue;
        if (place->second.file.starts_with(design_setting)) {
            written.settings.push_back(fmt::format("{}{}={}", design_prefix, dotted(key), value_text(key, s)));
            continue;
        }
        if (key.section != section) {
            section = key.section;
            written.toml += fmt::format("\n[{}]\n", section);
        }
        written.toml += fmt::format("{} = {}\n", key.name, value_text(key, s));
    }
    return written;
}

std::vector<Scenario> ensemble_of(const Scenario& scenario) {
    std::vector<Scenario> members;
    for (const std::vector<std::string>& settings : scenario.sensor_file.ensemble) {
        members.push_back(with_settings(scenario, settings));
    }
    return members;
}

}  // namespace spotwright::scenario
