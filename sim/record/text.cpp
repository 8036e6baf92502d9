#include "sim/record/text.hpp"

#include <nlohmann/json.hpp>

namespace spotwright::record {

std::string valid_utf8(std::string_view text) {
    using nlohmann::json;
    return json::parse(json(text).dump(-1, ' ', false, json::error_handler_t::replace)).get<std::string>();
}

std::string one_line(std::string_view text) {
    std::string line = valid_utf8(text);
    for (char& c : line) {
        if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) c = ' ';
    }
    return line;
}

}  // namespace spotwright::record
