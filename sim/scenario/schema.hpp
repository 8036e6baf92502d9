// The keys of a scenario, one table: reading, writing, `--set`, documentation and bindings all walk it.
#pragma once

#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "sim/scenario/scenario.hpp"

namespace spotwright::scenario {

struct NumberKey {
    double& (*value)(Scenario&);
};
/// A number, or the word that stands for "worked out".
struct NumberOrWordKey {
    std::optional<double>& (*value)(Scenario&);
    std::string_view word;
};
struct PairKey {
    Pair& (*value)(Scenario&);
};
/// A few numbers.
struct ListKey {
    std::vector<double>& (*value)(Scenario&);
    std::size_t most = 1;
    std::size_t least = 1;
};
/// A few texts, or none.
struct TextListKey {
    std::vector<std::string>& (*value)(Scenario&);
    std::size_t most = 1;
};
/// `receiver.aperture_mm`: a diameter, or the two widths of a rectangle.
struct ApertureKey {
    Aperture& (*value)(Scenario&);
};
struct IntegerKey {
    std::int64_t& (*value)(Scenario&);
};
struct TextKey {
    std::string& (*value)(Scenario&);
};
/// One of a few words; the position of the word is the value of the enumeration.
struct WordKey {
    std::span<const std::string_view> words;
    int (*get)(const Scenario&);
    void (*set)(Scenario&, int);
};
/// `reading.choose`: a word, or the index of a peak.
struct ChoiceKey {
    PeakChoice& (*value)(Scenario&);
};

using KeyAccess = std::variant<NumberKey, NumberOrWordKey, PairKey, ListKey, TextListKey, ApertureKey, IntegerKey,
                               TextKey, WordKey, ChoiceKey>;

/// Allowed values, as written (not in SI).
struct Limits {
    double low = -std::numeric_limits<double>::infinity();
    double high = std::numeric_limits<double>::infinity();
    bool low_open = false;  ///< low itself is not allowed
};

struct Key {
    std::string_view section;  ///< empty for the top level
    std::string_view name;     ///< ends in its unit
    KeyAccess access;
    Limits limits;
    std::string_view meaning;
};

/// All keys, in the order in which they are documented and written.
[[nodiscard]] std::span<const Key> schema();

/// `section.name`, or `name` at the top level.
[[nodiscard]] std::string dotted(const Key& key);

/// "0.1 <= value <= 1000 um" and the like; empty when nothing is excluded.
[[nodiscard]] std::string describe_limits(const Key& key);

/// The words of `reading.choose`.
[[nodiscard]] std::span<const std::string_view> peak_rule_words();

/// Any text as a TOML string in quotes.
[[nodiscard]] std::string toml_string(std::string_view text);

/// A key's value as TOML text, shortest form that reads back to the same bits.
[[nodiscard]] std::string value_text(const Key& key, const Scenario& scenario);

/// The same of a key that nobody wrote: its default counts; none where it is written.
/// @param name  With its section. @throws InternalError  There is no such key.
[[nodiscard]] std::optional<std::string> default_in_use(const Scenario& scenario, const std::string& name);

/// The word that stands for the value of a key of words.
/// @throws InternalError  There is no such key.
[[nodiscard]] std::string_view word_of(const Scenario& scenario, std::string_view dotted_key);

/// The whole scenario as TOML with every key, defaults included.
[[nodiscard]] std::string to_toml(const Scenario& scenario);

}  // namespace spotwright::scenario
