// Texts of the user in a form that other programs can parse.
#pragma once

#include <string>
#include <string_view>

namespace spotwright::record {

/// The same text, with U+FFFD in place of every byte that is no UTF-8.
[[nodiscard]] std::string valid_utf8(std::string_view text);

/// Valid UTF-8 on one line: as `base::printable`.
[[nodiscard]] std::string one_line(std::string_view text);

}  // namespace spotwright::record
