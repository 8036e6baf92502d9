#include "sim/base/errors.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>

namespace spotwright::base {

namespace {

std::string join(const std::vector<Problem>& problems) {
    std::string text;
    for (const Problem& problem : problems) {
        if (!text.empty()) text += '\n';
        text += describe(problem);
    }
    return text;
}

}  // namespace

std::string describe(const Problem& problem) {
    const SourceLocation& location = problem.location;
    std::string text = location.file;
    if (location.line > 0) text += fmt::format(":{}", location.line);
    if (location.line > 0 && location.column > 0) text += fmt::format(":{}", location.column);
    if (!location.key.empty()) text += ": " + location.key;
    text += ": " + problem.message;
    if (location.line > 0 && !location.source_line.empty()) {
        const auto before = static_cast<std::size_t>(std::max(location.column - 1, 0));
        text += fmt::format("\n{:>5} | {}", location.line, location.source_line);
        // A long line is cut, and the caret with it.
        const bool shown = before <= location.source_line.size();
        if (shown) text += fmt::format("\n      | {}^", std::string(before, ' '));
        if (!problem.allowed.empty()) text += (shown ? " allowed: " : "\n  allowed: ") + problem.allowed;
    } else if (!problem.allowed.empty()) {
        text += "\n  allowed: " + problem.allowed;
    }
    if (!problem.hint.empty()) text += "\n  hint: " + problem.hint;
    return text;
}

ScenarioError::ScenarioError(std::vector<Problem> problems) : Error(join(problems)), problems_(std::move(problems)) {}

DomainError::DomainError(const std::string& parameter, double value, const std::string& allowed)
    : Error(fmt::format("{} is {}; allowed: {}", parameter, value, allowed)) {}

IoError::IoError(const std::string& action, const std::string& path, const std::string& reason, FileUse use)
    : Error(fmt::format("cannot {} {}: {}", action, path, reason)), use_(use) {}

}  // namespace spotwright::base
