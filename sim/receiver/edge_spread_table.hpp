// The pattern of a round aperture, tabulated: see `EdgeSpread`.
#pragma once

#include <array>
#include <cstddef>

namespace spotwright::receiver {

/// Terms of the sum of products that a pattern is, see `EdgeSpread::terms`: six, and two that are always 0 and make
/// them fill vectors.
inline constexpr std::size_t pattern_terms = 8;
struct alignas(64) PatternTerms : std::array<double, pattern_terms> {};

/// The table's places are i / 32, i = 0 .. 1024, in lambda N.
inline constexpr double round_aperture_steps_per_unit = 32.0;
inline constexpr std::size_t round_aperture_entries = 1025;

extern const PatternTerms round_aperture_signs;
extern const std::array<PatternTerms, round_aperture_entries> round_aperture_table;

}  // namespace spotwright::receiver
