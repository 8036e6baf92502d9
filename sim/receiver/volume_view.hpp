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

private:
    Eigen::Vector3d axis_;
    std::array<Eigen::Vector3d, 2> place_;
    std::array<Eigen::Vector3d, 2> slope_;
};

/// The receiver in the frame of the face. Does what `to_receiver` and `trace` do, with all that is the same for all
/// rays worked out once.
struct LensView {
    const Receiver* receiver = nullptr;
    double index = 1.0;                                  ///< of the part. [1]
    double area = 0.0;                                   ///< of the aperture. [m^2]
    Eigen::Vector3d centre = Eigen::Vector3d::Zero();    ///< of the lens. [m]
    Eigen::Vector3d in_plane = Eigen::Vector3d::Zero();  ///< per length in the aperture, unit
    Eigen::Vector3d across = Eigen::Vector3d::Zero();    ///< out of plane, unit
    Eigen::Vector3d lens = Eigen::Vector3d::UnitZ();     ///< the receiver's axis, unit
    ReceiverPoint from;                                  ///< the entry of the beam's axis
    Eigen::Vector3d along_x = Eigen::Vector3d::Zero();   ///< change of a `ReceiverPoint` per length along the face. [1]
    Eigen::Vector3d along_y = Eigen::Vector3d::Zero();

    [[nodiscard]] std::optional<ArrayPoint> image(const Eigen::Vector2d& exit, double through_in_plane,
                                                  double through_out_of_plane) const {
        const Eigen::Vector3d change = exit.x() * along_x + exit.y() * along_y;
        return trace(*receiver, {from.axial + change.x(), from.transverse + change.y(), from.out_of_plane + change.z()},
                     through_in_plane, through_out_of_plane);
    }
};

/// @param receiver  Must outlive the view.
[[nodiscard]] LensView make_lens_view(const Receiver& receiver, const FlatFace& face, double index);

}  // namespace spotwright::receiver
