// How a sensor is placed and set before the parts of a job, and what closed forms say of it.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "sim/scenario/job.hpp"

namespace spotwright::study {

/// In what a sensor falls short of a job.
enum class Shortfall { distance, span, response, light, spot, speckle, error, readings, other };

/// `distance`, `span`, ... for files.
[[nodiscard]] std::string_view name_of(Shortfall shortfall);

struct Shortcoming {
    Shortfall kind = Shortfall::other;
    double factor = 0.0;  ///< needed over had, above 1; 0: no number says it. [1]
    std::string words;
};

/// Where and how a sensor is mounted, and what its user sets.
struct SensorSetup {
    double tilt = 0.0;                  ///< `mount.tilt_deg`, in-plane. [rad]
    bool specular = false;              ///< it sees mirrored light of a square part
    double displacement = 0.0;          ///< of the middle of the span from the reference point. [m]
    double clearance = 0.0;             ///< smallest between the sensor's front and the part, there. [m]
    std::vector<std::string> settings;  ///< key=value, all of them offered by the sensor
    bool operator==(const SensorSetup&) const = default;
};

/// Mountings that come into question: as delivered, and where a part may shine tilted until the part's mirrored light
/// meets the lens. @param sensor  Of the shelf.
[[nodiscard]] std::vector<SensorSetup> possible_mounts(const scenario::Job& job, const scenario::Scenario& sensor);

/// Smallest distance between the sensor's front and a square part at displacement 0. The front is that of the housing;
/// where that is not known it reaches from the beam to the far rim of the lens. [m]
[[nodiscard]] double front_clearance(const scenario::Scenario& sensor, double tilt);

/// Fills in displacement and clearance: the middle of the span as near to the reference point as the window allows.
/// @return What stands against it: distance outside the window, span too short.
[[nodiscard]] std::optional<Shortcoming> place_sensor(const scenario::Job& job, const scenario::Scenario& sensor,
                                                      SensorSetup& setup);

/// Shortest response that the sensor can be set to. [s]
[[nodiscard]] double shortest_response(const scenario::Scenario& sensor);

/// The shortest of the response times that the parts ask for. [s]
[[nodiscard]] double required_response(const scenario::Job& job);

/// None where the sensor can be set to answer in time.
[[nodiscard]] std::optional<Shortcoming> response_short(const scenario::Job& job, const scenario::Scenario& sensor);

/// Upper bound of the brightest pixel of a matt part over full well, at the longest exposure that the response allows,
/// by the light that a square part sends into the lens and the width of the imaged beam. Own derivation: power times
/// f_r cos(theta) times the solid angle of the lens; a Gaussian line has at most pitch sqrt(2 / pi) / w of its light on
/// a pixel. None where more than the matt base sends light: no closed form bounds that. [1]
/// Equation (shortlist.1).
[[nodiscard]] std::optional<double> brightest_share_bound(const scenario::Scenario& before_part, double displacement,
                                                          double longest_exposure);

/// None where the bound leaves room, or there is none.
[[nodiscard]] std::optional<Shortcoming> light_short(const scenario::Job& job, const scenario::Scenario& sensor,
                                                     const SensorSetup& setup);

/// Automatic exposure where it is offered, from the shortest exposure on; periods up to what the response allows; one
/// reading for an output. With these the light of every pose is looked at.
[[nodiscard]] std::vector<std::string> open_settings(const scenario::Job& job, const scenario::Scenario& sensor);

/// Offered numbers of averaged readings that answer in time at a period, longest first. [s]
[[nodiscard]] std::vector<std::int64_t> averages_in_time(const scenario::Job& job, const scenario::Scenario& sensor,
                                                         double period);

/// The scenario of a part of the job behind a sensor, where it stands in the middle of the span.
/// @throws ScenarioError  The sensor contradicts the part, such as a wavelength that its material does not know.
[[nodiscard]] scenario::Scenario before_part(const scenario::JobPart& part, const scenario::Scenario& sensor,
                                             const SensorSetup& setup);

/// The sensor as a scenario names it from anywhere: a name of the library, or a whole path.
[[nodiscard]] std::string sensor_reference(const scenario::Scenario& sensor);

/// Smallest dimension of the part's shape that a spot should lie on; none where it has none. [m]
[[nodiscard]] std::optional<double> smallest_feature(const scenario::Target& target);

}  // namespace spotwright::study
