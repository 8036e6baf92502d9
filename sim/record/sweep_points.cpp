#include "sim/record/sweep_points.hpp"

#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <span>
#include <system_error>
#include <utility>

#include "sim/base/errors.hpp"
#include "sim/record/locked_file.hpp"
#include "sim/scenario/input_files.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::record {

namespace {

constexpr std::array<char, 8> points_magic{'s', 'w', 'p', 'o', 'i', 'n', 't', '1'};
constexpr std::size_t longest_obstacle = 480;

// Before the values of a record.
struct RecordHead {
    std::uint64_t checksum = 0;  // of the rest of the record and of the point's number
    std::uint8_t level = 0;
    std::uint8_t unused = 0;
    std::uint16_t obstacle_length = 0;
    std::uint32_t unused_too = 0;
    std::array<char, longest_obstacle> obstacle{};
};

// Before the text that identifies the sweep.
struct FileHead {
    std::array<char, 8> magic = points_magic;
    std::uint64_t length = 0;
    std::uint64_t checksum = 0;
};

// FNV-1a, 64 bit. Source: G. Fowler, L. C. Noll, K.-P. Vo, D. Eastlake, RFC 9923.
std::uint64_t checksum_of(std::span<const std::byte> bytes, std::uint64_t start = 0) {
    std::uint64_t hash = 0xcbf29ce484222325U ^ start;
    for (const std::byte byte : bytes) {
        hash ^= static_cast<std::uint64_t>(byte);
        hash *= 0x100000001b3U;
    }
    return hash;
}

std::uint64_t checksum_of_record(std::span<const std::byte> record, std::int64_t point) {
    return checksum_of(record.subspan(sizeof(std::uint64_t)), static_cast<std::uint64_t>(point) + 1);
}

// Everything that a record depends on. Files that the scenario or the axes name count by their content.
std::string identity_of(const study::Sweep& sweep, const std::string& source) {
    std::string text = source + '\n' + scenario::to_toml(sweep.scenario);
    for (const study::SweepAxis& axis : sweep.axes) {
        text += axis.key + '\n';
        for (const std::string& value : axis.values) text += '\t' + value + '\n';
    }
    for (const measure::Quantity& each : measure::sweep_quantities()) text += fmt::format("{}\n", each.name);
    constexpr std::uintmax_t largest = 256U << 20U;
    for (const std::filesystem::path& file : files_named_by(sweep)) {
        const std::string content = scenario::read_text_file(file.string(), largest);
        text += fmt::format("{} {:016x}\n", file.filename().string(), checksum_of(std::as_bytes(std::span(content))));
    }
    return text;
}

// As far as there is something to read. @return Bytes read; negative: errno says why not.
ssize_t read_at(int descriptor, std::span<std::byte> into, std::int64_t place) {
    std::size_t done = 0;
    while (done < into.size()) {
        const ssize_t got =
            ::pread(descriptor, into.data() + done, into.size() - done, place + static_cast<std::int64_t>(done));
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) return got;
        if (got == 0) break;
        done += static_cast<std::size_t>(got);
    }
    return static_cast<ssize_t>(done);
}

// @return Whether all of it was written; else errno says why not.
bool write_at(int descriptor, std::span<const std::byte> bytes, std::int64_t place) {
    while (!bytes.empty()) {
        const ssize_t written = ::pwrite(descriptor, bytes.data(), bytes.size(), place);
        if (written < 0 && errno == EINTR) continue;
        if (written < 0) return false;
        bytes = bytes.subspan(static_cast<std::size_t>(written));
        place += written;
    }
    return true;
}

// Cut between characters of UTF-8.
std::string_view shortened(std::string_view text) {
    if (text.size() <= longest_obstacle) return text;
    std::size_t end = longest_obstacle;
    while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) --end;
    return text.substr(0, end);
}

}  // namespace

