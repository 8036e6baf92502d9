// Directions drawn at random from the way a surface scatters, for following light that meets the part again.
#pragma once

#include <array>
#include <optional>

#include <Eigen/Core>

#include "sim/base/random.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::target {

struct ScatterSample {
    Eigen::Vector3d direction = Eigen::Vector3d::UnitZ();  ///< unit, away from the surface
    double weight = 0.0;  ///< f_r cos / probability density: the mean of it over draws is the share scattered. [1]
};

/// Rough share of the light that a surface scatters, mirror part apart: good for choosing between branches, no more.
[[nodiscard]] double scattered_share(const Surface& surface, const Eigen::Vector3d& to_light,
                                     const Eigen::Vector3d& normal);

/// Draws a direction from diffuse base (cosine) and glossy lobe (facet normals of `facet_density`), mixed; the density
/// of the mixture weighs it, so that no direction of `scatter` counts twice.
/// @param uniform  Three numbers in (0, 1).
/// @param light  As for `scatter`.
/// @return none for a draw below the horizon, which counts as a weight of zero.
[[nodiscard]] std::optional<ScatterSample> sample_scatter(const Surface& surface, const Eigen::Vector3d& to_light,
                                                          const Eigen::Vector3d& normal,
                                                          const std::array<double, 3>& uniform,
                                                          const Polarisation& light = {});

/// The same with half of the lobe's draws from a lobe of twice the slopes: for light that comes to the receiver by
/// several scatters, each of them on the flank of the lobe.
[[nodiscard]] std::optional<ScatterSample> sample_flanks(const Surface& surface, const Eigen::Vector3d& to_light,
                                                         const Eigen::Vector3d& normal,
                                                         const std::array<double, 3>& uniform,
                                                         const Polarisation& light = {});

/// Draws a direction from the glossy lobe alone, by facet normals of `facet_density`.
/// @param uniform  Two numbers in (0, 1).
/// @return none for a draw below the horizon, or without a lobe.
[[nodiscard]] std::optional<Eigen::Vector3d> draw_lobe(const Surface& surface, const Eigen::Vector3d& to_light,
                                                       const Eigen::Vector3d& normal,
                                                       const std::array<double, 2>& uniform);

/// With which `draw_lobe` comes to a direction: D cos / (4 h.l), h the facet's normal. [1/sr]
[[nodiscard]] double lobe_density(const Surface& surface, const Eigen::Vector3d& to_light,
                                  const Eigen::Vector3d& to_view, const Eigen::Vector3d& normal);

/// Draws a direction from the haze alone, by the spectrum of its heights.
/// @param uniform  Two numbers in (0, 1).
/// @return none for a frequency that sends no light, or without haze.
[[nodiscard]] std::optional<Eigen::Vector3d> draw_haze(const Surface& surface, const Eigen::Vector3d& to_light,
                                                       const Eigen::Vector3d& normal,
                                                       const std::array<double, 2>& uniform);

/// With which `draw_haze` comes to a direction: the spectrum over its variance, times cos / lambda^2. [1/sr]
[[nodiscard]] double haze_density(const Surface& surface, const Eigen::Vector3d& to_light,
                                  const Eigen::Vector3d& to_view, const Eigen::Vector3d& normal);

/// Light at a place of a part, and what of it may meet the part again.
struct Arrival {
    Eigen::Vector3d place;     ///< [m]
    Eigen::Vector3d normal;    ///< unit
    Eigen::Vector3d to_light;  ///< unit, to where the light comes from
    double mirrored = 0.0;     ///< share that goes on as from a mirror; 0: it has been counted elsewhere. [1]
    double scattered = 0.0;    ///< as `scattered_share`. [1]
    Polarisation light;
};

struct Onward {
    emitter::BeamRay ray;
    double weight = 0.0;  ///< by which its power is multiplied. [1]
    bool scattered = false;
    Polarisation light;  ///< of what goes on: scattered light is taken as unpolarised
};

/// Follows one of the ways on from a place: mirrored, scattered or none, drawn by their shares (Russian roulette), with
/// the weight that keeps every sum true.
/// @return none where the light ends.
[[nodiscard]] std::optional<Onward> go_on(const Surface& surface, const Arrival& arrival, base::RandomSequence& random);

}  // namespace spotwright::target
