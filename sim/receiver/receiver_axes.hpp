// Places and directions of batches of rays, from the sensor's frame to the receiver's axes and back.
#pragma once

#include <cmath>
#include <cstddef>

#include <Eigen/Core>

#include "sim/receiver/geometry.hpp"
#include "sim/receiver/ray_batch.hpp"

namespace spotwright::receiver {

/// The receiver's own axes, with their sine and cosine worked out once for many rays.
struct ReceiverAxes {
    const Receiver& receiver;
    double c = std::cos(receiver.angle);
    double s = std::sin(receiver.angle);

    /// As `to_receiver` and `direction_to_receiver`.
    [[nodiscard]] Eigen::Vector3d place(const Eigen::Vector3d& p) const {
        return {receiver.object_distance - p.z() * c - p.x() * s, p.z() * s - p.x() * c - receiver.lens_shift, p.y()};
    }
    [[nodiscard]] Eigen::Vector3d direction(const Eigen::Vector3d& d) const {
        return {d.x() * s + d.z() * c, d.z() * s - d.x() * c, d.y()};
    }
    /// Back to the sensor's frame.
    [[nodiscard]] Eigen::Vector3d back(const Lanes3& d, std::size_t i) const {
        return {d.axial[i] * s - d.transverse[i] * c, d.out_of_plane[i], d.axial[i] * c + d.transverse[i] * s};
    }
    /// Of a lit place, in the sensor's frame. [m]
    [[nodiscard]] Eigen::Vector3d location_of(const LitBatch& lit, std::size_t i) const {
        const double along = receiver.object_distance - lit.place.axial[i];
        const double beside = lit.place.transverse[i] + receiver.lens_shift;
        return {along * s - beside * c, lit.place.out_of_plane[i], along * c + beside * s};
    }
};

}  // namespace spotwright::receiver
