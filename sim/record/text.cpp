#include "sim/record/text.hpp"

#include <nlohmann/json.hpp>

#include "sim/base/words.hpp"

namespace spotwright::record {

std::string valid_utf8(std::string_view text) {
    using nlohmann::json;
    return json::parse(json(text).dump(-1, ' ', false, json::error_handler_t::replace)).get<std::string>();
}

std::string one_line(std::string_view text) {
    return base::printable(text);
}

}  // namespace spotwright::record
