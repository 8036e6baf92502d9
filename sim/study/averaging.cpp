#include "sim/study/averaging.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <span>

#include <boost/math/statistics/univariate_statistics.hpp>

#include "sim/base/parallel.hpp"
#include "sim/measure/disturbance.hpp"
#include "sim/reading/smoothing.hpp"
#include "sim/measure/series.hpp"
#include "sim/sensor/speckle.hpp"

namespace spotwright::study {

namespace {

// Fewest outputs of one patch for a standard deviation.
constexpr std::int64_t min_outputs = 2;

// Independent outputs of the moved part at the greatest average.
constexpr std::int64_t moved_outputs = 256;

scenario::Reading with_average(scenario::Reading options, std::int64_t average) {
    options.average = average;
    return options;
}

// Readings behind an output.
std::int64_t window_of(const scenario::Reading& options) {
    return options.average + options.median - 1;
}

// Outputs of consecutive windows, none of which shares a reading with another.
std::vector<double> independent_outputs(std::span<const double> displacements, const scenario::Reading& options) {
    std::vector<double> outputs;
    reading::Smoother smoother(options);
    for (const double displacement : displacements) {
        const bool valid = !std::isnan(displacement);
        const std::optional<double> output = smoother.push(valid ? std::optional(displacement) : std::nullopt);
        if (!valid || smoother.readings_to_settle() > 0) continue;
        outputs.push_back(*output);
        smoother = reading::Smoother(options);
    }
    return outputs;
}

double mean_square(std::span<const double> outputs, double reference) {
    double sum = 0.0;
    for (const double output : outputs) sum += (output - reference) * (output - reference);
    return sum / static_cast<double>(outputs.size());
}

// Sums over patches.
struct Gathered {
    double still = 0.0;
    double noise = 0.0;
    double patches = 0.0;
    double freedom = 0.0;  // of the noise
};

// Poses of the part, one for each patch; one pose if there is no speckle.
std::vector<sensor::Pose> poses_to_meet(const sensor::TriangulationSetup& setup, int threads) {
    const double displacement = setup.scenario.target.displacement;
    const sensor::Pose smooth = make_pose(setup, displacement, threads);
    const auto speckle = make_speckle(setup, displacement, smooth.profile);
    if (!speckle) return {smooth};
    const sensor::Pose still = still_pose(setup, smooth, *speckle);
    return poses_of_patches(setup, still, smooth.profile, *speckle, threads);
}

// Single readings of a part that stands still, one series for each patch; NaN where invalid. The random numbers of
// each series are its own.
std::vector<std::vector<double>> still_series(const sensor::TriangulationSetup& setup,
                                              std::span<const sensor::Pose> poses, std::int64_t length, int threads) {
    const auto patches = static_cast<std::int64_t>(poses.size());
    const std::int64_t count = std::max(setup.scenario.run.patches, patches);
    std::vector<std::vector<double>> series(static_cast<std::size_t>(count));
    const measure::Disturbance disturbance(setup);
    base::parallel_for(count, threads, [&](std::int64_t p) {
        const sensor::Pose& pose = poses[static_cast<std::size_t>(p % patches)];
        std::vector<double>& displacements = series[static_cast<std::size_t>(p)];
        displacements.assign(static_cast<std::size_t>(length), std::numeric_limits<double>::quiet_NaN());
        sensor::Scratch scratch;
        for (std::int64_t i = 0; i < length; ++i) {
            sensor::RawReading raw = take_reading(setup, pose, p * length + i, scratch);
            disturbance.add_to(raw, static_cast<double>(p * length + i) * pose.timing.period, pose.timing.exposure);
            if (raw.validity == reading::Validity::valid) {
                displacements[static_cast<std::size_t>(i)] = raw.displacement;
            }
        }
    });
    return series;
}

std::vector<double> moved_series(const sensor::TriangulationSetup& setup, std::span<const sensor::Pose> poses,
                                 std::int64_t length, int threads) {
    std::vector<double> displacements;
    const auto keep = [&displacements](const measure::SeriesBlock& block) {
        displacements.insert(displacements.end(), block.displacement.begin(), block.displacement.end());
    };
    static_cast<void>(measure::take_series(setup, poses, {length, threads, keep, {}}));
    return displacements;
}

// Mean over the patches of the mean reading of each.
std::optional<double> mean_over_patches(const std::vector<std::vector<double>>& series,
                                        const scenario::Reading& options) {
    std::vector<double> means;
    for (const std::vector<double>& each : series) {
        const std::vector<double> outputs = independent_outputs(each, with_average(options, 1));
        if (!outputs.empty()) means.push_back(boost::math::statistics::mean(outputs));
    }
    if (means.empty()) return std::nullopt;
    return boost::math::statistics::mean(means);
}

Gathered gather(const std::vector<std::vector<double>>& series, const scenario::Reading& options, double reference) {
    Gathered sums;
    for (const std::vector<double>& each : series) {
        const std::vector<double> outputs = independent_outputs(each, options);
        if (static_cast<std::int64_t>(outputs.size()) < min_outputs) continue;
        sums.still += mean_square(outputs, reference);
        sums.noise += boost::math::statistics::sample_variance(outputs);
        sums.patches += 1.0;
        sums.freedom += static_cast<double>(outputs.size()) - 1.0;
    }
    return sums;
}

}  // namespace

std::vector<AveragedError> averaging_study(const sensor::TriangulationSetup& setup, const AveragingOptions& options) {
    const scenario::Reading& reading = setup.scenario.reading;
    const std::int64_t longest = window_of(with_average(reading, options.greatest));
    const std::vector<sensor::Pose> poses = poses_to_meet(setup, options.threads);
    const auto still = still_series(setup, poses, min_outputs * longest, options.threads);
    const std::vector<double> moved = moved_series(setup, poses, moved_outputs * longest, options.threads);
    const auto reference = mean_over_patches(still, reading);
    std::vector<AveragedError> errors;
    if (!reference) return errors;
    for (std::int64_t average = 1; average <= options.greatest; average *= 2) {
        const scenario::Reading averaged = with_average(reading, average);
        const Gathered sums = gather(still, averaged, *reference);
        const std::vector<double> outputs = independent_outputs(moved, averaged);
        if (sums.patches == 0.0 || outputs.empty()) break;
        AveragedError error;
        error.average = average;
        error.response_time =
            static_cast<double>(reading::step_response_readings(averaged)) * poses.front().timing.period;
        error.still = std::sqrt(sums.still / sums.patches);
        error.moved = std::sqrt(mean_square(outputs, *reference));
        error.noise = std::sqrt(sums.noise / sums.patches);
        error.still_values = sums.patches > 1.0 ? sums.patches : sums.freedom;
        error.moved_values = static_cast<double>(outputs.size());
        error.noise_values = sums.freedom;
        errors.push_back(error);
    }
    return errors;
}

}  // namespace spotwright::study
