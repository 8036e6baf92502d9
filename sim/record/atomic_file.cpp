#include "sim/record/atomic_file.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <system_error>
#include <utility>

#include "sim/base/errors.hpp"
#include "sim/base/words.hpp"

namespace spotwright::record {

namespace fs = std::filesystem;

namespace {

constexpr std::size_t buffer_size = 1U << 16U;

std::string reason_of(int error) {
    return std::generic_category().message(error);
}

[[noreturn]] void cannot_write(const std::string& path, const std::string& reason) {
    throw base::IoError("write", path, reason, base::FileUse::output);
}

}  // namespace

AtomicFile::AtomicFile(const fs::path& target) : shown_(target.string()), target_(target) {
    std::error_code error;
    if (fs::is_symlink(fs::symlink_status(target_, error))) {
        target_ = fs::canonical(target_, error);
        if (error) cannot_write(shown_, error.message());
    }
    const fs::file_status status = fs::status(target_, error);
    if (!target_.has_filename() || fs::is_directory(status)) fail(EISDIR);
    // A device or a pipe would be replaced by the rename.
    if (fs::exists(status) && !fs::is_regular_file(status)) {
        cannot_write(shown_, "not a regular file");
    }
    part_ = target_;
    part_ += ".part";
    open();
}

AtomicFile::~AtomicFile() {
    discard();
}

AtomicFile::AtomicFile(AtomicFile&& other) noexcept
    : shown_(std::move(other.shown_)),
      target_(std::move(other.target_)),
      part_(std::move(other.part_)),
      descriptor_(std::exchange(other.descriptor_, -1)),
      buffer_(std::move(other.buffer_)) {}

AtomicFile& AtomicFile::operator=(AtomicFile&& other) noexcept {
    if (this == &other) return *this;
    discard();
    shown_ = std::move(other.shown_);
    target_ = std::move(other.target_);
    part_ = std::move(other.part_);
    descriptor_ = std::exchange(other.descriptor_, -1);
    buffer_ = std::move(other.buffer_);
    return *this;
}

void AtomicFile::fail(int error) const {
    cannot_write(shown_, reason_of(error));
}

// What a killed run has left under the part's name is written over; a link there is never followed.
void AtomicFile::open() {
    constexpr mode_t everyone_by_umask = 0666;
    const int descriptor = ::open(part_.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, everyone_by_umask);
    if (descriptor < 0) fail(errno);
    descriptor_ = descriptor;
    try {
        lock();
        if (::ftruncate(descriptor_, 0) != 0) fail(errno);
    } catch (...) {
        ::close(std::exchange(descriptor_, -1));  // without removing it: it is another run's, or no file of ours
        throw;
    }
}

// Two runs with the same target would otherwise rename each other's unfinished part. The lock belongs to the open
// file, ends with it however the run ends, and is not the kind of lock that HDF5 takes.
void AtomicFile::lock() const {
    struct flock whole {};
    whole.l_type = F_WRLCK;
    whole.l_whence = SEEK_SET;
    const bool locked = ::fcntl(descriptor_, F_OFD_SETLK, &whole) == 0;
    const bool taken = !locked && (errno == EAGAIN || errno == EACCES);  // other errors: a disk without locks
    struct stat opened {};
    struct stat named {};
    if (::fstat(descriptor_, &opened) != 0) fail(errno);
    const bool renamed_meanwhile = ::lstat(part_.c_str(), &named) != 0 || named.st_ino != opened.st_ino;
    if (taken || renamed_meanwhile) cannot_write(shown_, "another run is writing it");
    if (!S_ISREG(opened.st_mode)) {
        cannot_write(shown_, part_.filename().string() + " beside it is not a regular file");
    }
}

void AtomicFile::write(std::string_view text) {
    buffer_.append(text);
    if (buffer_.size() >= buffer_size) flush();
}

void AtomicFile::flush() {
    std::string_view rest = buffer_;
    while (!rest.empty()) {
        const ssize_t written = ::write(descriptor_, rest.data(), rest.size());
        if (written < 0 && errno == EINTR) continue;
        if (written < 0) fail(errno);
        rest.remove_prefix(static_cast<std::size_t>(written));
    }
    buffer_.clear();
}

void AtomicFile::commit() {
    if (descriptor_ < 0) throw base::InternalError("a file is committed twice: " + shown_);
    flush();
    if (::fsync(descriptor_) != 0) fail(errno);
    // Renamed before it is closed, so that the lock holds until the name is given.
    if (::rename(part_.c_str(), target_.c_str()) != 0) fail(errno);
    if (::close(std::exchange(descriptor_, -1)) != 0) fail(errno);
    sync_folder();
}

void AtomicFile::sync_folder() const {
    const fs::path folder = target_.has_parent_path() ? target_.parent_path() : fs::path(".");
    const int descriptor = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (descriptor < 0) {
        if (errno == EACCES) return;  // a folder that may be written to but not read
        fail(errno);
    }
    const int error = ::fsync(descriptor) == 0 ? 0 : errno;
    ::close(descriptor);
    if (error != 0 && error != EINVAL) fail(error);  // EINVAL: a disk on which folders need no such call
}

void AtomicFile::discard() noexcept {
    if (descriptor_ < 0) return;
    ::unlink(part_.c_str());
    ::close(std::exchange(descriptor_, -1));
}

std::string checked_extension(const fs::path& path, const std::vector<std::string>& allowed) {
    const std::string extension = path.extension().string();
    if (std::find(allowed.begin(), allowed.end(), extension) != allowed.end()) return extension;
    const std::string problem = extension.empty() ? "the name has no extension, which tells the format"
                                                  : "no such format: \"" + extension + "\"";
    base::Place place;
    place.file = path.string();
    throw base::ScenarioError({{place, problem, base::alternatives(allowed), ""}});
}

void write_text_file(const fs::path& path, std::string_view text) {
    AtomicFile file(path);
    file.write(text);
    file.commit();
}

}  // namespace spotwright::record
