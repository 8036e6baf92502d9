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

LensView make_lens_view(const Receiver& receiver, const FlatFace& face, double index) {
    LensView view;
    view.receiver = &receiver;
    view.index = index;
    view.area = area_of(receiver.aperture);
    const Vector3d centre = aperture_point(receiver, 0.0, 0.0);
    view.centre = face.of(centre - face.entry);
    view.in_plane = face.of(aperture_point(receiver, 1.0, 0.0) - centre);
    view.across = face.of(aperture_point(receiver, 0.0, 1.0) - centre);
    view.lens = face.of(Vector3d(std::sin(receiver.angle), 0.0, std::cos(receiver.angle)));
    view.from = to_receiver(receiver, face.entry);
    const auto change = [&](const Vector3d& by) {
        const ReceiverPoint to = to_receiver(receiver, face.entry + by);
        return Vector3d(to.axial - view.from.axial, to.transverse - view.from.transverse,
                        to.out_of_plane - view.from.out_of_plane);
    };
    view.along_x = change(face.x);
    view.along_y = change(face.y);
    return view;
}

}  // namespace spotwright::receiver
