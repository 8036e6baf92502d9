// Content of a series file, the same in every format.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "sim/scenario/scenario.hpp"
#include "sim/measure/series.hpp"

namespace spotwright::record {

/// Name of the format, and its version: a greater major number breaks readers, a greater minor one adds.
inline constexpr std::string_view series_format = "spotwright series";
inline constexpr std::array<std::int64_t, 2> series_format_version{1, 1};

struct ColumnLabel {
    std::string_view name;  ///< ends in its unit
    std::string_view units;
    std::string_view long_name;
};

/// The columns in their order. `position` and `strength` depend on the principle.
struct SeriesColumns {
    ColumnLabel reading{"reading", "1", "index of the reading"};
    ColumnLabel time{"time_ms", "ms", "time since the first reading"};
    ColumnLabel position;
    ColumnLabel displacement{"displacement_mm", "mm", "displacement of a single reading, + away from the sensor"};
    ColumnLabel output{"output_mm", "mm", "displacement after median and average, held or marked where invalid"};
    ColumnLabel strength;
    ColumnLabel validity{"validity", "1", "whether the reading is valid, or why not"};
    ColumnLabel truth{"true_mm", "mm", "displacement of the lit point in the middle of the exposure"};
    ColumnLabel exposure{"exposure_us", "us", "exposure of the reading"};
    double position_unit = 1.0;  ///< SI value of the unit of `position`
    bool moves = false;          ///< the last two exist: the part moves
};

[[nodiscard]] SeriesColumns columns_of(const scenario::Scenario& scenario);

/// A block of rows. A value that does not exist is NaN.
struct SeriesRows {
    std::vector<std::int64_t> reading;
    std::vector<double> time_ms;
    std::vector<double> position;
    std::vector<double> displacement_mm;
    std::vector<double> output_mm;
    std::vector<float> strength;
    std::vector<std::uint8_t> validity;  ///< value of reading::Validity
    std::vector<double> true_mm;         ///< empty for a part that stands still
    std::vector<double> exposure_us;     ///< likewise
};

[[nodiscard]] SeriesRows rows_of(const measure::SeriesBlock& block, const SeriesColumns& columns);

/// Description of a series, known before its first reading.
struct SeriesOrigin {
    std::string title;     ///< on one line
    std::string source;    ///< program and version
    std::string revision;  ///< of the program: see base/version.hpp
    std::string date;      ///< ISO 8601
    std::int64_t seed = 0;
    std::string scenario_toml;
    SeriesColumns columns;
};

[[nodiscard]] SeriesOrigin origin_of(const scenario::Scenario& scenario, const std::string& when);

}  // namespace spotwright::record
