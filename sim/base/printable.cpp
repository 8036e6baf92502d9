#include "sim/base/printable.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <vector>

namespace spotwright::base {

namespace {

struct Character {
    std::size_t length = 1;  // in bytes
    char32_t code = 0;
    bool valid = false;
};

constexpr unsigned lead_of_two = 0xC2;
constexpr unsigned lead_of_three = 0xE0;
constexpr unsigned lead_of_four = 0xF0;
constexpr unsigned past_leads = 0xF5;

std::size_t length_after(unsigned lead) {
    if (lead < 0x80U) return 1;
    if (lead < lead_of_two || lead >= past_leads) return 0;
    if (lead < lead_of_three) return 2;
    return lead < lead_of_four ? 3 : 4;
}

// The character that begins at an index. Source of what is valid: RFC 3629, section 4.
Character character_at(std::string_view text, std::size_t index) {
    const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[index + i]); };
    const std::size_t length = length_after(byte(0));
    if (length == 0 || index + length > text.size()) return {};
    char32_t code = byte(0);
    if (length > 1) code &= (0x7FU >> length);
    for (std::size_t i = 1; i < length; ++i) {
        if ((byte(i) & 0xC0U) != 0x80U) return {};
        code = (code << 6U) | (byte(i) & 0x3FU);
    }
    const bool overlong = (length == 3 && code < 0x800U) || (length == 4 && code < 0x10000U);
    const bool surrogate = code >= 0xD800U && code <= 0xDFFFU;
    if (overlong || surrogate || code > 0x10FFFFU) return {};
    return {length, code, true};
}

bool is_control_code(char32_t code) {
    return code < 0x20U || (code >= 0x7FU && code <= 0x9FU);
}

// Marks of UAX 9 that reorder what stands around them, and separators of lines and paragraphs.
bool misleads(char32_t code) {
    return code == 0x61CU || code == 0x200EU || code == 0x200FU || (code >= 0x2028U && code <= 0x202EU) ||
           (code >= 0x2066U && code <= 0x2069U);
}

// @param keep  A control character that stays.
std::string cleaned(std::string_view text, char keep) {
    std::string result;
    result.reserve(text.size());
    for (std::size_t i = 0; i < text.size();) {
        const Character c = character_at(text, i);
        if (!c.valid || misleads(c.code)) {
            result += "\xEF\xBF\xBD";
        } else if (is_control_code(c.code) && text[i] != keep) {
            result += ' ';
        } else {
            result += text.substr(i, c.length);
        }
        i += c.length;
    }
    return result;
}

}  // namespace

bool is_control(char c) {
    constexpr unsigned char first_printable = 0x20;
    constexpr char del = 0x7F;
    return static_cast<unsigned char>(c) < first_printable || c == del;
}

std::string printable(std::string_view text) {
    constexpr char none = 'a';  // no control character
    return cleaned(text, none);
}

std::string printable_lines(std::string_view text) {
    return cleaned(text, '\n');
}

std::string with_escapes(std::string_view text) {
    std::string result;
    result.reserve(text.size());
    for (std::size_t i = 0; i < text.size();) {
        const Character c = character_at(text, i);
        const bool escaped = c.valid && (misleads(c.code) || (is_control_code(c.code) && c.code >= 0x20U));
        if (escaped) {
            result += fmt::format("\\u{:04x}", static_cast<std::uint32_t>(c.code));
        } else {
            result += text.substr(i, c.length);
        }
        i += c.length;
    }
    return result;
}

std::string shortened(std::string_view text, std::size_t most) {
    if (text.size() <= most) return std::string(text);
    std::vector<std::size_t> begins;  // of its characters
    for (std::size_t i = 0; i < text.size(); i += character_at(text, i).length) begins.push_back(i);
    if (begins.size() <= most) return std::string(text);
    constexpr std::string_view gap = "...";
    const std::size_t end = (most - gap.size()) / 4;  // most of what is shown is the beginning
    const std::size_t beginning = most - gap.size() - end;
    return std::string(text.substr(0, begins[beginning])) + std::string(gap) +
           std::string(text.substr(begins[begins.size() - end]));
}

}  // namespace spotwright::base
