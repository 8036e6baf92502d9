#include "sim/scenario/toml_source.hpp"

#include <fmt/format.h>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <sstream>
#include <system_error>

namespace spotwright::scenario {

namespace {

// At most `longest` bytes, never half a UTF-8 character.
std::string_view head(std::string_view text, std::size_t longest) {
    if (text.size() <= longest) return text;
    while (longest > 0 && (static_cast<unsigned char>(text[longest]) & 0xC0U) == 0x80U) --longest;
    return text.substr(0, longest);
}

std::vector<std::string> split_lines(std::string_view text) {
    constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";
    if (text.starts_with(byte_order_mark)) text.remove_prefix(byte_order_mark.size());
    std::vector<std::string> lines;
    std::size_t begin = 0;
    while (begin <= text.size()) {
        const std::size_t end = std::min(text.find('\n', begin), text.size());
        lines.push_back(printable(text.substr(begin, end - begin)));
        begin = end + 1;
    }
    return lines;
}

// Just behind the closing quote of the string that was opened before `begin`, or the end of what it can reach.
std::size_t end_of_string(std::string_view text, std::size_t begin, char quote, bool multiline) {
    const std::string closing(multiline ? 3 : 1, quote);
    for (std::size_t i = begin; i < text.size(); ++i) {
        if (quote == '"' && text[i] == '\\') {
            ++i;
        } else if (!multiline && text[i] == '\n') {
            return i;
        } else if (text.substr(i).starts_with(closing)) {
            std::size_t end = i + closing.size();
            // A multi-line string may end in one or two quotes of its own.
            for (int own = 0; multiline && own < 2 && end < text.size() && text[end] == quote; ++own) ++end;
            return end;
        }
    }
    return text.size();
}

constexpr std::size_t longest_text = std::size_t{1} << 20U;  // more than any scenario needs
constexpr std::size_t most_dots = 16;

// Line (from 1) of the first key with more dots than any key can need, 0 if there is none. Each dot is a level of
// tables, which the parser builds without a bound and takes down by recursion: thousands of them overflow the stack.
std::size_t overlong_key(std::string_view text) {
    std::size_t line = 1;
    std::size_t dots = 0;
    for (std::size_t i = 0; i < text.size(); ++i) {
        const char c = text[i];
        if (c == '.') {
            if (++dots > most_dots) return line;
        } else if (c == '#') {
            i = std::min(text.find('\n', i), text.size()) - 1;
        } else if (c == '"' || c == '\'') {
            const bool multiline = text.substr(i).starts_with(std::string(3, c));
            const std::size_t opened = i + (multiline ? 3 : 1);
            i = end_of_string(text, opened, c, multiline) - 1;
            line += static_cast<std::size_t>(std::count(text.begin() + static_cast<std::ptrdiff_t>(opened),
                                                        text.begin() + static_cast<std::ptrdiff_t>(i + 1), '\n'));
        } else if (std::string_view("=,[]{}\n").find(c) != std::string_view::npos) {
            dots = 0;
            if (c == '\n') ++line;
        }
    }
    return 0;
}

// A key as it would be written in a dotted path: bare, or in quotes where its characters demand them.
std::string path_part(std::string_view key) {
    const auto bare = [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '-';
    };
    if (!key.empty() && std::all_of(key.begin(), key.end(), bare)) return std::string(key);
    return '"' + std::string(key) + '"';
}

std::string toml_text(const toml::node& node) {
    if (node.is_table()) return "a table";
    if (const auto* text = node.as_string()) return '"' + text->get() + '"';
    if (const auto* number = node.as_floating_point()) {
        // The shortest form that reads back, and no whole number: 0.3 and 512.0, as they were written.
        const std::string digits = fmt::format("{}", number->get());
        return digits.find_first_not_of("-0123456789") == std::string::npos ? digits + ".0" : digits;
    }
    if (const toml::array* array = node.as_array()) {
        std::string text;
        for (const toml::node& element : *array) text += (text.empty() ? "" : ", ") + toml_text(element);
        return "[" + text + "]";
    }
    std::ostringstream out;
    if (const auto* value = node.as_boolean()) out << std::boolalpha << value->get();
    if (const auto* value = node.as_integer()) out << value->get();
    if (const auto* value = node.as_date()) out << value->get();
    if (const auto* value = node.as_time()) out << value->get();
    if (const auto* value = node.as_date_time()) out << value->get();
    return out.str();
}

}  // namespace

TomlSource::TomlSource(std::string_view text, std::string_view file)
    : file_(printable(file)), lines_(split_lines(text.substr(0, longest_text))) {
    if (text.size() > longest_text) {
        throw base::ScenarioError({base::Problem{absent(""), fmt::format("a text of {} bytes", text.size()),
                                                 fmt::format("up to {} MiB", longest_text >> 20U), ""}});
    }
    if (const std::size_t line = overlong_key(text); line > 0) {
        const auto position = static_cast<toml::source_index>(line);
        throw base::ScenarioError(
            {base::Problem{location({{position, 1}, {position, 1}, nullptr}, ""),
                           fmt::format("a key of more than {} parts", most_dots), "section.key", ""}});
    }
    try {
        root_ = toml::parse(text);
    } catch (const toml::parse_error& error) {
        throw base::ScenarioError(
            {base::Problem{location(error.source(), ""), "not valid TOML: " + printable(error.description()), "", ""}});
    }
    walk(root_, "", 0);
}

TomlSource::TomlSource(const TomlSource& whole, const toml::table& table) : file_(whole.file_), lines_(whole.lines_) {
    walk(table, "", 0);
}

const Field* TomlSource::find(const std::string& path) const {
    const auto found = fields_.find(path);
    return found == fields_.end() ? nullptr : &found->second;
}

base::SourceLocation TomlSource::absent(const std::string& key) const {
    base::SourceLocation result;
    result.file = file_;
    result.key = key;
    return result;
}

void TomlSource::walk(const toml::table& table, const std::string& section, int depth) {
    // No key stands deeper than a section of a section. What does is reported as a whole by the section it is in.
    constexpr int deepest = 3;
    for (const auto& [key, node] : table) {
        const std::string path = section.empty() ? path_part(key.str()) : section + "." + path_part(key.str());
        const Field field{&node, section, location(key.source(), path), location(node.source(), path)};
        if (const toml::table* inner = node.as_table()) {
            sections_.emplace(path, field);
            if (depth < deepest) walk(*inner, path, depth + 1);
        } else {
            fields_.emplace(path, field);
        }
    }
}

base::SourceLocation TomlSource::location(const toml::source_region& region, const std::string& key) const {
    base::SourceLocation result = absent(printable(key));
    result.line = static_cast<int>(region.begin.line);
    result.column = static_cast<int>(region.begin.column);
    if (region.begin.line >= 1 && region.begin.line <= lines_.size()) {
        constexpr std::size_t longest_shown = 200;
        result.source_line = head(lines_[region.begin.line - 1], longest_shown);
    }
    return result;
}

std::string node_text(const toml::node& node) {
    std::string text = toml_text(node);
    constexpr std::size_t longest_shown = 60;
    if (text.size() > longest_shown) text = std::string(head(text, longest_shown)) + "...";
    return printable(text);
}

std::optional<double> number_of(const toml::node& node) {
    if (node.is_floating_point()) return node.as_floating_point()->get();
    if (node.is_integer()) return static_cast<double>(node.as_integer()->get());
    return std::nullopt;
}

namespace {

[[noreturn]] void cannot_read(const std::string& path, int error) {
    if (error == ENOENT) throw base::IoError("read", path, "no such file");
    if (error == ELOOP) throw base::IoError("read", path, "a symbolic link that leads back to itself");
    throw base::IoError("read", path, std::generic_category().message(error));
}

// A regular file, open for reading.
class OpenFile {
public:
    explicit OpenFile(const std::string& path) {
        struct stat status {};
        if (::stat(path.c_str(), &status) != 0) cannot_read(path, errno);
        // Before it is opened: that alone may have effects on a device, or wait for the other end of a pipe.
        if (!S_ISREG(status.st_mode)) throw base::IoError("read", path, "not a regular file");
        descriptor_ = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
        if (descriptor_ < 0) cannot_read(path, errno);
    }
    ~OpenFile() { ::close(descriptor_); }
    OpenFile(const OpenFile&) = delete;
    OpenFile& operator=(const OpenFile&) = delete;

    [[nodiscard]] int descriptor() const { return descriptor_; }

private:
    int descriptor_ = -1;
};

}  // namespace

std::string read_text_file(const std::string& path, std::uintmax_t largest) {
    const OpenFile file(path);
    std::string text;
    constexpr std::size_t step = 1U << 16U;
    for (;;) {
        const std::size_t before = text.size();
        text.resize(before + step);
        const ssize_t got = ::read(file.descriptor(), text.data() + before, step);
        text.resize(before + static_cast<std::size_t>(std::max<ssize_t>(got, 0)));
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) cannot_read(path, errno);
        if (got == 0) return text;
        // Some files, as those of /proc, do not tell their size, and others grow.
        if (text.size() > largest) throw base::IoError("read", path, fmt::format("larger than {} MiB", largest >> 20U));
    }
}

}  // namespace spotwright::scenario
