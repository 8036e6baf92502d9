#include "sim/receiver/geometry.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"

namespace spotwright::receiver {

namespace {

// Points of the beam, by z: x = z tan(emitter angle). t and s of the receiver frame are linear in z.
struct BeamLine {
    double transverse_per_z;
    double axial_per_z;
};

BeamLine beam_line(const Receiver& r) {
    const double slope = std::tan(r.emitter_angle);
    return {std::sin(r.angle) - slope * std::cos(r.angle), -std::cos(r.angle) - slope * std::sin(r.angle)};
}

// The rim of the lens nearest to the mounting normal.
Eigen::Vector2d rim(const Receiver& r, double side) {
    const double c = std::cos(r.angle);
    const double s = std::sin(r.angle);
    return {r.object_distance * s - side * r.aperture.half_in_plane * c,
            r.object_distance * c + side * r.aperture.half_in_plane * s};
}

}  // namespace

// Equation (instrument.1).
double lead_at(const Wavefront& w, double in_plane, double out_of_plane) {
    const double x = in_plane / w.rim;
    const double y = out_of_plane / w.rim;
    const double r2 = x * x + y * y;
    return (w.spherical * r2 + w.coma * x) * r2 + w.astigmatism * x * x;
}

// Equation (instrument.2).
Eigen::Vector2d slope_at(const Wavefront& w, double in_plane, double out_of_plane) {
    const double x = in_plane / w.rim;
    const double y = out_of_plane / w.rim;
    const double r2 = x * x + y * y;
    const double spherical = 4.0 * w.spherical * r2;
    return Eigen::Vector2d(spherical * x + w.coma * (r2 + 2.0 * x * x) + 2.0 * w.astigmatism * x,
                           (spherical + 2.0 * w.coma * x) * y) /
           w.rim;
}

// Equation (instrument.3).
double apparent_lift(const CoverGlass& glass, double cosine) {
    return glass.thickness * (1.0 - cosine / std::sqrt(glass.index * glass.index - 1.0 + cosine * cosine));
}

double area_of(const Aperture& aperture) {
    const double of_unit_sides = aperture.shape == ApertureShape::round ? base::pi : 4.0;
    return of_unit_sides * aperture.half_in_plane * aperture.half_out_of_plane;
}

bool passes(const Aperture& aperture, double in_plane, double out_of_plane) {
    if (aperture.shape == ApertureShape::round) {
        return in_plane * in_plane + out_of_plane * out_of_plane <= aperture.half_in_plane * aperture.half_in_plane;
    }
    return std::abs(in_plane) <= aperture.half_in_plane && std::abs(out_of_plane) <= aperture.half_out_of_plane;
}

// Equation (receiver.18).
double configuration_factor(const Aperture& aperture, double distance) {
    const double x = aperture.half_in_plane / distance;
    const double y = aperture.half_out_of_plane / distance;
    if (aperture.shape == ApertureShape::round) {
        const double sine = std::sin(std::atan(x));
        return sine * sine;
    }
    // Of a quarter, sides x and y times the distance:
    // (1 / 2 pi) (x / sqrt(1 + x^2) atan(y / sqrt(1 + x^2)) + y / sqrt(1 + y^2) atan(x / sqrt(1 + y^2))).
    const double to_x = std::hypot(1.0, x);
    const double to_y = std::hypot(1.0, y);
    return 2.0 / base::pi * (x / to_x * std::atan(y / to_x) + y / to_y * std::atan(x / to_y));
}

void set_detector_tilt(Receiver& receiver, double tilt) {
    receiver.detector_tilt = tilt;
    receiver.sin_beta = std::cos(tilt);
    receiver.cos_beta = std::sin(tilt);
}

// Equation (receiver.2).
double scheimpflug_tilt(double magnification, double between) {
    return std::atan(magnification / std::tan(between));
}

double focused_line_angle(double emitter_angle, double receiver_angle) {
    constexpr double same = 1e-9;
    return std::abs(emitter_angle + receiver_angle) < same ? 0.0 : emitter_angle;
}

bool stands_clear_of_beam(const Receiver& r) {
    // Distance of both rims from the beam line, towards +x, where the receiver belongs.
    const auto beside_beam = [&r](const Eigen::Vector2d& p) {
        return p.x() * std::cos(r.emitter_angle) - p.y() * std::sin(r.emitter_angle);
    };
    return std::min(beside_beam(rim(r, 1.0)), beside_beam(rim(r, -1.0))) > 0.0;
}

// Equation (receiver.1).
Receiver make_receiver(const scenario::Receiver& from, const scenario::Detector& detector, double emitter_angle,
                       double wavelength) {
    Receiver r;
    r.angle = from.angle;
    r.emitter_angle = emitter_angle;
    r.object_distance = from.distance;
    r.focal_length = from.focal_length;
    r.image_distance = 1.0 / (1.0 / from.focal_length - 1.0 / from.distance);
    r.aperture = {from.aperture.shape, from.aperture.in_plane / 2.0, from.aperture.out_of_plane / 2.0};
    r.transmission = from.transmission;
    r.pixels = detector.pixels;
    r.pitch = detector.pitch;
    r.height = detector.height;
    const double between = r.angle - focused_line_angle(r.emitter_angle, r.angle);
    set_detector_tilt(r, from.detector_tilt.value_or(scheimpflug_tilt(r.image_distance / r.object_distance, between)) +
                             from.tilt_error);
    r.image_distance += from.focus_error;
    r.wavefront = {from.spherical_waves * wavelength, from.coma_waves * wavelength, from.astigmatism_waves * wavelength,
                   std::max(r.aperture.half_in_plane, r.aperture.half_out_of_plane)};
    r.stray.ghost_share = from.ghost_share;
    r.stray.ghost_shift = from.ghost_shift;
    r.stray.ghost_blur = from.ghost_blur;
    return r;
}

// Equation (receiver.3).
ReceiverPoint to_receiver(const Receiver& r, const Eigen::Vector3d& p) {
    const double c = std::cos(r.angle);
    const double s = std::sin(r.angle);
    return {r.object_distance - p.z() * c - p.x() * s, p.z() * s - p.x() * c - r.lens_shift, p.y()};
}

Eigen::Vector3d direction_to_receiver(const Receiver& r, const Eigen::Vector3d& d) {
    const double c = std::cos(r.angle);
    const double s = std::sin(r.angle);
    return {d.x() * s + d.z() * c, d.z() * s - d.x() * c, d.y()};
}

namespace {

// Moved along the mounting normal, towards the sensor.
ReceiverPoint lifted(const Receiver& r, const ReceiverPoint& p, double lift) {
    return {p.axial - lift * std::cos(r.angle), p.transverse + lift * std::sin(r.angle), p.out_of_plane};
}

// Where a point behind the cover glass seems to be from a place in the aperture. The ray's angle hangs on that place
// itself: each step leaves less than a hundredth of the error of the one before, for a glass thinner than a tenth of
// the distance.
ReceiverPoint seen_through_glass(const Receiver& r, const ReceiverPoint& point, double in_plane, double out_of_plane) {
    constexpr int steps = 3;
    ReceiverPoint seen = point;
    for (int i = 0; i < steps; ++i) {
        const double beside = in_plane - seen.transverse;
        const double out = out_of_plane - seen.out_of_plane;
        const double length = std::sqrt(seen.axial * seen.axial + beside * beside + out * out);
        const double cosine = (seen.axial * std::cos(r.angle) + beside * std::sin(r.angle)) / length;
        seen = lifted(r, point, apparent_lift(r.glass, cosine));
    }
    return seen;
}

}  // namespace

Eigen::Vector3d aperture_point(const Receiver& r, double in_plane, double out_of_plane) {
    const double c = std::cos(r.angle);
    const double s = std::sin(r.angle);
    const double transverse = in_plane + r.lens_shift;
    return {r.object_distance * s - transverse * c, out_of_plane, r.object_distance * c + transverse * s};
}

namespace {

std::optional<Eigen::Vector2d> passage_from(const Receiver& r, const ReceiverPoint& point,
                                            const Eigen::Vector3d& direction) {
    const Eigen::Vector3d way = direction_to_receiver(r, direction);
    if (way.x() <= 0.0 || point.axial <= 0.0) return std::nullopt;
    const double length = point.axial / way.x();
    const Eigen::Vector2d at(point.transverse + way.y() * length, point.out_of_plane + way.z() * length);
    if (!passes(r.aperture, at.x(), at.y())) return std::nullopt;
    return at;
}

}  // namespace

std::optional<Eigen::Vector2d> passage(const Receiver& r, const Eigen::Vector3d& from,
                                       const Eigen::Vector3d& direction) {
    const ReceiverPoint point = to_receiver(r, from);
    if (!(r.glass.thickness > 0.0)) return passage_from(r, point, direction);
    return passage_from(r, lifted(r, point, apparent_lift(r.glass, direction.z())), direction);
}

std::optional<Eigen::Vector2d> straight_passage(const Receiver& r, const Eigen::Vector3d& from,
                                                const Eigen::Vector3d& direction) {
    return passage_from(r, to_receiver(r, from), direction);
}

// Equations (receiver.4) and (temperature.4).
std::optional<ArrayPoint> trace(const Receiver& r, const ReceiverPoint& from, double in_plane, double out_of_plane) {
    const ReceiverPoint point = r.glass.thickness > 0.0 ? seen_through_glass(r, from, in_plane, out_of_plane) : from;
    if (point.axial <= 0.0) return std::nullopt;
    // Behind the lens the ray falls by `slope` per unit of axial distance: it starts at the aperture point and heads
    // for the ideal image at 1/b' = 1/f - 1/s.
    const double inverse_image_distance = 1.0 / r.focal_length - 1.0 / point.axial;
    double slope = point.transverse / point.axial + in_plane * inverse_image_distance;
    double slope_out = point.out_of_plane / point.axial + out_of_plane * inverse_image_distance;
    if (!r.wavefront.is_ideal()) {
        const Eigen::Vector2d more = slope_at(r.wavefront, in_plane, out_of_plane);
        slope += more.x();
        slope_out += more.y();
    }
    const double denominator = r.sin_beta - slope * r.cos_beta;
    if (denominator <= 0.0) return std::nullopt;
    const double u = (r.image_distance * slope - in_plane - r.array_offset) / denominator;
    const double axial = r.image_distance + u * r.cos_beta;
    if (axial <= 0.0) return std::nullopt;
    return ArrayPoint{u - r.array_shift, out_of_plane - axial * slope_out};
}

// Equation (receiver.5).
std::optional<double> image_position(const Receiver& r, double displacement) {
    const BeamLine line = beam_line(r);
    const double z = -displacement;
    const ReceiverPoint spot{r.object_distance + z * line.axial_per_z, z * line.transverse_per_z - r.lens_shift, 0.0};
    const auto point = trace(r, spot, 0.0, 0.0);
    if (!point) return std::nullopt;
    return point->u;
}

// Equation (receiver.6).
double displacement_at(const Receiver& r, double u) {
    const BeamLine line = beam_line(r);
    const double place = u + r.array_shift;
    const double slope = (place * r.sin_beta + r.array_offset) / (r.image_distance + place * r.cos_beta);
    return -(slope * r.object_distance + r.lens_shift) / (line.transverse_per_z - slope * line.axial_per_z);
}

// Equation (receiver.7).
double sensitivity_at(const Receiver& r, double displacement) {
    // u = (b g - w) / (sin(beta) - g cos(beta)) with g = t / s and w the array's offset;
    // du/dg = (b sin(beta) - w cos(beta)) / (sin(beta) - g cos(beta))^2 and
    // dg/dz = (t' s - t s') / s^2, where t' s - t s' = t' a + d s' because s - a and t + d are proportional to z, d the
    // shift of the lens.
    const BeamLine line = beam_line(r);
    const double z = -displacement;
    const double axial = r.object_distance + z * line.axial_per_z;
    const double slope = (z * line.transverse_per_z - r.lens_shift) / axial;
    const double denominator = r.sin_beta - slope * r.cos_beta;
    const double per_slope =
        (r.image_distance * r.sin_beta - r.array_offset * r.cos_beta) / (denominator * denominator);
    const double wronskian = line.transverse_per_z * r.object_distance + r.lens_shift * line.axial_per_z;
    return std::abs(per_slope * wronskian / (axial * axial));
}

// Equation (receiver.8).
double pixel_of(const Receiver& r, double u) {
    return u / r.pitch + static_cast<double>(r.pixels - 1) / 2.0;
}

double u_of_pixel(const Receiver& r, double pixel) {
    return (pixel - static_cast<double>(r.pixels - 1) / 2.0) * r.pitch;
}

void MeasurableRange::limit_near(double displacement, const char* what) {
    if (displacement <= near) return;
    near = displacement;
    near_limit = what;
}

void MeasurableRange::limit_far(double displacement, const char* what) {
    if (displacement >= far) return;
    far = displacement;
    far_limit = what;
}

MeasurableRange clear_range(const Receiver& r, double reference_distance) {
    MeasurableRange range;
    // With more than a right angle between the axes it is the far part of the beam that runs behind the lens.
    const char* behind = "lens plane: the part would stand behind the lens";
    const double at_lens_plane = r.object_distance / beam_line(r).axial_per_z;
    if (at_lens_plane < 0.0) range.limit_near(at_lens_plane, behind);
    if (at_lens_plane > 0.0) range.limit_far(at_lens_plane, behind);
    const double lowest_rim = std::min(rim(r, 1.0).y(), rim(r, -1.0).y());
    range.limit_near(-lowest_rim, "aperture: the part would touch the lens");
    range.limit_near(-reference_distance * std::cos(r.emitter_angle), "emitter face");
    return range;
}

// Equation (receiver.9).
MeasurableRange measurable_range(const Receiver& r, double reference_distance) {
    MeasurableRange range = clear_range(r, reference_distance);
    // An end of the array beyond the vanishing point of the beam limits nothing: its inverse lies on the other side.
    const double half_length = static_cast<double>(r.pixels) * r.pitch / 2.0;
    if (const double near = displacement_at(r, half_length); near < 0.0) range.limit_near(near, "array length");
    if (const double far = displacement_at(r, -half_length); far > 0.0) range.limit_far(far, "array length");
    return range;
}

// Equation (receiver.10).
double object_side_na(const Receiver& r) {
    return std::sin(std::atan(r.aperture.half_in_plane / r.object_distance));
}

}  // namespace spotwright::receiver
