// Light followed at random through a translucent volume once, and kept as places of its last scatter: what every image
// of a part of this material is made from.
#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "sim/target/subsurface.hpp"

namespace spotwright::target {

/// Where a pencil of light comes in and from where the part is looked at. In the frame of the face: x is the direction
/// along the face in which the light goes on (any for light along the normal), z leads into the volume.
struct WalkGeometry {
    double incidence = 1.0;            ///< cosine of the angle of incidence in air. [1]
    std::array<double, 2> view{0, 0};  ///< x and y of the unit vector in air from the part to the lens: to choose by
    /// Standard deviation of the footprint across the strip that the row of pixels sees: to choose by. Light from
    /// nearer than that to where it came in is all seen as often. [m]
    double tall = 0.0;
};

/// Differences of a millionth of a radian make no difference to a walk, and neither does what it only chooses by.
[[nodiscard]] bool is_equivalent(const WalkGeometry& a, const WalkGeometry& b);

struct WalkOptions {
    int photons = 8192;            ///< followed
    int scatters = 32768;          ///< about as many are kept
    std::uint64_t seed = 1;        ///< of all draws
    double diffusion_depth = 3.0;  ///< where light is left to diffusion, in reduced free paths
    double memory = 0.1;           ///< share of its direction that light keeps when it is taken to scatter to all sides
};

/// How a scatter spreads light.
enum class Spread {
    all_sides,  ///< alike: of a volume by reduced coefficients
    forward,    ///< by the phase function of g
    backing,    ///< as a matt face: what lies below a layer
};

/// A scatter from which light may leave. Light that came to it from a scatter to all sides has no preferred azimuth
/// about the vertical through that one: it stands for a ring around the centre.
struct LastScatter {
    std::array<double, 2> centre{0, 0};     ///< from where the light came in. [m]
    double radius = 0.0;                    ///< of the ring; 0: the scatter lies at the centre. [m]
    double depth = 0.0;                     ///< [m]
    double length = 0.0;                    ///< of the way inside until here. [m]
    std::array<double, 3> before{0, 0, 0};  ///< direction of travel before it, unit, where it spreads `forward`
    double extinction = 0.0;                ///< on the way out. [1/m]
    Spread spread = Spread::all_sides;
    double power = 0.0;  ///< per entered power, times the number of walks that it stands for. [1]
};

/// A walk of many photons, thinned.
///
/// A pencil enters along the refracted beam; steps are exponential with sigma_t = sigma_s + sigma_a, weights take the
/// albedo at each scatter, the face reflects by Fresnel's equations for unpolarised light, long ways go on with a
/// chance of a half at 8, 16, 32 ... scatters and twice the weight. When light has forgotten its direction, |g|^m <=
/// `memory` after m scatters, it goes on by reduced coefficients and scatters to all sides alike (similarity).
///
/// A layer ends at its backing, which sends light back as a matt face and so gives it a new direction to forget: the
/// forward scatters begin again. Its `memory` is 0.01 at most, for it sends light back after few scatters. Layers are
/// followed to the end, without diffusion.
///
/// Light that leaves in a direction o inside is the sum over the scatters of power p(before . o) exp(-sigma_t depth /
/// cos o) (1 - R) per steradian, p = cos o / pi of a backing. Those that are kept are drawn with chances in proportion
/// to this for the view, so that each contributes nearly the same; all sums stay true on average. The same arguments
/// give the same bits.
/// @throws DomainError  As `make_dipole`.
[[nodiscard]] std::vector<LastScatter> walk_volume(const Volume& volume, const WalkGeometry& geometry,
                                                   const WalkOptions& options = {});

/// A walk kept for all images of a part of one material that is lit and seen alike.
struct CachedWalk {
    Volume volume;
    WalkGeometry geometry;
    std::vector<LastScatter> scatters;
};

[[nodiscard]] CachedWalk cache_walk(const Volume& volume, const WalkGeometry& geometry,
                                    const WalkOptions& options = {});

/// Whether the walk is that of a part of this material, lit and seen like this.
[[nodiscard]] bool matches(const CachedWalk& walk, const Volume& volume, const WalkGeometry& geometry);

}  // namespace spotwright::target
