// Names of materials that may have been meant.
#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <string_view>

#include "sim/base/spelling.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/material.hpp"
#include "sim/scenario/material_words.hpp"

namespace spotwright::scenario {

namespace {

constexpr std::size_t longest_name = 64;  // of those that are compared with words

std::string lower(std::string_view text) {
    std::string small(text);
    std::transform(small.begin(), small.end(), small.begin(), [](unsigned char c) { return std::tolower(c); });
    return small;
}

std::vector<std::string> split(std::string_view text, std::string_view separators) {
    std::vector<std::string> parts;
    for (std::size_t begin = 0; begin < text.size();) {
        const std::size_t end = std::min(text.find_first_of(separators, begin), text.size());
        if (end > begin) parts.emplace_back(text.substr(begin, end - begin));
        begin = end + 1;
    }
    return parts;
}

// The parts of a name in small letters, spelled as the library spells them.
std::vector<std::string> parts_of(std::string_view name) {
    std::vector<std::string> parts = split(lower(name), "-_. ");
    for (std::string& part : parts) {
        if (part == "gray") part = "grey";
    }
    return parts;
}

enum class Likeness {
    same,  ///< the same word, or its plural
    near   ///< a word that contains it, or is the same but for one letter
};

bool is_like(const std::string& part, const std::string& word, Likeness likeness) {
    constexpr std::size_t long_word = 5;  // shorter ones are in too many others
    if (part == word || part == word + "s") return true;
    if (likeness == Likeness::same || word.size() < long_word) return false;
    return part.find(word) != std::string::npos || base::is_misspelled(part, word);
}

// A word of the table in a name: how much of it, and what else the name says.
struct WordFound {
    std::size_t letters = 0;  ///< 0: not in it
    std::vector<std::string> rest;
};

WordFound find_word(const std::vector<std::string>& name, std::string_view word, Likeness likeness) {
    WordFound found{0, name};
    for (const std::string& part : parts_of(word)) {
        const auto place = std::find_if(found.rest.begin(), found.rest.end(),
                                        [&](const std::string& each) { return is_like(each, part, likeness); });
        if (place == found.rest.end()) return {};
        found.letters += part.size();
        found.rest.erase(place);
    }
    return found;
}

// Whether a text has a word, or one that begins with four letters and more of it.
bool has_word(std::string_view text, const std::string& beginning) {
    constexpr std::size_t long_beginning = 4;
    const std::vector<std::string> parts = split(lower(text), "-_., ");
    return std::any_of(parts.begin(), parts.end(), [&](const std::string& part) {
        return part == beginning || (beginning.size() >= long_beginning && part.starts_with(beginning));
    });
}

// Those whose name or title has a part of the name that was given; all of them where none has.
std::vector<std::string> narrowed(std::vector<std::string> names, const std::string& part) {
    std::vector<std::string> kept;
    std::copy_if(names.begin(), names.end(), std::back_inserter(kept), [&](const std::string& name) {
        return has_word(name, part) || has_word(library_material(name).title, part);
    });
    return kept.empty() ? names : kept;
}

struct Meant {
    std::vector<std::string> names;
    bool whole = false;  ///< the name is a word of the table and no more
};

// Materials by the longest word of the table in a name, narrowed by the rest of it: of "white paint" the white ones.
Meant by_words(std::string_view name, Likeness likeness) {
    if (name.size() > longest_name) return {};
    const std::vector<std::string> parts = parts_of(name);
    WordFound best;
    std::string_view materials;
    for (const MaterialWords& row : material_words()) {
        for (const std::string& word : split(row.words, ",")) {
            WordFound found = find_word(parts, word, likeness);
            if (found.letters <= best.letters) continue;
            best = std::move(found);
            materials = row.materials;
        }
    }
    Meant meant{split(materials, " "), best.letters > 0 && best.rest.empty()};
    for (const std::string& part : best.rest) meant.names = narrowed(std::move(meant.names), part);
    return meant;
}

// The name of the library that this one is, but for a slip of the pen; empty where there is none.
std::string misspelled(std::string_view name, const std::vector<std::string>& names) {
    const auto found = std::find_if(names.begin(), names.end(),
                                    [&](const std::string& each) { return base::is_misspelled(name, each); });
    return found == names.end() ? std::string() : *found;
}

struct Similar {
    std::vector<std::string> names;
    bool by_word = false;  ///< not by their spelling
};

// A word of the table before what is spelled alike: hardboard is no cardboard.
Similar similar_to(std::string_view name) {
    const std::vector<std::string> names = material_names();
    Meant meant = by_words(name, Likeness::same);
    if (meant.whole) return {std::move(meant.names), true};
    std::string slip = misspelled(name, names);
    if (!slip.empty()) return {{std::move(slip)}, false};
    if (!meant.names.empty()) return {std::move(meant.names), true};
    std::vector<std::string> found = base::names_with(name, names);
    if (!found.empty()) return {std::move(found), false};
    meant = by_words(name, Likeness::near);
    if (!meant.names.empty()) return {std::move(meant.names), true};
    return {base::similar_names(name, names), false};
}

}  // namespace

std::vector<std::string> similar_materials(std::string_view name) {
    return similar_to(name).names;
}

std::string material_hint(std::string_view name) {
    constexpr std::size_t most = 16;
    Similar similar = similar_to(name);
    if (similar.names.size() > most) similar.names.resize(most);
    if (!similar.by_word) return base::did_you_mean(similar.names);
    for (std::string& each : similar.names) each = fmt::format("`{}`", each);
    return "nearest in the library: " + base::alternatives(similar.names);
}

std::vector<std::string> materials_like(std::string_view word) {
    const std::string wanted = lower(word);
    const std::vector<std::string> meant = by_words(word, Likeness::same).names;
    std::vector<std::string> found;
    for (const std::string& name : material_names()) {
        const std::string title = lower(library_material(name).title);
        const bool is_meant = std::find(meant.begin(), meant.end(), name) != meant.end();
        if (is_meant || name.find(wanted) != std::string::npos || title.find(wanted) != std::string::npos) {
            found.push_back(name);
        }
    }
    return found.empty() ? similar_materials(word) : found;
}

}  // namespace spotwright::scenario
