// What a ray of the ray model starts with, drawn so that few rays tell much: evenly spread points, offsets of the beam
// and places of the aperture from where the row of pixels looks.
#pragma once

#include <array>
#include <cstdint>
#include <optional>

#include <Eigen/Core>

#include <boost/random/sobol.hpp>

#include "sim/base/random.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::receiver {

/// Numbers that a ray starts with: offset and spread of the beam for each axis, and two for a place in the aperture.
inline constexpr std::size_t ray_dimensions = 6;

/// Points spread evenly over the unit cube, shifted at random as a whole: each is even over the cube by itself, so that
/// a mean over them is unbiased, and together they leave smaller gaps than independent ones. Sets of different index
/// are independent. Best in powers of two. Source: I. M. Sobol', USSR Comput. Math. Math. Phys. 7(4), 86 (1967), by
/// Boost.Random; the shift digit by digit: A. B. Owen, in Monte Carlo and Quasi-Monte Carlo Methods (1995).
class RayPoints {
public:
    /// @param index  Of the set, >= 0. Points depend on seed and index alone.
    RayPoints(std::uint64_t seed, std::int64_t index);

    /// The next point; all numbers in (0, 1). There are 2^32.
    [[nodiscard]] std::array<double, ray_dimensions> next();

private:
    boost::random::sobol_engine<std::uint32_t, 32> sobol_{ray_dimensions};
    std::array<std::uint32_t, ray_dimensions> shift_{};
    bool begun_ = false;
};

/// Offset or spread of a ray of the beam, distributed as exp(-2 t^2).
/// @param uniform  In (0, 1).
[[nodiscard]] double beam_offset(double uniform);

/// A drawn number.
struct Weighed {
    double value = 0.0;
    double weight = 1.0;  ///< density wanted over density drawn from. [1]
};

/// How the out-of-plane offset of the beam is drawn: partly from the Gaussian that it has, partly from the stretch of
/// it that the row of pixels sees, with the tails of diffraction. In 1/e^2 radii.
struct RowOffsets {
    double centre = 0.0;      ///< of what the row sees
    double half_width = 0.0;  ///< of it, blur and diffraction included
    double share = 0.0;       ///< of the draws from there; 0 where the row sees most of the beam

    /// @param uniform  In (0, 1).
    [[nodiscard]] Weighed draw(double uniform) const;
};

/// @param along  From the emitter's face to where the axis meets the part. [m]
/// @param across_scale  Of diffraction across the array. [m]
[[nodiscard]] RowOffsets row_offsets(const emitter::Beam& beam, double along, const std::optional<target::Hit>& hit,
                                     const Receiver& receiver, double across_scale);

/// How a place of the aperture is drawn for light from a point: in plane evenly, out of plane half evenly and half from
/// where the light falls on the row of pixels.
class RowAperture {
public:
    RowAperture(const Receiver& receiver, const ReceiverPoint& from, double across_scale)
        : receiver_(receiver), from_(from), across_scale_(across_scale) {}

    /// @param first, second  In (0, 1).
    [[nodiscard]] Eigen::Vector2d draw(double first, double second) const;

    /// Moves a place that was drawn evenly from the aperture, along its out-of-plane chord, to one of `draw`; its
    /// weight is that of the even draw over the density of this one.
    [[nodiscard]] Weighed redraw(double in_plane, double out_of_plane) const;

    /// Whether the row sees a small part of the aperture alone, so that it is worth it.
    [[nodiscard]] bool sees_strip() const;

    /// With which `draw` comes to a place within the aperture. [1/m^2]
    [[nodiscard]] double density(const Eigen::Vector2d& place) const;

private:
    struct Bell {
        double centre;     // out-of-plane place from which light falls on the middle of the row. [m]
        double width;      // [m]
        double half_side;  // of the opening there. [m]
    };
    [[nodiscard]] double half_side(double in_plane) const;
    // @param between  From rim to rim of the opening at this place, in (0, 1).
    [[nodiscard]] double on_chord(double in_plane, double between) const;
    [[nodiscard]] std::optional<Bell> bell_at(double in_plane) const;

    const Receiver& receiver_;
    ReceiverPoint from_;
    double across_scale_;
};

/// Share of the looks at scattered light that are drawn from the glossy lobe: the more, the narrower it is against the
/// aperture; 0 without a lobe.
/// @param distance  From the lit place to the aperture. [m]
[[nodiscard]] double lobe_chance(const target::Surface& surface, const Receiver& receiver, double distance);

}  // namespace spotwright::receiver
