// The geometry of a mounting in numbers.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>

#include "sim/receiver/geometry.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/sensor/glare.hpp"

namespace spotwright::sensor {

/// Arrays run near end of the range, reference point, far end.
struct Layout {
    receiver::Receiver receiver;
    std::array<double, 3> distance{};        ///< emitter face to a square part, along the beam. [m]
    double span = 0.0;                       ///< far less near end of the range, along the mounting normal. [m]
    double detector_tilt = 0.0;              ///< from the lens plane. [rad]
    double magnification = 0.0;              ///< b / a. [1]
    bool mirrored = false;                   ///< see `reads_mirrored_beam`: images are the mirrored beam's
    double sensitivity = 0.0;                ///< |du/ds| at the reference point. [1]
    double pixel_displacement = 0.0;         ///< displacement of one pixel at the reference point. [m]
    std::array<double, 3> image_position{};  ///< u on the array. [m]
    receiver::MeasurableRange measurable;
    double object_side_na = 0.0;          ///< [1]
    double speckle_limit = 0.0;           ///< of one view of a rough part at the reference point, contrast 1. [m]
    std::array<double, 3> beam_radius{};  ///< in-plane 1/e^2 radius. [m]
    std::string laser_class;              ///< estimated, continuous light
    std::string laser_caution;            ///< that goes with it
    std::optional<Glare> glare;           ///< of the scenario's part where it stands; none without gloss
};

/// Whether the part that the sensor is calibrated on, square at the reference point, sends more light into the lens as
/// a mirror than by scattering: images and range are then those of the mirrored beam.
[[nodiscard]] bool reads_mirrored_beam(const scenario::Scenario& scenario, const receiver::Receiver& receiver);

/// The receiver of a scenario whose range it can measure.
/// @throws ScenarioError  The range is outside what the geometry can measure; as `receiver_of`.
[[nodiscard]] receiver::Receiver checked_receiver(const scenario::Scenario& scenario);

/// @throws ScenarioError  As `checked_receiver`.
/// Equations (study.6) and (study.7).
[[nodiscard]] Layout make_layout(const scenario::Scenario& scenario);

/// A length in per cent of the measuring span, as errors of displacement sensors are told in the trade. [%]
/// Equation (study.8).
[[nodiscard]] double percent_of_span(const scenario::Scenario& scenario, double length);

/// Area over which fully developed speckle on the part is correlated as the receiver sees it: lambda^2 / (pi NA NA')
/// for a round aperture and lambda^2 / (4 NA NA') for a rectangular one, the sines of the half-angles in and out of
/// plane under which the part sees it. Derived. [m^2]
/// @param distance  From the lit point to the lens. [m]
/// @param turn  Of the lens away from the lit point, in the plane of the mounting: it narrows the in-plane side. [rad]
/// Equation (study.4a).
[[nodiscard]] double speckle_correlation_area(const receiver::Aperture& aperture, double wavelength, double distance,
                                              double turn);

/// Standard deviation of displacement that fully developed speckle leaves on the centroid of a large Gaussian spot, all
/// its light read: C sqrt(A / (8 pi)) / sin(theta). [m]
/// For a round aperture that is C lambda / (2 sqrt(2) pi NA sin(theta)). Derived; the published limit without the
/// factor 1/sqrt(2) is R. G. Dorsch, G. Haeusler, J. M. Herrmann, "Laser triangulation: fundamental uncertainty in
/// distance measurement", Appl. Opt. 33, 1306 (1994).
/// @param correlation_area  A, of the speckle on the part. [m^2]
/// @param contrast  C, 1 for polarised light on a rough part. [1]
/// Equation (study.4).
[[nodiscard]] double speckle_limit(double correlation_area, double between_axes, double contrast);

/// Why speckle scatters readings by less than the law that is often quoted, in words for users; empty but for a round
/// aperture.
[[nodiscard]] std::string_view why_speckle_is_below_the_law(const scenario::Receiver& receiver);
/// The same of the closed form `speckle_limit`, in which no spot is foreshortened; empty for other apertures.
[[nodiscard]] std::string_view why_limit_is_below_the_law(const scenario::Receiver& receiver);

/// The same limit for a part at some displacement: aperture and angle as they are seen from the lit point. [m]
[[nodiscard]] double speckle_limit_at(const receiver::Receiver& receiver, double wavelength, double displacement,
                                      double contrast);

}  // namespace spotwright::sensor
