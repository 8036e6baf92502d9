// A series as HDF5 that xarray and every netCDF-4 reader open as labelled data.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "sim/record/series_columns.hpp"
#include "sim/measure/raw_frames.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::record {

/// One variable per column along the unlimited dimension `reading`; origin and result as attributes of the file
/// (CF-1.10). A result that does not exist is NaN.
class Hdf5Series {
public:
    /// @throws IoError
    Hdf5Series(const std::filesystem::path& path, const SeriesOrigin& origin);
    ~Hdf5Series();
    Hdf5Series(Hdf5Series&& other) noexcept;
    Hdf5Series& operator=(Hdf5Series&& other) noexcept;
    Hdf5Series(const Hdf5Series&) = delete;
    Hdf5Series& operator=(const Hdf5Series&) = delete;

    /// @throws IoError
    void append(const SeriesRows& rows);

    /// Raw frames of the first readings as `frame_dn` over `frame`, the index of its reading, and `pixel`. Once, before
    /// `commit`. @throws IoError
    void put_frames(const measure::RawFrames& frames);

    /// @throws IoError
    void commit(const measure::ReadResult& result);

private:
    struct Open;  // file and variables: the HDF5 library is no concern of who includes this
    std::unique_ptr<Open> open_;
};

}  // namespace spotwright::record
