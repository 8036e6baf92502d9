// Text from outside on its way out: to a terminal, a page, a drawing or a file. Every output passes it through here.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace spotwright::base {

/// Whether a byte is a control character of ASCII: U+0000 to U+001F, U+007F.
[[nodiscard]] bool is_control(char c);

/// Text on one line that cannot disturb a terminal, a line or a file. Control characters (U+0000 to U+001F, U+007F to
/// U+009F) become spaces. Marks that change the direction of writing, separators of lines (U+2028, U+2029) and bytes
/// that are no UTF-8 become U+FFFD.
[[nodiscard]] std::string printable(std::string_view text);

/// The same of a text of several lines, whose line feeds stay.
[[nodiscard]] std::string printable_lines(std::string_view text);

/// Text of JSON or TOML that says the same: `\u009b` in place of the characters that `printable` replaces, except those
/// below U+0020, which both formats have escaped already.
[[nodiscard]] std::string with_escapes(std::string_view text);

/// At most so many characters: of a longer text both ends, with `...` between them. @param most  > 8.
[[nodiscard]] std::string shortened(std::string_view text, std::size_t most);

}  // namespace spotwright::base
