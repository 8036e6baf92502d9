// Rays that go inside the part: to and fro between the faces of a plate, at random through a volume.
#pragma once

#include <Eigen/Core>

#include "sim/base/random.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/receiver/inside.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::receiver {

/// What rays are followed in.
struct Scene {
    const target::Part& part;
    const target::Surface& surface;
    const Receiver& receiver;
    double across_scale = 0.0;               ///< of diffraction across the array. [m]
    bool interreflection = true;             ///< false: light meets what lies behind a plate once at most
    target::Zone zone = target::Zone::bare;  ///< of a part with markings: whose material the surface is
    int met_elsewhere = 0;                   ///< first meetings with the part whose light is counted elsewhere
};

/// A ray as it meets the front face.
struct Arrival {
    Eigen::Vector3d place = Eigen::Vector3d::Zero();        ///< [m]
    Eigen::Vector3d direction = -Eigen::Vector3d::UnitZ();  ///< of travel, unit
    Eigen::Vector3d normal = Eigen::Vector3d::UnitZ();      ///< unit
    double power = 0.0;                                     ///< incident. [W]
    bool scattered = false;                                 ///< on its way here
    emitter::Polarisation light = {};
    double path = 0.0;  ///< optical length of the way here. [m]
};

/// A place drawn evenly from the aperture, with the aperture's whole area.
[[nodiscard]] AperturePoint draw_aperture_point(const Receiver& receiver, base::RandomSequence& random);

/// Optical length from a place behind the front face, through it and through a place of the aperture, to the array. [m]
[[nodiscard]] double way_out(const Receiver& receiver, const Escape& out, double in_plane, double out_of_plane,
                             const ArrayPoint& at);

/// Follows what the front face of a plate lets in: all reflections between its faces, its backing's scatter and mirror,
/// and light to and fro between plate and backing. Polarisations are followed apart until the backing scatters: its
/// facets meet polarised light as the first passage of the plate has weakened it.
void follow_into_plate(const Scene& scene, const Arrival& arrival, base::RandomSequence& random,
                       const Collect& collect);

/// Follows what the front face lets into a volume: exponential steps, scatter by the phase function of Henyey and
/// Greenstein, Fresnel's reflection at the face from inside; at each scatter the light that leaves straight for the
/// receiver is counted.
void follow_into_volume(const Scene& scene, const Arrival& arrival, base::RandomSequence& random,
                        const Collect& collect);

}  // namespace spotwright::receiver
