// How far two spellings are apart.
#pragma once

#include <cstddef>
#include <string_view>

namespace spotwright::base {

/// Letters to insert, delete or replace, each 1, until one is the other; case ignored.
[[nodiscard]] std::size_t edit_distance(std::string_view a, std::string_view b);

/// Whether a word is a name with a slip of the pen: one letter apart where the longer of both has six letters or more,
/// two from twelve on. Words of fewer than six letters are too near to others: "glass" is not "brass".
[[nodiscard]] bool is_misspelled(std::string_view word, std::string_view name);

}  // namespace spotwright::base
