#include "sim/record/unfinished.hpp"

#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <memory>
#include <string>
#include <utility>

namespace spotwright::record {

namespace {

struct File {
    std::string name;
    dev_t device{};
    ino_t node{};
    File* next = nullptr;  // of those that a handler has taken
};

// Whoever takes a pointer out of the table owns it.
constexpr std::size_t most_files = 64;
std::array<std::atomic<File*>, most_files> files{};
// What a handler has taken: it must not free, so it is kept to the end of the program.
std::atomic<File*> taken_by_handler{nullptr};
static_assert(std::atomic<File*>::is_always_lock_free, "a signal handler must not wait for a lock");

}  // namespace

Unfinished::Unfinished(const std::filesystem::path& file) {
    struct stat status {};
    if (::lstat(file.c_str(), &status) != 0) return;
    std::error_code error;
    const std::filesystem::path absolute = std::filesystem::absolute(file, error);
    auto entry =
        std::make_unique<File>(File{error ? file.string() : absolute.string(), status.st_dev, status.st_ino, nullptr});
    for (std::size_t i = 0; i < most_files; ++i) {
        File* expected = nullptr;
        if (!files[i].compare_exchange_strong(expected, entry.get())) continue;
        static_cast<void>(entry.release());
        place_ = i;
        return;
    }
}

Unfinished::Unfinished(Unfinished&& other) noexcept : place_(std::exchange(other.place_, none)) {}

Unfinished& Unfinished::operator=(Unfinished&& other) noexcept {
    if (this == &other) return *this;
    release();
    place_ = std::exchange(other.place_, none);
    return *this;
}

void Unfinished::release() noexcept {
    if (place_ == none) return;
    const std::unique_ptr<File> taken(files[place_].exchange(nullptr));  // none where a handler has it
    place_ = none;
}

// Only calls that POSIX allows in a handler: nothing is freed, for the program ends.
void remove_unfinished() noexcept {
    for (std::atomic<File*>& place : files) {
        File* file = place.exchange(nullptr);
        if (file == nullptr) continue;
        file->next = taken_by_handler.exchange(file);
        struct stat status {};
        const bool same =
            ::lstat(file->name.c_str(), &status) == 0 && status.st_dev == file->device && status.st_ino == file->node;
        if (same) ::unlink(file->name.c_str());
    }
}

}  // namespace spotwright::record
