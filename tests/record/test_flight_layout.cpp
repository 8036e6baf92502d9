// Time of flight in numbers: what the detector sees, what phases are in distance, how far readings are unambiguous.
#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/flight/phase_shift.hpp"
#include "sim/record/json.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/flight_instrument.hpp"
#include "sim/sensor/flight_layout.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using base::mm, base::MHz, base::kHz, base::ns, base::mW, base::pi, base::speed_of_light;
using Catch::Detail::Approx;

namespace {

// Of the group index of air, 1.00027 or so by any source: what hand-derived distances in vacuum are too long by.
constexpr double of_air = 4e-4;

// A sensor over a conveyor; numbers invented.
scenario::Scenario timed_sensor(const std::vector<std::string>& settings = {}) {
    std::vector<std::string> all{"principle=phase-shift",         "mount.reference_distance_mm=4000",
                                 "mount.range_mm=[-3000,2500]",   "emitter.wavelength_nm=850",
                                 "emitter.power_mW=30",           "emitter.waist_radius_um=[3000,3000]",
                                 "receiver.focal_length_mm=40",   "receiver.aperture_mm=30",
                                 "receiver.transmission=0.6",     "flight.detector_diameter_mm=0.5",
                                 "flight.modulation_MHz=[20,16]", "reading.calibrated_on=white-paper"};
    all.insert(all.end(), settings.begin(), settings.end());
    return scenario::parse("schema = 1\n[target]\nmaterial = \"white-paper\"\n", "sensor.toml", all);
}

sensor::FlightLayout layout_of(const std::vector<std::string>& settings = {}) {
    return sensor::make_flight_layout(timed_sensor(settings));
}

}  // namespace

TEST_CASE("the detector's image and the blur about it bound what a time-of-flight sensor sees", "[flight][layout]") {
    const sensor::FlightLayout layout = layout_of();
    CHECK(layout.distance[0] == Approx(1.0));
    CHECK(layout.distance[2] == Approx(6.5));
    // b = 1 / (1/40 - 1/4000) = 40.404 mm; r z / b = 6.1875, 24.75, 40.219 mm; blur 15 |1 - z / 4| = 11.25, 0, 9.375
    // mm.
    CHECK(layout.field[0].radius == Approx(17.4375 * mm));
    CHECK(layout.field[0].full_radius == 0.0);
    CHECK(layout.field[1].radius == Approx(24.75 * mm));
    CHECK(layout.field[1].full_radius == Approx(24.75 * mm));
    CHECK(layout.field[2].radius == Approx(49.59375 * mm));
    CHECK(layout.field[2].full_radius == Approx(30.84375 * mm));
    for (std::size_t i = 0; i < 3; ++i) CHECK(layout.spot_within_field[i]);
}

TEST_CASE("a lens beside the beam loses the near spot, and the light says so too", "[flight][layout]") {
    const sensor::FlightLayout layout = layout_of({"flight.baseline_mm=35"});
    // The axis crosses the beam at 4 m, so at 1 m it is 35 (1 - 1/4) = 26.25 mm off, beyond the field of 17.44 mm; the
    // axis leans by 35 / 4000, which changes lengths by half the square of it.
    constexpr double lean = 0.5 * (35.0 / 4000.0) * (35.0 / 4000.0);
    CHECK(std::abs(layout.field_offset[0]) == Approx(26.25 * mm).epsilon(2.0 * lean));
    CHECK_FALSE(layout.spot_within_field[0]);
    CHECK(layout.received_power[0] < 0.01 * layout.collected_power[0]);
    CHECK(std::abs(layout.field_offset[1]) < 1e-9);
    // At 6.5 m, 21.9 mm off: a spot of 3 mm lies within the 30.8 mm that the whole lens sees.
    CHECK(std::abs(layout.field_offset[2]) == Approx(21.875 * mm).epsilon(2.0 * lean));
    CHECK(layout.spot_within_field[2]);
    // What a Gaussian beam has beyond 8.9 mm at a radius of 3 mm: exp(-2 (8.9 / 3)^2), 2e-8.
    CHECK(layout.received_power[2] == Approx(layout.collected_power[2]).epsilon(1e-6));
}

