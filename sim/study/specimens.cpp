#include "sim/study/specimens.hpp"

#include <boost/math/statistics/univariate_statistics.hpp>
#include <fmt/format.h>

#include <cmath>
#include <limits>

#include "sim/base/parallel.hpp"
#include "sim/study/draw.hpp"

namespace spotwright::study {

std::vector<scenario::Scenario> specimens_of(const scenario::Scenario& s) {
    std::vector<scenario::Scenario> specimens;
    if (s.run.specimens < 2 || !scenario::abilities_of(s.principle).array) return specimens;
    for (std::int64_t i = 0; i < s.run.specimens; ++i) {
        scenario::Scenario& one = specimens.emplace_back(s);
        one.run.specimens = 1;
        const std::int64_t left = std::numeric_limits<std::int64_t>::max() - s.detector.device_seed;
        one.detector.device_seed = i <= left ? s.detector.device_seed + i : i - left - 1;
    }
    return specimens;
}

std::vector<std::optional<double>> errors_of_specimens(std::span<const scenario::Scenario> specimens, int threads) {
    std::vector<std::optional<double>> errors(specimens.size());
    base::parallel_for(static_cast<std::int64_t>(specimens.size()), threads, [&](std::int64_t i) {
        const auto k = static_cast<std::size_t>(i);
        scenario::Scenario smooth = specimens[k];
        smooth.run.speckle = scenario::SpeckleModel::off;
        try {
            errors[k] = ErrorModel(sensor::set_up(smooth, 1)).error_at(nominal_draw(smooth));
        } catch (const base::ScenarioError&) {
            errors[k].reset();
        }
    });
    return errors;
}

std::optional<Specimens> read_specimens(const scenario::Scenario& s, const EnsembleOptions& options) {
    const std::vector<scenario::Scenario> scenarios = specimens_of(s);
    if (scenarios.empty()) return std::nullopt;
    const std::vector<EnsembleMember> members = read_members(scenarios, options);
    Specimens specimens{spread_over(members), std::nullopt};
    std::vector<double> biases;
    for (const EnsembleMember& member : members) {
        if (member.systematic) biases.push_back(*member.systematic);
    }
    if (biases.size() > 1) specimens.bias_deviation = std::sqrt(boost::math::statistics::sample_variance(biases));
    return specimens;
}

std::string in_words(const Specimens& specimens, measure::Level level) {
    return levels_in_words(specimens.spread, level, "specimens");
}

}  // namespace spotwright::study
