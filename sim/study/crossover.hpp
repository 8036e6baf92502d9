// Crossover of the two principles: the errors of triangulation and of time of flight against distance.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/scenario/scenario.hpp"

namespace spotwright::study {

/// Uncertainty of one sensor at one distance.
struct ErrorAtDistance {
    std::optional<double> uncertainty;  ///< expanded, of the verdict; none where the sensor does not read. [m]
    std::string largest;                ///< largest contribution to it, by its name; empty without
    double valid_share = 0.0;           ///< of readings. [1]
    std::string obstacle;               ///< why there is no uncertainty, in a word or two; empty where there is one
    std::string reason;                 ///< the same as a sentence
};

struct CrossoverPoint {
    double distance = 0.0;  ///< from the emitter's face to the part. [m]
    ErrorAtDistance triangulation;
    ErrorAtDistance flight;
};

struct CrossoverStudy {
    double baseline = 0.0;  ///< from the beam to the triangulating lens, square to the beam. [m]
    scenario::Principle flight_principle = scenario::PhaseShift{};
    double power = 0.0;  ///< mean power of either sensor. [W]
    std::vector<CrossoverPoint> points;
    std::optional<double> crossover;  ///< see `crossover_distance`. [m]
};

struct CrossoverOptions {
    double nearest = 0.05;   ///< distance, > 0. [m]
    double farthest = 10.0;  ///< [m]
    std::int64_t count = 12;
    int threads = 0;                                                         ///< 0: all cores
    std::function<void(std::int64_t done, std::int64_t all)> progress = {};  ///< on the calling thread; may be empty
};

/// Separation of lens and beam in the scenario's own triangulating geometry, distance sin(receiver - emitter). [m]
[[nodiscard]] double triangulation_baseline(const scenario::Scenario& scenario);

/// The scenario's sensor pointed farther, as one that triangulates. The part stands at the distance, in the middle of
/// the range or near it. Housing, beam at the emitter's face, mean power, lens, array and baseline B stay; what depends
/// on the distance d is what would be adjusted on the bench:
/// - receiver: angle atan(B / d) from the beam, lens beside the emitter's face, array by Scheimpflug;
/// - beam: focused on the part, waist M^2 lambda d / (pi w_face), at most w_face;
/// - range: 5 % of d to either side, or as much of it as array and geometry hold;
/// - exposure: automatic, up to what the wanted response leaves to one reading. It has no lower limit: an exposure
///   shorter than electronics allow represents a dimmed laser, which collects as many electrons.
/// Errors then go by these rules. A shift of the part by ds moves its image by B f ds / d^2, so that a noise of the
/// spot's position weighs as d^2 / (B f); speckle leaves lambda d^2 / (B D) (study.4, NA = D / 2 d, sin = B / d); light
/// falls as 1 / d^2, which exposure makes up for until it is at its longest.
/// @throws ScenarioError  The lens cannot be focused on the distance, or stands on the wrong side of the beam; a
/// specular
///   mount.
[[nodiscard]] scenario::Scenario triangulation_at(const scenario::Scenario& scenario, double distance);

/// The same by time of flight: pulsed where the scenario is, else by phase. Beam, lens and exposure as above, the lens
/// where `flight.baseline` has it; `flight.pulses` as many as the wanted response has room for. A triangulating
/// scenario's power is that of the modulated light; pulses keep their peak power, and triangulation gets their mean.
/// Phase noise in metres does not ask for the distance, but for light alone: c / (4 pi f) sqrt(2 / electrons) /
/// contrast, flat where exposure makes up for distance and growing as d where photons, as d^2 where dark noise, decide.
/// The range is 5 % of d to either side, or as far as noise may read: a fortieth of the period of the highest
/// frequency, or the length of the pulse; yet not nearer than 0.6 d.
/// @throws ScenarioError  As above.
[[nodiscard]] scenario::Scenario flight_at(const scenario::Scenario& scenario, double distance);

/// Reads the scenario's part at a distance with both sensors: some hundred readings and few dozen patches of
/// statistical speckle, so that an uncertainty is known to about a tenth. A sensor that cannot be built or does not
/// read (verdict `unreadable`) has none, but a reason.
/// @param threads  0: all cores.
[[nodiscard]] CrossoverPoint crossover_point(const scenario::Scenario& scenario, double distance, int threads);

/// Distance beyond which time of flight is the better choice: between the last distance at which triangulation has the
/// smaller uncertainty and the next where both read, where straight lines between logarithms meet. [m]
/// @param points  By ascending distance.
/// @return none where triangulation is never better, or still is at the last distance where both read.
[[nodiscard]] std::optional<double> crossover_distance(std::span<const CrossoverPoint> points);

/// Reads the scenario's part at distances in equal steps of their logarithm.
/// @throws InternalError  The options name no interval.
[[nodiscard]] CrossoverStudy crossover_study(const scenario::Scenario& scenario, const CrossoverOptions& options = {});

}  // namespace spotwright::study
