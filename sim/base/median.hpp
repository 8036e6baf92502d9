// The middle of many values.
#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

namespace spotwright::base {

/// Median that is always one of the values: the upper of the two middle ones if their count is even. (The median of
/// Boost.Math is their mean.)
/// @param values  At least one.
template <class Number>
[[nodiscard]] Number upper_median(std::vector<Number> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

}  // namespace spotwright::base
