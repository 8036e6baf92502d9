// Which program this is. The one place where the version enters the code.
#pragma once

#include <string_view>

namespace spotwright::base {

/// As CMakeLists.txt has it: `0.1.0`.
[[nodiscard]] std::string_view version();

/// Of the sources in git: `1a2b3c4d5e`, with `-dirty` behind it where files differ from that commit; `unknown` where
/// the sources are no checkout.
[[nodiscard]] std::string_view revision();

}  // namespace spotwright::base
