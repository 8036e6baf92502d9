#include "sim/base/spelling.hpp"

#include <algorithm>
#include <cctype>
#include <numeric>
#include <vector>

namespace spotwright::base {

namespace {

char lower(char c) {
    return static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
}

}  // namespace

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

bool is_misspelled(std::string_view word, std::string_view name) {
    constexpr std::size_t longest_word = 64;  // a longer one is none
    constexpr std::size_t letters_for_one = 6;
    constexpr std::size_t most = 2;
    if (word.size() > longest_word) return false;
    const std::size_t allowed = std::min(most, std::max(word.size(), name.size()) / letters_for_one);
    return allowed > 0 && edit_distance(word, name) <= allowed;
}

}  // namespace spotwright::base
