// The part in the sensor's frame: its shape, where it stands and how it is turned.
#pragma once

#include <optional>

#include <Eigen/Core>

#include "sim/emitter/beam.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/target/shape.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::target {

/// What makes a flat part a plate: light goes through it.
struct Slab {
    double thickness = 0.0;                         ///< of the plate. [m]
    double gap = 0.0;                               ///< air between its back face and the backing. [m]
    std::optional<Surface> backing = std::nullopt;  ///< what lies behind; none: nothing
};

/// Columns of `axes` are the shape's x, y and z in the sensor's frame; z points to the sensor.
struct Part {
    Shape shape = Flat{};
    Eigen::Matrix3d axes = Eigen::Matrix3d::Identity();
    Eigen::Vector3d origin = Eigen::Vector3d::Zero();  ///< [m]
    std::optional<Slab> slab = std::nullopt;           ///< of a plate; its shape is flat

    /// Of the reference surface. Unit vector.
    [[nodiscard]] Eigen::Vector3d normal() const { return axes.col(2); }
};

/// A part at some displacement, seen from the sensor. Part tilt turns it about the point of its
/// reference surface that the beam's axis lights; sensor tilt turns everything about the reference point. Positions of
/// edges, axes and crests count from the lit point.
/// @throws DomainError  A property of a plate's backing is not known at the wavelength.
/// @param beam  That places the part: its axis lights the point from which positions count, its wavelength the backing.
/// @param displacement  Of the reference surface from the reference point, + away from the sensor. [m]
[[nodiscard]] Part make_part(const scenario::Target& target, const scenario::Mount& mount, const emitter::Beam& beam,
                             double displacement);

/// Direction of the lay of a part, seen from the sensor. Unit vector.
[[nodiscard]] Eigen::Vector3d lay_direction(const scenario::Target& target, const scenario::Mount& mount);

/// Surface of a part, with its lay as it is seen from the sensor. Light goes into planes alone; other shapes send it
/// back from the face where their material knows a base.
/// @param wavelength  [m]
/// @param inside  false: no light goes in, as where a fraction of a millimetre does not count.
/// @throws DomainError  A property of the material is not known at the wavelength.
[[nodiscard]] Surface make_surface(const scenario::Target& target, const scenario::Mount& mount, double wavelength,
                                   bool inside = true);

/// Share of ambient light that a part scatters: of a volume its glow, of a plate what its backing sends through it. [1]
[[nodiscard]] double matt_reflectance(const Part& part, const Surface& surface);

/// A flat part squarely in front of an untilted sensor, as at calibration.
[[nodiscard]] Part square_plane(double displacement);

/// A flat part through a point. @param normal  Unit vector.
[[nodiscard]] Part plane_through(const Eigen::Vector3d& point, const Eigen::Vector3d& normal);

/// The first place in front of the ray's origin where it meets the outside of the part; none when it misses, or meets
/// the inside first. Normal in the sensor's frame.
[[nodiscard]] std::optional<Hit> meet(const Part& part, const BeamRay& ray);

/// Points of surfaces are known to a fraction of this; nothing nearer to a point counts as a second meeting. [m]
inline constexpr double own_neighbourhood = 1e-11;

/// Whether the part stands in the way of light that leaves a point of it.
/// @param to  Where the light goes: not hidden by what lies beyond. [m]
[[nodiscard]] bool hides(const Part& part, const Eigen::Vector3d& from, const Eigen::Vector3d& to);

/// Displacement of the point that the beam's axis lights, along the part's own mounting: what a reading should say.
/// Empty where the beam misses the part. [m]
/// @param part  At this displacement.
/// @param beam  As it stands: a warm one may meet a shape elsewhere than the one that placed the part.
[[nodiscard]] std::optional<double> lit_displacement(const Part& part, const scenario::Mount& mount,
                                                     const emitter::Beam& beam, double displacement);

}  // namespace spotwright::target
