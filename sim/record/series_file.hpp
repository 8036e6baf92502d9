// A series of readings, written block by block. The extension selects the format.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <variant>

#include "sim/record/csv_series.hpp"
#include "sim/record/hdf5_series.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::record {

enum class SeriesFormat { hdf5, csv };

/// The format by a file's extension: `.h5` or `.csv`.
/// @throws ScenarioError  Any other, with the allowed ones. Call it before long work.
[[nodiscard]] SeriesFormat series_format_of(const std::filesystem::path& path);

/// A series that is being written. Memory does not grow with its length. The file gets its name only by
/// `commit`; without it nothing is left.
class SeriesFile {
public:
    using Writer = std::variant<CsvSeries, Hdf5Series>;

    SeriesFile(Writer writer, const SeriesColumns& columns);

    /// Blocks must come in order and without a gap, as `measure::take_series` passes them.
    /// @throws IoError
    void append(const measure::SeriesBlock& block);

    /// Adds raw frames of the first readings; before `commit`, and only to HDF5.
    /// @throws IoError
    void put_frames(const measure::RawFrames& frames);

    /// Adds the result if the format can hold it, and gives the file its name. Once, and last.
    /// @throws IoError
    void commit(const measure::ReadResult& result);

private:
    Writer writer_;
    SeriesColumns columns_;
    std::int64_t next_ = 0;
};

/// @param path  Ends in `.h5` or `.csv`.
/// @param when  Date to write into the file, ISO 8601; the same date and the same readings give the same bytes.
/// @throws ScenarioError  The extension is another.
/// @throws IoError  The file cannot be written.
[[nodiscard]] SeriesFile open_series_file(const std::filesystem::path& path, const scenario::Scenario& scenario,
                                          const std::string& when);

}  // namespace spotwright::record
