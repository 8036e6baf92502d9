#include "sim/receiver/lattice.hpp"

#include <algorithm>

namespace spotwright::receiver {

namespace {

// For 2^10 places and on.
constexpr std::array<std::uint64_t, 11> generators{373,   475,   1131, 1497,   539,   16117,
                                                   15369, 39437, 6897, 133299, 133299};

}  // namespace

Lattice lattice_of(std::int64_t at_least) {
    Lattice lattice{min_lattice, generators.front()};
    for (std::size_t i = 1; i < generators.size() && lattice.count < at_least; ++i) {
        lattice = {2 * lattice.count, generators[i]};
    }
    return lattice;
}

// Equation (receiver.11a).
void fill_points(const Lattice& lattice, std::int64_t part, std::int64_t first, std::size_t count,
                 std::size_t dimensions, LatticePoints& places) {
    // Of a power of two, at most 2^20: numbers of 32 bits do, whose overflow leaves the low bits right.
    const auto mask = static_cast<std::uint32_t>(lattice.count - 1);
    const double step = 1.0 / static_cast<double>(lattice.count);
    // No place lies on a face of the cube or in its middle: the first coordinate is moved by half a step, the others by
    // shares of a step that differ.
    constexpr std::array<double, 6> moves{0.5, 0.381966, 0.618034, 0.763932, 0.236068, 0.854102};
    const auto generator = static_cast<std::uint32_t>(lattice.generator);
    std::uint32_t multiplier = 1;
    for (std::size_t d = 0; d < dimensions; ++d) {
        const double move = moves[d] * step;
        const std::uint32_t stride = multiplier * static_cast<std::uint32_t>(lattice_parts);
        std::uint32_t place = static_cast<std::uint32_t>(lattice_parts * first + part) * multiplier;
        for (std::size_t i = 0; i < count; ++i) {
            places[d][i] = static_cast<double>(static_cast<std::int32_t>(place & mask)) * step + move;
            place += stride;
        }
        multiplier = multiplier * generator & mask;
    }
}

}  // namespace spotwright::receiver
