// The sensor warms: drift of its reading, and what setting the zero takes away.
#include <catch2/catch.hpp>

#include <cmath>
#include <numeric>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/paths.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/study/drift.hpp"
#include "sim/sensor/temperature.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using base::mm, base::um, base::degree, base::room_temperature;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

// Few wide, even pixels without fixed pattern: what is left is geometry.
scenario::Scenario smooth_sensor(std::vector<std::string> settings = {}) {
    std::vector<std::string> all{"detector.response_nonuniformity=0",
                                 "detector.offset_nonuniformity_e=0",
                                 "run.speckle=off",
                                 "thermal.housing_expansion_ppm_per_K=0",
                                 "thermal.array_expansion_ppm_per_K=0",
                                 "thermal.focal_length_ppm_per_K=0",
                                 "thermal.wavelength_nm_per_K=0",
                                 "exposure.exposure_us=1.8"};
    all.insert(all.end(), settings.begin(), settings.end());
    return scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "test.toml", all);
}

// A path that rises by ten kelvin in an hour, once or up and down again.
scenario::TemperaturePath rise() {
    return {{0.0, 3600.0}, {room_temperature, room_temperature + 10.0}};
}

study::DriftStudy drift_over(const scenario::TemperaturePath& path, std::vector<std::string> settings) {
    scenario::Scenario s = smooth_sensor(std::move(settings));
    s.surroundings.temperatures = path;
    return study::drift_study(sensor::set_up(s, 1), 1);
}

const study::ResetInterval& at_interval(const study::DriftStudy& study, double interval) {
    for (const study::ResetInterval& each : study.resets) {
        if (each.interval == interval) return each;
    }
    throw std::runtime_error("no such interval");
}

// The centroid's error with the phase of the spot within a pixel: `measure::pixel_error` of this sensor at the
// reference point is 0.028 um, of which three are allowed for a reading.
constexpr double pixel_phase = 3.0 * 0.028 * um;

}  // namespace

TEST_CASE("at 20 C nothing is warmed: the parts are those of the calibration to the last bit", "[temperature]") {
    const scenario::Scenario s = scenario::parse("[target]\nmaterial = \"white-ceramic\"\n");
    const sensor::PartsAtTemperature parts = sensor::parts_at_temperature(s, room_temperature);
    const receiver::Receiver cold = sensor::receiver_of(s);
    CHECK(parts.receiver.object_distance == cold.object_distance);
    CHECK(parts.receiver.pitch == cold.pitch);
    CHECK(parts.receiver.lens_shift == 0.0);
    CHECK(parts.beam.direction == sensor::beam_of(s).direction);
    for (const double displacement : {-4.0 * mm, 0.0, 3.0 * mm}) {
        CHECK(receiver::image_position(parts.receiver, displacement) == receiver::image_position(cold, displacement));
    }
}

TEST_CASE("a warm receiver's image place is undone by its own inverse and slope", "[temperature]") {
    scenario::Scenario s = smooth_sensor({"thermal.lens_shift_um_per_K=2", "thermal.array_shift_um_per_K=-3",
                                          "thermal.housing_expansion_ppm_per_K=200"});
    const receiver::Receiver r = sensor::parts_at_temperature(s, room_temperature + 40.0).receiver;
    for (const double displacement : {-4.0 * mm, 0.0, 3.0 * mm}) {
        const double u = receiver::image_position(r, displacement).value();
        CHECK_THAT(receiver::displacement_at(r, u), WithinAbs(displacement, 1e-12));  // rounding
        const double step = 1e-6;
        const double slope = (receiver::image_position(r, displacement - step).value() -
                              receiver::image_position(r, displacement + step).value()) /
                             (2.0 * step);
        CHECK_THAT(receiver::sensitivity_at(r, displacement), WithinRel(slope, 1e-7));  // of central differences
    }
}

