#include "sim/record/locked_file.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <system_error>

#include "sim/base/errors.hpp"

namespace spotwright::record {

namespace {

[[noreturn]] void cannot_hold(const std::string& shown, const std::string& reason) {
    throw base::IoError("write", shown, reason, base::FileUse::output);
}

[[noreturn]] void cannot_hold(const std::string& shown, int error) {
    cannot_hold(shown, std::generic_category().message(error));
}

// Two runs with the same target would otherwise rename each other's unfinished part. The lock belongs to the open
// file, ends with it however the run ends, and is not the kind of lock that HDF5 takes.
void lock(int descriptor, const std::filesystem::path& file, const std::string& shown) {
    struct flock whole {};
    whole.l_type = F_WRLCK;
    whole.l_whence = SEEK_SET;
    const bool locked = ::fcntl(descriptor, F_OFD_SETLK, &whole) == 0;
    const bool taken = !locked && (errno == EAGAIN || errno == EACCES);  // other errors: a disk without locks
    struct stat opened {};
    struct stat named {};
    if (::fstat(descriptor, &opened) != 0) cannot_hold(shown, errno);
    const bool renamed_meanwhile = ::lstat(file.c_str(), &named) != 0 || named.st_ino != opened.st_ino;
    if (taken || renamed_meanwhile) cannot_hold(shown, "another run is writing it");
    if (!S_ISREG(opened.st_mode)) cannot_hold(shown, file.filename().string() + " beside it is not a regular file");
}

}  // namespace

std::filesystem::path writable_target(const std::filesystem::path& target) {
    namespace fs = std::filesystem;
    fs::path found = target;
    std::error_code error;
    if (fs::is_symlink(fs::symlink_status(found, error))) {
        found = fs::canonical(found, error);
        if (error) cannot_hold(target.string(), error.message());
    }
    const fs::file_status status = fs::status(found, error);
    if (!found.has_filename() || fs::is_directory(status)) cannot_hold(target.string(), EISDIR);
    // A device or a pipe would be replaced by the rename.
    if (fs::exists(status) && !fs::is_regular_file(status)) cannot_hold(target.string(), "not a regular file");
    return found;
}

int open_locked(const std::filesystem::path& file, const std::string& shown) {
    constexpr mode_t everyone_by_umask = 0666;
    const int descriptor = ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, everyone_by_umask);
    if (descriptor < 0) cannot_hold(shown, errno);
    try {
        lock(descriptor, file, shown);
    } catch (...) {
        ::close(descriptor);  // without removing it: it is another run's, or no file of ours
        throw;
    }
    return descriptor;
}

}  // namespace spotwright::record
