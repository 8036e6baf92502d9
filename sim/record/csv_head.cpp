#include "sim/record/csv_head.hpp"

#include <fmt/format.h>

#include <sstream>

namespace spotwright::record {

namespace {

// Spreadsheets part a comment at its separators, and take what begins with one of these for a formula.
bool begins_formula(std::string_view text, std::size_t i) {
    constexpr std::string_view separators = ",;\t";
    constexpr std::string_view formulas = "=+-@";
    return i > 0 && separators.find(text[i - 1]) != std::string_view::npos &&
           formulas.find(text[i]) != std::string_view::npos;
}

// With a space where a formula would begin.
std::string apart(std::string_view line) {
    std::string text;
    for (std::size_t i = 0; i < line.size(); ++i) {
        if (begins_formula(line, i)) text += ' ';
        text += line[i];
    }
    return text;
}

// The same of a line of TOML, which keeps its meaning: only within its strings a separator stands without a space
// after.
std::string escaped(std::string_view line) {
    std::string text;
    for (std::size_t i = 0; i < line.size(); ++i) {
        if (begins_formula(line, i)) {
            text += fmt::format("\\u{:04x}", static_cast<unsigned char>(line[i]));
        } else {
            text += line[i];
        }
    }
    return text;
}

}  // namespace

std::string csv_head(std::string_view format, const std::array<std::int64_t, 2>& version, const SeriesOrigin& origin) {
    std::string text;
    const auto comment = [&text](std::string_view line) { text += fmt::format("# {}\n", apart(line)); };
    comment(fmt::format("format: {} {}.{}", format, version[0], version[1]));
    comment("source: " + origin.source);
    comment("revision: " + origin.revision);
    comment("date: " + origin.date);
    comment("title: " + origin.title);
    comment(fmt::format("seed: {}", origin.seed));
    comment("scenario, as TOML:");
    std::istringstream toml(origin.scenario_toml);
    for (std::string line; std::getline(toml, line);) text += fmt::format("# {}\n", escaped(line));
    return text;
}

}  // namespace spotwright::record
