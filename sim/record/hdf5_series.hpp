// A series as HDF5 that xarray and every netCDF-4 reader open as labelled data.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "sim/record/atomic_file.hpp"
#include "sim/record/hdf5_file.hpp"
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

    /// @throws IoError
    void append(const SeriesRows& rows);

    /// Raw frames of the first readings as `frame_dn` over `frame`, the index of its reading, and `pixel`. Once, before
    /// `commit`. @throws IoError
    void put_frames(const measure::RawFrames& frames);

    /// @throws IoError
    void commit(const measure::ReadResult& result);

private:
    AtomicFile part_;  // stands first, so that HDF5 has closed the part before it is removed
    Hdf5Object file_;
    Hdf5Object reading_;
    Hdf5Object time_;
    Hdf5Object position_;
    Hdf5Object displacement_;
    Hdf5Object output_;
    Hdf5Object peak_;
    Hdf5Object validity_;
    std::optional<Hdf5Object> truth_;     // of a part that does not stand still
    std::optional<Hdf5Object> exposure_;  // likewise
};

}  // namespace spotwright::record
