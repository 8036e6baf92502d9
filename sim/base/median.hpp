// The middle of many values.
#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

namespace spotwright::base {

/// Median that is always one of the values: of an even count the upper of both in the middle. (That of Boost.Math is
/// the mean of both.)
/// @param values  One at least.
template <class Number>
[[nodiscard]] Number upper_median(std::vector<Number> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

}  // namespace spotwright::base
