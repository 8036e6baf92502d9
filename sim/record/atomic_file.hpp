// A file that gets its name only when it is complete.
#pragma once

#include <filesystem>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/record/unfinished.hpp"

namespace spotwright::record {

/// Content goes to `NAME.part` beside the target and takes the target's name on `commit`. Without a commit nothing
/// is left, and an older file of that name is unchanged; a signal that ends the program removes the part. Of a target
/// that is a link, the file it points to is replaced. Every failure is an IoError that names the target and gives the
/// system's reason.
class AtomicFile {
public:
    /// @throws IoError  The folder is missing or cannot be written to, the target is anything but a regular file, or
    ///   another run is writing the same file.
    explicit AtomicFile(const std::filesystem::path& target);
    ~AtomicFile();
    AtomicFile(AtomicFile&& other) noexcept;
    AtomicFile& operator=(AtomicFile&& other) noexcept;
    AtomicFile(const AtomicFile&) = delete;
    AtomicFile& operator=(const AtomicFile&) = delete;

    /// Appends. Output is buffered: a full disk may be reported later, at the latest by `commit`.
    /// @throws IoError
    void write(std::string_view text);

    /// The file with the unfinished content, for a library that writes by name.
    [[nodiscard]] const std::filesystem::path& part() const { return part_; }

    /// Writes everything to the disk, then gives the file its name. Once only.
    /// @throws IoError
    void commit();

private:
    [[noreturn]] void fail(int error) const;
    void open();
    void flush();
    void sync_folder() const;
    void discard() noexcept;

    std::string shown_;  ///< the target as the user wrote it
    std::filesystem::path target_;
    std::filesystem::path part_;
    int descriptor_ = -1;  ///< of the part; -1 once committed or moved from
    std::string buffer_;
    Unfinished unfinished_;
};

/// The extension of a file's name, dot included: the format that the user asks for. Call it before long work.
/// @param allowed  The extensions there are, as in ".csv".
/// @throws ScenarioError  Any other, with the allowed ones.
[[nodiscard]] std::string checked_extension(const std::filesystem::path& path, const std::vector<std::string>& allowed);

/// Before a file is written: refuses a target that the same run reads, also under another name or through a link, and
/// one whose unfinished file (`NAME.part`, `NAME.points`) would be such a file. Names of no file count for nothing.
/// @throws ScenarioError  With the name of that input.
void keep_inputs(const std::filesystem::path& target, std::span<const std::filesystem::path> inputs);

/// The whole of a file at once. @throws IoError
void write_text_file(const std::filesystem::path& path, std::string_view text);

}  // namespace spotwright::record
