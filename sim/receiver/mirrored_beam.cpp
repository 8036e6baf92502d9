#include "sim/receiver/mirrored_beam.hpp"

#include <cmath>

namespace spotwright::receiver {

namespace {

// The mirrored axis in the receiver's frame. It keeps its direction while the mirror moves: tan of its angle from the
// receiver axis, and the place at the lens, linear in the displacement.
struct MirroredAxis {
    double place = 0.0;            // of a mirror at the reference point. [m]
    double place_per_metre = 0.0;  // of displacement. [1]
    double fall = 0.0;             // of the transverse coordinate per axial distance towards the lens. [1]
};

MirroredAxis mirrored_axis(const Receiver& r) {
    const Eigen::Vector3d way = direction_to_receiver(r, {-std::sin(r.emitter_angle), 0.0, std::cos(r.emitter_angle)});
    const double per_axial = way.y() / way.x();
    const auto at_lens = [&](double displacement) {
        const ReceiverPoint source = to_receiver(r, {0.0, 0.0, -2.0 * displacement});
        return source.transverse + source.axial * per_axial;
    };
    const double place = at_lens(0.0);
    return {place, at_lens(1.0) - place, -per_axial};
}

// Behind the lens the ray falls by slope = xi / f + fall, xi its place at the lens; see `trace`.
double slope_behind(const Receiver& r, const MirroredAxis& axis, double place) {
    return place / r.focal_length + axis.fall;
}

// Place at the lens of the ray that meets the array at u, the inverse of `trace`: u (sin(beta) - slope cos(beta)) =
// b slope - xi - w.
double location_of(const Receiver& r, const MirroredAxis& axis, double u) {
    const double at = u + r.array_shift;
    const double per_place = (r.image_distance + at * r.cos_beta) / r.focal_length - 1.0;
    return (at * (r.sin_beta - axis.fall * r.cos_beta) - r.image_distance * axis.fall + r.array_offset) / per_place;
}

}  // namespace

// Equation (receiver.10a).
double mirrored_offset(const Receiver& r, double displacement) {
    const MirroredAxis axis = mirrored_axis(r);
    return axis.place + axis.place_per_metre * displacement;
}

// Equation (receiver.10c).
std::optional<double> mirrored_position(const Receiver& r, double displacement) {
    const double place = mirrored_offset(r, displacement);
    if (!passes(r.aperture, place, 0.0)) return std::nullopt;
    const Eigen::Vector3d lit(-displacement * std::tan(r.emitter_angle), 0.0, -displacement);
    const auto point = trace(r, to_receiver(r, lit), place, 0.0);
    if (!point) return std::nullopt;
    return point->u;
}

double mirrored_sensitivity(const Receiver& r, double displacement) {
    // u = (b g - xi - w) / (sin(beta) - g cos(beta)), g = xi / f + fall.
    const MirroredAxis axis = mirrored_axis(r);
    const double place = axis.place + axis.place_per_metre * displacement;
    const double slope = slope_behind(r, axis, place);
    const double above = r.image_distance * slope - place - r.array_offset;
    const double below = r.sin_beta - slope * r.cos_beta;
    const double per_place =
        ((r.image_distance / r.focal_length - 1.0) * below + above * r.cos_beta / r.focal_length) / (below * below);
    return std::abs(per_place * axis.place_per_metre);
}

// Equation (receiver.10b).
MeasurableRange mirrored_range(const Receiver& r, double reference_distance) {
    MeasurableRange range = clear_range(r, reference_distance);
    const MirroredAxis axis = mirrored_axis(r);
    const auto displacement_of = [&axis](double place) { return (place - axis.place) / axis.place_per_metre; };
    const auto limit = [&range](double displacement, const char* what) {
        if (displacement < 0.0) range.limit_near(displacement, what);
        if (displacement > 0.0) range.limit_far(displacement, what);
    };
    const double half_length = static_cast<double>(r.pixels) * r.pitch / 2.0;
    for (const double side : {-1.0, 1.0}) {
        limit(displacement_of(side * r.aperture.half_in_plane),
              "aperture: beyond it the mirrored beam misses the lens");
        // An end of the array that no ray of the lens meets limits nothing: its inverse lies on the other side.
        const double at_end = displacement_of(location_of(r, axis, side * half_length));
        if ((at_end < 0.0) == (side > 0.0)) limit(at_end, "array length");
    }
    return range;
}

}  // namespace spotwright::receiver
