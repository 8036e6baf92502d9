// Readings of parts whose surface varies under the spot.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/measure/moving.hpp"
#include "sim/measure/read.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/target/surface.hpp"

using namespace spotwright;
using base::mm, base::um;

namespace {

sensor::TriangulationSetup setup_of(const std::string& material, const std::vector<std::string>& settings) {
    const scenario::Scenario s = scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "t", settings);
    return sensor::set_up(sensor::make_instrument(s, 2), s);
}

std::string at(const char* key, double value) {
    return std::string(key) + "=" + std::to_string(value);
}

// Single readings of a moving part. [m]
std::vector<double> readings_of(const sensor::TriangulationSetup& setup, std::int64_t count) {
    std::vector<double> readings(static_cast<std::size_t>(count), NAN);
    measure::SeriesOptions options;
    options.readings = count;
    options.threads = 2;
    options.sink = [&readings](const measure::SeriesBlock& block) {
        std::copy(block.displacement.begin(), block.displacement.end(),
                  readings.begin() + static_cast<std::ptrdiff_t>(block.first));
    };
    static_cast<void>(measure::take_moving_series(setup, options));
    return readings;
}

// A border under a spot, and the error of a reading by (markings.3) and (markings.4).
struct Border {
    double bare = 0.0;
    double covered = 0.0;
    double deviation = 0.0;  // of the spot. [m]
    double angle = 0.0;      // of the receiver. [rad]

    [[nodiscard]] double error(double x) const {
        const double share = 0.5 * std::erfc(-x / (std::sqrt(2.0) * deviation));
        const double density = std::exp(-0.5 * x * x / (deviation * deviation)) / std::sqrt(2.0 * base::pi);
        const double light = bare * share + covered * (1.0 - share);
        return deviation * density * (covered - bare) / light / std::tan(angle);
    }
};

}  // namespace

TEST_CASE("a border under the spot shifts readings by the closed form, at places, spots and angles drawn at random",
          "[measure][physics]") {
    // The closed form images each lit place by the middle of the lens at one magnification: over a spot of w at 50 mm
    // these change by w / 50 mm, 0.2 % of the shift; pixels of 7 um add an error of some 1/50 of one; 0.6 um allow for
    // the phase of the spot within a pixel and 2 % for the rest. No threshold, which cuts flanks, but a small one.
    base::RandomSequence random({41, base::Stream::ray}, 0);
    for (int draw = 0; draw < 12; ++draw) {
        const double waist = 25.0 + 75.0 * random.uniform();                      // [um]
        const double angle = 20.0 + 25.0 * random.uniform();                      // [deg]
        const double place = (2.0 * random.uniform() - 1.0) * 1.2 * waist / 1e3;  // [mm]
        const bool dark_right = random.uniform() < 0.5;
        const std::vector<std::string> settings{
            "emitter.waist_radius_um=[" + std::to_string(waist) + ", 40]",
            at("receiver.angle_deg", angle),
            "target.pattern.kind=border",
            std::string("target.pattern.material=") + (dark_right ? "matt-paint-dark-grey" : "white-ceramic"),
            "target.pattern.position_mm=[" + std::to_string(place) + ", 0]",
            "reading.threshold=1e-4",
            "detector.height_um=500",
            "mount.range_mm=[-2, 2]"};
        const auto setup = setup_of(dark_right ? "white-ceramic" : "matt-paint-dark-grey", settings);
        const target::Part part = sensor::part_of(setup.scenario, 0.0);
        const emitter::Beam& beam = setup.instrument.beam;
        const Border border{sensor::surface_of(setup.scenario).reflectance, part.markings->cover->surface->reflectance,
                            0.5 * emitter::radius_at(beam, 0, beam.face.norm()), setup.scenario.receiver.angle};
        const double expected = border.error(place * mm);
        const auto found = sensor::noiseless_reading(setup, 0.0);
        INFO("waist " << waist << " um, " << angle << " deg, border at " << place << " mm: closed form "
                      << expected / um << " um, read " << found.value_or(NAN) / um << " um");
        CHECK(std::abs(*found - expected) < 0.02 * std::abs(expected) + 0.6 * um);
    }
}

TEST_CASE("a border in the plane of the mounting shifts no reading", "[measure]") {
    for (const double y : {-0.03, 0.0, 0.02}) {
        const auto setup = setup_of("white-ceramic", {"target.pattern.kind=border", "target.pattern.turn_deg=90",
                                                      "target.pattern.material=black-rubber",
                                                      "target.pattern.position_mm=[0, " + std::to_string(y) + "]"});
        CHECK(std::abs(*sensor::noiseless_reading(setup, 0.0)) < 0.2 * um);
    }
}

TEST_CASE("read says what a border brings, and names it", "[measure]") {
    const auto setup = setup_of("white-ceramic", {"target.pattern.kind=border", "run.readings=64",
                                                  "target.pattern.material=black-rubber", "run.speckle=off"});
    const measure::ReadResult result = measure::read(setup, {});
    REQUIRE(result.marking_error);
    CHECK(*result.marking_error < -10.0 * um);
    CHECK(*result.systematic == Approx(*result.marking_error).margin(0.3 * um));  // white on its own calibration
    const bool named = std::any_of(
        result.verdict.reasons.begin(), result.verdict.reasons.end(),
        [](const measure::Reason& reason) { return std::holds_alternative<measure::MarkingsShiftReading>(reason); });
    CHECK(named);
    CHECK(result.verdict.contributions.front().cause == measure::Cause::markings);
    const auto plain = setup_of("white-ceramic", {"run.readings=64", "run.speckle=off"});
    CHECK_FALSE(measure::read(plain, {}).marking_error);
}

