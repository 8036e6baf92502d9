// Straight light through plane faces: refraction, mirroring, and the way out of a stack of parallel layers.
#pragma once

#include <optional>
#include <span>

#include <Eigen/Core>

#include <boost/container/static_vector.hpp>

namespace spotwright::target {

/// Direction behind a face, by Snell's law; none at total reflection.
/// @param direction  Of the light as it travels, unit.
/// @param normal  Of the face, unit; either side will do.
/// @param relative_index  Index of the medium entered over that of the medium left, > 0. [1]
[[nodiscard]] std::optional<Eigen::Vector3d> refract(const Eigen::Vector3d& direction, const Eigen::Vector3d& normal,
                                                     double relative_index);

/// Direction after a mirror. Unit vectors in, unit vector out; either side of the normal will do.
[[nodiscard]] Eigen::Vector3d mirrored(const Eigen::Vector3d& direction, const Eigen::Vector3d& normal);

/// A plane-parallel layer.
struct Layer {
    double thickness = 0.0;  ///< >= 0; 0 puts the point just below the face. [m]
    double index = 1.0;      ///< real refractive index against the air outside, >= 1. [1]
};

/// As many layers as a way out may cross.
inline constexpr std::size_t most_layers = 4;

/// Angle from the common normal of the layers, by sine and cosine.
struct Inclination {
    double sine = 0.0;
    double cosine = 1.0;

    [[nodiscard]] double tangent() const { return sine / cosine; }
};

/// The same ray inside a layer: n sin' = sin.
[[nodiscard]] Inclination inside(const Inclination& outside, double index);

/// The ray from a point behind a stack of layers to a point in the air before it.
struct ExitRay {
    Inclination outside;
    boost::container::static_vector<Inclination, most_layers> inside;  ///< of each layer, in their order
    double exit = 0.0;          ///< lateral place, from the starting point, where the ray leaves the front face. [m]
    double optical_path = 0.0;  ///< sum of index times length. [m]
    double sagittal_distance = 0.0;     ///< from the outer point back to where sideways neighbours of the ray meet. [m]
    double tangential_distance = 0.0;   ///< the same for neighbours in the plane of incidence. [m]
    double solid_angle_per_area = 0.0;  ///< see `exit_ray`. [sr/m^2]
};

/// Finds the one ray that leaves a point behind the layers and reaches a point outside:
///     d = h tan t + sum t_i tan t_i,   n_i sin t_i = sin t.
/// With u = tan t the right-hand side rises and is concave, so Newton's iteration from u = 0 nears the root from one
/// side and cannot miss it, whatever the layers.
/// Neighbouring rays seem to come from two places on the ray (astigmatism of plane faces), at the distances
///     S = h / cos t + sum t_i / (n_i cos t_i),   T = h / cos t + sum t_i cos^2 t / (n_i cos^3 t_i)
/// from the outer point, and the solid angle at the starting point, in its own medium, that falls on an area square
/// to the outer ray at the outer point is dOmega / dA = cos t / (n_1^2 cos t_1 S T); 1 / r^2 without layers. Exact.
/// Losses at the faces are not in it. Source: derived; the distances are Coddington's equations for plane faces
/// (M. Born, E. Wolf, Principles of Optics, ch. 4, from memory).
/// @param layers  From the starting point outwards; the point lies at the far side of the first. May be empty.
/// @param height  h of the outer point over the front face, > 0. [m]
/// @param lateral_distance  d between the two points along the face, >= 0. [m]
/// @throws DomainError  Height or distance out of bounds, index below 1, thickness negative, more than `most_layers`.
[[nodiscard]] ExitRay exit_ray(std::span<const Layer> layers, double height, double lateral_distance);

}  // namespace spotwright::target
