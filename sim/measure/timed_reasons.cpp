#include "sim/measure/timed_reasons.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/sensor/flight_neighbour.hpp"

namespace spotwright::measure {

namespace {

constexpr double worth_telling = 0.05;  // of the tolerance

std::optional<NeighbourBeats> neighbour_beats(const scenario::Scenario& s, const ReadResult& result,
                                              const sensor::FlightPose& pose) {
    if (!pose.neighbour) return std::nullopt;
    const sensor::BeatOfNeighbour beat = sensor::worst_beat(s, pose);
    const bool clock = pose.neighbour->has_clock;
    return NeighbourBeats{beat.ratio, beat.difference, beat.kept,
                          clock ? result.neighbour_scatter : result.neighbour_shift, clock};
}

std::optional<NeighbourPulses> neighbour_pulses(const scenario::Scenario& s, const ReadResult& result,
                                                const sensor::FlightPose& pose) {
    if (!pose.neighbour) return std::nullopt;
    return NeighbourPulses{sensor::pulses_met(pose), result.neighbour_shift, result.neighbour_scatter,
                           pose.neighbour->has_clock, s.flight.timing == scenario::PulseTiming::photon_counting};
}

void add_neighbour(const scenario::Scenario& s, const ReadResult& result, std::vector<Reason>& reasons) {
    const double enough = worth_telling * s.requirement.tolerance;
    const bool errs = std::abs(result.neighbour_shift) > enough || result.neighbour_scatter > enough;
    const auto by_phase = [&](const PhaseDetails& details) {
        const auto seen = neighbour_beats(s, result, details.light.pose);
        constexpr double much = 0.5;
        if (seen && (errs || seen->ratio > much)) reasons.emplace_back(*seen);
    };
    const auto by_pulses = [&](const PulseDetails& details) {
        const auto seen = neighbour_pulses(s, result, details.light.pose);
        if (seen && errs) reasons.emplace_back(*seen);
    };
    std::visit(base::Cases{by_phase, by_pulses, [](const TriangulationDetails&) {}}, result.details);
}

// A table of corrections that is coarse, or that the part's light is beyond.
void add_table(const scenario::Scenario& s, const ReadResult& result, std::vector<Reason>& reasons) {
    const TimedLight* light = timed_light(result.details);
    if (light == nullptr || s.flight.intensity_points == 0) return;
    const double enough = worth_telling * s.requirement.tolerance;
    if (light->table_left > enough) reasons.emplace_back(TableLeaves{light->table_left, s.flight.intensity_points});
    const auto [least, most] = s.flight.intensity_range;
    const bool brighter = light->brightness > most;
    if (!brighter && light->brightness >= least) return;
    const double bias = result.systematic.value_or(0.0);
    if (std::abs(bias) < enough && result.systematic) return;
    reasons.emplace_back(
        BeyondTable{brighter ? light->brightness / most : least / std::max(light->brightness, 1e-300), brighter, bias});
}

}  // namespace

std::vector<Reason> reasons_of_timing(const scenario::Scenario& s, const ReadResult& result) {
    std::vector<Reason> reasons;
    add_neighbour(s, result, reasons);
    add_table(s, result, reasons);
    return reasons;
}

}  // namespace spotwright::measure
