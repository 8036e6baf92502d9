#include "sim/study/shortlist_conclude.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::study {

using scenario::Scenario;

namespace {

void add_light_shortcoming(const scenario::Job& job, const Scenario& sensor, RankedSensor& ranked) {
    if (!ranked.worst || ranked.margin > 0.0) return;
    const JobPose& pose = ranked.poses[*ranked.worst];
    const double threshold = sensor.reading.threshold;
    const std::string where = fmt::format("{}, {}", base::printable(job.parts[pose.part].title), pose.words);
    const double share = pose.outcome->peak_share;
    if (share > 0.0 && share < threshold) {
        ranked.shortcomings.push_back({Shortfall::light, threshold / share,
                                       fmt::format("too dark by a factor of {:.2g} on {}", threshold / share, where)});
    } else {
        ranked.shortcomings.push_back(
            {Shortfall::readings, 0.0, fmt::format("no valid readings on {}: {}", where, pose.outcome->largest)});
    }
}

void add_error_shortcoming(const scenario::Job& job, RankedSensor& ranked) {
    if (!ranked.error || ranked.level == measure::Level::stable) return;
    const JobPose& pose = ranked.poses[*ranked.worst];
    const scenario::Requirement& requirement = job.parts[pose.part].scenario.requirement;
    const std::string where = fmt::format("{}, {}", base::printable(job.parts[pose.part].title), pose.words);
    if (ranked.margin < 1.0) {
        ranked.shortcomings.push_back({Shortfall::error, 1.0 / ranked.margin,
                                       fmt::format("errors up to {} on {} where {} are allowed; largest: {}",
                                                   base::uncertainty_text(*ranked.error), where,
                                                   base::length_text(allowed_error(requirement), 3), ranked.largest)});
    }
    if (ranked.valid_share < requirement.stable_valid_share) {
        ranked.shortcomings.push_back(
            {Shortfall::readings, 0.0, fmt::format("only {:.4g} % of readings are valid", 100.0 * ranked.valid_share)});
    }
}

void add_spot_shortcoming(const scenario::Job& job, const Scenario& sensor, RankedSensor& ranked) {
    if (ranked.shortcomings.empty()) return;
    const emitter::Beam beam = sensor::beam_of(sensor);
    const double distance = sensor.mount.reference_distance + ranked.setup.displacement;
    const double spot = 2.0 * std::max(emitter::radius_at(beam, 0, distance), emitter::radius_at(beam, 1, distance));
    for (const scenario::JobPart& part : job.parts) {
        const auto feature = smallest_feature(part.scenario.target);
        if (!feature || *feature >= spot) continue;
        ranked.shortcomings.push_back({Shortfall::spot, spot / *feature,
                                       fmt::format("the spot of {} is larger than {} of {}", base::length_text(spot, 2),
                                                   base::length_text(*feature, 2), base::printable(part.title))});
        return;
    }
}

}  // namespace

void conclude(const scenario::Job& job, const Scenario& sensor, RankedSensor& ranked) {
    ranked.level = measure::Level::stable;
    ranked.valid_share = 1.0;
    ranked.margin = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < ranked.poses.size(); ++i) {
        const auto& outcome = ranked.poses[i].outcome;
        if (!outcome) continue;
        ranked.level = std::max(ranked.level, outcome->level);
        ranked.valid_share = std::min(ranked.valid_share, outcome->valid_share);
        ranked.response = std::max(ranked.response, outcome->response);
        const double allowed = allowed_error(job.parts[ranked.poses[i].part].scenario.requirement);
        const double margin = outcome->expanded_uncertainty ? allowed / *outcome->expanded_uncertainty : 0.0;
        if (margin >= ranked.margin) continue;
        ranked.margin = margin;
        ranked.error = outcome->expanded_uncertainty;
        ranked.largest = outcome->largest;
        ranked.worst = i;
    }
    const double required = required_response(job);
    constexpr double rounding = 1.0 + 1e-9;
    if (ranked.response > required * rounding) {
        ranked.shortcomings.push_back({Shortfall::response, ranked.response / required,
                                       fmt::format("answers after {:.4g} ms, {:.4g} ms are asked for",
                                                   ranked.response / base::ms, required / base::ms)});
    }
    add_light_shortcoming(job, sensor, ranked);
    add_error_shortcoming(job, ranked);
    add_spot_shortcoming(job, sensor, ranked);
}

}  // namespace spotwright::study
