// Origin of a CSV file, in comment lines at its start.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>

#include "sim/record/series_columns.hpp"

namespace spotwright::record {

/// Format and version, source, date, title, seed and the whole scenario, each line begun with `# `.
[[nodiscard]] std::string csv_head(std::string_view format, const std::array<std::int64_t, 2>& version,
                                   const SeriesOrigin& origin);

}  // namespace spotwright::record
