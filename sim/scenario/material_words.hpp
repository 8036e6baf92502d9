// Words that people have for materials, each with the materials of the library that are nearest to it.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace spotwright::scenario {

/// Generic words of one meaning, without names of brands.
struct MaterialWords {
    std::string_view words;      ///< small letters, separated by commas; a word may have several parts: "tyre rubber"
    std::string_view materials;  ///< names of the library, separated by blanks, the nearest first
};

/// The one table of such words. Every material of the library is in it.
[[nodiscard]] std::span<const MaterialWords> material_words();

/// The hint of an error that a name is not in the library: "nearest in the library: `wood-pine` or `wood-beech`" of
/// another word for it, "did you mean `black-rubber`?" of a misspelled name; empty where nothing is near.
[[nodiscard]] std::string material_hint(std::string_view name);

}  // namespace spotwright::scenario
