// Files beside a target that one run at a time writes.
#pragma once

#include <filesystem>
#include <string>

namespace spotwright::record {

/// The file that a target points to, through links.
/// @throws IoError  It is anything but a regular file or a free name.
[[nodiscard]] std::filesystem::path writable_target(const std::filesystem::path& target);

/// Opens a file to read and write, created where it is missing, and keeps it from other runs as long as it is open. A
/// link is never opened. Close the descriptor with close(2).
/// @param shown  The target that it belongs to, for errors.
/// @throws IoError  It cannot be opened, another run holds it, or it is anything but a regular file.
[[nodiscard]] int open_locked(const std::filesystem::path& file, const std::string& shown);

}  // namespace spotwright::record
