#include "sim/scenario/toml_source.hpp"

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <sstream>

namespace spotwright::scenario {

namespace {

std::vector<std::string> split_lines(std::string_view text) {
    std::vector<std::string> lines;
    std::size_t begin = 0;
    while (begin <= text.size()) {
        const std::size_t end = std::min(text.find('\n', begin), text.size());
        std::string line(text.substr(begin, end - begin));
        // Tabs would put the caret in the wrong column; control characters would disturb a terminal.
        for (char& c : line) {
            if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) c = ' ';
        }
        lines.push_back(std::move(line));
        begin = end + 1;
    }
    return lines;
}

}  // namespace

TomlSource::TomlSource(std::string_view text, std::string file) : file_(std::move(file)), lines_(split_lines(text)) {
    try {
        root_ = toml::parse(text);
    } catch (const toml::parse_error& error) {
        throw base::ScenarioError(
            {base::Problem{place(error.source(), ""), "not valid TOML: " + std::string(error.description()), "", ""}});
    }
    walk(root_, "");
}

const Field* TomlSource::find(const std::string& path) const {
    const auto found = fields_.find(path);
    return found == fields_.end() ? nullptr : &found->second;
}

base::Place TomlSource::absent(const std::string& key) const {
    base::Place result;
    result.file = file_;
    result.key = key;
    return result;
}

void TomlSource::walk(const toml::table& table, const std::string& prefix) {
    for (const auto& [key, node] : table) {
        const std::string path = prefix + std::string(key.str());
        const Field field{&node, place(key.source(), path), place(node.source(), path)};
        if (const toml::table* inner = node.as_table()) {
            sections_.emplace(path, field);
            walk(*inner, path + ".");
        } else {
            fields_.emplace(path, field);
        }
    }
}

base::Place TomlSource::place(const toml::source_region& region, const std::string& key) const {
    base::Place result = absent(key);
    result.line = static_cast<int>(region.begin.line);
    result.column = static_cast<int>(region.begin.column);
    if (region.begin.line >= 1 && region.begin.line <= lines_.size()) {
        constexpr std::size_t longest_shown = 200;
        result.source_line = lines_[region.begin.line - 1].substr(0, longest_shown);
    }
    return result;
}

std::string node_text(const toml::node& node) {
    std::ostringstream out;
    node.visit([&out](const auto& value) {
        if constexpr (toml::is_table<decltype(value)>) {
            out << "a table";
        } else if constexpr (toml::is_array<decltype(value)>) {
            out << value;
        } else if constexpr (toml::is_string<decltype(value)>) {
            out << '"' << value.get() << '"';
        } else if constexpr (toml::is_boolean<decltype(value)>) {
            out << (value.get() ? "true" : "false");
        } else {
            out << value.get();
        }
    });
    std::string text = out.str();
    constexpr std::size_t longest_shown = 60;
    if (text.size() > longest_shown) text = text.substr(0, longest_shown) + "...";
    for (char& c : text) {
        if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) c = ' ';
    }
    return text;
}

std::optional<double> number_of(const toml::node& node) {
    if (node.is_floating_point()) return node.as_floating_point()->get();
    if (node.is_integer()) return static_cast<double>(node.as_integer()->get());
    return std::nullopt;
}

std::string read_text_file(const std::string& path) {
    std::error_code status;
    if (!std::filesystem::exists(path, status)) throw base::IoError("read", path, "no such file");
    if (!std::filesystem::is_regular_file(path, status)) throw base::IoError("read", path, "not a regular file");
    constexpr std::uintmax_t largest = 1U << 20U;
    if (std::filesystem::file_size(path, status) > largest) throw base::IoError("read", path, "larger than 1 MiB");
    std::ifstream in(path, std::ios::binary);
    if (!in) throw base::IoError("read", path, std::strerror(errno));
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

}  // namespace spotwright::scenario
