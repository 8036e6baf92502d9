#include "bindings/web/engine/edit.hpp"

#include <algorithm>

#include <toml++/toml.h>

#include "sim/base/errors.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::web {

namespace {

// Where bytes of the text stand by line and column, which toml++ counts in characters.
class Places {
public:
    explicit Places(std::string_view text) : text_(text) {
        lines_.push_back(text.starts_with("\xEF\xBB\xBF") ? 3 : 0);
        for (std::size_t i = 0; i < text.size(); ++i) {
            if (text[i] == '\n') lines_.push_back(i + 1);
        }
    }

    [[nodiscard]] std::size_t of(const toml::source_position& position) const {
        if (position.line < 1 || position.line > lines_.size()) return text_.size();
        std::size_t at = lines_[position.line - 1];
        for (toml::source_index column = 1; column < position.column && at < text_.size(); ++column) {
            ++at;
            while (at < text_.size() && (static_cast<unsigned char>(text_[at]) & 0xC0U) == 0x80U) ++at;
        }
        return at;
    }

    // Of the line break that ends the line with this byte, or the text's end.
    [[nodiscard]] std::size_t line_end(std::size_t at) const { return std::min(text_.find('\n', at), text_.size()); }

    [[nodiscard]] std::size_t line_begin(std::size_t at) const {
        return *(std::upper_bound(lines_.begin(), lines_.end(), at) - 1);
    }

private:
    std::string_view text_;
    std::vector<std::size_t> lines_;
};

std::optional<toml::table> parsed(std::string_view text) {
    try {
        // Its own look at the text keeps the parser from what would exhaust the stack.
        static_cast<void>(scenario::TomlSource(text, "scenario"));
        return toml::parse(text);
    } catch (const base::ScenarioError&) {
        return std::nullopt;
    }
}

// A key with the table in which it stands.
struct Found {
    const toml::table* table = nullptr;  // none: there is no such section
    std::string name;
    const toml::key* key = nullptr;  // none: the key does not stand there
    const toml::node* value = nullptr;
};

Found find(const toml::table& root, std::string_view dotted) {
    Found found{&root, {}, nullptr, nullptr};
    for (std::size_t dot = dotted.find('.'); dot != std::string_view::npos; dot = dotted.find('.')) {
        const toml::node* inner = found.table == nullptr ? nullptr : found.table->get(dotted.substr(0, dot));
        found.table = inner == nullptr ? nullptr : inner->as_table();
        dotted.remove_prefix(dot + 1);
    }
    found.name = dotted;
    if (found.table == nullptr) return found;
    for (const auto& [key, value] : *found.table) {
        if (key.str() != dotted) continue;
        found.key = &key;
        found.value = &value;
    }
    return found;
}

bool is_blank(std::string_view text) {
    return text.find_first_not_of(" \t\r") == std::string_view::npos;
}

// Behind the last value that stands in the table itself; none where it has none.
std::optional<std::size_t> end_of_values(const toml::table& table, const Places& places) {
    std::optional<std::size_t> end;
    for (const auto& [key, value] : table) {
        if (value.is_table() || value.is_array_of_tables()) continue;
        end = std::max(end.value_or(0), places.of(value.source().end));
    }
    return end;
}

// Where a new line goes, what comes before it, and the name of the key there.
struct Gap {
    std::size_t at = 0;
    std::string before;
    std::string name;
};

std::optional<Gap> gap_for(std::string_view text, std::string_view key, const Found& found, const Places& places) {
    const std::size_t dot = key.rfind('.');
    const bool at_top = dot == std::string_view::npos;
    if (found.table != nullptr) {
        if (found.table->is_inline()) return std::nullopt;
        const bool has_head = !at_top && text.substr(places.of(found.table->source().begin)).starts_with('[');
        // A section without a head is one by the dots in its keys.
        const std::string name = at_top || has_head ? found.name : std::string(key);
        if (const auto end = end_of_values(*found.table, places)) return Gap{places.line_end(*end), "\n", name};
        if (has_head) return Gap{places.line_end(places.of(found.table->source().begin)), "\n", name};
    }
    if (at_top) return Gap{0, {}, found.name};
    const std::string separation = text.empty() ? "" : text.ends_with('\n') ? "\n" : "\n\n";
    return Gap{text.size(), separation + "[" + std::string(key.substr(0, dot)) + "]\n", found.name};
}

}  // namespace

std::optional<std::string> with_value(std::string_view text, std::string_view key, std::string_view value) {
    const std::optional<toml::table> root = parsed(text);
    if (!root) return std::nullopt;
    const Places places(text);
    const Found found = find(*root, key);
    std::string changed(text);
    if (found.value != nullptr) {
        if (found.value->is_table()) return std::nullopt;
        const std::size_t begin = places.of(found.value->source().begin);
        changed.replace(begin, places.of(found.value->source().end) - begin, value);
    } else {
        const std::optional<Gap> gap = gap_for(text, key, found, places);
        if (!gap) return std::nullopt;
        std::string line = gap->before + gap->name + " = " + std::string(value);
        if (gap->before != "\n") line += '\n';
        changed.insert(gap->at, line);
    }
    if (!parsed(changed)) return std::nullopt;
    return changed;
}

std::optional<std::string> without_key(std::string_view text, std::string_view key) {
    const std::optional<toml::table> root = parsed(text);
    if (!root) return std::nullopt;
    const Found found = find(*root, key);
    if (found.value == nullptr) return std::string(text);
    const Places places(text);
    const std::size_t name = places.of(found.key->source().begin);
    const std::size_t begin = places.line_begin(name);
    const std::size_t value_end = places.of(found.value->source().end);
    const std::size_t end = places.line_end(value_end);
    const std::string_view rest = text.substr(value_end, end - value_end);
    const std::size_t comment = rest.find_first_not_of(" \t\r");
    if (!is_blank(text.substr(begin, name - begin))) return std::nullopt;
    if (comment != std::string_view::npos && rest[comment] != '#') return std::nullopt;
    std::string changed(text);
    changed.erase(begin, std::min(end + 1, text.size()) - begin);
    if (!parsed(changed)) return std::nullopt;
    return changed;
}

}  // namespace spotwright::web
