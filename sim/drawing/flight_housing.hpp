// The housing in the drawing of a time-of-flight sensor, and the view that it stands in.
#pragma once

#include <array>
#include <span>

#include "sim/drawing/svg_canvas.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/sensor/flight_layout.hpp"

namespace spotwright::drawing {

/// The plane of the mounting with the beam to the right: z along it from the emitter's face, x towards the receiver.
struct BeamView {
    Box area;
    Vector2 face = Vector2::Zero();  ///< on the page
    double along = 1.0;              ///< page units per metre
    double across = 1.0;
    double end = 1.0;  ///< of what is drawn along the beam. [m]

    [[nodiscard]] Vector2 at(double z, double x) const { return face + Vector2(z * along, -x * across); }
};

/// Of the drawn housing along the beam, whatever its scale. [page units]
inline constexpr double housing_depth = 46.0;

/// A point (x, z) of the sensor's frame along the beam and across it. [m]
[[nodiscard]] Vector2 beside_beam(const scenario::Scenario& scenario, const Eigen::Vector2d& point);

/// From the emitter face to the part, along the beam. [m]
[[nodiscard]] double part_distance(const scenario::Scenario& scenario);

/// Corners of the housing on the page, as `sensor::body_of`, its depth not to scale; without one, of a box between two
/// places down the page.
[[nodiscard]] std::array<Vector2, 4> housing_corners(const scenario::Scenario& scenario, const BeamView& view,
                                                     double top, double bottom);

/// Beside the housing, if it is known. @param leaders  Places down the page of lines that cross.
void draw_housing_width(Canvas& canvas, const scenario::Scenario& scenario, const std::array<Vector2, 4>& corners,
                        std::span<const double> leaders);

/// From the housing to the part, and all that the two need along the beam; nothing where the housing is not known.
void draw_flight_room(Canvas& canvas, const scenario::Scenario& scenario, const sensor::FlightLayout& layout,
                      const BeamView& view);

}  // namespace spotwright::drawing
