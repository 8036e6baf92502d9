#include "sim/base/words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cerrno>
#include <charconv>
#include <cmath>
#include <cstdlib>
#include <utility>
#include <vector>

#include "sim/base/spelling.hpp"
#include "sim/base/units.hpp"

namespace spotwright::base {

namespace {

char lower(char c) {
    return static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
}

// A longer word has no near relative among the keys, and need not be measured.
constexpr std::size_t longest_word = 64;

// The parts of a name in small letters: those of `white-POM` are `white` and `pom`.
std::vector<std::string> parts_of(std::string_view name) {
    constexpr std::string_view separators = "-_. ";
    std::vector<std::string> parts;
    for (std::size_t begin = 0; begin < name.size();) {
        const std::size_t end = std::min(name.find_first_of(separators, begin), name.size());
        std::string part(name.substr(begin, end - begin));
        std::transform(part.begin(), part.end(), part.begin(), lower);
        if (!part.empty()) parts.push_back(std::move(part));
        begin = end + 1;
    }
    return parts;
}

// Whether a part of a name begins with a word, or is the same but for one letter.
bool begins_alike(const std::string& word, const std::string& part) {
    constexpr std::size_t long_word = 6;
    return part.starts_with(word) || (word.size() >= long_word && edit_distance(word, part) <= 1);
}

struct LengthUnit {
    double size;  // [m]
    const char* symbol;
};

// 999.6 um rounds to 1 mm with three digits, 996 um with two: then the larger unit is due.
LengthUnit unit_of(double size, double least_millimetre) {
    return size < least_millimetre ? LengthUnit{um, "um"} : LengthUnit{mm, "mm"};
}

constexpr double least_of_many_digits = 0.9995 * mm;
constexpr int most_decimals = 9;

bool is_zero(const std::string& number) {
    return number.find_first_of("123456789") == std::string::npos;
}

// Power of ten of the first digit, after rounding to so many significant digits.
int exponent_of(double value, int digits) {
    const std::string text = fmt::format("{:.{}e}", std::abs(value), digits - 1);
    return std::stoi(text.substr(text.find('e') + 1));
}

std::string without_trailing_zeros(std::string number) {
    if (number.find('.') == std::string::npos) return number;
    number.erase(number.find_last_not_of('0') + 1);
    if (number.back() == '.') number.pop_back();
    return number;
}

}  // namespace

std::string did_you_mean(std::string_view word) {
    return word.empty() ? std::string() : fmt::format("did you mean `{}`?", word);
}

std::string did_you_mean(std::span<const std::string> words) {
    if (words.empty()) return {};
    std::vector<std::string> quoted;
    for (const std::string& word : words) quoted.push_back(fmt::format("`{}`", word));
    return fmt::format("did you mean {}?", alternatives(quoted));
}

std::string nearest_word(std::string_view word, std::span<const std::string> candidates) {
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
    if (!best.empty()) return best;
    const std::vector<std::string> containing = names_with(word, candidates);
    return containing.empty() ? std::string() : containing.front();
}

std::vector<std::string> names_with(std::string_view word, std::span<const std::string> candidates) {
    constexpr std::size_t shortest_word = 3;
    if (word.size() < shortest_word || word.size() > longest_word) return {};
    const std::vector<std::string> parts = parts_of(word);
    std::vector<std::string> found;
    for (const std::string& candidate : candidates) {
        const std::vector<std::string> of_candidate = parts_of(candidate);
        const auto is_there = [&of_candidate](const std::string& part) {
            return std::any_of(of_candidate.begin(), of_candidate.end(),
                               [&part](const std::string& other) { return begins_alike(part, other); });
        };
        if (!parts.empty() && std::all_of(parts.begin(), parts.end(), is_there)) found.push_back(candidate);
    }
    std::sort(found.begin(), found.end(), [](const std::string& a, const std::string& b) {
        return std::pair(a.size(), a) < std::pair(b.size(), b);
    });
    found.erase(std::unique(found.begin(), found.end()), found.end());
    return found;
}

std::vector<std::string> similar_names(std::string_view word, std::span<const std::string> candidates,
                                       std::size_t most) {
    std::vector<std::string> found = names_with(word, candidates);
    if (found.empty()) {
        if (std::string nearest = nearest_word(word, candidates); !nearest.empty()) found.push_back(std::move(nearest));
    }
    if (found.size() > most) found.resize(most);
    return found;
}

std::string length_text(double metres, int digits) {
    constexpr double atom = 1e-10;
    const double size = std::abs(metres);
    if (size < atom) return "0 um";
    const LengthUnit unit = unit_of(size, least_of_many_digits);
    return fmt::format("{:.{}g} {}", metres / unit.size, digits, unit.symbol);
}

std::string number_text(double value, int digits) {
    constexpr int least_exponent = -4;
    constexpr int most_exponent = 9;
    if (value == 0.0) return "0";
    const int exponent = std::isfinite(value) ? exponent_of(value, digits) : most_exponent;
    if (exponent < least_exponent || exponent >= most_exponent) return fmt::format("{:.{}g}", value, digits);
    return without_trailing_zeros(decimal_text(value, digits - 1 - exponent));
}

std::optional<double> number_of(std::string_view text) {
#ifdef __cpp_lib_to_chars
    double value = 0.0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc() || end != text.data() + text.size()) return std::nullopt;
    return value;
#else
    // This library's from_chars reads integers only. strtod also accepts signs, spaces and hexadecimal: reject them.
    if (text.empty() || text.find_first_of("+ \t\n\v\f\r") == 0) return std::nullopt;
    if (text.find_first_of("xX") != std::string_view::npos) return std::nullopt;
    const std::string copy(text);
    char* end = nullptr;
    errno = 0;
    const double value = std::strtod(copy.c_str(), &end);
    if (errno == ERANGE || end != copy.c_str() + copy.size()) return std::nullopt;
    return value;
#endif
}

