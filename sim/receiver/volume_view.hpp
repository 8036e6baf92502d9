// Light that leaves a translucent part by its flat face, in the frame of that face: the beam where it enters, and the
// receiver as it looks on.
#pragma once

#include <array>
#include <cmath>
#include <optional>

#include <Eigen/Geometry>

#include "sim/emitter/beam.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/target/part.hpp"

namespace spotwright::receiver {

/// The flat face of a part: places on it as x along the way of the light inside and y, from where the beam's axis comes
/// in; and the receiver seen from it.
struct FlatFace {
    Eigen::Vector3d entry = Eigen::Vector3d::Zero();  // [m]
    Eigen::Vector3d normal = Eigen::Vector3d::UnitZ();
    Eigen::Vector3d x = Eigen::Vector3d::UnitX();
    Eigen::Vector3d y = Eigen::Vector3d::UnitY();
    double incidence = 1.0;  // cosine
    Eigen::Vector3d view =
        Eigen::Vector3d::UnitZ();  // unit, to the lens from the reference point: x, y and along the normal

    [[nodiscard]] Eigen::Vector3d of(const Eigen::Vector3d& v) const { return {v.dot(x), v.dot(y), v.dot(normal)}; }
    [[nodiscard]] Eigen::Vector3d out_of_plane(double along_x, double along_y) const {
        return entry + along_x * x + along_y * y;
    }
};

[[nodiscard]] FlatFace make_flat_face(const emitter::Beam& beam, const target::Hit& hit, const Receiver& receiver);

/// The beam where it meets the face: from offsets in 1/e^2 radii to places, exactly as `emitter::ray_at` has it.
class BeamFootprint {
public:
    BeamFootprint(const emitter::Beam& beam, const FlatFace& face, double along) : axis_(face.of(beam.direction)) {
        for (std::size_t i = 0; i < 2; ++i) {
            const int axis = static_cast<int>(i);
            const Eigen::Vector3d side = face.of(beam.axes[i]);
            place_[i] = emitter::radius_at(beam, axis, along) * side;
            slope_[i] = emitter::radius_slope_at(beam, axis, along) * side;
        }
    }
    // From the entry of the axis; the third coordinate is nought.
    [[nodiscard]] Eigen::Vector3d at(const Eigen::Vector2d& offset) const {
        const Eigen::Vector3d origin = offset[0] * place_[0] + offset[1] * place_[1];
        const Eigen::Vector3d direction = axis_ + offset[0] * slope_[0] + offset[1] * slope_[1];
        return origin - origin.z() / direction.z() * direction;
    }
    // How much farther than the axis light has gone there.
    [[nodiscard]] double farther(const Eigen::Vector3d& place) const { return place.dot(axis_); }

private:
    Eigen::Vector3d axis_;
    std::array<Eigen::Vector3d, 2> place_;
    std::array<Eigen::Vector3d, 2> slope_;
};

/// 1 - R of Fresnel's equations for unpolarised light, from both cosines: as `target::fresnel`, without its roots.
inline double passed_share(double outside, double inside, double index) {
    const double s = (outside - index * inside) / (outside + index * inside);
    const double p = (index * outside - inside) / (index * outside + inside);
    return 1.0 - 0.5 * (s * s + p * p);
}

/// A way out, in the frame of the face.
struct WayOut {
    Eigen::Vector2d exit;
    Eigen::Vector3d inside;  // unit, from the scatter to the face
    double cos_outside = 1.0;
    double cos_inside = 1.0;
    double weight = 0.0;  // solid angle inside that the aperture takes. [sr]
};

/// The receiver in the frame of the face. Does what `escape_to`, `to_receiver` and `trace` do, with all that is the
/// same for all rays worked out once.
class LensView {
public:
    LensView(const Receiver& receiver, const FlatFace& face, double index)
        : receiver_(receiver), index_(index), area_(area_of(receiver.aperture)) {
        const Eigen::Vector3d centre = aperture_point(receiver, 0.0, 0.0);
        centre_ = face.of(centre - face.entry);
        in_plane_ = face.of(aperture_point(receiver, 1.0, 0.0) - centre);
        across_ = face.of(aperture_point(receiver, 0.0, 1.0) - centre);
        lens_ = face.of(Eigen::Vector3d(std::sin(receiver.angle), 0.0, std::cos(receiver.angle)));
        from_ = to_receiver(receiver, face.entry);
        const auto change = [&](const Eigen::Vector3d& by) {
            const ReceiverPoint to = to_receiver(receiver, face.entry + by);
            return Eigen::Vector3d(to.axial - from_.axial, to.transverse - from_.transverse,
                                   to.out_of_plane - from_.out_of_plane);
        };
        along_x_ = change(face.x);
        along_y_ = change(face.y);
    }