TEST_CASE("a matt tile sends the lens what its solid angle takes", "[flight][layout]") {
    const scenario::Scenario s = timed_sensor();
    const sensor::FlightLayout layout = sensor::make_flight_layout(s);
    const double reflectance = scenario::reflectance_at(s.reading.reference, s.emitter.wavelength);
    for (const std::size_t i : {1U, 2U}) {
        const double sine = 15.0 * mm / std::hypot(15.0 * mm, layout.distance[i]);
        // A spot of 3 mm radius is not a point: obliquity changes by its square over that of the distance, 1e-6.
        CHECK(layout.received_power[i] == Approx(30.0 * mW * reflectance * sine * sine * 0.6).epsilon(1e-5));
    }
}

TEST_CASE("readings repeat where all phases do", "[flight][layout]") {
    // 20 and 16 MHz have the common divisor 4 MHz.
    const sensor::FlightLayout two = layout_of();
    CHECK(two.unambiguous_distance == Approx(speed_of_light / (2.0 * 4.0 * MHz)).epsilon(of_air));
    CHECK(two.unambiguous_distance < speed_of_light / (2.0 * 4.0 * MHz));
    const scenario::Scenario s = timed_sensor();
    CHECK(two.unambiguous_distance == Approx(sensor::make_flight_instrument(s, 1).unambiguous_distance));
    const sensor::FlightLayout pulses = layout_of({"principle=pulsed", "flight.pulse_rate_kHz=250"});
    CHECK(pulses.unambiguous_distance == Approx(speed_of_light / (2.0 * 250.0 * kHz)).epsilon(of_air));
    CHECK(pulses.frequencies.empty());
}

TEST_CASE("a radian of phase is a length", "[flight][layout]") {
    const sensor::FlightLayout layout = layout_of();
    REQUIRE(layout.frequencies.size() == 2);
    CHECK(layout.frequencies[0].distance_per_radian == Approx(1192.84 * mm).epsilon(of_air));  // c / (4 pi 20 MHz)
    CHECK(layout.frequencies[1].distance_per_radian == Approx(1491.05 * mm).epsilon(of_air));
    CHECK_FALSE(layout.frequencies[0].cyclic_error_period);
}

TEST_CASE("the error of harmonics repeats with the stated period and no shorter one", "[flight][layout]") {
    for (const std::int64_t buckets : {3, 4, 5, 6}) {
        CAPTURE(buckets);
        const scenario::Scenario s =
            timed_sensor({"flight.waveform=square", "flight.modulation_MHz=[20]", "flight.bandwidth_MHz=2000",
                          "flight.buckets=" + std::to_string(buckets)});
        const double period = sensor::make_flight_layout(s).frequencies.at(0).cyclic_error_period.value();
        const flight::Modulation modulation = sensor::modulation_of(s, 0);
        const double constant = std::arg(flight::harmonic(modulation, 1));
        // Error of the phase of light from a distance, in vacuum. [rad]
        const auto error = [&](double distance) {
            const double delay = 2.0 * distance / speed_of_light;
            const flight::Light light{{{delay, 1e9}}, 0.0};
            const double found = flight::demodulate(flight::bucket_electrons(modulation, light, 1e-3)).phase;
            return std::remainder(found - constant - 2.0 * pi * modulation.frequency * delay, 2.0 * pi);
        };
        const double in_vacuum = period * (speed_of_light / (2.0 * 20.0 * MHz)) /
                                 (2.0 * pi * sensor::make_flight_layout(s).frequencies[0].distance_per_radian);
        double repeated = 0.0;
        double halved = 0.0;
        double largest = 0.0;
        for (int i = 0; i < 24; ++i) {
            const double place = 1.0 + in_vacuum * i / 24.0;
            largest = std::max(largest, std::abs(error(place)));
            repeated = std::max(repeated, std::abs(error(place + in_vacuum) - error(place)));
            halved = std::max(halved, std::abs(error(place + 0.5 * in_vacuum) - error(place)));
        }
        CHECK(largest > 1e-3);
        CHECK(repeated < 1e-5);  // harmonics left out are below 1e-6 of the fundamental
        CHECK(halved > 0.5 * largest);
    }
}

