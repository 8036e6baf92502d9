#include "sim/base/typeset.hpp"

#include <algorithm>
#include <array>
#include <cctype>

namespace spotwright::base {

namespace {

constexpr std::string_view plus_minus = "\u00B1";
constexpr std::string_view micro = "\u00B5";
constexpr std::string_view fixed_space = "\u00A0";

bool is_of_word(char c) {
    return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_';
}

bool ends_word(std::string_view text, std::size_t at) {
    return at >= text.size() || !is_of_word(text[at]);
}

// The unit that begins here and stands by itself; empty if none does.
std::string_view unit_at(std::string_view text, std::size_t at) {
    static constexpr std::array<std::string_view, 7> units{"um", "us", "uW", "mm", "ms", "nm", "mW"};
    const auto* found = std::find_if(units.begin(), units.end(), [&](std::string_view unit) {
        return text.substr(at, unit.size()) == unit && ends_word(text, at + unit.size());
    });
    return found == units.end() ? std::string_view() : *found;
}

}  // namespace

std::string typeset(std::string_view plain) {
    std::string text;
    text.reserve(plain.size() + plain.size() / 8);
    for (std::size_t i = 0; i < plain.size(); ++i) {
        const char before = i == 0 ? ' ' : plain[i - 1];
        if (plain.substr(i, 2) == "+-") {
            text += plus_minus;
            ++i;
            continue;
        }
        const bool begins = before == ' ' || before == '/' || before == '(';
        if (begins && plain[i] == 'u' && !unit_at(plain, i).empty()) {
            text += micro;
            continue;
        }
        const bool after_digit = std::isdigit(static_cast<unsigned char>(before)) != 0;
        if (plain[i] == ' ' && after_digit && !unit_at(plain, i + 1).empty()) {
            text += fixed_space;
            continue;
        }
        text += plain[i];
    }
    return text;
}

}  // namespace spotwright::base
