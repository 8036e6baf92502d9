// Where light goes from a surface: diffuse base, glossy lobe and mirror part.
#pragma once

#include <optional>

#include <Eigen/Core>

#include "sim/scenario/material.hpp"
#include "sim/target/gloss.hpp"
#include "sim/target/subsurface.hpp"

namespace spotwright::target {

/// A surface at one wavelength. `slope_deviation` 0 is Lambert's surface.
struct Surface {
    double reflectance = 0.0;                   ///< diffuse reflectance rho of the base; see `scatter`. [1]
    double slope_deviation = 0.0;               ///< standard deviation of the base's facet slope angle. [rad]
    std::optional<Gloss> gloss = std::nullopt;  ///< of the interface; none on a matt part
    double coupling = 1.0;  ///< 1 / (1 - mean Fresnel reflectance of diffuse light); see `scatter`. [1]
    Eigen::Vector3d lay =
        Eigen::Vector3d::UnitX();  ///< direction of the lay, unit; only its part along the surface counts
    std::optional<Volume> volume = std::nullopt;  ///< below the face of a translucent part, in place of the base
};

/// A material with a volume has that in place of its base.
/// @throws DomainError  A property of the material is not known at this wavelength.
[[nodiscard]] Surface make_surface(const scenario::Material& material, double wavelength);

/// The same with the material's diffuse base in place of its volume, where it has one: for parts whose inside is not
/// modelled.
/// @throws DomainError  As `make_surface`.
[[nodiscard]] Surface make_opaque_surface(const scenario::Material& material, double wavelength);

/// Bidirectional reflectance distribution function f_r. [1/sr]
/// Lambert: f_r = rho / pi. Oren-Nayar (qualitative form):
/// f_r = rho / pi (1 + B / A max(0, cos(phi_i - phi_o)) sin(alpha) tan(beta)), alpha the larger and beta the smaller of
/// the two angles from the normal, A = 1 - 0.5 s^2 / (s^2 + 0.33), B = 0.45 s^2 / (s^2 + 0.09), s the slope deviation.
/// Source: M. Oren, S. K. Nayar, "Generalization of Lambert's reflectance model", SIGGRAPH (1994), whose rho is that of
/// the facets, rho / A here: rho here is what the whole surface sends back of light at normal incidence.
/// Under an interface rho is in share of what passes that, and the base sees what passes it: f_r (1 - R(theta_i)) (1 -
/// R(theta_o)) / (1 - R_diffuse), R Fresnel's reflectance; reciprocal, and all together within the incident light (P.
/// Shirley et al., "A practitioners' assessment of light reflection models", Pacific Graphics (1997)). The glossy lobe
/// adds to it; the mirror part does not: see `mirror_reflectance`. Nor does light from a volume, which comes from other
/// places than it enters.
/// @param to_light, to_view, normal  Unit vectors that leave the surface. Zero below the horizon.
/// @param light  The incident light: what the face lets in and each facet reflects is that of its polarisation. The
///     base sends it back unpolarised.
[[nodiscard]] double scatter(const Surface& surface, const Eigen::Vector3d& to_light, const Eigen::Vector3d& to_view,
                             const Eigen::Vector3d& normal, const Polarisation& light = {});

/// Of `scatter` the diffuse base alone, with what the interface above lets pass. [1/sr]
[[nodiscard]] double base_scatter(const Surface& surface, const Eigen::Vector3d& to_light,
                                  const Eigen::Vector3d& to_view, const Eigen::Vector3d& normal,
                                  const Polarisation& light = {});

/// The facets' lobe and the haze, without the base. [1/sr]
[[nodiscard]] double gloss_scatter(const Surface& surface, const Eigen::Vector3d& to_light,
                                   const Eigen::Vector3d& to_view, const Eigen::Vector3d& normal,
                                   const Polarisation& light = {});

/// The haze alone. [1/sr]
[[nodiscard]] double haze_scatter(const Surface& surface, const Eigen::Vector3d& to_light,
                                  const Eigen::Vector3d& to_view, const Eigen::Vector3d& normal,
                                  const Polarisation& light = {});

/// Oren and Nayar's A: what a surface sends back of light at normal incidence over what each of its facets would. [1]
[[nodiscard]] double facet_share(double slope_deviation);

/// Their B over A, which brightens light and view from one side; for bright surfaces less, so that no more than all
/// light leaves at any incidence. [1]
[[nodiscard]] double oren_nayar_gain(const Surface& surface);

/// Unit vectors along and across the lay, in the surface; any two where the lay runs into it.
struct LayAxes {
    Eigen::Vector3d along = Eigen::Vector3d::UnitX();
    Eigen::Vector3d across = Eigen::Vector3d::UnitY();
};

[[nodiscard]] LayAxes lay_axes(const Eigen::Vector3d& lay, const Eigen::Vector3d& normal);

/// Share of the power of a ray that goes on as from a mirror: Fresnel's reflectance times `mirror_share`. [1]
[[nodiscard]] double mirror_reflectance(const Surface& surface, const Eigen::Vector3d& to_light,
                                        const Eigen::Vector3d& normal, const Polarisation& light = {});

}  // namespace spotwright::target
