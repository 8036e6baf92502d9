#include "sim/scenario/schema_values.hpp"

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"

namespace spotwright::scenario {

std::vector<double> written_numbers(const Key& key, Scenario& s) {
    const base::Unit unit = base::unit_of(key.name);
    const auto written = [&unit](double si) { return base::from_si(unit, si); };
    return std::visit(base::Cases{
                          [&](const NumberKey& k) { return std::vector{written(k.value(s))}; },
                          [&](const NumberOrWordKey& k) {
                              const std::optional<double>& value = k.value(s);
                              return value ? std::vector{written(*value)} : std::vector<double>{};
                          },
                          [&](const PairKey& k) {
                              return std::vector{written(k.value(s)[0]), written(k.value(s)[1])};
                          },
                          [&](const ListKey& k) {
                              std::vector<double> values;
                              for (const double value : k.value(s)) values.push_back(written(value));
                              return values;
                          },
                          [&](const TextListKey&) { return std::vector<double>{}; },
                          [&](const ApertureKey& k) {
                              const Aperture& a = k.value(s);
                              return std::vector{written(a.in_plane), written(a.out_of_plane)};
                          },
                          [&](const IntegerKey& k) { return std::vector{static_cast<double>(k.value(s))}; },
                          [&](const TextKey&) { return std::vector<double>{}; },
                          [&](const WordKey&) { return std::vector<double>{}; },
                          [&](const ChoiceKey& k) {
                              const PeakChoice& choice = k.value(s);
                              return choice.rule == PeakRule::index ? std::vector{static_cast<double>(choice.index)}
                                                                    : std::vector<double>{};
                          },
                      },
                      key.access);
}

std::optional<std::string> written_word(const Key& key, Scenario& s) {
    using Word = std::optional<std::string>;
    return std::visit(base::Cases{
                          [](const NumberKey&) { return Word{}; },
                          [&](const NumberOrWordKey& k) { return k.value(s) ? Word{} : Word{k.word}; },
                          [](const PairKey&) { return Word{}; },
                          [](const ListKey&) { return Word{}; },
                          [](const TextListKey&) { return Word{}; },
                          [](const ApertureKey&) { return Word{}; },
                          [](const IntegerKey&) { return Word{}; },
                          [&](const TextKey& k) { return Word{k.value(s)}; },
                          [&](const WordKey& k) { return Word{k.words[static_cast<std::size_t>(k.get(s))]}; },
                          [&](const ChoiceKey& k) {
                              const PeakRule rule = k.value(s).rule;
                              if (rule == PeakRule::index) return Word{};
                              return Word{peak_rule_words()[static_cast<std::size_t>(rule)]};
                          },
                      },
                      key.access);
}

void copy_value(const Key& key, Scenario& from, Scenario& to) {
    std::visit(base::Cases{[&](const WordKey& k) { k.set(to, k.get(from)); },
                           [&](const auto& k) { k.value(to) = k.value(from); }},
               key.access);
}

}  // namespace spotwright::scenario
