// Where a condition changes along a line, by halving.
#pragma once

#include <boost/math/tools/roots.hpp>

#include <cstdint>
#include <utility>

namespace spotwright::base {

/// Two places next to each other between which a condition changes.
struct Border {
    double holds = 0.0;  ///< the last place at which the condition held
    double fails = 0.0;  ///< the last at which it did not
};

/// Bisects between a place where a condition holds and one where it does not, until they are `close` or after so many
/// halvings. The condition is not evaluated at the two given places, which may be in either order.
/// @param close  Unit of the places.
template <class Condition>
[[nodiscard]] Border border_between(double holds_at, double fails_at, const Condition& condition, int halvings,
                                    double close = 0.0) {
    if (holds_at == fails_at) return {holds_at, fails_at};
    const auto side = [&](double place) {
        if (place == holds_at) return 1.0;
        if (place == fails_at) return -1.0;
        return condition(place) ? 1.0 : -1.0;
    };
    const auto is_close = [close](double low, double high) { return high - low <= close; };
    std::uintmax_t steps = static_cast<std::uintmax_t>(halvings) + 3;  // three are counted before the first
    const bool rises = holds_at < fails_at;
    const auto [low, high] =
        boost::math::tools::bisect(side, rises ? holds_at : fails_at, rises ? fails_at : holds_at, is_close, steps);
    return rises ? Border{low, high} : Border{high, low};
}

}  // namespace spotwright::base
