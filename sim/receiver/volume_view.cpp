#include "sim/receiver/volume_view.hpp"

namespace spotwright::receiver {

using Eigen::Vector3d;

FlatFace make_flat_face(const emitter::Beam& beam, const target::Hit& hit, const Receiver& receiver) {
    FlatFace face;
    face.entry = beam.face + hit.distance * beam.direction;
    face.normal = hit.normal;
    face.incidence = -beam.direction.dot(hit.normal);
    const Vector3d axis(std::sin(receiver.angle), 0.0, std::cos(receiver.angle));
    constexpr double upright = 1e-9;
    Vector3d along = beam.direction + face.incidence * hit.normal;
    if (along.norm() < upright) along = axis - axis.dot(hit.normal) * hit.normal;
    if (along.norm() < upright) along = hit.normal.unitOrthogonal();
    face.x = along.normalized();
    face.y = hit.normal.cross(face.x);
    face.view = face.of(axis);
    return face;
}

}  // namespace spotwright::receiver
