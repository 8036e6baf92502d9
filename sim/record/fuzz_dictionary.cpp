#include <fmt/format.h>

#include <set>
#include <string>

#include "sim/record/pages.hpp"
#include "sim/scenario/schema.hpp"

namespace spotwright::record {

namespace {

struct WordsOf {
    std::set<std::string_view>& words;

    void operator()(const scenario::WordKey& key) const { words.insert(key.words.begin(), key.words.end()); }
    void operator()(const scenario::NumberOrWordKey& key) const { words.insert(key.word); }
    void operator()(const scenario::ChoiceKey& /*key*/) const {
        words.insert(scenario::peak_rule_words().begin(), scenario::peak_rule_words().end());
    }
    void operator()(const scenario::NumberKey& /*key*/) const {}
    void operator()(const scenario::PairKey& /*key*/) const {}
    void operator()(const scenario::ListKey& /*key*/) const {}
    void operator()(const scenario::TextListKey& /*key*/) const {}
    void operator()(const scenario::ApertureKey& /*key*/) const {}
    void operator()(const scenario::IntegerKey& /*key*/) const {}
    void operator()(const scenario::TextKey& /*key*/) const {}
};

}  // namespace

std::string fuzz_dictionary() {
    std::string text = "# Keys and words of scenario files. Made by: build/write_docs docs\n";
    std::set<std::string_view> sections;
    std::set<std::string_view> names;
    std::set<std::string_view> words;
    for (const scenario::Key& key : scenario::schema()) {
        if (!key.section.empty() && sections.insert(key.section).second) {
            text += fmt::format("\"[{}]\\x0A\"\n", key.section);
        }
        if (names.insert(key.name).second) text += fmt::format("\"{} = \"\n", key.name);
        // As the target takes it for `--set`.
        text += fmt::format("\"\\x1E{}=\"\n", scenario::dotted(key));
        std::visit(WordsOf{words}, key.access);
    }
    for (const std::string_view word : words) text += fmt::format("\"\\\"{}\\\"\"\n", word);
    return text;
}

}  // namespace spotwright::record
