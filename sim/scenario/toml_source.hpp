// One TOML text with its places, and the list of problems found in it. Shared by scenarios and materials.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <toml++/toml.h>

#include "sim/base/errors.hpp"
#include "sim/base/words.hpp"

namespace spotwright::scenario {

/// A value of the file and where it stands.
struct Field {
    const toml::node* node = nullptr;
    std::string section;  ///< path of the table it stands in, empty at the top level
    base::SourceLocation key_location;
    base::SourceLocation value_location;
};

/// The leaves of a TOML text by dotted path; tables are walked, arrays are leaves. A key that needs quotes keeps them
/// in its path, so `"a.b"` is not `a.b`.
class TomlSource {
public:
    /// @throws ScenarioError  The text is not TOML: place and the parser's words. Or it has a key of many dots, which
    ///   could exhaust the stack.
    TomlSource(std::string_view text, std::string_view file);

    /// The entries of one table of the text, as if it stood alone: paths begin inside it, locations stay those of the
    /// text. @param whole  Outlives it.
    TomlSource(const TomlSource& whole, const toml::table& table);

    [[nodiscard]] const std::map<std::string, Field>& fields() const { return fields_; }
    [[nodiscard]] const std::map<std::string, Field>& sections() const { return sections_; }
    [[nodiscard]] const Field* find(const std::string& path) const;
    [[nodiscard]] const std::string& file() const { return file_; }

    /// The place of the file as a whole, for something that is missing from it.
    [[nodiscard]] base::SourceLocation absent(const std::string& key) const;

private:
    void walk(const toml::table& table, const std::string& section, int depth);
    [[nodiscard]] base::SourceLocation location(const toml::source_region& region, const std::string& key) const;

    std::string file_;
    std::vector<std::string> lines_;
    toml::table root_;
    std::map<std::string, Field> fields_;
    std::map<std::string, Field> sections_;
};

/// Control characters would disturb a terminal, and tabs misplace the caret.
using base::printable;

/// A node as it was written, shortened for a message.
[[nodiscard]] std::string node_text(const toml::node& node);

/// The number of an integer or float node; none for any other type.
[[nodiscard]] std::optional<double> number_of(const toml::node& node);

/// The whole of a file.
/// @param largest  In bytes; by default more than any scenario needs.
/// @throws IoError  It cannot be read, is no regular file or is larger than that.
[[nodiscard]] std::string read_text_file(const std::string& path, std::uintmax_t largest = 1U << 20U);

}  // namespace spotwright::scenario
