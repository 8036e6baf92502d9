// Exact projective geometry of the receiver: from a point in space to a place on the tilted array, and back.
#pragma once

#include <cstdint>
#include <limits>
#include <optional>
#include <string>

#include <Eigen/Core>

#include "sim/scenario/scenario.hpp"

namespace spotwright::receiver {

using scenario::ApertureShape;

/// The stop at the lens, in the receiver's own axes. Half widths, equal for a round one: its radius. [m]
struct Aperture {
    ApertureShape shape = ApertureShape::round;
    double half_in_plane = 0.0;
    double half_out_of_plane = 0.0;
};

/// [m^2]
[[nodiscard]] double area_of(const Aperture& aperture);

/// Whether a place in the plane of the stop lies in its opening, the rim included.
/// @param in_plane, out_of_plane  From the centre. [m]
[[nodiscard]] bool passes(const Aperture& aperture, double in_plane, double out_of_plane);

/// Configuration factor of the opening from a small face that is parallel to it and lies on its axis: the share of the
/// flux of a matt face that goes through it, and projected solid angle over pi. [1]
/// Round: sin^2 of the half-angle. Rectangular: four times that of a quarter, J. R. Howell, A Catalog of Radiation
/// Configuration Factors, differential element to parallel rectangle, from memory.
/// @param distance  [m]
[[nodiscard]] double configuration_factor(const Aperture& aperture, double distance);

/// Primary aberrations of the lens: how far the wavefront behind it leads a sphere about the ideal image,
/// S r^4 + C x r^2 + A x^2 with x the place in the plane of the mounting and r that from the middle, both over the rim.
/// S > 0 bends the rays at the rim inwards, as a simple converging lens does. Source: W. T. Welford, Aberrations of
/// Optical Systems (1986), ch. 7; M. Born, E. Wolf, Principles of Optics, ch. 5.
struct Wavefront {
    double spherical = 0.0;    ///< S at the rim, W040. [m]
    double coma = 0.0;         ///< C, W131. [m]
    double astigmatism = 0.0;  ///< A, W222. [m]
    double rim = 1.0;          ///< greater half width of the aperture. [m]

    [[nodiscard]] bool is_ideal() const { return spherical == 0.0 && coma == 0.0 && astigmatism == 0.0; }
};

/// Lead of the wavefront at a place of the aperture. [m]
[[nodiscard]] double lead_at(const Wavefront& wavefront, double in_plane, double out_of_plane);

/// Its slope there, by which rays fall more steeply towards the axis: the transverse aberration over the image
/// distance. [1]
[[nodiscard]] Eigen::Vector2d slope_at(const Wavefront& wavefront, double in_plane, double out_of_plane);

/// A plate of glass between sensor and part, square to the mounting normal.
struct CoverGlass {
    double thickness = 0.0;  ///< 0: none. [m]
    double index = 1.5;      ///< [1]
};

/// How much nearer, along the plate's normal, a ray at an angle to it makes its origin seem:
/// t (1 - cos a / sqrt(n^2 - sin^2 a)), exact by Snell's law; t (n - 1) / n along the normal. [m]
[[nodiscard]] double apparent_lift(const CoverGlass& glass, double cosine);

/// A second, fainter image and the light that dirt scatters: what is added to the light on the array.
struct StrayLight {
    double ghost_share = 0.0;  ///< of the light, that lands once more. [1]
    double ghost_shift = 0.0;  ///< along the array. [m]
    double ghost_blur = 0.0;   ///< radius of the disc over which it is spread. [m]
    double lost = 0.0;         ///< share of all light that dirt takes from the image. [1]
    double veil = 0.0;         ///< share that comes scattered. [1]
    double veil_angle = 0.0;   ///< standard deviation of the scatter about each axis. [rad]

