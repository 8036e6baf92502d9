#include "sim/scenario/store_value.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>
#include <span>
#include <utility>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::scenario {

namespace {

using base::Problem;

std::vector<std::string> as_strings(std::span<const std::string_view> words) {
    return {words.begin(), words.end()};
}

class ValueStore {
public:
    ValueStore(Scenario& scenario, std::vector<Problem>& problems) : scenario_(scenario), problems_(problems) {}

    void store(const Key& key, const toml::node& node, const base::SourceLocation& location);
    void store_element(const Key& key, std::string_view index, const toml::node& node,
                       const base::SourceLocation& location);

private:
    void complain(const base::SourceLocation& location, const std::string& message, std::string allowed = {},
                  std::string hint = {}) {
        problems_.push_back(Problem{location, printable(message), std::move(allowed), std::move(hint)});
    }
    std::optional<double> number(const Key& key, const toml::node& node, const base::SourceLocation& location);
    void store_integer(const Key& key, std::int64_t& target, const toml::node& node,
                       const base::SourceLocation& location);
    std::optional<Pair> pair(const Key& key, const toml::node& node, const base::SourceLocation& location);
    void store_list(const Key& key, const ListKey& access, const toml::node& node,
                    const base::SourceLocation& location);
    void store_texts(const TextListKey& access, const toml::node& node, const base::SourceLocation& location);
    void store_aperture(const Key& key, Aperture& target, const toml::node& node, const base::SourceLocation& location);
    void store_word(const Key& key, const WordKey& access, const toml::node& node,
                    const base::SourceLocation& location);
    void store_choice(const Key& key, PeakChoice& target, const toml::node& node, const base::SourceLocation& location);

