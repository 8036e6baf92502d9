// A series as comma-separated values (RFC 4180), after comment lines with its origin.
#pragma once

#include <filesystem>

#include "sim/record/atomic_file.hpp"
#include "sim/record/series_columns.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::record {

/// Numbers are the shortest that read back to the same bits, missing ones are empty, validity is its word. No field
/// holds a comma, a quote or a line break, so none is quoted.
class CsvSeries {
public:
    /// @throws IoError
    CsvSeries(const std::filesystem::path& path, const SeriesOrigin& origin);

    /// @throws IoError
    void append(const SeriesRows& rows);

    /// @throws IoError
    void commit(const measure::ReadResult& result);

private:
    AtomicFile file_;
};

}  // namespace spotwright::record