    [[nodiscard]] bool is_none() const { return ghost_share == 0.0 && lost == 0.0; }
};

/// Thin lens and tilted line array in the sensor's frame. The array crosses the receiver axis at its own centre.
/// Array coordinate u: along the array from its centre, + for targets nearer to the sensor. [m]
/// Array coordinate v: across it. [m]
struct Receiver {
    double angle = 0.0;            ///< axis from the mounting normal, + towards x. [rad]
    double emitter_angle = 0.0;    ///< beam from the mounting normal. [rad]
    double object_distance = 0.0;  ///< reference point to lens. [m]
    double image_distance = 0.0;   ///< lens to array along the axis. [m]
    double focal_length = 0.0;     ///< [m]
    Aperture aperture;
    double detector_tilt = 0.0;  ///< array from the plane of the lens; see `set_detector_tilt`. [rad]
    double sin_beta = 1.0;       ///< of beta, array from the receiver axis, 90 deg - tilt: every ray wants it. [1]
    double cos_beta = 0.0;       ///< [1]
    double transmission = 1.0;   ///< [1]
    std::int64_t pixels = 0;
    double pitch = 0.0;         ///< [m]
    double height = 0.0;        ///< [m]
    double lens_shift = 0.0;    ///< of the lens in its own plane, + as `ReceiverPoint::transverse`. [m]
    double array_offset = 0.0;  ///< of the lens from the axis on which the array was set up, likewise. [m]
    double array_shift = 0.0;   ///< of the array along itself, + towards higher pixels. [m]
    Wavefront wavefront;
    CoverGlass glass;
    StrayLight stray;
};

/// Lens at the image distance of the reference point, 1/a + 1/b = 1/f; array at the tilt given or Scheimpflug's.
/// With errors of focus and tilt, ghost and, where a wavelength is given, the aberrations at that. [m]
[[nodiscard]] Receiver make_receiver(const scenario::Receiver& receiver, const scenario::Detector& detector,
                                     double emitter_angle, double wavelength = 0.0);

/// Whether the whole lens stands beside the beam, on its +x side: else there is nothing to triangulate with.
[[nodiscard]] bool stands_clear_of_beam(const Receiver& receiver);

/// Sets the tilt, and sine and cosine of beta with it.
void set_detector_tilt(Receiver& receiver, double tilt);

/// Tilt of the array from the lens plane that keeps a line of object points in focus: tan(tilt) = m / tan(theta).
/// Source: T. Scheimpflug, British patent 1196 (1904); any text of optics.
/// @param magnification  Image distance over object distance, > 0. [1]
/// @param between  Angle between receiver axis and the line, not 0. [rad]
[[nodiscard]] double scheimpflug_tilt(double magnification, double between);

/// Direction, from the mounting normal, of the line of spots that Scheimpflug's tilt keeps in focus: the beam, or in a
/// symmetric specular mount (emitter -alpha, receiver +alpha) the normal, on which the mirrored beam's waist moves.
[[nodiscard]] double focused_line_angle(double emitter_angle, double receiver_angle);

/// A point in the receiver's own axes.
struct ReceiverPoint {
    double axial = 0.0;         ///< distance in front of the lens plane. [m]
    double transverse = 0.0;    ///< in the mounting plane, + towards targets nearer to the sensor. [m]
    double out_of_plane = 0.0;  ///< [m]
};

[[nodiscard]] ReceiverPoint to_receiver(const Receiver& receiver, const Eigen::Vector3d& point);

/// A direction in the receiver's own axes (towards the lens, transverse, out of plane).
[[nodiscard]] Eigen::Vector3d direction_to_receiver(const Receiver& receiver, const Eigen::Vector3d& direction);

/// A place in the aperture, in the sensor's frame.
/// @param in_plane, out_of_plane  From the lens centre, in the receiver's own axes. [m]
[[nodiscard]] Eigen::Vector3d aperture_point(const Receiver& receiver, double in_plane, double out_of_plane);

/// Where a ray passes the aperture, through the cover glass; none when it goes past it or away from it.
/// @param direction  Unit vector. Both in the sensor's frame.
/// @return In plane and out of plane from the lens centre, in the receiver's own axes. [m]
[[nodiscard]] std::optional<Eigen::Vector2d> passage(const Receiver& receiver, const Eigen::Vector3d& from,
                                                     const Eigen::Vector3d& direction);

/// The same as if there were no glass: for what is seen from a place of the aperture, whose direction leaves the glass
/// out (it differs by the lift times the sine of the ray's angle over the distance).
[[nodiscard]] std::optional<Eigen::Vector2d> straight_passage(const Receiver& receiver, const Eigen::Vector3d& from,
                                                              const Eigen::Vector3d& direction);

/// Where the ray from a point through a place in the aperture meets the array plane.
struct ArrayPoint {
    double u = 0.0;  ///< [m]
    double v = 0.0;  ///< [m]
};

/// Thin-lens ray: the lens sends it to the point's ideal image, turned by the slope of its aberrations, the array plane
/// cuts it on the way. A cover glass makes the point seem nearer.
/// Through the lens centre this is u = b t / (s sin(beta) - t cos(beta)), beta = 90 deg - tilt. A lens beside the
/// array's axis takes its image along by the offset, a shifted array counts from its own centre.
/// @param in_plane, out_of_plane  Place in the aperture from the lens centre. [m]
/// @return none for a point behind the lens or a ray that runs past the array plane.
[[nodiscard]] std::optional<ArrayPoint> trace(const Receiver& receiver, const ReceiverPoint& point, double in_plane,
                                              double out_of_plane);

/// Closed form: array coordinate u of the beam spot on a square plane at a displacement, by the ray through the lens
/// centre. u = b z sin(theta) / (a sin(beta) - z sin(theta + beta)) for a beam along the normal, z = -displacement.
/// @return none where the spot is behind the lens plane or its image beyond the array's vanishing point.
[[nodiscard]] std::optional<double> image_position(const Receiver& receiver, double displacement);

/// Exact inverse of `image_position`: displacement from u. [m]
[[nodiscard]] double displacement_at(const Receiver& receiver, double u);

/// |du/ds| at a displacement, exact: image shift per target shift. [1]
[[nodiscard]] double sensitivity_at(const Receiver& receiver, double displacement);

/// Pixel coordinate: pixel k has its centre at k. [px]
[[nodiscard]] double pixel_of(const Receiver& receiver, double u);
[[nodiscard]] double u_of_pixel(const Receiver& receiver, double pixel);

/// Displacements between which the spot can be read, and what ends the range on either side.
struct MeasurableRange {
    double near = -std::numeric_limits<double>::infinity();  ///< [m]
    double far = std::numeric_limits<double>::infinity();    ///< [m]; infinite where the whole far beam meets the array
    std::string near_limit = "none";
    std::string far_limit = "none";

    /// Narrows the range where it reaches beyond.
    void limit_near(double displacement, const char* what);
    void limit_far(double displacement, const char* what);
};

/// By the aperture and emitter face alone, which a part nearer than the lens rim or the face would touch.
[[nodiscard]] MeasurableRange clear_range(const Receiver& receiver, double reference_distance);

/// The same and array length: image of the spot at either end of the array.
[[nodiscard]] MeasurableRange measurable_range(const Receiver& receiver, double reference_distance);

/// sin of the half-angle, in the mounting plane, under which the reference point sees the aperture. [1]
[[nodiscard]] double object_side_na(const Receiver& receiver);

}  // namespace spotwright::receiver
