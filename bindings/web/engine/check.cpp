#include "bindings/web/engine/check.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "bindings/web/engine/edit.hpp"
#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/base/version.hpp"
#include "sim/record/json.hpp"
#include "sim/record/json_number.hpp"
#include "sim/record/sensors.hpp"
#include "sim/record/text.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/scenario/sensor_keys.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/summary.hpp"

namespace spotwright::web {

namespace {

using base::degree;
using scenario::Key, scenario::Scenario;

struct KindAndWords {
    const char* kind = "";
    std::vector<std::string> words;
};

KindAndWords kind_of(const Key& key) {
    const auto words_of = [](std::span<const std::string_view> words) {
        return std::vector<std::string>(words.begin(), words.end());
    };
    return std::visit(base::Cases{[](const scenario::NumberKey&) -> KindAndWords {
                                      return {"number", {}};
                                  },
                                  [](const scenario::NumberOrWordKey& each) -> KindAndWords {
                                      return {"number-or-word", {std::string(each.word)}};
                                  },
                                  [](const scenario::PairKey&) -> KindAndWords {
                                      return {"pair", {}};
                                  },
                                  [](const scenario::ListKey&) -> KindAndWords {
                                      return {"list", {}};
                                  },
                                  [](const scenario::TextListKey&) -> KindAndWords {
                                      return {"texts", {}};
                                  },
                                  [](const scenario::ApertureKey&) -> KindAndWords {
                                      return {"aperture", {}};
                                  },
                                  [](const scenario::IntegerKey&) -> KindAndWords {
                                      return {"integer", {}};
                                  },
                                  [](const scenario::TextKey&) -> KindAndWords {
                                      return {"text", {}};
                                  },
                                  [&](const scenario::WordKey& each) -> KindAndWords {
                                      return {"word", words_of(each.words)};
                                  },
                                  [&](const scenario::ChoiceKey&) -> KindAndWords {
                                      return {"peak-choice", words_of(scenario::peak_rule_words())};
                                  }},
                      key.access);
}

Json value_of(const Key& key, const Scenario& s) {
    return value_json(record::valid_utf8(scenario::value_text(key, s)));
}

Json key_json(const Key& key, const Scenario& defaults) {
    const std::string name = scenario::dotted(key);
    const KindAndWords kind = kind_of(key);
    return {{"key", name},
            {"section", key.section},
            {"name", key.name},
            {"unit", base::unit_of(key.name).symbol},
            {"kind", kind.kind},
            {"words", kind.words},
            {"low", record::json_number(key.limits.low)},
            {"high", record::json_number(key.limits.high)},
            {"low_open", key.limits.low_open},
            {"limits", scenario::describe_limits(key)},
            {"meaning", key.meaning},
            {"default", value_of(key, defaults)},
            {"of_sensor", scenario::is_sensor_key(name)}};
}

bool is_fixed(const Key& key, const Scenario& s) {
    return !s.sensor.empty() && scenario::belongs_to_sensor(key) && !scenario::free_to_user(key) &&
           scenario::offer_of(s, scenario::dotted(key)) == nullptr;
}

// Keys whose word stands for a number that follows from others.
Json computed(const Scenario& s) {
    Json numbers = Json::object();
    if (!scenario::abilities_of(s.principle).array) return numbers;
    const double tilt = sensor::make_layout(s).detector_tilt;
    if (!s.receiver.detector_tilt) numbers["receiver.detector_tilt_deg"] = tilt / degree;
    return numbers;
}

Json offer_json(const scenario::Offer& offer) {
    return {{"bounds", offer.bounds ? Json({(*offer.bounds)[0], (*offer.bounds)[1]}) : Json()},
            {"values", offer.values},
            {"words", offer.words},
            {"text", scenario::describe_offer(offer)}};
}

Json without_problems(const Scenario& s) {
    Json values = Json::object();
    Json texts = Json::object();
    Json fixed = Json::array();
    for (const Key& key : scenario::schema()) {
        const std::string name = scenario::dotted(key);
        texts[name] = record::valid_utf8(scenario::value_text(key, s));
        values[name] = value_of(key, s);
        if (is_fixed(key, s)) fixed.push_back(name);
    }
    Json offers = Json::object();
    for (const scenario::Offer& offer : s.sensor_file.offers) offers[offer.key] = offer_json(offer);
    return {{"title", record::valid_utf8(s.title)},
            {"principle", scenario::word_of(s, "principle")},
            {"values", values},
            {"texts", texts},
            {"computed", computed(s)},
            {"fixed", fixed},
            {"offers", offers},
            {"problems", Json::array()}};
}

// Whether a text reads as the same scenario.
bool reads_as(const std::string& text, const Scenario& wanted) {
    try {
        return scenario::to_toml(scenario::parse(text)) == scenario::to_toml(wanted);
    } catch (const base::Error&) {
        return false;
    }
}

// The value of one number of a key is written with its neighbours.
std::string whole_value(const std::string& key, const std::string& value, const std::optional<Scenario>& wanted) {
    const Key* row = scenario::find_key_of(key);
    return key.ends_with(']') && wanted && row != nullptr ? scenario::value_text(*row, *wanted) : value;
}

std::optional<std::string> edited(const Written& written, const std::optional<Scenario>& wanted) {
    std::optional<std::string> text = written.toml;
    for (const std::string& setting : written.settings) {
        const std::size_t equals = setting.find('=');
        const std::string key = setting.substr(0, equals);
        const std::string value = whole_value(key, setting.substr(equals + 1), wanted);
        text = with_value(*text, key.substr(0, key.find('[')), value);
        if (!text) return std::nullopt;
    }
    return text;
}

}  // namespace

Json tables() {
    const Scenario defaults;
    Json keys = Json::array();
    for (const Key& key : scenario::schema()) keys.push_back(key_json(key, defaults));
    std::vector<sensor::Summary> sensors;
    for (const Scenario& s : sensor::shelf("")) sensors.push_back(sensor::summary_of(s));
    return {{"version", base::version()},
            {"revision", base::revision()},
            {"keys", keys},
            {"materials", record::materials_json(defaults.emitter.wavelength)["materials"]},
            {"sensors", record::to_json(sensors)}};
}

Json check(const Json& question) {
    Json problems = Json::array();
    try {
        return without_problems(scenario_in(question));
    } catch (const base::ScenarioError& error) {
        problems = to_json(error.problems());
    }
    return {{"title", ""},
            {"principle", ""},
            {"values", Json::object()},
            {"texts", Json::object()},
            {"computed", Json::object()},
            {"fixed", Json::array()},
            {"offers", Json::object()},
            {"problems", problems}};
}

Json edit(const Json& question) {
    const Written written = written_in(question);
    std::optional<Scenario> wanted;
    Json problems = Json::array();
    try {
        wanted = scenario::parse(written.toml, "scenario", written.settings);
    } catch (const base::ScenarioError& error) {
        problems = to_json(error.problems());
    }
    std::optional<std::string> text = edited(written, wanted);
    if (wanted && (!text || !reads_as(*text, *wanted))) text = scenario::to_toml(*wanted);
    return {{"toml", text.value_or(written.toml)}, {"problems", problems}};
}

}  // namespace spotwright::web
