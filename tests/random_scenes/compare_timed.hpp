// The spot model's timed light held against rays on a scenario: light on the detector, its mean delay, the spread of
// its delays and the phase of all of it together, delays told as lengths of ways.
#pragma once

#include <cstdint>
#include <string>

#include "random_scenes/timed_rays.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::test {

/// How closely the two are to agree, and how sharply the rays are to judge.
struct TimedPlan {
    double light = 0.01;           ///< relative difference allowed beyond the rays' error. [1]
    double path = 0.02e-3;         ///< difference of mean and phase allowed beyond the error: 0.01 mm of distance. [m]
    double share = 0.01;           ///< and so much of the spread of ways. [1]
    double deviation = 0.06e-3;    ///< difference of the spread allowed, and `share` of it; see `compare_timed`. [m]
    double light_error = 0.001;    ///< relative standard error of light at which no more rays are asked for. [1]
    double path_error = 0.005e-3;  ///< the same of mean, spread and phase, and a thousandth of the spread. [m]
    double blunt = 3.0;            ///< times these errors, above which a scene counts as judged bluntly. [1]
    std::int64_t first_rays = std::int64_t{1} << 14;
    std::int64_t most_rays = std::int64_t{1} << 20;
    double false_alarm = 1e-4;  ///< chance that any claim fails on models that agree, over all scenes
    int scenes = 1;             ///< over which it is shared, four claims each
    int threads = 1;
    std::uint64_t seed = 1;  ///< of the rays
};

/// See judging.hpp; four claims a scene.
[[nodiscard]] double allowed_errors(const TimedPlan& plan);

struct TimedComparison {
    TimedLight spot;
    TimedLight rays;
    double dark = 0.0;           ///< light that counts as none. [W]
    std::int64_t ray_count = 0;  ///< of the last run
    double spot_seconds = 0.0;   ///< of processor time
    double ray_seconds = 0.0;    ///< all runs
    bool sharp = false;          ///< errors not above the blunt ones, or the scene is dark
    bool light_agrees = false;
    bool path_agrees = false;
    bool deviation_agrees = false;
    bool phase_agrees = false;
    [[nodiscard]] bool agrees() const { return light_agrees && path_agrees && deviation_agrees && phase_agrees; }
    [[nodiscard]] bool is_dark() const { return spot.received.value < dark && rays.received.value < dark; }
};

/// Light counts as none below 1e-9 of what a square white tile, Lambert's with a reflectance of 0.9, at the reference
/// point sends through the aperture. Light ends after its first meeting with the part, as in `flight::receive`, but
/// goes to and fro between a plate and what lies behind it. The tolerances: `receive` takes ways together within 0.2
/// mm, which keeps the mean and leaves out of the spread what an even distribution over such a step has, 0.2 mm /
/// sqrt(12) = 0.058 mm; a hundredth of the spread by analogy to that of the light, since an error of a hundredth of one
/// of two depths moves mean and spread by as much. 0.02 mm is twice what the
/// spot model allows its own quadrature.
[[nodiscard]] TimedComparison compare_timed(const scenario::Scenario& scenario, const TimedPlan& plan);

/// A line of the table; see `timed_heading`.
[[nodiscard]] std::string describe(int index, const scenario::Scenario& scenario, const TimedComparison& comparison);
[[nodiscard]] std::string timed_heading();

}  // namespace spotwright::test
