// The points of a sweep in a file that survives an interrupted run.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "sim/record/unfinished.hpp"
#include "sim/study/sweep.hpp"

namespace spotwright::record {

/// Files that the scenario of a sweep or the values of its axes name, and that exist.
[[nodiscard]] std::vector<std::filesystem::path> files_named_by(const study::Sweep& sweep);

/// A file of one record for each point, all of one size, after a head that identifies the sweep. A record
/// is complete if its checksum is right; an interrupted one is not. Written by one run at a time.
class SweepPoints {
public:
    /// Continues with the points in the file.
    /// @param file  To write.  @param shown  The target that it belongs to, for errors.
    /// @throws ScenarioError  It holds points of another sweep, or something else.
    /// @throws IoError  It cannot be written, or another run is writing it.
    SweepPoints(std::filesystem::path file, std::string shown, const study::Sweep& sweep, const std::string& source);
    ~SweepPoints();
    SweepPoints(const SweepPoints&) = delete;
    SweepPoints& operator=(const SweepPoints&) = delete;

    [[nodiscard]] bool has(std::int64_t point) const;
    [[nodiscard]] std::int64_t done() const { return done_; }

    /// Where a damaged file of this name has been moved to; empty: there was none.
    [[nodiscard]] const std::filesystem::path& set_aside() const { return set_aside_; }

    /// An obstacle of more than 480 bytes is cut. @throws IoError
    void put(std::int64_t point, const study::SweepPoint& result);

    /// @throws InternalError  The point is not there.
    [[nodiscard]] study::SweepPoint get(std::int64_t point) const;

    /// Removes the file.
    void remove() noexcept;

private:
    [[noreturn]] void fail(int error) const;
    [[noreturn]] void reject(const std::string& message, const std::string& allowed) const;
    bool begun_by(const std::string& head) const;
    void begin(const std::string& head);
    void set_damaged_aside(std::int64_t records_at);
    void count_points(std::int64_t points);
    bool read_record(std::int64_t point, std::vector<std::byte>& record) const;

    std::filesystem::path file_;
    std::string shown_;
    int descriptor_ = -1;
    std::size_t record_size_ = 0;
    std::int64_t records_at_ = 0;  ///< offset of the first one in the file
    std::int64_t done_ = 0;
    std::filesystem::path set_aside_;
    Unfinished unfinished_;  ///< until it has a point
};

}  // namespace spotwright::record
