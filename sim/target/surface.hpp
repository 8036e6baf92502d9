// Where scattered light goes: the reflectance distribution of a matt surface.
#pragma once

#include <Eigen/Core>

#include "sim/scenario/material.hpp"

namespace spotwright::target {

/// A surface at one wavelength. `slope_deviation` 0 is Lambert's surface.
struct Surface {
    double reflectance = 0.0;      ///< diffuse reflectance rho. [1]
    double slope_deviation = 0.0;  ///< standard deviation of the facet slope angle. [rad]
};

/// @throws DomainError  The material's reflectance is not known at this wavelength.
[[nodiscard]] Surface make_surface(const scenario::Material& material, double wavelength);

/// Bidirectional reflectance distribution function f_r. [1/sr]
/// Lambert: f_r = rho / pi. Oren-Nayar (qualitative form):
/// f_r = rho / pi (A + B max(0, cos(phi_i - phi_o)) sin(alpha) tan(beta)), alpha the larger and beta the smaller of
/// the two angles from the normal, A = 1 - 0.5 s^2 / (s^2 + 0.33), B = 0.45 s^2 / (s^2 + 0.09), s the slope deviation.
/// Source: M. Oren, S. K. Nayar, "Generalization of Lambert's reflectance model", SIGGRAPH (1994).
/// @param to_light, to_view, normal  Unit vectors that leave the surface. Zero below the horizon.
[[nodiscard]] double scatter(const Surface& surface, const Eigen::Vector3d& to_light, const Eigen::Vector3d& to_view,
                             const Eigen::Vector3d& normal);

}  // namespace spotwright::target