TEST_CASE("random brightness scatters readings from place to place by the closed form",
          "[measure][statistical][slow]") {
    // (markings.7). 200 places give the deviation within 5 %, three of which are allowed, and the first order in the
    // deviation errs by its square, 1 %.
    const auto setup =
        setup_of("matt-paint-mid-grey", {"target.texture.deviation=0.1", "target.texture.length_um=100",
                                         "reading.threshold=1e-4", "detector.height_um=500", "exposure.exposure_us=1"});
    const double deviation = 20.0 * um;
    const double length = 100.0 * um;
    constexpr int places = 200;
    double sum = 0.0;
    double squares = 0.0;
    for (int i = 0; i < places; ++i) {
        sensor::TriangulationSetup other = setup;
        other.scenario.target.patch = {i * 1.0 * mm, 0.0};
        const double read = *sensor::noiseless_reading(other, 0.0);
        sum += read / places;
        squares += read * read / places;
    }
    const double expected = 0.1 * std::sqrt(2.0) * deviation * deviation / length /
                            (1.0 + 4.0 * deviation * deviation / (length * length)) /
                            std::tan(setup.scenario.receiver.angle);
    CHECK(std::sqrt(squares - sum * sum) == Approx(expected).epsilon(0.16));
}

TEST_CASE("a scan over a printed border reads at each place as a part that stands there", "[measure]") {
    const std::vector<std::string> settings{"target.pattern.kind=border",
                                            "target.pattern.material=matt-paint-dark-grey",
                                            "target.pattern.position_mm=[-0.2, 0]",
                                            "run.speckle=off",
                                            "motion.across_mm_per_s=[20, 0]",
                                            "run.readings=150",
                                            "detector.read_noise_e=1",
                                            "detector.full_well_e=2e6",
                                            "detector.bits=16",
                                            "exposure.exposure_us=25",
                                            "reading.threshold=0.001",
                                            "emitter.power_mW=0.3"};
    const auto setup = setup_of("white-ceramic", settings);
    const std::vector<double> moved = readings_of(setup, 150);
    double largest = 0.0;
    for (int i = 0; i < 150; i += 10) {
        sensor::TriangulationSetup still = setup;
        const double time = i * still.scenario.exposure.period[0] + 0.5 * still.scenario.exposure.exposure;
        still.scenario.target.pattern.position[0] += 20.0 * mm * time;
        const double expected = *sensor::noiseless_reading(still, 0.0);
        largest = std::max(largest, std::abs(expected));
        INFO(i);
        // Shot noise of one reading is about 0.1 um; five of it, and a hundredth of a pixel (14 um) by the images.
        CHECK(std::abs(moved[static_cast<std::size_t>(i)] - expected) < 0.65 * um);
    }
    CHECK(largest > 10.0 * um);
}

TEST_CASE("a border between segments that passes reads as a printed border that stands there", "[measure]") {
    // Both have images of their own, the segments' on a grid: a hundredth of a pixel is 0.14 um; shot noise on the dark
    // side 0.1 um, five of which are allowed.
    const double speed = 20.0 * mm;
    const auto moving =
        setup_of("white-ceramic", {"target.segments.material=[\"white-ceramic\", \"matt-paint-dark-grey\"]",
                                   "target.segments.length_mm=[20, 20]", "target.segments.start_mm=19.8",
                                   "run.speckle=off", "motion.across_mm_per_s=[20, 0]", "run.readings=150",
                                   "detector.read_noise_e=1", "detector.full_well_e=2e6", "detector.bits=16",
                                   "exposure.exposure_us=25", "reading.threshold=0.001"});
    const std::vector<double> moved = readings_of(moving, 150);
    const auto printed = setup_of("white-ceramic", {"target.pattern.kind=border", "run.speckle=off",
                                                    "target.pattern.material=matt-paint-dark-grey",
                                                    "target.pattern.turn_deg=180", "reading.threshold=0.001"});
    double largest = 0.0;
    for (int i = 0; i < 150; i += 5) {
        sensor::TriangulationSetup still = printed;
        const double time = i * still.scenario.exposure.period[0] + 0.5 * still.scenario.exposure.exposure;
        still.scenario.target.pattern.position[0] = speed * time - 0.2 * mm;
        const double expected = *sensor::noiseless_reading(still, 0.0);
        largest = std::max(largest, std::abs(expected));
        INFO(i << ": border at " << still.scenario.target.pattern.position[0] / um << " um");
        CHECK(std::abs(moved[static_cast<std::size_t>(i)] - expected) < 0.65 * um);
    }
    CHECK(largest > 10.0 * um);
}

TEST_CASE("read of a print that passes names the borders", "[measure][slow]") {
    const auto moving = setup_of("white-ceramic", {"target.pattern.kind=bars", "target.pattern.period_mm=2",
                                                   "target.pattern.material=matt-paint-dark-grey", "run.readings=256",
                                                   "run.speckle=off", "motion.across_mm_per_s=[100, 0]"});
    const measure::ReadResult result = measure::read(moving, {});
    const bool named =
        std::any_of(result.verdict.reasons.begin(), result.verdict.reasons.end(),
                    [](const measure::Reason& reason) { return std::holds_alternative<measure::BordersPass>(reason); });
    CHECK(named);
}