TEST_CASE("pulses are classed by pulses, modulated light by its mean power", "[flight][layout]") {
    const sensor::FlightLayout modulated = layout_of();
    CHECK(modulated.mean_power == 30.0 * mW);
    CHECK(modulated.laser_class == emitter::estimated_class(850e-9, 30.0 * mW));
    CHECK(modulated.laser_caution == emitter::safety_caution());
    const sensor::FlightLayout pulses =
        layout_of({"principle=pulsed", "emitter.power_mW=5000", "flight.pulse_ns=5", "flight.pulse_rate_kHz=100"});
    // A Gaussian pulse holds sqrt(pi / (4 ln 2)) = 1.06447 of peak power times full width: 26.61 nJ.
    CHECK(pulses.mean_power == Approx(2.66117 * mW).epsilon(1e-5));
    CHECK(pulses.laser_class == emitter::estimated_pulse_class(850e-9, {5.0 * ns, 100.0 * kHz}, 26.6117e-9));
    CHECK(pulses.laser_caution == emitter::pulse_safety_caution());
}

TEST_CASE("a layout by time of flight tells what it cannot be", "[flight][layout]") {
    scenario::Scenario s = timed_sensor();
    s.principle = scenario::Triangulation{};
    CHECK_THROWS_AS(sensor::make_flight_layout(s), base::InternalError);
    s = timed_sensor();
    s.mount.range[0] = -4.5;
    CHECK_THROWS_AS(sensor::make_flight_layout(s), base::ScenarioError);
}

TEST_CASE("the layout as JSON names its units", "[flight][layout][json]") {
    const scenario::Scenario s = timed_sensor({"flight.waveform=square"});
    const sensor::FlightLayout layout = sensor::make_flight_layout(s);
    const nlohmann::ordered_json json = record::to_json(layout, s);
    std::vector<std::string> keys;
    for (const auto& [key, value] : json.items()) keys.push_back(key);
    CHECK(keys == std::vector<std::string>{"principle", "distance_mm", "span_mm", "unambiguous_range_mm", "frequencies",
                                           "beam_radius_um", "field_radius_mm", "full_field_radius_mm",
                                           "field_offset_mm", "spot_within_field", "collected_power_nW",
                                           "received_power_nW", "mean_power_mW", "laser_class_estimate",
                                           "laser_caution", "room"});
    CHECK(json["principle"] == "phase-shift");
    CHECK(json["distance_mm"][2].get<double>() == Approx(6500.0));
    CHECK(json["span_mm"].get<double>() == Approx(5500.0));
    CHECK(json["field_radius_mm"][1].get<double>() == Approx(24.75));
    CHECK(json["beam_radius_um"][1].get<double>() == Approx(layout.beam_radius[1] * 1e6));
    CHECK(json["received_power_nW"][1].get<double>() == Approx(layout.received_power[1] * 1e9));
    CHECK(json["spot_within_field"] == nlohmann::ordered_json::array({true, true, true}));
    CHECK(json["frequencies"][1]["modulation_MHz"].get<double>() == Approx(16.0));
    CHECK(json["frequencies"][0]["mm_per_rad"].get<double>() == Approx(1192.84).epsilon(of_air));
    CHECK(json["frequencies"][0]["cyclic_error_period_mm"].get<double>() == Approx(1873.70).epsilon(of_air));
    const scenario::Scenario sine = timed_sensor();
    const nlohmann::ordered_json plain = record::to_json(sensor::make_flight_layout(sine), sine);
    CHECK(plain["frequencies"][0]["cyclic_error_period_mm"].is_null());
}
