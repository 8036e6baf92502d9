// Text for people at a terminal.
#pragma once

#include <fmt/format.h>

#include <chrono>
#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/base/words.hpp"
#include "sim/record/study_tables.hpp"

namespace spotwright::cli {

using base::printable;

/// Text on standard output, free of what could disturb a terminal.
/// @throws IoError  Standard output takes no more.
void print_text(std::string_view text);

/// Formatted, on standard output: as `print_text`.
template <class... Values>
void print(fmt::format_string<Values...> format, Values&&... values) {
    print_text(fmt::format(format, std::forward<Values>(values)...));
}

/// A message on standard error, free of what could disturb a terminal. What cannot be written is lost.
void print_error_text(std::string_view text) noexcept;

template <class... Values>
void print_error(fmt::format_string<Values...> format, Values&&... values) {
    print_error_text(fmt::format(format, std::forward<Values>(values)...));
}

/// Words wrapped to 100 columns, continuation lines indented.
[[nodiscard]] std::string wrapped(std::string_view text, std::size_t indent);

/// A table with aligned columns; the first row is the head. Numbers are right-aligned.
[[nodiscard]] std::string table(const std::vector<std::vector<std::string>>& rows);

[[nodiscard]] std::string table(const record::TextTable& shown);

/// The same among the lines of a result.
[[nodiscard]] std::string indented_table(const std::vector<std::vector<std::string>>& rows);
[[nodiscard]] std::string indented_table(const record::TextTable& shown);

/// Where progress goes.
struct ProgressOptions {
    bool quiet = false;   ///< nothing on the terminal
    int descriptor = -1;  ///< one JSON object a line to this descriptor; -1: none
};

/// Progress on standard error, shown on a terminal and silent in a pipe or if `quiet`, and to a descriptor. Work of
/// more than 20 s of processor time is foreseen on standard error, in a pipe, too.
class Progress {
public:
    /// @param size_key  Of a scenario, whose value the work is proportional to; empty: none.
    Progress(std::string what, const ProgressOptions& options, std::string size_key = {});
    ~Progress();
    Progress(const Progress&) = delete;
    Progress& operator=(const Progress&) = delete;

    /// Any number of times; what is sent to the descriptor changes by a percent at least.
    void show(std::int64_t done, std::int64_t all);

    /// With the number of points and the remaining time. @param before  Points already done at the start.
    void show_points(std::int64_t done, std::int64_t all, std::int64_t before);

private:
    using Clock = std::chrono::steady_clock;

    void send(std::int64_t done, std::int64_t all);
    void foresee(std::int64_t done, std::int64_t all);

    std::string what_;
    int descriptor_ = -1;
    int last_sent_ = -1;  // in percent
    std::string size_key_;
    bool foresees_ = false;  // until it has said how long the work takes, or that it is short
    std::int64_t done_before_ = 0;
    double spent_before_ = 0.0;  // processor time of the program. [s]
    bool shown_ = false;
    bool active_ = false;
    int last_percent_ = -1;
    Clock::time_point begin_ = Clock::now();
};

}  // namespace spotwright::cli
