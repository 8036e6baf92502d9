// Data sheets: what the owner of a sensor knows of it, in terms of the trade, each value with its conditions.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/scenario/principle.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::scenario {

/// A stated value: a number, known to half a unit of its last digit as written, or a range [low, high]. SI.
struct Stated {
    double low = 0.0;
    double high = 0.0;
    [[nodiscard]] double middle() const { return 0.5 * (low + high); }
    [[nodiscard]] bool holds(double value) const { return value >= low && value <= high; }
    bool operator==(const Stated&) const = default;
};

enum class SheetMount { diffuse, specular };
/// How wide a spot is said to be.
enum class SpotMeasure { one_over_e2, half_maximum };
/// What a figure of repeatability means.
enum class Meaning { standard_deviation, two_standard_deviations, peak_to_peak };

struct SheetSpot {
    SpotMeasure measure = SpotMeasure::one_over_e2;
    std::optional<Stated> in_plane;          ///< full width at the reference distance. [m]
    std::optional<Stated> out_of_plane;      ///< likewise; none: as in plane
    std::optional<Stated> in_plane_at_ends;  ///< at both ends of the range. [m]
    std::optional<Stated> divergence;        ///< full angle of the beam far from its waist. [rad]
};

/// What only sheets of time-of-flight sensors have.
struct SheetFlight {
    std::vector<double> modulation;      ///< frequencies of a phase-shift sensor; empty: not stated. [Hz]
    std::optional<Stated> pulse;         ///< full width at half maximum. [s]
    std::optional<Stated> pulse_rate;    ///< [1/s]
    std::optional<std::int64_t> pulses;  ///< averaged into a reading
};

struct SheetRepeatability {
    Stated value;  ///< [m]
    Meaning meaning = Meaning::standard_deviation;
    std::int64_t readings = 1000;  ///< between whose extremes a peak-to-peak figure lies
    std::int64_t average = 1;
    std::optional<double> period;  ///< sampling period; none: the shortest of the sheet. [s]
    std::string material = "white-ceramic";
};

/// All but reference distance and range may be missing.
struct Sheet {
    std::string title;
    Principle principle = Triangulation{};
    SheetMount mount = SheetMount::diffuse;
    double reference_distance = 0.0;  ///< [m]
    Pair range{0.0, 0.0};             ///< displacement, + away. [m]
    SheetSpot spot;
    std::optional<Stated> wavelength;      ///< [m]
    std::string laser_class;               ///< "1", "2", "3R", "3B"; empty: not stated
    std::optional<Stated> power;           ///< of pulses their peak. [W]
    std::vector<double> periods;           ///< that a user may set, rising. [s]
    bool shortest_period_only = false;     ///< the sheet states the shortest alone; the others are common practice
    std::optional<Pair> exposures;         ///< shortest and longest. [s]
    std::optional<Stated> white_exposure;  ///< that suits a matt white tile at the reference distance. [s]
    std::vector<std::int64_t> averages;    ///< that a user may set
    std::optional<SheetRepeatability> repeatability;
    std::optional<Stated> resolution;        ///< step of the output. [m]
    std::optional<Stated> linearity;         ///< largest error over the range, as a share of the span. [1]
    std::optional<Stated> temperature;       ///< change of the reading, as a share of the span. [1/K]
    std::optional<Stated> windows_distance;  ///< between the middles of both windows. [m]
    Housing housing;                         ///< with the windows' widths
    std::optional<std::int64_t> pixels;
    SheetFlight flight;

    std::string file;
    std::map<std::string, base::SourceLocation> locations;  ///< of written keys
};

/// Full width at 1/e^2 over full width at half maximum of a Gaussian spot, sqrt(2 / ln 2) = 1.6986. [1]
[[nodiscard]] double widths_ratio();

/// @throws IoError  It cannot be read.
/// @throws ScenarioError  Syntax, unknown keys (with the nearest known name), types, values out of bounds, a missing
///   reference distance or range, what contradicts itself at sight: all of it at once.
[[nodiscard]] Sheet load_sheet(const std::filesystem::path& path);

/// The same from text. @param file  The name shown in errors.
[[nodiscard]] Sheet parse_sheet(std::string_view text, const std::string& file);

/// A sheet as a file that `parse_sheet` reads to the same sheet, but for places.
[[nodiscard]] std::string to_toml(const Sheet& sheet);

/// A value that is known to so many digits: half a unit of the last one on either side.
/// @param si  [SI]  @param unit  In which it is written. [SI]  @param digits  Significant ones.
[[nodiscard]] Stated stated(double si, double unit, int digits);

/// What must be there, which keys belong to the principle, and what two values say together.
/// @param problems  Receives what is wrong.
void check_together(const Sheet& sheet, std::vector<base::Problem>& problems);

/// The place of a key, or of its absence.
[[nodiscard]] base::SourceLocation location_of(const Sheet& sheet, const std::string& key);

}  // namespace spotwright::scenario