TEST_CASE("each coefficient drifts the whole model's reading by its partial derivative", "[temperature]") {
    // Closed forms at the reference point, per kelvin; displacement counts away from the sensor.
    const double theta = 30.0 * degree;
    const double m = 18.0 / (45.0 - 18.0);
    const double beta = std::atan(std::tan(theta) / m);
    struct Case {
        std::string setting;
        std::string cause;
        double per_kelvin;
    };
    const std::vector<Case> cases{
        {"thermal.lens_shift_um_per_K=-1", "shift of the lens", (1.0 + 1.0 / m) / std::sin(theta) * um},
        {"thermal.array_shift_um_per_K=1", "shift of the array", std::sin(beta) / (m * std::sin(theta)) * um},
        {"thermal.pointing_urad_per_K=10", "pointing of the beam", 0.5 / std::tan(theta) * um},
        {"thermal.bending_urad_per_K=10", "bending of the housing", 0.5 / std::tan(theta) * um},
        {"thermal.housing_expansion_ppm_per_K=23.6", "expansion of the housing", -1.18 * um},
    };
    for (const Case& each : cases) {
        INFO(each.cause);
        const study::DriftStudy study = study::drift_study(sensor::set_up(smooth_sensor({each.setting}), 1), 1);
        REQUIRE(study.causes.size() == 9);
        for (const study::DriftCause& cause : study.causes) {
            const bool acts = cause.name == each.cause || cause.name == "all together";
            // Two readings, ten kelvin apart, each with its pixel phase; second order is far below.
            CHECK_THAT(cause.here, WithinAbs(acts ? each.per_kelvin : 0.0, acts ? 2.0 * pixel_phase / 10.0 : 0.0));
        }
    }
}

TEST_CASE("the truth on a curved part is that of the beam as it stands, warmed", "[temperature]") {
    const scenario::Scenario s =
        smooth_sensor({"target.shape=sphere", "target.sphere.radius_mm=2", "thermal.pointing_urad_per_K=1000"});
    const sensor::TriangulationSetup cold = sensor::set_up_triangulation(s, 1);
    const sensor::TriangulationSetup warm = sensor::at_temperature(cold, room_temperature + 10.0);
    CHECK(sensor::make_pose(cold, 0.0, 1).true_displacement == Approx(0.0).margin(1e-12));
    // Ten milliradian off, from the face 50 mm above the crest, onto a circle of 2 mm about a point 2 mm below it: the
    // nearer root of |face + t d - centre|^2 = r^2.
    const double turned = 0.01;
    const double above = 52.0 * mm;
    const double radius = 2.0 * mm;
    const double half_b = -above * std::cos(turned);
    const double t = -half_b - std::sqrt(half_b * half_b - (above * above - radius * radius));
    const double height = 50.0 * mm - t * std::cos(turned);
    CHECK(height < -0.06 * mm);
    // Beyond the reach of rounding nothing separates the two.
    CHECK(sensor::make_pose(warm, 0.0, 1).true_displacement == Approx(-height).epsilon(1e-9));
}

TEST_CASE("causes that are small add up to the drift of all together", "[temperature]") {
    const scenario::Scenario s =
        smooth_sensor({"thermal.lens_shift_um_per_K=0.2", "thermal.pointing_urad_per_K=3",
                       "thermal.housing_expansion_ppm_per_K=23.6", "thermal.array_expansion_ppm_per_K=2.5"});
    const study::DriftStudy study = study::drift_study(sensor::set_up(s, 1), 1);
    double near = 0.0;
    double far = 0.0;
    for (std::size_t i = 0; i + 1 < study.causes.size(); ++i) {
        near += study.causes[i].near;
        far += study.causes[i].far;
    }
    const double phases = 4.0 * 2.0 * pixel_phase / 10.0;  // of four causes that act
    CHECK_THAT(study.causes.back().near, WithinAbs(near, phases));
    CHECK_THAT(study.causes.back().far, WithinAbs(far, phases));
    CHECK(std::abs(study.causes.back().far) > 10.0 * phases);
}

