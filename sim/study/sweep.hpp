// Readings over a grid of scenario keys.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/measure/quantities.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::study {

/// One key and the values it takes.
struct SweepAxis {
    std::string key;                  ///< dotted; `key[0]` for one number of several
    std::vector<std::string> values;  ///< as a setting has them: 5, [5, 0], black-rubber
};

inline constexpr std::int64_t most_axis_values = 1'000'000;
inline constexpr std::int64_t most_sweep_points = 1'000'000'000;
inline constexpr std::size_t most_sweep_axes = 16;

/// From `key=start:stop:count`, both ends included, or `key=a,b,c`; commas within brackets and quotes do not part
/// values.
/// @throws ScenarioError  Neither; a count below 1 or above `most_axis_values`, or of 1 with two ends; a number that is
///   none.
[[nodiscard]] SweepAxis parse_axis(std::string_view text);

/// A checked grid. Points are numbered with the last axis fastest.
struct Sweep {
    scenario::Scenario scenario;
    std::vector<SweepAxis> axes;
    std::int64_t points = 1;
};

/// @throws ScenarioError  No axis, or one twice or inside another; no value, or one twice; a value that its key does
///   not take, whatever the other keys say; more than `most_sweep_points`. A value that contradicts other keys is none
///   of these: other axes may make it fit, and points at which it does not get an obstacle.
[[nodiscard]] Sweep make_sweep(scenario::Scenario scenario, std::vector<SweepAxis> axes);

/// The settings that make the scenario of a point, one for each axis.
[[nodiscard]] std::vector<std::string> settings_of(const Sweep& sweep, std::int64_t point);

/// Which value of each axis a point has.
[[nodiscard]] std::vector<std::size_t> places_of(const Sweep& sweep, std::int64_t point);

/// How the values of an axis are written in tables and files.
struct AxisLabels {
    enum class Kind { numbers, whole_numbers, words };
    Kind kind = Kind::words;
    std::string units;                    ///< "1" for a pure number
    std::string meaning;                  ///< of the key
    std::vector<std::string> words;       ///< whatever the kind; texts without quotes
    std::vector<double> numbers;          ///< of both kinds of numbers, as written
    std::vector<std::int64_t> whole;      ///< of whole numbers
    std::vector<std::vector<double>> of;  ///< of a key of several numbers: each place's; NaN: has none. Else empty
};

[[nodiscard]] AxisLabels labels_of(const Sweep& sweep, std::size_t axis);

/// What reading one point gives: no more than a single reading of its scenario does.
struct SweepPoint {
    std::vector<double> values;  ///< in the order of `sweep_quantities` and in their units; NaN: does not exist
    measure::Level level = measure::Level::unreadable;  ///< of the verdict
    std::string obstacle;  ///< why the sensor cannot be built or the scenario contradicts itself; else empty
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
