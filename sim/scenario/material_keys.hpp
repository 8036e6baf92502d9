// The keys of a material file, one table: reading, documentation and the file to begin with walk it.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace spotwright::scenario {

struct MaterialKey {
    std::string_view path;     ///< dotted; ends in its unit
    std::string_view kind;     ///< in words: text, number, numbers, two numbers, a word
    double low = 0.0;          ///< bounds as written; both 0 for texts
    double high = 0.0;         ///< see `low`
    std::string_view example;  ///< TOML; empty: left out of the file to begin with
    std::string_view meaning;
};

/// All keys, section by section, in the order of a file.
[[nodiscard]] std::span<const MaterialKey> material_keys();

/// @throws InternalError  There is no such key.
[[nodiscard]] const MaterialKey& material_key(std::string_view path);

/// When a file has this section; empty for the keys before all sections.
[[nodiscard]] std::string_view meaning_of_section(std::string_view section);

/// A material file that loads as it stands, a matt part, with every other section and key as a comment: `#` without a
/// blank. Without these, too, it loads.
[[nodiscard]] std::string material_template();

}  // namespace spotwright::scenario
