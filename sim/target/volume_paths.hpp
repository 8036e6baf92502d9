// What a walk through a volume sends out of the face in all, and by which paths.
#pragma once

#include <span>
#include <vector>

#include "sim/target/volume_walk.hpp"

namespace spotwright::target {

/// Share of the light that entered which leaves by the face again, in all directions: the diffuse reflectance as the
/// walk has it, exact but for the walk's own scatter and what it leaves to diffusion. [1]
[[nodiscard]] double reflected_share(const Volume& volume, std::span<const LastScatter> walk);

/// Light of one optical path inside a volume.
struct WeighedPath {
    double path = 0.0;    ///< index times length, from face to face. [m]
    double weight = 0.0;  ///< in any unit
};

/// Optical paths of the light that a walk sends towards the view and that leaves within a strip of the face, as a row
/// of pixels sees it: of a ring of radius r about where the light came in the strip takes (2 / pi) arcsin(half / r).
/// @param half_height  Of the strip, about where the light came in. [m]
[[nodiscard]] std::vector<WeighedPath> paths_in_strip(const Volume& volume, const WalkGeometry& geometry,
                                                      std::span<const LastScatter> walk, double half_height);

}  // namespace spotwright::target
