#include "sim/record/series_file.hpp"

#include <fmt/format.h>

#include <utility>

#include "sim/base/errors.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/scenario/input_files.hpp"

namespace spotwright::record {

SeriesFormat series_format_of(const std::filesystem::path& path) {
    return checked_extension(path, {".h5", ".csv"}) == ".h5" ? SeriesFormat::hdf5 : SeriesFormat::csv;
}

SeriesFile::SeriesFile(Writer writer, const SeriesColumns& columns) : writer_(std::move(writer)), columns_(columns) {}

void SeriesFile::append(const measure::SeriesBlock& block) {
    if (block.first != next_) {
        throw base::InternalError(fmt::format("reading {} written where {} is next", block.first, next_));
    }
    next_ += static_cast<std::int64_t>(block.validity.size());
    const SeriesRows rows = rows_of(block, columns_);
    std::visit([&rows](auto& writer) { writer.append(rows); }, writer_);
}

void SeriesFile::put_frames(const measure::RawFrames& frames) {
    auto* hdf5 = std::get_if<Hdf5Series>(&writer_);
    if (hdf5 == nullptr) throw base::InternalError("frames go to HDF5 alone");
    hdf5->put_frames(frames);
}

void SeriesFile::commit(const measure::ReadResult& result) {
    std::visit([&result](auto& writer) { writer.commit(result); }, writer_);
}

SeriesFile open_series_file(const std::filesystem::path& path, const scenario::Scenario& scenario,
                            const std::string& when) {
    const SeriesFormat format = series_format_of(path);
    keep_inputs(path, scenario::input_files(scenario));
    const SeriesOrigin origin = origin_of(scenario, when);
    if (format == SeriesFormat::csv) return SeriesFile(CsvSeries(path, origin), origin.columns);
    return SeriesFile(Hdf5Series(path, origin), origin.columns);
}

}  // namespace spotwright::record
