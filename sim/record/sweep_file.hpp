// The results of a sweep on disk, point by point, so that an interrupted run can continue.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>

#include "sim/study/sweep.hpp"

namespace spotwright::record {

/// A sweep that is being written. Points are in `TARGET.points` beside the target as they come; `commit` makes the
/// labelled file of them: `.h5`, which xarray and every netCDF-4 reader open, with one dimension for each axis; or
/// `.csv`, one row for each point. Memory does not grow with the number of points.
class SweepFile {
public:
    /// Continues an interrupted run if it was of the same sweep by the same version, and the files that it reads have
    /// the same content.
    /// @param when  Date to write into the file, ISO 8601.
    /// @throws ScenarioError  Another extension; the points beside the target are of another sweep.
    /// @throws IoError  The file cannot be written, or another run is writing it.
    SweepFile(const std::filesystem::path& target, const study::Sweep& sweep, const std::string& when);
    ~SweepFile();
    SweepFile(SweepFile&&) noexcept;
    SweepFile& operator=(SweepFile&&) noexcept;

    /// Whether the file has the result of the point.
    [[nodiscard]] bool has(std::int64_t point) const;

    /// Number of points with a result.
    [[nodiscard]] std::int64_t done() const;

    /// A damaged file of points that stood beside the target is kept under this name; empty: there was none.
    [[nodiscard]] std::filesystem::path set_aside() const;

    /// An obstacle of more than 480 bytes is cut. @throws IoError
    void put(std::int64_t point, const study::SweepPoint& result);

    /// Reads a result back. @throws InternalError  The point is not there. @throws IoError
    [[nodiscard]] study::SweepPoint get(std::int64_t point) const;

    /// Gives the file its name, and removes the points beside it. Once, and last: no other call may come after it.
    /// @throws InternalError  A point is missing. @throws IoError
    void commit();

private:
    struct Points;
    std::unique_ptr<Points> points_;
};

}  // namespace spotwright::record
