// Fuzz target of the models: bytes choose keys and values from the table of keys, those that are refused are left out,
// and what remains is set up and read.

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include <fmt/format.h>

#include "sim/base/errors.hpp"
#include "sim/base/cases.hpp"
#include "sim/measure/read.hpp"
#include "sim/record/json.hpp"
#include "sim/scenario/material.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/sensor/sensor.hpp"

namespace {

using namespace spotwright;

// Bytes of the input, zeros after its end.
class Bytes {
public:
    Bytes(const std::uint8_t* data, std::size_t size) : data_(data), size_(size) {}

    [[nodiscard]] bool empty() const { return at_ >= size_; }
    std::uint8_t next() { return empty() ? std::uint8_t{0} : data_[at_++]; }
    std::size_t below(std::size_t count) { return (next() * std::size_t{256} + next()) % count; }
    double share() { return static_cast<double>(below(65536)) / 65535.0; }

private:
    const std::uint8_t* data_;
    std::size_t size_;
    std::size_t at_ = 0;
};

// At an end of the bounds, anywhere between them, or near the default.
double number(Bytes& bytes, const scenario::Limits& limits, double usual) {
    const double low = std::isfinite(limits.low) ? limits.low : -1e6;
    const double high = std::isfinite(limits.high) ? limits.high : 1e6;
    switch (bytes.next() % 8) {
        case 0:
            return low;
        case 1:
            return high;
        case 2:
            return low + bytes.share() * (high - low);
        case 3: {
            const double least = std::max(low, 1e-9 * high);
            return least * std::pow(high / least, bytes.share());
        }
        default:
            return std::clamp((usual == 0.0 ? 1.0 : usual) * std::pow(10.0, 2.0 * bytes.share() - 1.0), low, high);
    }
}

std::string some_of(Bytes& bytes, const std::vector<std::string>& names) {
    return names[bytes.below(names.size())];
}

// The default in the key's unit, as the table writes it; 0 where it is no number.
double usual_value(const scenario::Key& key, const scenario::Scenario& s) {
    const std::string text = scenario::value_text(key, s);
    return std::strtod(text.c_str() + (text.starts_with('[') ? 1 : 0), nullptr);
}

std::string value(Bytes& bytes, const scenario::Key& key, const scenario::Scenario& s) {
    const auto a_number = [&] { return fmt::format("{}", number(bytes, key.limits, usual_value(key, s))); };
    return std::visit(
        base::Cases{
            [&](const scenario::WordKey& k) { return std::string(k.words[bytes.below(k.words.size())]); },
            [&](const scenario::IntegerKey&) {
                return fmt::format("{:.0f}", number(bytes, key.limits, usual_value(key, s)));
            },
            [&](const scenario::PairKey&) { return fmt::format("[{},{}]", a_number(), a_number()); },
            [&](const scenario::TextKey&) {
                return some_of(bytes, key.name == "sensor" ? scenario::sensor_names() : scenario::material_names());
            },
            [&](const scenario::ListKey& k) {
                std::string list;
                for (std::size_t i = 0; i < k.least; ++i) list += (i > 0 ? "," : "") + a_number();
                return "[" + list + "]";
            },
            [&](const scenario::TextListKey&) { return std::string("[]"); }, [&](const auto&) { return a_number(); }},
        key.access);
}

// What costs and changes nothing else.
bool is_size(const scenario::Key& key) {
    return key.section == "run" || key.name == "pixels" || key.name == "sub_exposures" || key.name == "pulses" ||
           key.name == "background_frames";
}

scenario::Scenario drawn(Bytes& bytes) {
    const std::vector<std::string> small{"run.readings=8", "run.patches=2", "run.rays=1000"};
    scenario::Scenario s = scenario::parse("schema = 1\n[target]\nmaterial = \"white-ceramic\"\n", "fuzz.toml", small);
    for (int i = 0; i < 12 && !bytes.empty(); ++i) {
        const scenario::Key& key = scenario::schema()[bytes.below(scenario::schema().size())];
        if (is_size(key)) continue;
        const std::vector<std::string> setting{scenario::dotted(key) + "=" + value(bytes, key, s)};
        try {
            s = scenario::with_settings(s, setting);
        } catch (const base::ScenarioError&) {
            continue;  // contradicts the others
        }
    }
    return s;
}

[[noreturn]] void fail(const scenario::Scenario& s, const std::string& words) {
    std::fprintf(stderr, "broken promise: %s\n%s\n", words.c_str(), scenario::to_toml(s).c_str());
    std::abort();
}

void check_finite(const nlohmann::ordered_json& json, const scenario::Scenario& s) {
    for (const auto& [name, each] : json.items()) {
        if (each.is_structured()) check_finite(each, s);
        if (each.is_number_float() && !std::isfinite(each.get<double>())) fail(s, name + " is not finite");
    }
}

class Count {
public:
    ~Count() { std::fprintf(stderr, "accepted scenarios: %lld\n", accepted); }
    long long accepted = 0;
};

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    static Count count;  // NOLINT(cppcoreguidelines-avoid-non-const-global-variables): told when the process ends
    Bytes bytes(data, size);
    const scenario::Scenario s = drawn(bytes);
    try {
        const sensor::Setup setup = sensor::set_up(s, 1);
        measure::ReadOptions options;
        options.threads = 1;
        const measure::ReadResult result = measure::read(setup, options);
        ++count.accepted;
        check_finite(record::to_json(result, s), s);
    } catch (const base::InternalError& error) {
        fail(s, error.what());
    } catch (const base::Error& error) {
        if (std::string_view(error.what()).empty()) fail(s, "an error without words");
    } catch (const std::exception& error) {
        fail(s, error.what());
    }
    return 0;
}
