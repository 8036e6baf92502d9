#include "sim/record/atomic_file.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <system_error>
#include <utility>

#include "sim/base/errors.hpp"
#include "sim/base/words.hpp"
#include "sim/record/locked_file.hpp"

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

AtomicFile::AtomicFile(const fs::path& target) : shown_(target.string()), target_(writable_target(target)) {
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
      buffer_(std::move(other.buffer_)),
      unfinished_(std::move(other.unfinished_)) {}

AtomicFile& AtomicFile::operator=(AtomicFile&& other) noexcept {
    if (this == &other) return *this;
    discard();
    shown_ = std::move(other.shown_);
    target_ = std::move(other.target_);
    part_ = std::move(other.part_);
    descriptor_ = std::exchange(other.descriptor_, -1);
    buffer_ = std::move(other.buffer_);
    unfinished_ = std::move(other.unfinished_);
    return *this;
}

void AtomicFile::fail(int error) const {
    cannot_write(shown_, reason_of(error));
}

// Overwrites the unfinished file of a killed run.
void AtomicFile::open() {
    descriptor_ = open_locked(part_, shown_);
    if (::ftruncate(descriptor_, 0) != 0) {
        const int error = errno;
        discard();
        fail(error);
    }
    try {
        unfinished_ = Unfinished(part_);
    } catch (...) {
        discard();  // no memory for its name: a constructor that throws has no destructor to do so
        throw;
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
    unfinished_.release();
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
    unfinished_.release();
    ::close(std::exchange(descriptor_, -1));
}

std::string checked_extension(const fs::path& path, const std::vector<std::string>& allowed) {
    const std::string extension = path.extension().string();
    if (std::find(allowed.begin(), allowed.end(), extension) != allowed.end()) return extension;
    const std::string problem = extension.empty() ? "the name has no extension, which selects the format"
                                                  : "no such format: \"" + extension + "\"";
    base::SourceLocation place;
    place.file = path.string();
    throw base::ScenarioError({{place, problem, base::alternatives(allowed), ""}});
}

void keep_inputs(const fs::path& target, std::span<const fs::path> inputs) {
    for (const char* suffix : {"", ".part", ".points"}) {
        fs::path written = target;
        written += suffix;
        for (const fs::path& input : inputs) {
            std::error_code status;
            if (!fs::equivalent(written, input, status)) continue;
            base::SourceLocation place;
            place.file = target.string();
            throw base::ScenarioError(
                {{place, fmt::format("would replace a file that this run reads: {}", input.string()),
                  "the name of another file", ""}});
        }
    }
}

void write_text_file(const fs::path& path, std::string_view text) {
    AtomicFile file(path);
    file.write(text);
    file.commit();
}

}  // namespace spotwright::record