std::vector<std::filesystem::path> files_named_by(const study::Sweep& sweep) {
    std::vector<std::filesystem::path> files = scenario::files_named_by(sweep.scenario);
    for (std::size_t i = 0; i < sweep.axes.size(); ++i) {
        if (study::labels_of(sweep, i).kind != study::AxisLabels::Kind::words) continue;
        for (const std::string& word : study::labels_of(sweep, i).words) {
            std::filesystem::path file = scenario::file_beside(sweep.scenario, word);
            if (!file.empty()) files.push_back(std::move(file));
        }
    }
    return files;
}

SweepPoints::SweepPoints(std::filesystem::path file, std::string shown, const study::Sweep& sweep,
                         const std::string& source)
    : file_(std::move(file)), shown_(std::move(shown)), descriptor_(open_locked(file_, shown_)) {
    try {
        const std::string head = identity_of(sweep, source);
        record_size_ = sizeof(RecordHead) + measure::sweep_quantities().size() * sizeof(double);
        records_at_ = static_cast<std::int64_t>(sizeof(FileHead) + head.size());
        const bool begun = begun_by(head);
        if (!begun) set_damaged_aside(records_at_);
        if (begun) {
            count_points(sweep.points);
        } else {
            begin(head);
        }
        if (done_ == 0) unfinished_ = Unfinished(file_);
    } catch (...) {
        if (descriptor_ >= 0) ::close(descriptor_);
        throw;
    }
}

// A file with points is kept, whatever ends the run; an empty one is removed.
SweepPoints::~SweepPoints() {
    if (descriptor_ < 0) return;
    if (done_ == 0) ::unlink(file_.c_str());
    ::close(descriptor_);
}

void SweepPoints::fail(int error) const {
    throw base::IoError("write", shown_, std::generic_category().message(error), base::FileUse::output);
}

void SweepPoints::reject(const std::string& message, const std::string& allowed) const {
    base::SourceLocation place;
    place.file = file_.string();
    throw base::ScenarioError({{place, message, allowed, ""}});
}

// A file with records behind a damaged head: another program, or a disk, has changed it. Its points may be somebody's
// night of work.
void SweepPoints::set_damaged_aside(std::int64_t records_at) {
    struct stat status {};
    if (::fstat(descriptor_, &status) != 0) fail(errno);
    if (status.st_size <= records_at) return;  // a run that was killed before its first point
    constexpr int most = 100;
    for (int i = 1; i <= most; ++i) {
        std::filesystem::path name = file_;
        name += i == 1 ? std::string(".damaged") : fmt::format(".damaged-{}", i);
        if (::link(file_.c_str(), name.c_str()) != 0) {
            if (errno == EEXIST) continue;
            fail(errno);
        }
        ::unlink(file_.c_str());
        ::close(std::exchange(descriptor_, -1));
        set_aside_ = name;
        descriptor_ = open_locked(file_, shown_);
        return;
    }
    reject("damaged, and a hundred damaged ones are kept beside it", "those removed");
}

// False for a new file, and for one with an incomplete head.
bool SweepPoints::begun_by(const std::string& head) const {
    FileHead found;
    const ssize_t got = read_at(descriptor_, std::as_writable_bytes(std::span(&found, 1)), 0);
    if (got < 0) fail(errno);
    const std::size_t seen = std::min(static_cast<std::size_t>(got), found.magic.size());
    if (std::memcmp(found.magic.data(), points_magic.data(), seen) != 0) {
        reject("no file of points of a sweep", "another name for the results, or this file moved away");
    }
    struct stat status {};
    if (::fstat(descriptor_, &status) != 0) fail(errno);
    if (static_cast<std::size_t>(got) < sizeof(found)) return false;
    if (found.length > static_cast<std::uint64_t>(status.st_size) - sizeof(found)) return false;
    std::string text(found.length, '\0');
    const std::span<std::byte> bytes = std::as_writable_bytes(std::span(text));
    if (read_at(descriptor_, bytes, sizeof(found)) != static_cast<ssize_t>(text.size())) return false;
    if (checksum_of(bytes) != found.checksum) return false;
    if (text == head) return true;
    const bool same_version = text.substr(0, text.find('\n')) == head.substr(0, head.find('\n'));
    reject(same_version ? "holds the points of another sweep: its scenario, its keys or a file that they name differ"
                        : "holds points by another version of the program",
           "the sweep that began it, another name for the results, or this file removed");
}

