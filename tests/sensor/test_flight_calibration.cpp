// A time-of-flight sensor reads the reference that it is calibrated on where it stands.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/flight_instrument.hpp"

using namespace spotwright;
using base::mm, base::um;

// A beam that widens by 20 mrad either side and a detector of 6 mm behind a lens of 20 mm: the mean way of the light is
// longer than that along the axis by what changes over the range by tenths of a millimetre. Nothing of it is left but
// what interpolation between 33 places and the accuracy of each leave, 10 um of way.
TEST_CASE("a wide beam on a wide detector reads its own reference over the range", "[flight][unit]") {
    const std::vector<std::string> settings{"principle=phase-shift",         "mount.reference_distance_mm=300",
                                            "mount.range_mm=[-150, 200]",    "emitter.waist_radius_um=[12, 12]",
                                            "emitter.wavelength_nm=780",     "emitter.waist_displacement_mm=-300",
                                            "receiver.focal_length_mm=20",   "receiver.aperture_mm=15",
                                            "flight.detector_diameter_mm=6", "target.material=white-ceramic"};
    const scenario::Scenario s = scenario::parse("", "wide", settings);
    const sensor::FlightSetup setup = sensor::set_up(sensor::make_flight_instrument(s, 1), s);
    for (const double displacement : {-140.0 * mm, -60.0 * mm, 0.0, 90.0 * mm, 190.0 * mm}) {
        const sensor::FlightPose pose = sensor::make_flight_pose(setup, displacement);
        const auto reading = sensor::noiseless_reading(setup, pose);
        INFO("at " << displacement / mm << " mm");
        REQUIRE(reading);
        CHECK(std::abs(*reading - displacement) < 10.0 * um);
    }
}
