// Ways of light through a plate, and to and fro between it and a polished backing: drawn at random, with their powers.
#pragma once

#include "sim/base/random.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::receiver {

/// Of light that comes to a plate from below, what its back face sends down again, R, and what its front face does,
/// (1 - R)^2 R (1 + R^2 + ..), with what goes on inside the plate. [1]
struct SentDown {
    target::Fresnel by_back;
    target::Fresnel by_front;
};

/// @param r  Of one face. [1]
[[nodiscard]] SentDown sent_down(const target::Fresnel& r);

/// What of the light a backing mirrors; 0 without gloss. [1]
/// @param cosine  Of the angle of incidence in air, 0 to 1. [1]
[[nodiscard]] target::Fresnel mirrored_by(const target::Surface& backing, double cosine);

/// Whether a backing mirrors enough to count: more than 1e-4.
[[nodiscard]] bool is_polished(const target::Surface& backing);

/// A way through a plate, k times to and fro between its faces on the way: of each polarisation (1 - R)^2 R^(2 k).
struct Passage {
    int returns = 0;  ///< k
    double chance = 1.0;

    /// One in ten goes the long way, which carries less than a hundredth of the light but lands elsewhere.
    [[nodiscard]] static Passage draw(base::RandomSequence& random);

    /// Of the glass on the way. [m]
    [[nodiscard]] double thickness(const target::Slab& slab) const;

    /// Of the light of each polarisation, over the chance of the draw. [1]
    /// @param index  Of the plate.  @param cosine  In air.
    [[nodiscard]] target::Fresnel shares(double index, double cosine) const;
};

/// The way out of light that a backing has scattered: to and fro between plate and polished backing, then through the
/// plate. More than two returns, with less than a thousandth of the light, are left out.
struct WayOut {
    Passage passage;
    int by_back = 0;   ///< returns by the back face, each followed by the mirroring backing
    int by_front = 0;  ///< the same by the front face
    double chance = 1.0;

    /// Draws no number but those of the passage where the backing is not polished.
    [[nodiscard]] static WayOut draw(const target::Surface& backing, base::RandomSequence& random);

    /// The slab as it is crossed, unfolded: one thickness of glass and one gap.
    [[nodiscard]] target::Slab crossed(const target::Slab& slab) const;

    /// Of unpolarised light, over the chance of the draw. [1]
    [[nodiscard]] double weight(const target::Slab& slab, double index, double cosine) const;
};

}  // namespace spotwright::receiver
