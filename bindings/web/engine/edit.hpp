// Keys of a scenario file changed in its text, so that comments and order stay.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace spotwright::web {

/// The text with another value of a key: in its place, or behind the last key of its section, or in a new section at
/// the end. What comes out is TOML; whether it is a scenario, `scenario::parse` says.
/// @param key  Dotted.  @param value  As TOML.
/// @return none where the text is no TOML, or the key stands so that nothing can be written there.
[[nodiscard]] std::optional<std::string> with_value(std::string_view toml, std::string_view key,
                                                    std::string_view value);

/// The text without a key: its line is gone, with the comment behind it. Unchanged where the key does not stand in it.
/// @return none where the text is no TOML, or the key shares its line with others.
[[nodiscard]] std::optional<std::string> without_key(std::string_view toml, std::string_view key);

}  // namespace spotwright::web