    // None where the aperture lies behind the face or its plane.
    [[nodiscard]] std::optional<WayOut> out(const Eigen::Vector2d& from, double depth,
                                            const AperturePoint& through) const {
        const Eigen::Vector3d to = centre_ + through.in_plane * in_plane_ + through.out_of_plane * across_;
        const double height = to.z();
        if (height <= 0.0) return std::nullopt;
        const Eigen::Vector2d lateral = to.head<2>() - from;
        const double distance = lateral.norm();
        // Newton's iteration for tan t, as in `target::exit_ray`; the depth is small against the height, so that the
        // start is good to the ratio of both, and each step squares that.
        const double bent = (index_ - 1.0) * (index_ + 1.0);
        double u = distance / (height + depth / index_);
        for (int i = 0; i < 12; ++i) {
            const double root2 = index_ * index_ + bent * u * u;
            const double root = std::sqrt(root2);
            const double step =
                (distance - height * u - depth * u / root) / (height + depth * index_ * index_ / (root2 * root));
            u += step;
            if (std::abs(step) < 1e-7 * u + 1e-12) break;
        }
        WayOut way;
        const double cosine = 1.0 / std::sqrt(1.0 + u * u);
        const double sine_inside = u * cosine / index_;
        way.cos_outside = cosine;
        way.cos_inside = std::sqrt(1.0 - sine_inside * sine_inside);
        const Eigen::Vector2d unit = distance > 0.0 ? Eigen::Vector2d(lateral / distance) : Eigen::Vector2d(1.0, 0.0);
        way.exit = from + depth * sine_inside / way.cos_inside * unit;
        way.inside = {sine_inside * unit.x(), sine_inside * unit.y(), way.cos_inside};
        const double cos_lens = u * cosine * (unit.x() * lens_.x() + unit.y() * lens_.y()) + cosine * lens_.z();
        if (cos_lens <= 0.0) return std::nullopt;
        const double ratio = cosine / way.cos_inside;
        const double length = depth / way.cos_inside / index_;
        const double sagittal = height / cosine + length;
        const double tangential = height / cosine + length * ratio * ratio;
        way.weight = ratio / (index_ * index_ * sagittal * tangential) * area_ * cos_lens;
        return way;
    }

    [[nodiscard]] std::optional<ArrayPoint> image(const Eigen::Vector2d& exit, double in_plane,
                                                  double out_of_plane) const {
        const Eigen::Vector3d change = exit.x() * along_x_ + exit.y() * along_y_;
        return trace(receiver_,
                     {from_.axial + change.x(), from_.transverse + change.y(), from_.out_of_plane + change.z()},
                     in_plane, out_of_plane);
    }

    [[nodiscard]] double way_to_centre(const Eigen::Vector2d& exit) const {
        return (centre_ - Eigen::Vector3d(exit.x(), exit.y(), 0.0)).norm();
    }

private:
    const Receiver& receiver_;
    double index_;
    double area_;
    Eigen::Vector3d centre_;
    Eigen::Vector3d in_plane_;
    Eigen::Vector3d across_;
    Eigen::Vector3d lens_;
    ReceiverPoint from_;
    Eigen::Vector3d along_x_;
    Eigen::Vector3d along_y_;
};

}  // namespace spotwright::receiver
