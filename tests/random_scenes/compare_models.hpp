// The spot model held against the ray model on a scenario: light on the pixels, its centroid, and the centroid of the
// peak that a reading would stand on.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "random_scenes/draw_scene.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::test {

/// How closely the models are to agree, and how sharply the ray model is to judge.
struct ComparePlan {
    double light = 0.01;            ///< relative difference allowed beyond the ray model's error. [1]
    double centroid = 0.05;         ///< difference allowed beyond the ray model's error. [px]
    double light_error = 0.001;     ///< relative standard error of light at which no more rays are asked for. [1]
    double centroid_error = 0.005;  ///< the same of the centroid. [px]
    double blunt = 3.0;             ///< times these errors, above which a scene counts as judged bluntly. [1]
    std::int64_t first_rays = std::int64_t{1} << 14;
    std::int64_t most_rays = std::int64_t{1} << 20;
    /// Of parts that let light in: a photon in a dense white takes thousands of steps, some 0.5 ms.
    std::int64_t most_rays_inside = std::int64_t{1} << 20;
    double false_alarm = 1e-4;  ///< chance that any claim fails on models that agree, over all scenes
    int scenes = 1;             ///< over which it is shared, three claims each
    int threads = 1;
    std::uint64_t seed = 1;          ///< of the rays
    bool measures_left_out = false;  ///< see `Comparison::left_out`
};

/// See judging.hpp; three claims a scene.
[[nodiscard]] double allowed_errors(const ComparePlan& plan);

struct Comparison {
    double spot_light = 0.0;  ///< on the pixels. [W]
    double ray_light = 0.0;
    double light_error = 0.0;             ///< standard error of the ray model's. [W]
    std::optional<double> spot_centroid;  ///< none without light. [px]
    std::optional<double> ray_centroid;   ///< [px]
    double centroid_error = 0.0;          ///< [px]
    std::optional<double> spot_peak;      ///< centroid of the light within the window, see `compare_models`. [px]
    std::optional<double> ray_peak;       ///< the same, in the same window. [px]
    double peak_error = 0.0;              ///< [px]
    double dark = 0.0;                    ///< light that counts as none. [W]
    std::int64_t rays = 0;                ///< of the last image
    double spot_seconds = 0.0;            ///< of processor time
    double ray_seconds = 0.0;             ///< all images
    bool sharp = false;                   ///< errors not above the blunt ones, or the scene is dark
    std::optional<double> left_out;       ///< light of further meetings over that of the first one. [1]
    bool light_agrees = false;
    bool centroid_agrees = false;
    bool peak_agrees = false;
    [[nodiscard]] bool agrees() const { return light_agrees && centroid_agrees && peak_agrees; }
    [[nodiscard]] bool is_dark() const { return spot_light < dark && ray_light < dark; }
};

/// Light counts as none below 1e-9 of what a square white tile, Lambert's with a reflectance of 0.9, at the reference
/// point sends through the aperture: then it is equal in this absolute sense, and has no centroid worth comparing.
/// Of the ray model light ends after its first meeting with the part, and with what lies behind a plate, as in the spot
/// model, which leaves out by design what the part throws on itself and what goes to and fro between plate and backing;
/// what goes to and fro inside a plate or through a volume is followed. How much is left out can be measured beside it.
/// The window is where the spot model's image is above a thirtieth of its highest pixel, around that pixel: what a
/// reading takes by the default threshold and exposure. It is the same for both, so that the ray model's noise does not
/// move it.
[[nodiscard]] Comparison compare_models(const scenario::Scenario& scenario, const ComparePlan& plan);

/// A line of the table; see `comparison_heading`.
[[nodiscard]] std::string describe(int index, const scenario::Scenario& scenario, const Comparison& comparison);
[[nodiscard]] std::string comparison_heading();

}  // namespace spotwright::test
