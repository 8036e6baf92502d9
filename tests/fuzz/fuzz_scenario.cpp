// Fuzz target of everything a person can type: a scenario file, settings, a material file.
//
// The input is a scenario file; what follows a record separator (0x1E) is a setting, and so on.

#include <cmath>
#include <complex>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/scenario/material.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/sensor/layout.hpp"

namespace {

using namespace spotwright;

void demand(bool promise, const char* what, const std::string& detail = {}) {
    if (promise) return;
    std::fprintf(stderr, "broken promise: %s\n%s\n", what, detail.c_str());
    std::abort();
}

std::vector<std::string> split(std::string_view input) {
    constexpr char record_separator = '\x1E';
    std::vector<std::string> parts;
    for (;;) {
        const std::size_t end = input.find(record_separator);
        parts.emplace_back(input.substr(0, end));
        if (end == std::string_view::npos) return parts;
        input.remove_prefix(end + 1);
    }
}

void check_message(const base::Error& error) {
    const std::string text = error.what();
    demand(!text.empty(), "an error says something");
    for (const char c : text)
        demand(c == '\n' || static_cast<unsigned char>(c) >= 0x20, "messages are printable", text);
}

void check_round_trip(const scenario::Scenario& s) {
    const std::string text = scenario::to_toml(s);
    const scenario::Scenario back = scenario::parse(text, s.file);
    demand(scenario::to_toml(back) == text, "a written scenario reads back", text);
}

void check_layout(const scenario::Scenario& s) {
    sensor::Layout layout;
    try {
        layout = sensor::make_layout(s);
    } catch (const base::Error& error) {
        check_message(error);
        return;
    }
    const receiver::Receiver& r = layout.receiver;
    std::vector<double> finite{
        layout.detector_tilt,     layout.magnification,        layout.sensitivity, layout.object_side_na,
        layout.speckle_limit,     layout.pixel_displacement,   r.image_distance,   layout.measurable.near,
        r.aperture.half_in_plane, r.aperture.half_out_of_plane};
    finite.insert(finite.end(), layout.distance.begin(), layout.distance.end());
    finite.insert(finite.end(), layout.image_position.begin(), layout.image_position.end());
    finite.insert(finite.end(), layout.beam_radius.begin(), layout.beam_radius.end());
    for (const double value : finite) demand(std::isfinite(value), "a layout is finite", scenario::to_toml(s));
    // The far end may be infinitely far, never undefined.
    demand(!std::isnan(layout.measurable.far), "the measurable range is defined", scenario::to_toml(s));
}

void check_scenario(const std::vector<std::string>& parts) {
    const std::vector<std::string> settings(parts.begin() + 1, parts.end());
    scenario::Scenario s;
    try {
        s = scenario::parse(parts.front(), "fuzz.toml", settings);
    } catch (const base::ScenarioError& error) {
        check_message(error);
        return;
    }
    check_round_trip(s);
    check_layout(s);
}

void check_material(std::string_view text) {
    try {
        const scenario::Material material = scenario::parse_material(text, "fuzz.toml");
        for (const double wavelength : material.reflectance.wavelength) {
            const double value = scenario::reflectance_at(material, wavelength);
            demand(value >= 0.0 && value <= 1.0, "a reflectance is a share");
        }
        if (!material.index) return;
        for (const double wavelength : material.index->wavelength) {
            const std::complex<double> index = scenario::index_at(material, wavelength);
            demand(index.real() > 0.0 && std::isfinite(index.real()), "an index is positive");
            demand(index.imag() >= 0.0 && std::isfinite(index.imag()), "an absorption is not negative");
        }
    } catch (const base::ScenarioError& error) {
        check_message(error);
    }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string input(data, data + size);
    const std::vector<std::string> parts = split(input);
    check_scenario(parts);
    check_material(parts.front());
    return 0;
}
