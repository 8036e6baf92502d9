// Files under way, which a signal that ends the program takes away with it.
#pragma once

#include <sys/types.h>

#include <cstddef>
#include <filesystem>

namespace spotwright::record {

/// Holds the place of an unfinished file for as long as it lives. A signal handler can reach nothing but objects with
/// static storage: a small table in this file's source holds these places, and is the one such object of the library.
/// It has room for 64; further files are not removed by a signal.
class Unfinished {
public:
    Unfinished() = default;

    /// @param file  Exists.
    explicit Unfinished(const std::filesystem::path& file);
    ~Unfinished() { release(); }
    Unfinished(Unfinished&& other) noexcept;
    Unfinished& operator=(Unfinished&& other) noexcept;
    Unfinished(const Unfinished&) = delete;
    Unfinished& operator=(const Unfinished&) = delete;

    /// The file is finished or gone.
    void release() noexcept;

private:
    static constexpr std::size_t none = static_cast<std::size_t>(-1);
    std::size_t place_ = none;
};

/// Removes all unfinished files. May be called from a signal handler. A file that has meanwhile another name, or whose
/// name another file has, stays.
void remove_unfinished() noexcept;

}  // namespace spotwright::record
