// Images of shares of a spot: of the light that falls before lines across a part.
#pragma once

#include <vector>

#include <Eigen/Core>

#include "sim/emitter/beam.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::receiver {

/// Parallel lines across a part.
struct LinesAcross {
    Eigen::Vector3d origin = Eigen::Vector3d::Zero();      ///< places count from here [m]
    Eigen::Vector3d direction = Eigen::Vector3d::UnitX();  ///< square to the lines, unit
    std::vector<double> place;                             ///< of each line, rising. [m]
};

/// The image of the light that falls before each line, one for each. Rays are followed once for all lines, so that the
/// light between two lines is the difference of their images and all shares together are the whole spot. The mirrored
/// light of a profile is always there, of as many pixels as `rate`.
///
/// Error: a lattice rule of at least 65 536 rays. Of a line that runs along an axis of the beam the share is exact to
/// one ray, for each coordinate of a lattice is spread evenly; of one aslant it errs by some 0.05 % of the spot.
/// @param part  Its markings do not count.
/// @param surface  Whose light leaves from its face.
/// @param quantum_efficiency  [1]
/// @throws InternalError  Light goes inside the part: a volume or a plate.
[[nodiscard]] std::vector<Profile> images_before(const emitter::Beam& beam, target::Part part,
                                                 const target::Surface& surface, const Receiver& receiver,
                                                 const EdgeSpread& edge_spread, double quantum_efficiency,
                                                 const LinesAcross& lines);

}  // namespace spotwright::receiver