void SweepPoints::begin(const std::string& head) {
    const std::span<const std::byte> text = std::as_bytes(std::span(head));
    const FileHead start{points_magic, head.size(), checksum_of(text)};
    if (::ftruncate(descriptor_, 0) != 0) fail(errno);
    const bool written = write_at(descriptor_, std::as_bytes(std::span(&start, 1)), 0) &&
                         write_at(descriptor_, text, static_cast<std::int64_t>(sizeof(start)));
    if (!written) {
        const int error = errno;
        ::unlink(file_.c_str());
        fail(error);
    }
}

void SweepPoints::count_points(std::int64_t points) {
    struct stat status {};
    if (::fstat(descriptor_, &status) != 0) fail(errno);
    const auto size = static_cast<std::int64_t>(record_size_);
    const std::int64_t end = std::min(points, (status.st_size - records_at_) / size);
    for (std::int64_t point = 0; point < end; ++point) done_ += has(point) ? 1 : 0;
}

bool SweepPoints::read_record(std::int64_t point, std::vector<std::byte>& record) const {
    record.resize(record_size_);
    const std::int64_t place = records_at_ + point * static_cast<std::int64_t>(record_size_);
    const ssize_t got = read_at(descriptor_, record, place);
    if (got < 0) fail(errno);
    if (static_cast<std::size_t>(got) < record_size_) return false;
    RecordHead head;
    std::memcpy(&head, record.data(), sizeof(head));
    return head.checksum == checksum_of_record(record, point);
}

bool SweepPoints::has(std::int64_t point) const {
    std::vector<std::byte> record;
    return read_record(point, record);
}

void SweepPoints::put(std::int64_t point, const study::SweepPoint& result) {
    std::vector<std::byte> record(record_size_);
    if (result.values.size() != measure::sweep_quantities().size()) {
        throw base::InternalError("a point of a sweep without all its quantities");
    }
    RecordHead head;
    const std::string_view obstacle = shortened(result.obstacle);
    head.level = static_cast<std::uint8_t>(result.level);
    head.obstacle_length = static_cast<std::uint16_t>(obstacle.size());
    std::copy(obstacle.begin(), obstacle.end(), head.obstacle.begin());
    std::memcpy(record.data(), &head, sizeof(head));
    std::memcpy(record.data() + sizeof(head), result.values.data(), result.values.size() * sizeof(double));
    head.checksum = checksum_of_record(record, point);
    std::memcpy(record.data(), &head.checksum, sizeof(head.checksum));
    const bool again = has(point);
    const std::int64_t place = records_at_ + point * static_cast<std::int64_t>(record_size_);
    if (!write_at(descriptor_, record, place)) fail(errno);
    if (!again) ++done_;
    unfinished_.release();
}

study::SweepPoint SweepPoints::get(std::int64_t point) const {
    std::vector<std::byte> record;
    if (!read_record(point, record)) throw base::InternalError(fmt::format("point {} is not there", point));
    RecordHead head;
    std::memcpy(&head, record.data(), sizeof(head));
    study::SweepPoint result;
    result.level = static_cast<measure::Level>(head.level);
    result.obstacle.assign(head.obstacle.data(), head.obstacle_length);
    result.values.resize(measure::sweep_quantities().size());
    std::memcpy(result.values.data(), record.data() + sizeof(head), result.values.size() * sizeof(double));
    return result;
}

void SweepPoints::remove() noexcept {
    if (descriptor_ < 0) return;
    ::unlink(file_.c_str());
    unfinished_.release();
    ::close(std::exchange(descriptor_, -1));
}

}  // namespace spotwright::record
