// Names of materials that may have been meant.
#include <algorithm>
#include <array>
#include <cctype>
#include <string_view>

#include "sim/base/words.hpp"
#include "sim/scenario/material.hpp"

namespace spotwright::scenario {

namespace {

// A word for a family of materials, and its members in the library: no name has the word.
struct MaterialFamily {
    std::string_view word;
    std::vector<std::string> members;
};

// Light goes into most bright plastics, so those that have a volume come first.
const std::vector<MaterialFamily>& material_families() {
    static const std::vector<MaterialFamily> families{
        {"plastic",
         {"white-pom", "white-ptfe", "polyamide-natural", "polyethylene-white", "polypropylene-natural", "abs-white",
          "abs-black", "black-glossy-plastic", "pvc-grey", "frosted-plastic"}}};
    return families;
}

std::string lower(std::string_view text) {
    std::string small(text);
    std::transform(small.begin(), small.end(), small.begin(), [](unsigned char c) { return std::tolower(c); });
    return small;
}

// Members of the family that a text names, narrowed by the rest of it: of "white-plastic" those with "white". Empty
// where it names none.
std::vector<std::string> members_of_family(std::string_view name) {
    const std::string word = lower(name);
    for (const MaterialFamily& family : material_families()) {
        const std::size_t place = word.find(family.word);
        if (place == std::string::npos) continue;
        std::string rest = word.substr(0, place) + word.substr(std::min(word.size(), place + family.word.size()));
        rest.erase(std::remove_if(rest.begin(), rest.end(), [](char c) { return c == '-' || c == '_' || c == ' '; }),
                   rest.end());
        std::vector<std::string> found;
        for (const std::string& member : family.members) {
            if (member.find(rest) != std::string::npos) found.push_back(member);
        }
        if (!found.empty()) return found;
    }
    return {};
}

}  // namespace

std::vector<std::string> similar_materials(std::string_view name) {
    const std::vector<std::string> members = members_of_family(name);
    return members.empty() ? base::similar_names(name, material_names()) : members;
}

std::vector<std::string> materials_like(std::string_view word) {
    const std::string wanted = lower(word);
    const std::vector<std::string> members = members_of_family(word);
    std::vector<std::string> found;
    for (const std::string& name : material_names()) {
        const std::string title = lower(library_material(name).title);
        const bool is_member = std::find(members.begin(), members.end(), name) != members.end();
        if (is_member || name.find(wanted) != std::string::npos || title.find(wanted) != std::string::npos) {
            found.push_back(name);
        }
    }
    return found.empty() ? similar_materials(word) : found;
}

}  // namespace spotwright::scenario
