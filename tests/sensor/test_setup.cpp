// A sensor is built once and reads many parts: what that must not change.
#include <catch2/catch.hpp>

#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/stations.hpp"

using namespace spotwright;
using base::mm;

namespace {

scenario::Scenario with(const std::string& material, std::vector<std::string> settings) {
    return scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "test.toml", settings);
}

// Settings that leave the sensor as it is: part, place, motion, light, warmth, exposure and run.
const std::vector<std::vector<std::string>>& other_scenes() {
    static const std::vector<std::vector<std::string>> all{
        {"target.displacement_mm=1.3", "target.tilt_deg=[8, -3]"},
        {"mount.tilt_deg=[5, 2]"},
        {"surroundings.illuminance_lx=20000", "surroundings.light=daylight"},
        {"surroundings.temperature_C=41", "thermal.pointing_urad_per_K=3"},
        {"exposure.mode=automatic", "exposure.exposure_us=1", "exposure.level=0.4"},
        {"seed=7", "run.readings=500", "reading.average=4", "reading.choose=nearest"},
    };
    return all;
}

std::vector<std::string> joined(std::vector<std::string> first, const std::vector<std::string>& second) {
    first.insert(first.end(), second.begin(), second.end());
    return first;
}

}  // namespace

TEST_CASE("a sensor that is used again reads to the last bit as one built for the scene", "[sensor][unit]") {
    const std::vector<std::vector<std::string>> principles{
        {},
        {"principle=phase-shift"},
        {"principle=pulsed", "flight.timing=photon-counting", "mount.reference_distance_mm=2000"}};
    const std::vector<std::string> range{"mount.range_mm=[-4, 4]"};
    for (const std::vector<std::string>& principle : principles) {
        const std::vector<std::string> common = joined(range, principle);
        const sensor::Sensor sensor = sensor::make_sensor(with("white-ceramic", common), 1);
        for (const std::vector<std::string>& scene : other_scenes()) {
            const scenario::Scenario s = with("ground-steel", joined(common, scene));
            INFO(common.back() << ' ' << scene.front());
            REQUIRE(sensor::fits(sensor, s));
            const auto again = noiseless_reading(set_up(sensor, s), s.target.displacement);
            const auto fresh = noiseless_reading(sensor::set_up(s, 1), s.target.displacement);
            CHECK(again == fresh);
        }
    }
}

TEST_CASE("another sensor is not taken for the scenario's", "[sensor][unit]") {
    const sensor::Sensor sensor = sensor::make_sensor(with("white-ceramic", {}), 1);
    for (const char* setting : {"receiver.angle_deg=32", "detector.device_seed=2", "emitter.power_mW=0.2",
                                "mount.range_mm=[-4, 4]", "reading.calibrated_on=white-paper", "principle=pulsed"}) {
        const scenario::Scenario s = with("white-ceramic", {setting});
        INFO(setting);
        CHECK_FALSE(sensor::fits(sensor, s));
        CHECK_THROWS_AS(set_up(sensor, s), base::InternalError);
    }
}

TEST_CASE("light of the surroundings is no part of a calibration", "[sensor][unit]") {
    // Photons of the surroundings come first in a pulse's place and would bend a calibration made under them.
    const std::vector<std::string> counting{"principle=pulsed", "flight.timing=photon-counting",
                                            "mount.reference_distance_mm=2000", "mount.range_mm=[-200, 200]"};
    const auto dark = sensor::make_flight_instrument(with("white-ceramic", counting), 1);
    const auto bright = sensor::make_flight_instrument(
        with("white-ceramic", joined(counting, {"surroundings.illuminance_lx=100000", "surroundings.light=daylight"})),
        1);
    CHECK(std::get<sensor::PulseConstants>(dark.constants).offset ==
          std::get<sensor::PulseConstants>(bright.constants).offset);
    for (const double reach : {1850.0 * mm, 2000.0 * mm, 2150.0 * mm}) {
        CHECK(dark.calibration->displacement(reach) == bright.calibration->displacement(reach));
    }
}

TEST_CASE("a lens in the beam is rejected with its key", "[sensor][unit]") {
    const scenario::Scenario s = with("white-ceramic", {"receiver.angle_deg=1"});
    try {
        static_cast<void>(sensor::receiver_of(s));
        FAIL("not rejected");
    } catch (const base::ScenarioError& error) {
        CHECK(error.problems().front().location.key == "receiver.angle_deg");
    }
}
