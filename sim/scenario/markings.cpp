#include "sim/scenario/markings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <charconv>

#include "sim/scenario/scenario.hpp"
#include "sim/scenario/table.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::scenario {

namespace {

constexpr std::int64_t most_pixels = 1 << 24;

bool is_space(char c) {
    return std::isspace(static_cast<unsigned char>(c)) != 0;
}

// Reads the numbers of a PGM image one after the other.
class PictureText {
public:
    PictureText(std::string_view bytes, const std::string& file) : rest_(bytes), file_(file) {}

    // The next number in decimal digits; comments begin with # and end with the line.
    std::int64_t number(const char* of, std::int64_t least, std::int64_t most) {
        skip_space();
        std::int64_t value = 0;
        const auto [end, error] = std::from_chars(rest_.data(), rest_.data() + rest_.size(), value);
        const std::string allowed = fmt::format("a whole number from {} to {}", least, most);
        if (error != std::errc{}) reject_line(file_, 0, fmt::format("no number for its {}", of), allowed);
        if (value < least || value > most) reject_line(file_, 0, fmt::format("its {} is {}", of, value), allowed);
        rest_.remove_prefix(static_cast<std::size_t>(end - rest_.data()));
        return value;
    }

    // Bytes after the single space that ends the header of a binary image.
    std::string_view binary() {
        if (!rest_.empty()) rest_.remove_prefix(1);
        return rest_;
    }

private:
    void skip_space() {
        while (!rest_.empty() && (is_space(rest_.front()) || rest_.front() == '#')) {
            const bool comment = rest_.front() == '#';
            const std::size_t end = comment ? rest_.find('\n') : 1;
            rest_.remove_prefix(std::min(end, rest_.size()));
        }
    }

    std::string_view rest_;
    const std::string& file_;
};

// Brightness of all pixels of a binary image, the high byte first where a pixel has two.
std::vector<std::int64_t> binary_pixels(std::string_view bytes, std::int64_t count, std::int64_t white,
                                        const std::string& file) {
    constexpr std::int64_t one_byte = 255;
    const std::size_t width = white > one_byte ? 2 : 1;
    const std::size_t needed = static_cast<std::size_t>(count) * width;
    if (bytes.size() < needed) {
        reject_line(file, 0, fmt::format("the image ends after {} of {} bytes", bytes.size(), needed), "all pixels");
    }
    std::vector<std::int64_t> pixels;
    pixels.reserve(static_cast<std::size_t>(count));
    for (std::size_t i = 0; i < needed; i += width) {
        std::int64_t value = static_cast<unsigned char>(bytes[i]);
        if (width == 2) value = 256 * value + static_cast<unsigned char>(bytes[i + 1]);
        if (value > white) reject_line(file, 0, fmt::format("a pixel of {}", value), fmt::format("at most {}", white));
        pixels.push_back(value);
    }
    return pixels;
}

}  // namespace

bool has_markings(const Target& target) {
    return target.pattern.kind != PatternKind::none || target.texture.deviation > 0.0 ||
           target.feed_marks.spacing > 0.0;
}

void remove_markings(Target& target) {
    target.pattern = {};
    target.texture = {};
    target.feed_marks = {};
}

CoverageMap parse_picture(std::string_view bytes, const std::string& file) {
    const bool plain = bytes.starts_with("P2");
    if (!plain && !bytes.starts_with("P5")) {
        reject_line(file, 0, "not a PGM image", "a grey image in the Netpbm format PGM: it begins with P2 or P5");
    }
    PictureText text(bytes.substr(2), file);
    CoverageMap map;
    constexpr std::int64_t most_white = 65535;
    map.columns = text.number("width", 1, most_pixels);
    map.rows = text.number("height", 1, most_pixels / map.columns);
    const std::int64_t white = text.number("brightest value", 1, most_white);
    const std::int64_t count = map.columns * map.rows;
    std::vector<std::int64_t> pixels;
    if (plain) {
        pixels.reserve(static_cast<std::size_t>(count));
        for (std::int64_t i = 0; i < count; ++i) pixels.push_back(text.number("pixel", 0, white));
    } else {
        pixels = binary_pixels(text.binary(), count, white, file);
    }
    map.covered.reserve(pixels.size());
    for (const std::int64_t pixel : pixels) {
        map.covered.push_back(1.0 - static_cast<double>(pixel) / static_cast<double>(white));
    }
    return map;
}

CoverageMap load_picture(const std::string& path) {
    constexpr std::uintmax_t largest = 64U << 20U;
    return parse_picture(read_text_file(path, largest), path);
}

}  // namespace spotwright::scenario
