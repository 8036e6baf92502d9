// Errors of the whole program. The library throws; only the command line prints and exits.
#pragma once

#include <stdexcept>
#include <string>
#include <vector>

namespace spotwright::base {

/// Base of every error thrown on purpose.
class Error : public std::runtime_error {
    using std::runtime_error::runtime_error;
};

/// Where in the user's input something stands. Line and column count from 1; 0: not known.
struct SourceLocation {
    std::string file;
    int line = 0;
    int column = 0;
    std::string key;          ///< dotted, as in `detector.pitch_um`
    std::string source_line;  ///< text of that line, for the caret
};

/// One thing wrong in a scenario or material file, or in a `--set`.
struct Problem {
    SourceLocation location;
    std::string message;  ///< lower case, no full stop, with the offending value in it
    std::string allowed;  ///< what would be accepted; may be empty
    std::string hint;     ///< nearest known name or what to try; may be empty
};

/// Everything found wrong in a scenario, or in what else the user asked for, reported together. Exit code 2.
/// Its text describes the first 20 problems and counts the others.
class ScenarioError : public Error {
public:
    explicit ScenarioError(std::vector<Problem> problems);
    [[nodiscard]] const std::vector<Problem>& problems() const { return problems_; }

private:
    std::vector<Problem> problems_;
};

/// An argument outside the validity of a model, named with its value and the allowed range. Exit code 2.
class DomainError : public Error {
public:
    DomainError(const std::string& parameter, double value, const std::string& allowed);
};

/// Whether a file is read for the user or written for them.
enum class FileUse { input, output };

/// A file that cannot be read (exit code 2) or written (exit code 3), with the system's reason.
class IoError : public Error {
public:
    /// @param action  What was tried, in words: "read", "write", ...
    IoError(const std::string& action, const std::string& path, const std::string& reason,
            FileUse use = FileUse::input);
    [[nodiscard]] FileUse use() const { return use_; }

private:
    FileUse use_;
};

/// A broken promise inside the program: a defect of ours. Exit code 4.
class InternalError : public Error {
    using Error::Error;
};

/// The text of one problem: `file:line:column: key: message`, the line with a caret, what is allowed, a hint. Names and
/// messages are shortened to 200 characters; nothing in it disturbs a terminal.
[[nodiscard]] std::string describe(const Problem& problem);

}  // namespace spotwright::base
