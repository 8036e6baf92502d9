// In place of the HDF5 files, in a build without that library.
#include "sim/base/errors.hpp"
#include "sim/record/hdf5_series.hpp"
#include "sim/record/sweep_writers.hpp"

namespace spotwright::record {

namespace {

[[noreturn]] void reject(const std::filesystem::path& path) {
    throw base::IoError("write", path.string(), "this build has no HDF5; CSV is written", base::FileUse::output);
}

}  // namespace

struct Hdf5Series::Open {};

Hdf5Series::Hdf5Series(const std::filesystem::path& path, const SeriesOrigin& /*origin*/) {
    reject(path);
}

Hdf5Series::~Hdf5Series() = default;
Hdf5Series::Hdf5Series(Hdf5Series&&) noexcept = default;
Hdf5Series& Hdf5Series::operator=(Hdf5Series&&) noexcept = default;

void Hdf5Series::append(const SeriesRows& /*rows*/) {}
void Hdf5Series::put_frames(const measure::RawFrames& /*frames*/) {}
void Hdf5Series::commit(const measure::ReadResult& /*result*/) {}

void write_hdf5_sweep(const std::filesystem::path& path, const study::Sweep& /*sweep*/, const SeriesOrigin& /*origin*/,
                      const GetPoint& /*get*/) {
    reject(path);
}

}  // namespace spotwright::record
