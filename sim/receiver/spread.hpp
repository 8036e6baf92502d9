// Inner part of spreading light along the array.
#pragma once

#include <cstddef>
#include <span>

namespace spotwright::receiver {

/// So many values beyond the last pixel are read and written by `add_places`.
inline constexpr std::size_t spread_padding = 64;

/// sums[k] += sum over p of light[p] shares[k + p step], for k from 0 to before `pixels`: each sum in the order of p,
/// the same bits on every instruction set.
void add_places(std::span<const double> light, const double* shares, std::size_t step, std::size_t pixels,
                double* sums);

}  // namespace spotwright::receiver
