#include "sim/base/words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <numeric>
#include <vector>

#include "sim/base/units.hpp"

namespace spotwright::base {

namespace {

char lower(char c) {
    return static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
}

std::size_t edit_distance(std::string_view a, std::string_view b) {
    std::vector<std::size_t> row(b.size() + 1);
    std::iota(row.begin(), row.end(), std::size_t{0});
    for (std::size_t i = 0; i < a.size(); ++i) {
        std::size_t diagonal = row[0];
        row[0] = i + 1;
        for (std::size_t j = 0; j < b.size(); ++j) {
            const std::size_t replaced = diagonal + (lower(a[i]) == lower(b[j]) ? 0U : 1U);
            diagonal = row[j + 1];
            row[j + 1] = std::min({row[j] + 1, row[j + 1] + 1, replaced});
        }
    }
    return row.back();
}

}  // namespace

std::string did_you_mean(std::string_view word) {
    return word.empty() ? std::string() : fmt::format("did you mean `{}`?", word);
}

std::string nearest_word(std::string_view word, std::span<const std::string> candidates) {
    // A longer word has no near relative among the keys, and need not be measured.
    constexpr std::size_t longest_word = 64;
    if (word.size() > longest_word) return {};
    std::size_t best_distance = word.size() / 3 + 2;
    std::string best;
    for (const std::string& candidate : candidates) {
        const std::size_t distance = edit_distance(word, candidate);
        if (distance < best_distance) {
            best_distance = distance;
            best = candidate;
        }
    }
    return best;
}

std::string length_text(double metres, int digits) {
    constexpr double atom = 1e-10;
    const double size = std::abs(metres);
    if (size < atom) return "0 um";
    const bool small = size < 0.9995 * mm;
    return fmt::format("{:.{}g} {}", metres / (small ? um : mm), digits, small ? "um" : "mm");
}

bool is_control(char c) {
    constexpr unsigned char first_printable = 0x20;
    constexpr char del = 0x7F;
    return static_cast<unsigned char>(c) < first_printable || c == del;
}

std::string printable(std::string_view text) {
    std::string result(text);
    std::replace_if(result.begin(), result.end(), is_control, ' ');
    return result;
}

std::string alternatives(std::span<const std::string> words) {
    std::string text;
    for (std::size_t i = 0; i < words.size(); ++i) {
        if (i > 0) text += i + 1 == words.size() ? " or " : ", ";
        text += words[i];
    }
    return text;
}

}  // namespace spotwright::base
