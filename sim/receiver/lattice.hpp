// Lattice rules: places in the unit cube of up to six dimensions that stand for all of it.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

namespace spotwright::receiver {

/// Into how many parts the places of a rule fall. Each part is a rule of its own, moved; what scatters between parts
/// tells the error of all.
inline constexpr std::int64_t lattice_parts = 8;

/// A rule of `count` = 2^m places, frac(i (1, a, a^2, ..) / count + move). For a smooth function that is the same on
/// opposite faces of the cube its error falls about as 1 / count^2 and faster, whatever the number of dimensions.
/// Source: I. Sloan, S. Joe, Lattice Methods for Multiple Integration (1994); generators by
/// tests/reference/lattice_generators.py.
struct Lattice {
    std::int64_t count = 0;
    std::uint64_t generator = 1;
};

inline constexpr std::int64_t min_lattice = std::int64_t{1} << 10;

/// The smallest rule with at least as many places, or the largest that there is.
[[nodiscard]] Lattice lattice_of(std::int64_t at_least);

/// Rays of a batch; a multiple of the lanes of any vector.
inline constexpr std::size_t batch_rays = 256;

/// One number of each ray of a batch.
using Lane = std::array<double, batch_rays>;

/// Coordinates of places, axis by axis.
struct alignas(64) LatticePoints : std::array<Lane, 6> {};

/// Coordinates of places of one part, each in (0, 1).
/// @param part  0 .. lattice_parts - 1.
/// @param first  Of the places of the part, counted within it.
/// @param count  As many are filled; at most `batch_rays`.
/// @param dimensions  At most 6.
void fill_points(const Lattice& lattice, std::int64_t part, std::int64_t first, std::size_t count,
                 std::size_t dimensions, LatticePoints& places);

}  // namespace spotwright::receiver