TEST_CASE("an even expansion of everything but the array leaves the gain: only the array's own changes it",
          "[temperature]") {
    const auto gain = [](const std::string& setting) {
        const study::DriftStudy study = study::drift_study(sensor::set_up(smooth_sensor({setting}), 1), 1);
        return (study.causes.back().far - study.causes.back().near) / (0.96 * 10.0 * mm);
    };
    // Reading against displacement: the housing spreads the image, the array its pixels. Both were calibrated together,
    // so equal expansion of both changes no image place of the scaled scene: gain drifts are of opposite sign.
    const double phases = 2.0 * 2.0 * pixel_phase / 10.0 / (9.6 * mm);
    CHECK_THAT(gain("thermal.array_expansion_ppm_per_K=100"), WithinAbs(-100e-6, 30e-6 + phases));
    CHECK(std::abs(gain("thermal.housing_expansion_ppm_per_K=100")) < 30e-6 + phases);
}

TEST_CASE("on a steady drift the error left after resets is the drift within an interval", "[temperature]") {
    // 5 um/K and 10 K in an hour: D t from 0 to D T within each interval, whose root mean square is D T / sqrt 3.
    const study::DriftStudy study = drift_over(rise(), {"thermal.lens_shift_um_per_K=1"});
    const double whole = std::abs(study.path.back().error);
    CHECK_THAT(whole, WithinRel(50.0 * um, 0.01));  // first order of 10 um of shift
    for (const double parts : {1.0, 2.0, 4.0, 8.0, 16.0}) {
        INFO(parts);
        const study::ResetInterval& left = at_interval(study, 3600.0 / parts);
        // The path is looked at in 4096 steps; the drift is straight within a hundredth.
        CHECK_THAT(left.largest, WithinRel(whole / parts, 0.02));
        CHECK_THAT(left.rms, WithinRel(whole / parts / std::sqrt(3.0), 0.02));
    }
    CHECK(study.resets.front().interval == study::endless);
    CHECK(study.resets.front().largest == whole);
}

TEST_CASE("half the interval leaves half the error, and the scenario's own interval is what the path shows",
          "[temperature]") {
    const study::DriftStudy study = drift_over(rise(), {"thermal.lens_shift_um_per_K=1", "reading.zero_reset_s=700"});
    const study::ResetInterval& own = at_interval(study, 700.0);
    double largest = 0.0;
    for (const study::DriftPoint& point : study.path) largest = std::max(largest, std::abs(point.after_reset));
    CHECK(largest == own.largest);
    CHECK(at_interval(study, 450.0).rms / at_interval(study, 900.0).rms == Approx(0.5).epsilon(0.02));
}

TEST_CASE("a steady temperature leaves no drift, whatever the temperature was calibrated at", "[temperature]") {
    const scenario::TemperaturePath steady{{0.0, 60.0}, {room_temperature + 7.0, room_temperature + 7.0}};
    const study::DriftStudy study = drift_over(steady, {"thermal.lens_shift_um_per_K=1", "reading.zero_reset_s=30"});
    CHECK_THAT(study.path.back().error, WithinRel(-35.0 * um, 0.01));
    CHECK_THAT(study.path.back().after_reset, WithinAbs(0.0, 1e-12));
}

TEST_CASE("electronics of timed light drift by their delay, and air by its index", "[temperature]") {
    const scenario::Scenario s =
        scenario::parse("principle = \"phase-shift\"\n[target]\nmaterial = \"white-ceramic\"\n", "test.toml",
                        std::vector<std::string>{"mount.reference_distance_mm=2000", "mount.range_mm=[-500, 500]",
                                                 "flight.delay_drift_ps_per_K=2", "emitter.wavelength_nm=850",
                                                 "emitter.power_mW=5", "run.speckle=off", "exposure.exposure_us=120"});
    const study::DriftStudy study = study::drift_study(sensor::set_up(s, 1), 1);
    REQUIRE(study.causes.size() == 3);
    CHECK(study.causes[1].name == "delay of the electronics");
    CHECK_THAT(study.causes[1].here, WithinRel(2.0 * 0.149896229 * mm, 1e-3));  // 1 ps is 0.1499 mm in vacuum
    // d n_g / dT = -9.63e-7 per kelvin at 850 nm: the reading of 2 m shrinks by 1.93 um.
    CHECK_THAT(study.causes[0].here, WithinRel(-2.0 * 9.63e-7, 0.02));  // dry against half moist, swing of 5 K
}

