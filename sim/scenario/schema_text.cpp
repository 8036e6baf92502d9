// Keys and their values as text.
#include <fmt/format.h>

#include <cmath>
#include <cstdlib>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/schema.hpp"

namespace spotwright::scenario {

namespace {

// A short decimal that converts to exactly these SI bits; a TOML float always shows a point or exponent. For a value
// that was read there is one: where written numbers lie closer together than their SI values, any near one converts to
// the same bits, and where they lie further apart the quotient rounds to the one that was written.
std::string number_text(const base::Unit& unit, double si) {
    const double written = base::from_si(unit, si);
    std::string text;
    for (int digits = 6; digits <= 17; ++digits) {
        text = fmt::format("{:.{}g}", written, digits);
        if (base::to_si(unit, std::strtod(text.c_str(), nullptr)) == si) break;
    }
    if (text.find_first_of(".e") == std::string::npos) text += ".0";
    return text;
}

template <class... F>
struct Overloaded : F... {
    using F::operator()...;
};
template <class... F>
Overloaded(F...) -> Overloaded<F...>;

}  // namespace

std::string toml_string(std::string_view text) {
    std::string result = "\"";
    for (const char c : text) {
        if (c == '"' || c == '\\') {
            result += {'\\', c};
        } else if (base::is_control(c)) {
            result += fmt::format("\\u{:04x}", static_cast<unsigned char>(c));
        } else {
            result += c;
        }
    }
    return base::with_escapes(result) + '"';
}

std::string dotted(const Key& key) {
    if (key.section.empty()) return std::string(key.name);
    return fmt::format("{}.{}", key.section, key.name);
}

std::string describe_limits(const Key& key) {
    const auto [low, high, low_open] = key.limits;
    constexpr double unbounded = std::numeric_limits<double>::infinity();
    const bool has_low = low != -unbounded;
    const bool has_high = high != unbounded;
    if (!has_low && !has_high) return {};
    const std::string unit(base::unit_of(key.name).symbol);
    std::string text;
    if (has_low) text += fmt::format("{} {} ", low, low_open ? "<" : "<=");
    const bool may_be_many = std::holds_alternative<PairKey>(key.access) ||
                             std::holds_alternative<ListKey>(key.access) ||
                             std::holds_alternative<ApertureKey>(key.access);
    text += may_be_many ? "each value" : "value";
    if (has_high) text += fmt::format(" <= {}", high);
    return unit.empty() ? text : text + " " + unit;
}

namespace {

// Accessors hand out references that may be written to; nothing is written here.
std::string text_of(const Key& key, Scenario& copy) {
    const base::Unit unit = base::unit_of(key.name);
    const auto pair_text = [&unit](double first, double second) {
        return fmt::format("[{}, {}]", number_text(unit, first), number_text(unit, second));
    };
    return std::visit(Overloaded{
                          [&](const NumberKey& k) { return number_text(unit, k.value(copy)); },
                          [&](const NumberOrWordKey& k) {
                              const std::optional<double>& value = k.value(copy);
                              return value ? number_text(unit, *value) : toml_string(k.word);
                          },
                          [&](const PairKey& k) {
                              const Pair& pair = k.value(copy);
                              return pair_text(pair[0], pair[1]);
                          },
                          [&](const ListKey& k) {
                              std::string text;
                              for (const double value : k.value(copy)) {
                                  text += (text.empty() ? "" : ", ") + number_text(unit, value);
                              }
                              return "[" + text + "]";
                          },
                          [&](const TextListKey& k) {
                              std::string text;
                              for (const std::string& value : k.value(copy)) {
                                  text += (text.empty() ? "" : ", ") + toml_string(value);
                              }
                              return "[" + text + "]";
                          },
                          [&](const ApertureKey& k) {
                              const Aperture& aperture = k.value(copy);
                              return aperture.shape == ApertureShape::round
                                         ? number_text(unit, aperture.in_plane)
                                         : pair_text(aperture.in_plane, aperture.out_of_plane);
                          },
                          [&](const IntegerKey& k) { return fmt::format("{}", k.value(copy)); },
                          [&](const TextKey& k) { return toml_string(k.value(copy)); },
                          [&](const WordKey& k) { return toml_string(k.words[static_cast<std::size_t>(k.get(copy))]); },
                          [&](const ChoiceKey& k) {
                              const PeakChoice& choice = k.value(copy);
                              if (choice.rule == PeakRule::index) return fmt::format("{}", choice.index);
                              return toml_string(peak_rule_words()[static_cast<std::size_t>(choice.rule)]);
                          },
                      },
                      key.access);
}

}  // namespace

std::string value_text(const Key& key, const Scenario& scenario) {
    Scenario copy = scenario;
    return text_of(key, copy);
}

std::string_view word_of(const Scenario& scenario, std::string_view dotted_key) {
    for (const Key& key : schema()) {
        const auto* words = std::get_if<WordKey>(&key.access);
        if (words == nullptr || dotted(key) != dotted_key) continue;
        return words->words[static_cast<std::size_t>(words->get(scenario))];
    }
    throw base::InternalError("no such key of words: " + std::string(dotted_key));
}

std::string to_toml(const Scenario& scenario) {
    Scenario copy = scenario;     // one for all keys: reliefs may be large
    copy.sensor.clear();          // its values stand below
    copy.mount.baseline.reset();  // the angle that it gives too
    std::string text = "schema = 1\n";
    std::string_view section;
    for (const Key& key : schema()) {
        if (key.section != section) {
            section = key.section;
            text += fmt::format("\n[{}]\n", section);
        }
        text += fmt::format("{} = {}\n", key.name, text_of(key, copy));
    }
    return text;
}

// Equation (temperature.8).
double warm_up_left(const Thermal& thermal, double running) {
    const auto [fast, slow] = thermal.warm_up_times;
    const double share = thermal.warm_up_share;
    return thermal.warm_up * (share * std::exp(-running / fast) + (1.0 - share) * std::exp(-running / slow));
}

double sensor_temperature(const Scenario& s) {
    return s.surroundings.temperature - warm_up_left(s.thermal, s.surroundings.running);
}

std::int64_t exposures_in_period(const Scenario& s) {
    return std::visit(base::Cases{[](Triangulation) { return std::int64_t{1}; },
                                  [&s](PhaseShift) { return static_cast<std::int64_t>(s.flight.modulation.size()); },
                                  [](Pulsed) { return std::int64_t{1}; }},
                      s.principle);
}

std::optional<std::string> default_in_use(const Scenario& scenario, const std::string& name) {
    if (scenario.locations.contains(name)) return std::nullopt;
    const Key* key = find_key_of(name);
    if (key == nullptr) throw base::InternalError("no key " + name);
    return value_text(*key, scenario);
}

base::SourceLocation location_of(const Scenario& scenario, const std::string& key) {
    if (const auto found = scenario.locations.find(key); found != scenario.locations.end()) return found->second;
    base::SourceLocation location;
    location.file = scenario.file;
    location.key = key;
    return location;
}

void reject(const Scenario& scenario, const std::string& key, const std::string& message, const std::string& allowed,
            const std::string& hint) {
    throw base::ScenarioError({base::Problem{location_of(scenario, key), message, allowed, hint}});
}

}  // namespace spotwright::scenario
