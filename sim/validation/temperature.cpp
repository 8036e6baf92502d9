#include <cmath>

#include "sim/base/units.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/support.hpp"
#include "sim/sensor/temperature.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::validation {

namespace {

using namespace base;

constexpr const char* shifts = "closed form at the reference point, derived; worked value";
constexpr const char* gains = "partial derivative of z = a u sin(beta) / D, derived; worked value";

// Displacement, towards the sensor, that a cold sensor reads where a warm one sees the reference point.
double apparent_z(const receiver::Receiver& cold, const sensor::PartsAtTemperature& warm) {
    const double length = -warm.beam.face.z() / warm.beam.direction.z();
    const Eigen::Vector3d lit = warm.beam.face + length * warm.beam.direction;
    const auto at = receiver::trace(warm.receiver, receiver::to_receiver(warm.receiver, lit), 0.0, 0.0);
    return -receiver::displacement_at(cold, at.value().u);
}

// Of the worked example sensor with one coefficient, warmed by one kelvin.
double apparent_z_for(double scenario::Thermal::*coefficient, double value) {
    scenario::Scenario s = worked_example_sensor();
    s.mount.reference_distance = 50.0 * mm;
    s.thermal.housing_expansion = s.thermal.array_expansion = s.thermal.focal_length_change = 0.0;
    s.thermal.wavelength_change = 0.0;
    s.thermal.*coefficient = value;
    return apparent_z(sensor::receiver_of(s), sensor::parts_at_temperature(s, room_temperature + 1.0));
}

// Slope of the reading of a fixed image place, 5 mm nearer than the reference point, against one length or angle.
double gain_for(double receiver::Receiver::*member, double step) {
    const receiver::Receiver r = sensor::receiver_of(worked_example_sensor());
    const double u = receiver::image_position(r, -5.0 * mm).value();
    const auto z_with = [&](double change) {
        receiver::Receiver changed = r;
        changed.*member += change;
        receiver::set_detector_tilt(changed, changed.detector_tilt);
        return -receiver::displacement_at(changed, u);
    };
    return (z_with(step) - z_with(-step)) / (2.0 * step);
}

}  // namespace

std::vector<Check> temperature_checks() {
    using scenario::Thermal, receiver::Receiver;
    constexpr double part = 1e-4;   // of a micrometre or of ten microradians: first order alone
    constexpr double step = 1e-6;   // m or rad, of central differences
    const double towards_t = -1.0;  // the lens shift counts towards x, against the transverse coordinate
    return {
        worked("temperature.lens_shift", "lens across its axis by 1 um: -(1 + 1/m) / sin(theta)", shifts, "um",
               -6.000000, apparent_z_for(&Thermal::lens_shift, towards_t * part * um) / part / um),
        worked("temperature.lens_shift.exact", "the same to all orders", "exact projection; worked value", "um",
               -6.000693, apparent_z_for(&Thermal::lens_shift, towards_t * um) / um),
        worked("temperature.array_shift", "array along itself by 1 um: -sin(beta) / (m sin(theta))", shifts, "um",
               -3.023716, apparent_z_for(&Thermal::array_shift, part * um) / part / um),
        worked("temperature.pointing", "beam turned by 10 urad at 50 mm: -d cot(theta)", shifts, "um", -0.8660254,
               apparent_z_for(&Thermal::pointing, part * 10e-6) / part / um),
        {"temperature.standoff", "aluminium, 23.6e-6/K, 10 K: a stand-off of 50 mm grows by 11.8 um",
         "W. D. Callister, Materials Science and Engineering, table B.6; worked value", "um", 11.8,
         apparent_z_for(&Thermal::housing_expansion, 10.0 * 23.6e-6) / um, 0.005,
         "the gain of the warm frame and its reading off the reference point, 2.4e-4 each"},
        worked("temperature.gain.object_distance", "dz/da at z = 5 mm is z/a", gains, "1", 0.08333333,
               gain_for(&Receiver::object_distance, step)),
        worked("temperature.gain.image_distance", "dz/db at z = 5 mm", gains, "1", -0.1486245,
               gain_for(&Receiver::image_distance, step)),
        worked("temperature.gain.angle", "dz/dtheta at z = 5 mm", gains, "mm/rad", -7.826921,
               gain_for(&Receiver::angle, step) / mm),
        worked("temperature.gain.array_angle", "dz/dbeta at z = 5 mm", gains, "mm/rad", 4.225960,
               -gain_for(&Receiver::detector_tilt, step) / mm),
    };
}

}  // namespace spotwright::validation