    Scenario& scenario_;
    std::vector<Problem>& problems_;
};

// One number of several, by its index.
void ValueStore::store_element(const Key& key, std::string_view index, const toml::node& node,
                               const base::SourceLocation& location) {
    std::span<double> values;
    if (const auto* pair = std::get_if<PairKey>(&key.access)) values = pair->value(scenario_);
    if (const auto* list = std::get_if<ListKey>(&key.access)) values = list->value(scenario_);
    if (values.empty()) {
        complain(location, "no key of several numbers", fmt::format("{} as a whole", dotted(key)));
        return;
    }
    std::size_t place_of_value = values.size();
    const auto [end, error] = std::from_chars(index.data(), index.data() + index.size(), place_of_value);
    if (error != std::errc() || end != index.data() + index.size() || place_of_value >= values.size()) {
        complain(location, fmt::format("no such number of {}: [{}]", dotted(key), index),
                 fmt::format("[0] to [{}]", values.size() - 1));
        return;
    }
    if (const auto value = number(key, node, location)) values[place_of_value] = *value;
    scenario_.locations[dotted(key)] = location;
}

std::optional<double> ValueStore::number(const Key& key, const toml::node& node, const base::SourceLocation& location) {
    const std::optional<double> written = number_of(node);
    if (!written) {
        complain(location, "must be a number, got " + node_text(node), describe_limits(key));
        return std::nullopt;
    }
    const auto [low, high, low_open] = key.limits;
    const bool inside = std::isfinite(*written) && *written <= high && (low_open ? *written > low : *written >= low);
    if (!inside) {
        complain(location, "out of bounds, got " + node_text(node), describe_limits(key));
        return std::nullopt;
    }
    return base::to_si(base::unit_of(key.name), *written);
}

void ValueStore::store_integer(const Key& key, std::int64_t& target, const toml::node& node,
                               const base::SourceLocation& location) {
    if (!node.is_integer()) {
        complain(location, "must be a whole number, got " + node_text(node), describe_limits(key));
        return;
    }
    if (number(key, node, location)) target = node.as_integer()->get();
}

std::optional<Pair> ValueStore::pair(const Key& key, const toml::node& node, const base::SourceLocation& location) {
    const toml::array* array = node.as_array();
    if (array == nullptr || array->size() != 2) {
        complain(location, "must be two numbers, got " + node_text(node), "[first, second]; " + describe_limits(key));
        return std::nullopt;
    }
    const std::optional<double> first = number(key, *array->get(0), location);
    const std::optional<double> second = number(key, *array->get(1), location);
    if (!first || !second) return std::nullopt;
    return Pair{*first, *second};
}

void ValueStore::store_list(const Key& key, const ListKey& access, const toml::node& node,
                            const base::SourceLocation& location) {
    const toml::array* array = node.as_array();
    if (array == nullptr || array->size() < access.least || array->size() > access.most) {
        complain(location,
                 fmt::format("must be a list of {} to {} numbers, got {}", access.least, access.most, node_text(node)),
                 "[first, ...]; " + describe_limits(key));
        return;
    }
    std::vector<double> values;
    for (const toml::node& entry : *array) {
        if (const auto value = number(key, entry, location)) values.push_back(*value);
    }
    if (values.size() == array->size()) access.value(scenario_) = std::move(values);
}

void ValueStore::store_texts(const TextListKey& access, const toml::node& node, const base::SourceLocation& location) {
    const toml::array* array = node.as_array();
    const bool are_texts = array != nullptr && array->size() <= access.most &&
                           std::all_of(array->begin(), array->end(), [](const toml::node& n) { return n.is_string(); });
    if (!are_texts) {
        complain(location,
                 fmt::format("must be a list of up to {} texts in quotes, got {}", access.most, node_text(node)),
                 "[\"first\", ...]");
        return;
    }
    std::vector<std::string>& values = access.value(scenario_);
    values.clear();
    for (const toml::node& entry : *array) values.push_back(entry.as_string()->get());
}

void ValueStore::store_aperture(const Key& key, Aperture& target, const toml::node& node,
                                const base::SourceLocation& location) {
    if (number_of(node)) {
        if (const auto diameter = number(key, node, location)) target = round_aperture(*diameter);
        return;
    }
    const toml::array* array = node.as_array();
    if (array == nullptr || array->size() != 2) {
        complain(location, "must be a number or two, got " + node_text(node),
                 "a diameter, or [in-plane width, out-of-plane width]; " + describe_limits(key));
        return;
    }
    if (const auto widths = pair(key, node, location)) {
        target = {ApertureShape::rectangular, (*widths)[0], (*widths)[1]};
    }
}

void ValueStore::store_word(const Key& key, const WordKey& access, const toml::node& node,
                            const base::SourceLocation& location) {
    const std::vector<std::string> words = as_strings(access.words);
    const auto text = node.value_exact<std::string>();
    for (std::size_t i = 0; text && i < words.size(); ++i) {
        if (words[i] == *text) {
            access.set(scenario_, static_cast<int>(i));
            return;
        }
    }
    const std::string nearest = text ? base::nearest_word(*text, words) : "";
    complain(location, fmt::format("no such {}: {}", key.name, node_text(node)), base::alternatives(words),
             base::did_you_mean(nearest));
}

void ValueStore::store_choice(const Key& key, PeakChoice& target, const toml::node& node,
                              const base::SourceLocation& location) {
    if (node.is_integer()) {
        target.rule = PeakRule::index;
        store_integer(key, target.index, node, location);
        return;
    }
    const std::vector<std::string> words = as_strings(peak_rule_words());
    const auto text = node.value_exact<std::string>();
    for (std::size_t i = 0; text && i < words.size(); ++i) {
        if (words[i] == *text) {
            target = PeakChoice{static_cast<PeakRule>(i), 0};
            return;
        }
    }
    complain(location, "no such choice: " + node_text(node), base::alternatives(words) + ", or the index of a peak");
}

void ValueStore::store(const Key& key, const toml::node& node, const base::SourceLocation& location) {
    scenario_.locations[dotted(key)] = location;
    if (const auto* k = std::get_if<NumberKey>(&key.access)) {
        if (const auto value = number(key, node, location)) k->value(scenario_) = *value;
    } else if (const auto* n = std::get_if<NumberOrWordKey>(&key.access)) {
        if (node.value_exact<std::string>() == std::string(n->word)) {
            n->value(scenario_).reset();
        } else if (node.is_string()) {
            complain(location, "no such word: " + node_text(node), fmt::format("`{}`, or a number", n->word));
        } else if (const auto value = number(key, node, location)) {
            n->value(scenario_) = *value;
        }
    } else if (const auto* p = std::get_if<PairKey>(&key.access)) {
        if (const auto value = pair(key, node, location)) p->value(scenario_) = *value;
    } else if (const auto* l = std::get_if<ListKey>(&key.access)) {
        store_list(key, *l, node, location);
    } else if (const auto* texts = std::get_if<TextListKey>(&key.access)) {
        store_texts(*texts, node, location);
    } else if (const auto* a = std::get_if<ApertureKey>(&key.access)) {
        store_aperture(key, a->value(scenario_), node, location);
    } else if (const auto* i = std::get_if<IntegerKey>(&key.access)) {
        store_integer(key, i->value(scenario_), node, location);
    } else if (const auto* t = std::get_if<TextKey>(&key.access)) {
        if (const auto text = node.value_exact<std::string>()) {
            t->value(scenario_) = *text;
        } else {
            complain(location, "must be text in quotes, got " + node_text(node));
        }
    } else if (const auto* w = std::get_if<WordKey>(&key.access)) {
        store_word(key, *w, node, location);
    } else if (const auto* c = std::get_if<ChoiceKey>(&key.access)) {
        store_choice(key, c->value(scenario_), node, location);
    }
}

}  // namespace

void store_value(const Key& key, const toml::node& node, const base::SourceLocation& location, Scenario& scenario,
                 std::vector<Problem>& problems) {
    ValueStore(scenario, problems).store(key, node, location);
}

void store_element(const Key& key, std::string_view index, const toml::node& node, const base::SourceLocation& location,
                   Scenario& scenario, std::vector<Problem>& problems) {
    ValueStore(scenario, problems).store_element(key, index, node, location);
}

}  // namespace spotwright::scenario
