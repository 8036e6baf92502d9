// Changes of what is around the light.
#include <fmt/format.h>

#include <algorithm>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/study/changes.hpp"

namespace spotwright::study {

using base::mm, base::um;
using scenario::Scenario;

namespace {

std::string setting(const char* key, double value) {
    return fmt::format("{}={:.6g}", key, value);
}

// Against the light of a second sensor before one that times light.
void add_timed_neighbour(const Scenario& s, std::vector<Change>& list) {
    list.push_back({"turn or shade the second sensor, so that a tenth of its light is left",
                    "neighbour",
                    {setting("neighbour.power_mW", 0.1 * s.neighbour.power / base::mW)},
                    0.0,
                    0});
    if (s.neighbour.timing != scenario::NeighbourTiming::free) return;
    // Off all harmonics of either.
    constexpr double beside = 1.07;
    const auto by_phase = [&](scenario::PhaseShift) {
        const double fastest = *std::max_element(s.flight.modulation.begin(), s.flight.modulation.end());
        const double other = beside * fastest / base::MHz;
        list.push_back({fmt::format("let the second sensor modulate at {:.4g} MHz", other),
                        "neighbour",
                        {setting("neighbour.modulation_MHz", other)},
                        0.0,
                        0});
    };
    const auto by_pulses = [&](scenario::Pulsed) {
        const double other = beside * s.flight.pulse_rate / base::kHz;
        list.push_back({fmt::format("let the second sensor send {:.4g} thousand pulses a second", other),
                        "neighbour",
                        {setting("neighbour.pulse_rate_kHz", other)},
                        0.0,
                        0});
    };
    std::visit(base::Cases{by_phase, by_pulses, [](scenario::Triangulation) {}}, s.principle);
}

}  // namespace

std::vector<Change> changes_around(const Scenario& s) {
    std::vector<Change> list;
    if (s.surroundings.hot_air_structure > 0.0) {
        for (const double left : {0.5, 0.25}) {
            list.push_back({fmt::format("a tube round beam and view that leaves {:g} of the hot air's height", left),
                            "air",
                            {setting("surroundings.hot_air_height_mm", left * s.surroundings.hot_air_height / mm)},
                            0.0,
                            0});
        }
        list.push_back({"a steady stream of cool air across the part, which leaves a tenth of the hot air's Cn2",
                        "air",
                        {setting("surroundings.hot_air_Cn2", 0.1 * s.surroundings.hot_air_structure)},
                        0.0,
                        0});
    }
    if (s.motion.mount_vibration > 0.0) {
        list.push_back({"a stiffer mount, which shakes a quarter as much",
                        "bracket",
                        {setting("motion.mount_vibration_um", 0.25 * s.motion.mount_vibration / um)},
                        0.0,
                        0});
    }
    if (s.neighbour.power > 0.0 && s.neighbour.timing != scenario::NeighbourTiming::alternating) {
        list.push_back({"let the two sensors light in turn", "neighbour", {"neighbour.timing=alternating"}, 0.0, 0});
        if (scenario::abilities_of(s.principle).timing) add_timed_neighbour(s, list);
    }
    return list;
}

}  // namespace spotwright::study
