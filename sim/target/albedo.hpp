// What a part sends to the receiver of light that does not come from the emitter: of even surroundings, of one lamp,
// and its own glow.
#pragma once

#include <optional>

#include <Eigen/Core>

#include "sim/scenario/scenario.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::target {

/// A lit point of a part at one wavelength.
struct Layers {
    Surface surface;                                ///< of the part
    bool plate = false;                             ///< light goes through it: only its faces and the backing count
    std::optional<Surface> backing = std::nullopt;  ///< of a plate; none: nothing lies behind
};

/// Of a part at any wavelength: where a table of its material ends, its last value holds.
/// @param wavelength  [m]
[[nodiscard]] Layers layers_at(const scenario::Target& target, const scenario::Mount& mount, double wavelength);

/// Directional albedo: reflected radiance over that of surroundings which are equally bright on all sides. [1]
/// Diffuse base, lobe, mirror part and glow of a volume together; by reciprocity also the share of light from the view
/// direction that is reflected at all. The lobe is a sum over 96 facets: within 0.005 for rms slopes up to 0.3.
/// @param to_view, normal  Unit vectors that leave the surface.
[[nodiscard]] double directional_albedo(const Layers& layers, const Eigen::Vector3d& to_view,
                                        const Eigen::Vector3d& normal);

/// Directional emissivity, 1 - albedo: G. Kirchhoff (1860), with all that enters absorbed; of a plate only its backing
/// glows. [1]
[[nodiscard]] double directional_emissivity(const Layers& layers, const Eigen::Vector3d& to_view,
                                            const Eigen::Vector3d& normal);

/// A distant lamp, an evenly bright disc, and the aperture that looks for its image.
struct DistantLamp {
    Eigen::Vector3d direction = Eigen::Vector3d::UnitZ();  ///< of its centre, from the part. Unit vector.
    double half_angle = 0.0047;                            ///< > 0. [rad]
    double aperture_half_angle = 0.05;                     ///< under which the part sees the aperture, > 0. [rad]
};

/// Radiance factor under the lamp: mean radiance over the aperture over that of a perfect white matt face square to the
/// lamp. [1] Far above 1 where the aperture sees the lamp mirrored.
[[nodiscard]] double lamp_radiance_factor(const Layers& layers, const DistantLamp& lamp, const Eigen::Vector3d& to_view,
                                          const Eigen::Vector3d& normal);

/// Share of one disc that another one covers. [1]  @param radius, other  Of the discs, > 0.  @param apart  Of centres.
[[nodiscard]] double covered_share(double radius, double other, double apart);

}  // namespace spotwright::target
