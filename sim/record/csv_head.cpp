#include "sim/record/csv_head.hpp"

#include <fmt/format.h>

#include <sstream>

namespace spotwright::record {

std::string csv_head(std::string_view format, const std::array<std::int64_t, 2>& version, const SeriesOrigin& origin) {
    std::string text;
    const auto comment = [&text](std::string_view line) { text += fmt::format("# {}\n", line); };
    comment(fmt::format("format: {} {}.{}", format, version[0], version[1]));
    comment("source: " + origin.source);
    comment("revision: " + origin.revision);
    comment("date: " + origin.date);
    comment("title: " + origin.title);
    comment(fmt::format("seed: {}", origin.seed));
    comment("scenario, as TOML:");
    std::istringstream toml(origin.scenario_toml);
    for (std::string line; std::getline(toml, line);) comment(line);
    return text;
}

}  // namespace spotwright::record