std::string decimal_text(double value, int decimals) {
    constexpr double longest = 1e15;  // beyond, not every whole number is a double
    if (decimals < 0 && std::abs(value) < longest) {
        const double step = std::pow(10.0, -decimals);
        value = std::round(value / step) * step;
    }
    std::string text = fmt::format("{:.{}f}", value, std::max(decimals, 0));
    return is_zero(text) && text.front() == '-' && std::isfinite(value) ? text.substr(1) : text;
}

std::optional<int> decimals_for(double uncertainty, double unit) {
    const double size = uncertainty / unit;
    if (!(size > 0.0) || !std::isfinite(size)) return std::nullopt;
    return std::min(1 - exponent_of(size, 2), most_decimals);
}

std::string two_digits(double uncertainty) {
    constexpr int longest = 9;  // digits before the point: beyond, an exponent is shorter to read
    if (uncertainty == 0.0) return "0";
    const int exponent = std::isfinite(uncertainty) ? exponent_of(uncertainty, 2) : longest;
    if (exponent >= longest) return fmt::format("{:.2g}", uncertainty);
    if (exponent < 1 - most_decimals) return "0";
    return decimal_text(uncertainty, 1 - exponent);
}

std::string uncertainty_text(double metres) {
    constexpr double least_of_two_digits = 0.995 * mm;
    const double size = std::abs(metres);
    const std::string as_length = length_text(metres, 2);
    if (!std::isfinite(metres) || as_length == "0 um") return as_length;
    const LengthUnit unit = unit_of(size, least_of_two_digits);
    return two_digits(metres / unit.size) + " " + unit.symbol;
}

std::string value_text(double value, double uncertainty, double unit, int otherwise) {
    return decimal_text(value / unit, decimals_for(uncertainty, unit).value_or(otherwise));
}

std::string rounded_length_text(double metres, std::optional<double> uncertainty) {
    constexpr int otherwise = 4;
    const std::string by_itself = length_text(metres, otherwise);
    const LengthUnit unit = unit_of(std::abs(metres), least_of_many_digits);
    const std::optional<int> decimals = decimals_for(uncertainty.value_or(0.0), unit.size);
    if (!decimals || !std::isfinite(metres) || by_itself == "0 um") return by_itself;
    return decimal_text(metres / unit.size, *decimals) + " " + unit.symbol;
}

std::string with_sign(const std::string& number) {
    return is_zero(number) || number.front() == '-' ? number : "+" + number;
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
