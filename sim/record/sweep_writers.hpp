// The finished file of a sweep, in either format.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>

#include "sim/record/series_columns.hpp"
#include "sim/study/sweep.hpp"

namespace spotwright::record {

/// Name of the format, and its version, as of a series.
inline constexpr std::string_view sweep_format = "spotwright sweep";
inline constexpr std::array<std::int64_t, 2> sweep_format_version{1, 0};

/// A point's result, by its number.
using GetPoint = std::function<study::SweepPoint(std::int64_t point)>;

/// One dimension for each axis, with its values as coordinate: numbers, or words; indices of lists are beside
/// them. Quantities, `verdict` and `obstacle` as variables on all of them (CF-1.10), a value that does not exist is
/// NaN. Memory does not grow with the number of points. @throws IoError
void write_hdf5_sweep(const std::filesystem::path& path, const study::Sweep& sweep, const SeriesOrigin& origin,
                      const GetPoint& get);

/// One row for each point: values of the keys, quantities, verdict, obstacle (RFC 4180), after comment lines that say
/// its origin. Numbers are the shortest that read back to the same bits, missing ones are empty. Likewise.
/// @throws IoError
void write_csv_sweep(const std::filesystem::path& path, const study::Sweep& sweep, const SeriesOrigin& origin,
                     const GetPoint& get);

}  // namespace spotwright::record
