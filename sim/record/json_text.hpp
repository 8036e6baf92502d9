// JSON as text.
#pragma once

#include <string>

#include <nlohmann/json.hpp>

#include "sim/base/printable.hpp"

namespace spotwright::record {

/// A JSON value as text that any reader takes and that does not disturb a terminal: control characters and marks of
/// direction are escaped, so that a reader gets them as they were; bytes that are no UTF-8 become U+FFFD.
/// @param indent  -1: on one line.
template <class Json>
[[nodiscard]] std::string json_text(const Json& json, int indent = 2) {
    return base::with_escapes(json.dump(indent, ' ', false, Json::error_handler_t::replace));
}

}  // namespace spotwright::record
