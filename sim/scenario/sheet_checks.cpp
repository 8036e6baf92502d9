// What is wrong with a data sheet as a whole: what is missing, and what two values say together.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <functional>

#include "sim/base/cases.hpp"
#include "sim/base/printable.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/material.hpp"
#include "sim/scenario/material_words.hpp"
#include "sim/scenario/sheet.hpp"
#include "sim/scenario/toml_source.hpp"

namespace spotwright::scenario {

namespace {

using Complain = std::function<void(const std::string& key, std::string message, const std::string& allowed)>;

// Two keys for one thing, in other units or words.
constexpr std::array<std::array<const char*, 2>, 8> alternatives_of_keys{{
    {"timing.period_us", "timing.shortest_period_us"},
    {"timing.period_us", "timing.sampling_rate_kHz"},
    {"timing.shortest_period_us", "timing.sampling_rate_kHz"},
    {"spot.in_plane_um", "spot.in_plane_mm"},
    {"spot.out_of_plane_um", "spot.out_of_plane_mm"},
    {"spot.in_plane_at_ends_um", "spot.in_plane_at_ends_mm"},
    {"repeatability.value_um", "repeatability.value_mm"},
    {"resolution.step_um", "resolution.step_mm"},
}};

void check_range(const Sheet& sheet, const Complain& complain) {
    for (const char* key : {"reference_distance_mm", "range_mm"}) {
        if (!sheet.locations.contains(key)) complain(key, "missing", "a data sheet states it");
    }
    if (sheet.range[0] >= sheet.range[1] && sheet.locations.contains("range_mm")) {
        complain("range_mm", "the near end is not before the far end", "displacements, as in [-5, 5]");
    } else if (sheet.reference_distance + sheet.range[0] <= 0.0) {
        complain("range_mm",
                 fmt::format("the near end lies {:g} mm before the reference distance of {:g} mm: in the sensor",
                             -sheet.range[0] / base::mm, sheet.reference_distance / base::mm),
                 "displacements from the reference distance, as in [-5, 5]");
    }
}

// Keys that a sheet of this principle cannot have.
std::vector<std::string_view> keys_of_others(const Principle& principle) {
    return std::visit(
        base::Cases{
            [](Triangulation) -> std::vector<std::string_view> {
                return {"spot.divergence_mrad", "flight.modulation_MHz", "flight.pulse_ns", "flight.pulse_rate_kHz",
                        "flight.pulses"};
            },
            [](PhaseShift) -> std::vector<std::string_view> {
                return {"array.pixels", "flight.pulse_ns", "flight.pulse_rate_kHz", "flight.pulses"};
            },
            [](Pulsed) -> std::vector<std::string_view> {
                return {"array.pixels", "timing.exposure_us", "timing.white_exposure_us", "flight.modulation_MHz"};
            }},
        principle);
}

void check_principle(const Sheet& sheet, const Complain& complain) {
    for (const std::string_view key : keys_of_others(sheet.principle)) {
        if (!sheet.locations.contains(std::string(key))) continue;
        complain(std::string(key), fmt::format("a sensor with principle = \"{}\" has none", word_of(sheet.principle)),
                 "another principle, or without this line");
    }
    if (abilities_of(sheet.principle).timing && sheet.mount == SheetMount::specular) {
        complain("mount", "a specular mount of a time-of-flight sensor is not modelled", "\"diffuse\"");
    }
}

void check_repeatability(const SheetRepeatability& repeatability, const Sheet& sheet, const Complain& complain,
                         std::vector<base::Problem>& problems) {
    if (repeatability.value.high <= 0.0) {
        complain("repeatability.value_um", "missing", "the figure that the conditions belong to");
    }
    const std::string& material = repeatability.material;
    const std::vector<std::string> names = material_names();
    const bool known = std::find(names.begin(), names.end(), material) != names.end();
    if (known || material.ends_with(".toml")) return;
    problems.push_back({location_of(sheet, "repeatability.material"),
                        printable(fmt::format("no such material: \"{}\"", material)),
                        "a name of the library (`spotwright materials` lists them), or a material file (.toml)",
                        material_hint(material)});
}

}  // namespace

void check_together(const Sheet& sheet, std::vector<base::Problem>& problems) {
    const Complain complain = [&](const std::string& key, std::string message, const std::string& allowed) {
        problems.push_back({location_of(sheet, key), std::move(message), allowed, ""});
    };
    check_range(sheet, complain);
    check_principle(sheet, complain);
    for (const auto& [first, second] : alternatives_of_keys) {
        if (!sheet.locations.contains(first) || !sheet.locations.contains(second)) continue;
        complain(second, fmt::format("both {} and {}", first, second), "one of the two");
    }
    if (sheet.repeatability) check_repeatability(*sheet.repeatability, sheet, complain, problems);
    if (sheet.exposures && (*sheet.exposures)[0] > (*sheet.exposures)[1]) {
        complain("timing.exposure_us", "the shortest is longer than the longest", "[shortest, longest]");
    }
}

}  // namespace spotwright::scenario
