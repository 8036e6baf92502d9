#include "sim/cli/terminal.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <new>
#include <sstream>
#include <string>
#include <system_error>

#include "sim/base/errors.hpp"

namespace spotwright::cli {

namespace {

bool is_number(const std::string& cell) {
    char* end = nullptr;
    std::strtod(cell.c_str(), &end);
    return !cell.empty() && *end == '\0';
}

// A column of numbers, apart from its head and from words for a missing number.
bool is_numeric(const std::vector<std::vector<std::string>>& rows, std::size_t column) {
    return std::any_of(rows.begin() + 1, rows.end(),
                       [column](const auto& row) { return column < row.size() && is_number(row[column]); });
}

// Columns on the screen: bytes that continue a UTF-8 character take none.
std::size_t width(std::string_view text) {
    return static_cast<std::size_t>(std::count_if(
        text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

}  // namespace

void print_text(std::string_view text) {
    const std::string shown = base::printable_lines(text);
    if (std::fwrite(shown.data(), 1, shown.size(), stdout) == shown.size()) return;
    throw base::IoError("write", "standard output", std::generic_category().message(errno), base::FileUse::output);
}

void print_error_text(std::string_view text) noexcept {
    try {
        const std::string shown = base::printable_lines(text);
        static_cast<void>(std::fwrite(shown.data(), 1, shown.size(), stderr));
    } catch (const std::bad_alloc&) {
        static_cast<void>(std::fputs("not enough memory for a message\n", stderr));
    }
}

std::string wrapped(std::string_view text, std::size_t indent) {
    constexpr std::size_t columns = 100;
    std::string result;
    std::size_t column = indent;
    for (std::size_t begin = 0; begin < text.size();) {
        const std::size_t end = std::min(text.find(' ', begin), text.size());
        const std::string_view word = text.substr(begin, end - begin);
        if (column > indent && column + 1 + width(word) > columns) {
            result += '\n' + std::string(indent, ' ');
            column = indent;
        } else if (column > indent) {
            result += ' ';
            ++column;
        }
        result += word;
        column += width(word);
        begin = end + 1;
    }
    return result;
}

std::string table(const std::vector<std::vector<std::string>>& rows) {
    std::vector<std::size_t> widths;
    for (const auto& row : rows) {
        widths.resize(std::max(widths.size(), row.size()), 0);
        for (std::size_t i = 0; i < row.size(); ++i) widths[i] = std::max(widths[i], width(row[i]));
    }
    std::string text;
    for (const auto& row : rows) {
        std::string line;
        for (std::size_t i = 0; i < row.size(); ++i) {
            const std::string& cell = row[i];
            const std::string padding(widths[i] - width(cell), ' ');
            if (i > 0) line += "  ";
            line += is_numeric(rows, i) ? padding + cell : cell + padding;
        }
        while (!line.empty() && line.back() == ' ') line.pop_back();
        text += line + '\n';
    }
    return text;
}

std::string indented_table(const std::vector<std::vector<std::string>>& rows) {
    std::string text;
    std::istringstream lines(table(rows));
    for (std::string line; std::getline(lines, line);) text += fmt::format("               {}\n", line);
    return text;
}

namespace {

std::vector<std::vector<std::string>> with_head(const record::TextTable& table) {
    std::vector<std::vector<std::string>> rows{table.head};
    rows.insert(rows.end(), table.rows.begin(), table.rows.end());
    return rows;
}

}  // namespace

std::string table(const record::TextTable& shown) {
    return table(with_head(shown));
}

std::string indented_table(const record::TextTable& shown) {
    return indented_table(with_head(shown));
}

namespace {

// Over the line before. What cannot be written is lost.
void show_line(const std::string& text) {
    static_cast<void>(std::fputs(("\r" + printable(text)).c_str(), stderr));
}

}  // namespace

namespace {

// Of all threads together. [s]
double processor_time() {
    return static_cast<double>(std::clock()) / static_cast<double>(CLOCKS_PER_SEC);
}

std::string duration_text(double seconds) {
    if (seconds < 90.0) return fmt::format("{:.0f} s", seconds);
    if (seconds < 5400.0) return fmt::format("{:.0f} minutes", seconds / 60.0);
    return fmt::format("{:.0f} hours", seconds / 3600.0);
}

}  // namespace

Progress::Progress(std::string what, const ProgressOptions& options, std::string size_key)
    : what_(std::move(what)),
      descriptor_(options.descriptor),
      size_key_(std::move(size_key)),
      foresees_(!options.quiet),
      spent_before_(processor_time()) {
    const char* terminal = std::getenv("TERM");
    const bool dumb = terminal == nullptr || std::string_view(terminal) == "dumb";
    active_ = !options.quiet && !dumb && isatty(STDERR_FILENO) != 0;
}

Progress::~Progress() {
    if (shown_) std::fprintf(stderr, "\r%78s\r", "");
}

// {"what": "reading", "done": 512, "all": 4096}. One write, so that lines of several programs into one pipe stay whole.
void Progress::send(std::int64_t done, std::int64_t all) {
    if (descriptor_ < 0 || all <= 0) return;
    const int percent = static_cast<int>(100.0 * static_cast<double>(done) / static_cast<double>(all));
    if (percent == last_sent_) return;
    last_sent_ = percent;
    const std::string line = fmt::format("{{\"what\": \"{}\", \"done\": {}, \"all\": {}}}\n", what_, done, all);
    if (::write(descriptor_, line.data(), line.size()) < 0) descriptor_ = -1;  // nobody listens any more
}

// By the time that the last part of the work took, once that is long enough to tell: what is made once at the beginning
// does not count for the rest.
void Progress::foresee(std::int64_t done, std::int64_t all) {
    constexpr double telling = 0.5;
    constexpr double long_work = 20.0;
    if (!foresees_ || done <= done_before_ || done >= all) return;
    const double spent = processor_time() - spent_before_;
    if (done_before_ == 0 || spent < telling) {
        if (done_before_ == 0) {
            done_before_ = done;
            spent_before_ += spent;
        }
        return;
    }
    foresees_ = false;
    const double each = spent / static_cast<double>(done - done_before_);
    const double left = each * static_cast<double>(all - done);
    if (left < long_work) return;
    const double affordable = long_work / each;
    const double digits = std::pow(10.0, std::max(std::floor(std::log10(affordable)) - 1.0, 0.0));  // two are enough
    const std::string shorter = size_key_.empty() || affordable < 1.0
                                    ? ""
                                    : fmt::format("; {} = {:.0f} would take {:.0f} s", size_key_,
                                                  std::floor(affordable / digits) * digits, long_work);
    print_error("about {} of processor time: {} {} of {} are done{}\n", duration_text(left), what_, done, all, shorter);
}

void Progress::show(std::int64_t done, std::int64_t all) {
    send(done, all);
    foresee(done, all);
    if (!active_ || all <= 0) return;
    const int percent = static_cast<int>(100.0 * static_cast<double>(done) / static_cast<double>(all));
    if (percent == last_percent_) return;
    last_percent_ = percent;
    shown_ = true;
    show_line(fmt::format("{}: {:3} %", what_, percent));
    std::fflush(stderr);
}

namespace {

std::string minutes_text(double seconds) {
    constexpr double most_shown = 359999.0;  // 99 hours
    const auto whole = static_cast<std::int64_t>(std::min(seconds, most_shown));
    if (whole >= 3600) return fmt::format("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60);
    return fmt::format("{}:{:02}", whole / 60, whole % 60);
}

}  // namespace

void Progress::show_points(std::int64_t done, std::int64_t all, std::int64_t before) {
    send(done, all);
    foresee(done - before, all - before);
    if (!active_ || all <= 0 || done <= before) return;
    shown_ = true;
    const std::chrono::duration<double> taken = Clock::now() - begin_;
    const double left = taken.count() * static_cast<double>(all - done) / static_cast<double>(done - before);
    const double percent = 100.0 * static_cast<double>(done) / static_cast<double>(all);
    const std::string text = fmt::format("{}: {:3.0f} %, {} of {} points, {} left", what_, std::floor(percent), done,
                                         all, minutes_text(left));
    show_line(fmt::format("{:<78}", text));
    std::fflush(stderr);
}

}  // namespace spotwright::cli
