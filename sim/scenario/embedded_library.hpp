// The files of scenarios/materials and scenarios/sensors, built into the program so that it runs from anywhere.
#pragma once

#include <span>
#include <string_view>

namespace spotwright::scenario {

struct EmbeddedFile {
    std::string_view name;  ///< file name without `.toml`
    std::string_view text;
};

[[nodiscard]] std::span<const EmbeddedFile> embedded_materials();
[[nodiscard]] std::span<const EmbeddedFile> embedded_sensors();

}  // namespace spotwright::scenario
