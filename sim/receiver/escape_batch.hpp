// Light on its way out of a translucent part in batches: from its last scatter through the flat face to the array.
#pragma once

#include <array>
#include <cstddef>

#include "sim/receiver/ray_batch.hpp"
#include "sim/receiver/volume_view.hpp"

namespace spotwright::receiver {

/// How a place of a batch spreads light, as numbers that stand in a lane; see `target::Spread`.
inline constexpr double spread_to_all_sides = 0.0;
inline constexpr double spread_forward = 1.0;
inline constexpr double spread_by_backing = 2.0;

/// Scatters, each with the place of the aperture that its light is to pass, and neighbours of equal depth from which
/// light leaves in parallel. All places in the frame of the face.
struct EscapeBatch {  // NOLINT(cppcoreguidelines-pro-type-member-init): filled scatter by scatter
    static constexpr std::size_t neighbours = 3;

    std::size_t count = 0;
    alignas(64) Lane from_x;  ///< of the scatter. [m]
    alignas(64) Lane from_y;
    alignas(64) Lane depth;       ///< [m]
    alignas(64) Lane extinction;  ///< on the way out. [1/m]
    alignas(64) Lane spread;      ///< one of the three above
    alignas(64) Lane before_x;    ///< direction before the scatter, unit, towards the face positive
    alignas(64) Lane before_y;
    alignas(64) Lane before_z;
    alignas(64) Lane in_plane;              ///< place in the aperture. [m]
    alignas(64) Lane out_of_plane;          ///< [m]
    alignas(64) Lane power;                 ///< scattered. [W]
    std::array<Lane, neighbours> beside_x;  ///< of the neighbours, from the scatter. [m]
    std::array<Lane, neighbours> beside_y;

    // Results.
    alignas(64) Lane exit_x;  ///< where the light of the scatter leaves the face. [m]
    alignas(64) Lane exit_y;
    alignas(64) Lane light;  ///< through the whole aperture and transmitted; 0: the aperture lies out of reach. [W]
    alignas(64) Lane way;    ///< optical length from the scatter to the face. [m]
    std::array<Lane, neighbours> u;  ///< on the array, of each neighbour; infinite: it does not arrive. [m]
    std::array<Lane, neighbours> v;
};

/// Follows the light out. As `escape_to` with one layer, Fresnel's loss for unpolarised light and `trace`, within 1e-7
/// of the light; the same bits on every instruction set.
/// @param anisotropy  Of the phase function of the volume. [1]
void follow_out(const LensView& view, double anisotropy, EscapeBatch& batch);

}  // namespace spotwright::receiver
