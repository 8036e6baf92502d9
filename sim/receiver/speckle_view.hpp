// How a rough patch is lit and seen: all that the speckle of one pose depends on.
#pragma once

#include <cstdint>
#include <optional>

#include <Eigen/Core>

#include "sim/emitter/beam.hpp"
#include "sim/receiver/coherence.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/target/part.hpp"

namespace spotwright::receiver {

/// The array as speckle sees it: a row of pixels. Places count from the image of the spot's centre.
struct PixelRow {
    std::int64_t pixels = 0;
    double pitch = 0.0;   ///< [m]
    double height = 0.0;  ///< [m]
    double u0 = 0.0;      ///< array coordinate of the spot's centre. [m]
    double v0 = 0.0;      ///< the same across the array. [m]
};

/// A patch of the plane that touches the part where the beam's axis meets it. Its coordinate x lies in the mounting
/// plane, y square to it, both in the surface and counted from the lit point.
struct SpeckleView {
    Eigen::Vector3d lit = Eigen::Vector3d::Zero();  ///< the lit point, in the sensor's frame. [m]
    Eigen::Matrix<double, 3, 2> axes = Eigen::Matrix<double, 3, 2>::Identity();  ///< x and y there, unit vectors
    double wavelength = 655e-9;                                                  ///< [m]
    /// Irradiance as exp(-2 r^T irradiance r). [1/m^2]
    Eigen::Matrix2d irradiance = Eigen::Matrix2d::Identity();
    /// Curvature of the wavefronts, beam and view together: phase k/2 r^T wavefront r. [1/m]
    Eigen::Matrix2d wavefront = Eigen::Matrix2d::Zero();
    /// Direction of view through the aperture's centre less that of the beam, along the surface: tilting the part or
    /// changing the view moves the pattern over the aperture by it. [1]
    Eigen::Vector2d direction = Eigen::Vector2d::Zero();
    /// Its change with the place in the aperture (in plane, out of plane). [1/m]
    Eigen::Matrix2d direction_per_aperture_position = Eigen::Matrix2d::Identity();
    Aperture aperture;
    /// Phase k/2 (a xi^2 + b eta^2) that lack of focus adds at a place (xi, eta) of the aperture. [1/m]
    Eigen::Vector2d defocus = Eigen::Vector2d::Zero();
    Wavefront aberrations;  ///< of the lens: phase -k times its lead
    double du_dx = 1.0;     ///< image of the surface on the array. [1]
    double du_dy = 0.0;     ///< [1]
    double dv_dy = 1.0;     ///< [1]
    PixelRow row;
    Coherence coherence;
};

/// Curvature of the beam's wavefronts about the axis, per transverse axis: slope of the radius over the radius. [1/m]
[[nodiscard]] Eigen::Vector2d wavefront_curvature(const emitter::Beam& beam, double along);

/// The view of the point of a part that the beam's axis lights; none where it misses or cannot be seen.
/// Curvature of the part within the footprint is left out, and so is that focus differs across it.
[[nodiscard]] std::optional<SpeckleView> make_speckle_view(const emitter::Beam& beam, const target::Part& part,
                                                           const Receiver& receiver, const Coherence& coherence);

/// Half-widths of the speckle's bandwidth: largest direction cosines, along x and y of the surface, that the aperture
/// takes on either side of its centre. [1]
[[nodiscard]] Eigen::Vector2d aperture_reach(const SpeckleView& view);

/// Distance of places on the surface that tells every pattern exactly: lambda / (4 reach), for intensity has twice the
/// bandwidth of its field, or less for a footprint so narrow that its own bandwidth counts. [m]
/// @param reach  Largest sine that the aperture takes on either side of its centre. [1]
/// @param radius  1/e^2, of the footprint where it is narrowest. [m]
/// Equation (speckle.1a).
[[nodiscard]] double coarsest_pitch(double wavelength, double reach, double radius);

/// The same of a view.
[[nodiscard]] double coarsest_pitch(const SpeckleView& view);

}  // namespace spotwright::receiver