TEST_CASE("a path of temperatures names its bad lines", "[temperature]") {
    const auto message = [](const std::string& text) {
        try {
            static_cast<void>(scenario::parse_temperature_path(text, "day.csv"));
        } catch (const base::ScenarioError& error) {
            return std::string(error.what());
        }
        return std::string("none");
    };
    using Catch::Matchers::Contains;
    CHECK(message("time_s,temperature_C\n0,20\n60,21\n") == "none");
    CHECK_THAT(message(""), Contains("empty"));
    CHECK_THAT(message("time_s,temperature_C\n0,20\n"), Contains("at least two"));
    CHECK_THAT(message("time_s,temperature_C\n0,20\n60,21\n60,22\n"), Contains("day.csv:4") && Contains("repeats"));
    CHECK_THAT(message("time_s,temperature_C\n0,20\n-1,21\n"), Contains("day.csv:3") && Contains("backwards"));
    CHECK_THAT(message("time_s,temperature_F\n0,20\n"), Contains("day.csv:1") && Contains("temperature_F"));
    CHECK_THAT(message("time_s,temperature_C\n0,20\n5,300\n"), Contains("day.csv:3"));
    CHECK_THAT(message("time_s,temperature_C\n0,20\n5,150\n"), Contains("-40 to 120 C"));
}

TEST_CASE("a sensor just switched on reads as one that is colder by its whole warm-up", "[temperature]") {
    const std::string drifts = "thermal.lens_shift_um_per_K=0.5";
    const auto cold =
        sensor::set_up_triangulation(smooth_sensor({drifts, "thermal.warm_up_K=6", "surroundings.running_min=0"}), 1);
    const auto colder = sensor::set_up_triangulation(smooth_sensor({drifts, "surroundings.temperature_C=14"}), 1);
    const auto warm = sensor::set_up_triangulation(smooth_sensor({drifts, "thermal.warm_up_K=6"}), 1);
    const auto plain = sensor::set_up_triangulation(smooth_sensor({drifts}), 1);
    CHECK(noiseless_reading(cold, 0.0).value() == Approx(noiseless_reading(colder, 0.0).value()).epsilon(1e-9));
    CHECK(noiseless_reading(warm, 0.0) == noiseless_reading(plain, 0.0));
    // Set up again from what it holds, it stays as warm as it was.
    const auto again = std::get<sensor::TriangulationSetup>(with_part(sensor::Setup{cold}, cold.scenario));
    CHECK(noiseless_reading(again, 0.0) == noiseless_reading(cold, 0.0));
}

TEST_CASE("without a path the drift study follows the warm-up, fast part and slow part", "[temperature]") {
    const scenario::Scenario s =
        smooth_sensor({"thermal.lens_shift_um_per_K=0.5", "thermal.warm_up_K=6", "thermal.warm_up_min=[2,20]",
                       "thermal.warm_up_share=0.25", "surroundings.running_min=0"});
    const study::DriftStudy study = study::drift_study(sensor::set_up(s, 1), 1);
    REQUIRE_FALSE(study.path.empty());
    CHECK(study.path.back().time == Approx(6.0 * 20.0 * 60.0));
    const double per_kelvin = study.causes.back().here;
    for (const study::DriftPoint& point : study.path) {
        const double left = 6.0 * (0.25 * std::exp(-point.time / 120.0) + 0.75 * std::exp(-point.time / 1200.0));
        // Where the spot falls within a pixel is of no account over six kelvin of 0.5 um.
        REQUIRE_THAT(point.error, WithinAbs(-per_kelvin * left, 2.0 * pixel_phase + 0.01 * std::abs(per_kelvin) * 6.0));
    }
    CHECK(std::abs(per_kelvin) * 6.0 > 20.0 * pixel_phase);
    CHECK(study::drift_study(sensor::set_up(smooth_sensor({"thermal.warm_up_K=6"}), 1), 1).path.empty());
}
