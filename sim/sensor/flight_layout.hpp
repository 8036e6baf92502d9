// A time-of-flight sensor in numbers: what its detector sees of the beam, and how far its readings are unambiguous.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "sim/receiver/geometry.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::sensor {

/// The part of the space in front of a lens from which light reaches a round detector behind it, cut by a plane square
/// to the lens's axis. Radii in the plane of the mounting.
struct Field {
    double radius = 0.0;       ///< outside of it no light comes through any part of the lens. [m]
    double full_radius = 0.0;  ///< within it light comes through all of the lens; 0: nowhere. [m]
};

/// Through the rim of the lens, of half width A, and the rim of the detector, of radius r, in focus at the distance a:
/// r z / b + A |1 - z / a|, the detector's image and the blur about it, and the same with - for full light. Derived.
/// @param axial  z, distance in front of the lens, > 0. [m]  @param detector_radius  r. [m]
[[nodiscard]] Field field_at(const receiver::Receiver& receiver, double detector_radius, double axial);

/// What one frequency of a phase-shift sensor is.
struct FrequencyLayout {
    double frequency = 0.0;            ///< [Hz]
    double distance_per_radian = 0.0;  ///< of the phase. [m/rad]
    /// Of the error that harmonics of the light leave: c / (2 N f) in air, N buckets, and half of that for odd N, since
    /// square and triangle waves have odd harmonics only. None for sine light, which has none. Derived. [m]
    std::optional<double> cyclic_error_period;
};

/// Arrays run near end of the range, reference point, far end. The part is the calibration's reference, square to the
/// mounting normal.
struct FlightLayout {
    receiver::Receiver receiver;
    std::array<double, 3> distance{};          ///< emitter face to the part, along the beam. [m]
    double span = 0.0;                         ///< far less near end of the range, along the mounting normal. [m]
    std::array<double, 3> beam_radius{};       ///< in-plane 1/e^2 radius. [m]
    std::array<Field, 3> field;                ///< where the spot is
    std::array<double, 3> field_offset{};      ///< of the spot from the lens's axis, + where nearer spots lie. [m]
    std::array<bool, 3> spot_within_field{};   ///< whether all of the 1/e^2 radius lies within the field's radius
    std::array<double, 3> collected_power{};   ///< through the lens, while the emitter is on. [W]
    std::array<double, 3> received_power{};    ///< of it, on the detector. [W]
    double unambiguous_distance = 0.0;         ///< over which readings do not repeat themselves. [m]
    std::vector<FrequencyLayout> frequencies;  ///< phase-shift
    double mean_power = 0.0;                   ///< of the emitter. [W]
    std::string laser_class;                   ///< estimated, for pulses by their energy too
    std::string laser_caution;                 ///< that goes with it
};

/// Whether readings will be possible is not asked; `make_flight_instrument` does.
/// @throws ScenarioError  The near end lies behind the emitter's face or the lens.
/// @throws InternalError  The scenario's principle is not one of time of flight.
[[nodiscard]] FlightLayout make_flight_layout(const scenario::Scenario& scenario);

}  // namespace spotwright::sensor
