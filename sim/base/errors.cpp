#include "sim/base/errors.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>

#include "sim/base/printable.hpp"

namespace spotwright::base {

namespace {

// More of a name or a value tells nobody more.
constexpr std::size_t longest_quote = 200;
// Quotes and the words around them.
constexpr std::size_t longest_message = 240;
constexpr std::size_t longest_list = 1000;
constexpr std::size_t most_problems = 20;

std::string quoted(std::string_view text) {
    return shortened(printable(text), longest_quote);
}

std::string join(const std::vector<Problem>& problems) {
    std::string text;
    for (std::size_t i = 0; i < std::min(problems.size(), most_problems); ++i) {
        if (i > 0) text += '\n';
        text += describe(problems[i]);
    }
    if (problems.size() > most_problems) text += fmt::format("\nand {} more problems", problems.size() - most_problems);
    return text;
}

}  // namespace

std::string describe(const Problem& problem) {
    const SourceLocation& location = problem.location;
    std::string text = quoted(location.file);
    if (location.line > 0) text += fmt::format(":{}", location.line);
    if (location.line > 0 && location.column > 0) text += fmt::format(":{}", location.column);
    if (!location.key.empty()) text += (text.empty() ? "" : ": ") + quoted(location.key);
    const std::string message = printable_lines(problem.message);
    if (!text.empty()) text += ": ";
    text += (message.size() > longest_message ? shortened(message, longest_quote) : message);
    const std::string allowed = shortened(printable_lines(problem.allowed), longest_list);
    const std::string hint = shortened(printable_lines(problem.hint), longest_list);
    if (location.line > 0 && !location.source_line.empty()) {
        const auto before = static_cast<std::size_t>(std::max(location.column - 1, 0));
        text += fmt::format("\n{:>5} | {}", location.line, printable(location.source_line));
        // A long line is cut, and the caret with it.
        const bool shown = before <= location.source_line.size();
        if (shown) text += fmt::format("\n      | {}^", std::string(before, ' '));
        if (!allowed.empty()) text += (shown ? " allowed: " : "\n  allowed: ") + allowed;
    } else if (!allowed.empty()) {
        text += "\n  allowed: " + allowed;
    }
    if (!hint.empty()) text += "\n  hint: " + hint;
    return text;
}

ScenarioError::ScenarioError(std::vector<Problem> problems) : Error(join(problems)), problems_(std::move(problems)) {}

DomainError::DomainError(const std::string& parameter, double value, const std::string& allowed)
    : Error(fmt::format("{} is {}; allowed: {}", parameter, value, allowed)) {}

IoError::IoError(const std::string& action, const std::string& path, const std::string& reason, FileUse use)
    : Error(fmt::format("cannot {} {}: {}", action, quoted(path), printable(reason))), use_(use) {}

}  // namespace spotwright::base
