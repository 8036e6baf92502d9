// Closed form of the specular mount: where the beam that a square mirror sends back meets lens and array.
#pragma once

#include <optional>

#include "sim/receiver/geometry.hpp"

namespace spotwright::receiver {

/// Place in the plane of the lens, from its centre, where the beam's axis arrives after a square mirror. [m]
/// Mirrored at z = -s, a beam at the angle e from the normal comes from the reference point's mirror image, (0, -2 s),
/// under the angle -e. In the symmetric mount, emitter -alpha and receiver +alpha, it runs beside the receiver's axis
/// and parallel to it: at the lens by 2 s sin(alpha), - for targets farther away.
[[nodiscard]] double mirrored_offset(const Receiver& receiver, double displacement);

/// Array coordinate u where it lands: the thin-lens ray through that place. It is the image of the mirror image
/// (0, -2 s) of the reference point where the array is focused on the mounting normal: u = b 2 z sin(alpha) / (a
/// sin(beta) - 2 z sin(alpha + beta)), z = -s, twice a point's own motion along the normal. [m]
/// @return none where it passes the lens by, or runs past the array plane.
[[nodiscard]] std::optional<double> mirrored_position(const Receiver& receiver, double displacement);

/// |du/ds| of it, exact. [1]
[[nodiscard]] double mirrored_sensitivity(const Receiver& receiver, double displacement);

/// Displacements between which a square mirror can be read: by what ends the range of any part, by array length, and by
/// the aperture, through which the axis of the mirrored beam passes within +-D / (4 sin(alpha)) in the symmetric mount.
/// At such an end half of the light is lost.
[[nodiscard]] MeasurableRange mirrored_range(const Receiver& receiver, double reference_distance);

}  // namespace spotwright::receiver
