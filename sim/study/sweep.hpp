// Readings over a grid of scenario keys.
#pragma once

#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/study/read.hpp"

namespace spotwright::study {

/// One key and the values it takes.
struct SweepAxis {
    std::string key;                  ///< dotted; `key[0]` for one number of several
    std::vector<std::string> values;  ///< as a setting has them: 5, [5, 0], black-rubber
};

/// From `key=start:stop:count`, both ends included, or `key=a,b,c`; commas within brackets and quotes do not part
/// values.
/// @throws ScenarioError  Neither; a count below 1, or of 1 with two ends; a number that is none.
[[nodiscard]] SweepAxis parse_axis(std::string_view text);

/// A checked grid. Points are numbered with the last axis fastest.
struct Sweep {
    scenario::Scenario scenario;
    std::vector<SweepAxis> axes;
    std::int64_t points = 1;
};

/// @throws ScenarioError  No axis, or one twice or inside another; no value, or one twice; a value that its key does
///   not take, each tried alone; more than `most_sweep_points`.
[[nodiscard]] Sweep make_sweep(scenario::Scenario scenario, std::vector<SweepAxis> axes);

inline constexpr std::int64_t most_sweep_points = 1'000'000'000;

/// The settings that make the scenario of a point, one for each axis.
[[nodiscard]] std::vector<std::string> settings_of(const Sweep& sweep, std::int64_t point);

/// A number that each point gives.
struct SweepQuantity {
    std::string_view name;  ///< ends in its unit, as in `read --json`
    std::string_view units;
    std::string_view long_name;
};

[[nodiscard]] std::span<const SweepQuantity> sweep_quantities();

/// What reading one point gives: no more than a single reading of its scenario does.
struct SweepPoint {
    std::vector<double> values;       ///< in the order of `sweep_quantities` and in their units; NaN: does not exist
    Level level = Level::unreadable;  ///< of the verdict
    std::string obstacle;             ///< why the sensor cannot be built or the scenario contradicts itself; else empty
};

struct SweepOptions {
    int threads = 0;                                 ///< 0: all cores
    std::function<bool(std::int64_t point)> wanted;  ///< may be empty: all of them
    /// Called on the calling thread, in the order in which points are worked off; that is not the order of their
    /// numbers, and does not depend on the thread count.
    std::function<void(std::int64_t point, const SweepPoint& result)> sink;
    std::function<void(std::int64_t done, std::int64_t all)> progress;  ///< on the calling thread; may be empty
};

/// Reads the points of a part of the grid. Memory does not grow with its number of points, and each point's result, to
/// the last bit, is that of reading its scenario alone.
/// @param first  Of the points, in the order in which they are worked off, >= 0.  @param last  One past, <= points.
void run_sweep(const Sweep& sweep, std::int64_t first, std::int64_t last, const SweepOptions& options);

}  // namespace spotwright::study
