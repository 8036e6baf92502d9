// Text for drawings: widths, wrapping, numbers, and room for labels.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/errors.hpp"
#include "sim/drawing/svg_canvas.hpp"
#include "sim/record/text.hpp"

namespace spotwright::drawing {

namespace {

constexpr std::string_view minus_sign = "\xE2\x88\x92";

bool continues(char c) {
    return (static_cast<unsigned char>(c) & 0xC0U) == 0x80U;
}

// Advance width over text size, rounded up from the widths of DejaVu Sans, the widest common sans-serif.
double relative_width(std::string_view character) {
    constexpr double ideograph = 1.0;
    if (character.size() > 1) return static_cast<unsigned char>(character[0]) >= 0xE3U ? ideograph : 0.85;
    const char c = character[0];
    constexpr std::string_view narrow = "ijlI.,:;'|! ()[]ft/";
    constexpr std::string_view wide = "mwMW%@";
    if (narrow.find(c) != std::string_view::npos) return 0.4;
    if (wide.find(c) != std::string_view::npos) return 1.0;
    if (c >= 'A' && c <= 'Z') return 0.73;
    return 0.64;
}

// The character of UTF-8 text that starts at an index.
std::string_view character_at(std::string_view words, std::size_t index) {
    std::size_t end = index + 1;
    while (end < words.size() && continues(words[end])) ++end;
    return words.substr(index, end - index);
}

// The longest start of a word that fits, up to its last hyphen there if it has one; at least one character.
std::size_t fitting_length(std::string_view word, double size, double width) {
    std::size_t length = character_at(word, 0).size();
    while (length < word.size()) {
        const std::size_t next = length + character_at(word, length).size();
        if (text_width(word.substr(0, next), size) > width) break;
        length = next;
    }
    const std::size_t hyphen = word.substr(0, length).rfind('-');
    return hyphen == std::string_view::npos || hyphen == 0 ? length : hyphen + 1;
}

}  // namespace

double text_width(std::string_view words, double size) {
    double width = 0.0;
    for (std::size_t i = 0; i < words.size();) {
        const std::string_view character = character_at(words, i);
        width += relative_width(character);
        i += character.size();
    }
    return width * size;
}

std::vector<std::string> wrap(std::string_view words, double size, double width) {
    std::vector<std::string> lines(1);
    while (!words.empty()) {
        const std::size_t space = words.find(' ');
        std::string_view word = words.substr(0, space);
        words = space == std::string_view::npos ? std::string_view{} : words.substr(space + 1);
        while (!word.empty()) {
            std::string& last = lines.back();
            const std::string joined = last.empty() ? std::string(word) : fmt::format("{} {}", last, word);
            if (text_width(joined, size) <= width) {
                last = joined;
                break;
            }
            if (!last.empty()) {
                lines.emplace_back();
                continue;
            }
            const std::size_t length = fitting_length(word, size, width);
            last = std::string(word.substr(0, length));
            word.remove_prefix(length);
        }
    }
    return lines;
}

std::string escape(std::string_view words) {
    const std::string line = record::one_line(words);
    std::string safe;
    for (std::size_t i = 0; i < line.size();) {
        const std::string_view character = character_at(line, i);
        i += character.size();
        if (character == "&") {
            safe += "&amp;";
        } else if (character == "<") {
            safe += "&lt;";
        } else if (character == ">") {
            safe += "&gt;";
        } else if (character == "\"") {
            safe += "&quot;";
        } else if (character == "\xEF\xBF\xBE" || character == "\xEF\xBF\xBF") {
            safe += ' ';  // U+FFFE and U+FFFF are no characters of XML 1.0
        } else {
            safe += character;
        }
    }
    return safe;
}

std::string number(double value, int digits) {
    if (!std::isfinite(value)) throw base::InternalError("a value of the drawing is not finite");
    const int magnitude = value == 0.0 ? 0 : static_cast<int>(std::floor(std::log10(std::abs(value))));
    std::string text = fmt::format("{:.{}f}", std::abs(value), std::clamp(digits - 1 - magnitude, 0, 9));
    if (text.find('.') != std::string::npos) {
        text.erase(text.find_last_not_of('0') + 1);
        if (text.back() == '.') text.pop_back();
    }
    return value < 0.0 && text != "0" ? std::string(minus_sign) + text : text;
}

std::string signed_number(double value, int digits) {
    const std::string text = number(value, digits);
    return value > 0.0 && text != "0" ? "+" + text : text;
}

std::string apart_by_thousands(std::string number) {
    constexpr std::string_view thin_space = "\xE2\x80\xAF";
    const std::size_t end = std::min(number.find('.'), number.size());
    std::size_t begin = 0;
    while (begin < end && (number[begin] < '0' || number[begin] > '9')) ++begin;
    constexpr std::size_t longest_alone = 4;
    if (end - begin <= longest_alone) return number;
    for (std::size_t at = end; at > begin + 3; at -= 3) number.insert(at - 3, thin_space);
    return number;
}

double round_step(double size) {
    constexpr double slack = 1e-9;
    const double decade = std::pow(10.0, std::floor(std::log10(size)));
    for (const double factor : {1.0, 2.0, 5.0}) {
        if (factor * decade >= size * (1.0 - slack)) return factor * decade;
    }
    return 10.0 * decade;
}

std::vector<double> spread(std::span<const double> wanted, std::span<const double> sizes, double low, double high) {
    // Labels that would overlap are merged into a block, which stands where its members want it on average.
    struct Block {
        std::size_t first;
        std::size_t count;
        double size;
        double centre;
    };
    std::vector<Block> blocks;
    const auto settle = [&](Block& block) {
        double sum = 0.0;
        double start = 0.0;
        for (std::size_t i = block.first; i < block.first + block.count; ++i) {
            sum += wanted[i] - (start + 0.5 * sizes[i]);
            start += sizes[i];
        }
        block.size = start;
        const double begin = sum / static_cast<double>(block.count);
        block.centre = std::max(std::min(begin, high - start), low) + 0.5 * start;
    };
    for (std::size_t i = 0; i < wanted.size(); ++i) {
        blocks.push_back({i, 1, 0.0, 0.0});
        settle(blocks.back());
        while (blocks.size() > 1) {
            Block& previous = blocks[blocks.size() - 2];
            const Block& last = blocks.back();
            if (previous.centre + 0.5 * previous.size <= last.centre - 0.5 * last.size) break;
            previous.count += last.count;
            blocks.pop_back();
            settle(blocks.back());
        }
    }
    std::vector<double> centres;
    for (const Block& block : blocks) {
        double start = block.centre - 0.5 * block.size;
        for (std::size_t i = block.first; i < block.first + block.count; ++i) {
            centres.push_back(start + 0.5 * sizes[i]);
            start += sizes[i];
        }
    }
    return centres;
}

}  // namespace spotwright::drawing
