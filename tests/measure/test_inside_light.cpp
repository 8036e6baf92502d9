// Plates and translucent parts as the receiver sees them, by the spot model and by rays.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/receiver/image.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/measure/read.hpp"
#include "sim/target/plate.hpp"
#include "sim/target/subsurface.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using base::mm, base::um, base::degree;

namespace {

scenario::Scenario part(const std::string& material, const std::vector<std::string>& settings) {
    return scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "t", settings);
}

std::vector<std::string> specular(std::vector<std::string> more) {
    more.insert(more.end(), {"emitter.angle_deg=-30", "mount.range_mm=[-1, 1]", "reading.calibrated_on=mirror",
                             "exposure.mode=automatic", "exposure.exposure_us=0.05"});
    return more;
}

struct Bench {
    explicit Bench(const scenario::Scenario& s)
        : beam(sensor::beam_of(s)),
          target(sensor::part_of(s, s.target.displacement)),
          surface(target::make_surface(s.target.made_of, s.emitter.wavelength)),
          receiver(sensor::receiver_of(s)),
          edge_spread(receiver.aperture.shape) {}
    [[nodiscard]] receiver::Profile spot() const {
        return receiver::image(beam, target, surface, receiver, edge_spread, 0.35);
    }
    [[nodiscard]] receiver::RayImage rays(std::int64_t count) const {
        return receiver::trace_rays(beam, target, surface, receiver, edge_spread, 0.35, {count, 1, 2});
    }

    emitter::Beam beam;
    target::Part target;
    target::Surface surface;
    receiver::Receiver receiver;
    receiver::EdgeSpread edge_spread;
};

// Mean of a sum over pixels in the batches, and its standard error.
struct Estimate {
    double mean = 0.0;
    double error = 0.0;
};

Estimate estimate(const receiver::RayImage& image, double receiver::Profile::*value) {
    double sum = 0.0;
    double squares = 0.0;
    for (const receiver::Profile& batch : image.batches) {
        sum += batch.*value;
        squares += batch.*value * (batch.*value);
    }
    const auto n = static_cast<double>(image.batches.size());
    const double mean = sum / n;
    return {mean, std::sqrt(std::max(squares / n - mean * mean, 0.0) / (n - 1.0))};
}

sensor::TriangulationSetup instrument_of(const scenario::Scenario& s) {
    return sensor::set_up_triangulation(s, 2);
}

// What the part as it now stands in the scenario reads as without noise, less the truth; the calibration stays.
double noiseless_bias(const sensor::TriangulationSetup& setup) {
    const double displacement = setup.scenario.target.displacement;
    return sensor::noiseless_reading(setup, displacement).value() -
           sensor::lit_displacement(setup.scenario, displacement).value();
}

}  // namespace

TEST_CASE("a plate sends back the light of its two faces and of the first multiple", "[inside][physics]") {
    const scenario::Scenario s = part("clear-glass", specular({"target.shape=plate"}));
    const Bench bench(s);
    const target::Plate plate{bench.surface.gloss->index.real()};
    const double cosine = std::cos(30.0 * degree);
    double all = 0.0;
    for (int order = 0; order < 3; ++order) all += target::plate_reflection(plate, cosine, order).unpolarised();
    // Smooth to 1 nm: exp(-(4 pi Rq cos / lambda)^2) is 1 - 3e-4. The beam's 5 mrad do the rest of 1e-3.
    CHECK(bench.spot().collected_power / (s.emitter.power * s.receiver.transmission) == Approx(all).epsilon(1e-3));
}

TEST_CASE("rays between the faces of a plate agree with the spot model", "[inside][ray][statistical][slow]") {
    const std::vector<std::vector<std::string>> cases{
        specular({"target.shape=plate"}),
        specular({"target.shape=plate", "target.plate.thickness_mm=0.3", "target.tilt_deg=[0.4, 0.1]"}),
        {"target.shape=plate", "target.plate.backing=white-paper"},
        {"target.shape=plate", "receiver.aperture_mm=[5, 2]", "target.plate.backing=white-paper"},
        {"target.shape=plate", "target.plate.backing=white-paper", "target.plate.gap_mm=1", "target.tilt_deg=[5, 3]"},
    };
    for (const auto& settings : cases) {
        INFO(settings[1]);
        const Bench bench(part("clear-glass", settings));
        const receiver::Profile spot = bench.spot();
        const Estimate power = estimate(bench.rays(200000), &receiver::Profile::collected_power);
        // Both follow light to and fro between plate and paper.
        CHECK(power.mean == Approx(spot.collected_power).epsilon(0.01).margin(5.0 * power.error));
    }
}

TEST_CASE("the thickness of a clear plate is read from its two faces", "[inside][physics][published][slow]") {
    // The near face towards the sensor, so that both lie within the range of a mm: 0.8 mm look like 0.48 mm.
    sensor::TriangulationSetup setup =
        instrument_of(part("clear-glass", specular({"target.shape=plate", "target.displacement_mm=-0.3"})));
    const auto thickness = [&setup](double index) {
        setup.scenario.reading.thickness_index = index;
        const sensor::Pose pose = sensor::make_pose(setup, setup.scenario.target.displacement);
        const measure::SeriesStatistics statistics = measure::take_series(setup, pose, {200, 2, {}, {}});
        CHECK(statistics.thicknesses == 200);
        return statistics.mean_thickness.value();
    };
    for (const double true_thickness : {0.4 * mm, 0.8 * mm}) {
        setup.scenario.target.plate.thickness = true_thickness;
        // The library's glass is 1.51437 at 655 nm, and the seventh digit does not matter: dt = t n / (n^2 - sin^2) dn.
        // The tails of either spot lie under the other and pull the centroids together, some 0.1 % of the distance.
        CHECK(thickness(1.51437) == Approx(true_thickness).epsilon(2e-3));
        // A sensor that takes the plate for air tells what it sees.
        const double apparent = target::apparent_thickness(true_thickness, 1.51437, 30.0 * degree, 30.0 * degree);
        CHECK(thickness(1.0) == Approx(apparent).epsilon(2e-3));
    }
}

TEST_CASE("the strongest peak of a plate on metal is the metal's, and reads too deep", "[inside][physics][slow]") {
    sensor::TriangulationSetup setup =
        instrument_of(part("clear-glass", specular({"target.shape=plate", "target.plate.thickness_mm=0.8"})));
    CHECK(std::abs(noiseless_bias(setup)) < 1.0 * um);
    setup.scenario.target.plate.backing_made_of = scenario::library_material("polished-aluminium");
    const double apparent = target::apparent_thickness(0.8 * mm, 1.51437, 30.0 * degree, 30.0 * degree);
    CHECK(noiseless_bias(setup) == Approx(apparent).epsilon(5e-3));
    // The face itself is there, and choosing the nearest peak finds it; the metal's tail lies under it.
    setup.scenario.reading.choose.rule = scenario::PeakRule::nearest;
    CHECK(std::abs(noiseless_bias(setup)) < 5.0 * um);
}

TEST_CASE("paper behind a clear cover reads nearer than it is, by the cover's refraction", "[inside][physics]") {
    // Straight down and out at 30 deg: depth t looks like t tan(asin(sin 30 / n)) / tan 30, read from the cover's face.
    const sensor::TriangulationSetup setup =
        instrument_of(part("clear-glass", {"target.shape=plate", "target.plate.backing=white-paper"}));
    const double apparent = target::apparent_thickness(1.0 * mm, 1.51437, 0.0, 30.0 * degree);
    // The aperture's cone is not a thin pencil: 2.5 deg squared of the depth, 2 um.
    CHECK(noiseless_bias(setup) == Approx(apparent).margin(2.0 * um));
}

TEST_CASE("translucent parts read too far, the more the longer light's way inside", "[inside][physics]") {
    sensor::TriangulationSetup setup = instrument_of(part("marble", {}));
    const auto bias = [&setup](const char* material) {
        setup.scenario.target.made_of = scenario::library_material(material);
        return noiseless_bias(setup);
    };
    const double marble = bias("marble");
    // Published: laser triangulation on marble reads about 40 um deep (M. Levoy, 3DPVT (2002), with G. Godin et al.,
    // Optical 3-D (2001), from memory); geometry, spot and kind of marble differ: the order of magnitude.
    CHECK(marble > 13.0 * um);
    CHECK(marble < 130.0 * um);
    CHECK(bias("whole-milk") > 0.0);
    CHECK(marble > 2.0 * std::abs(bias("white-paper")));  // scatters twenty times as much
    CHECK(marble > 10.0 * std::abs(bias("white-ceramic")));
}

TEST_CASE("plates and volumes ask for materials that fit", "[inside][scenario][errors]") {
    const auto message = [](const char* material, std::vector<std::string> settings) {
        try {
            static_cast<void>(part(material, settings));
        } catch (const base::ScenarioError& error) {
            return std::string(error.what());
        }
        return std::string("accepted");
    };
    CHECK_THAT(message("white-ceramic", {"target.shape=plate"}),
               Catch::Contains("target.material") && Catch::Contains("clear"));
    CHECK_THAT(message("mirror", {"target.shape=plate"}), Catch::Contains("target.material"));
    CHECK_THAT(message("clear-glass", {"target.shape=plate", "target.plate.backing=whit-paper"}),
               Catch::Contains("target.plate.backing") && Catch::Contains("white-paper"));
    CHECK_THAT(message("marble", {"target.shape=cylinder"}),
               Catch::Contains("target.shape") && Catch::Contains("plane"));
    CHECK_THAT(message("white-ceramic", {"target.shape=relief"}), Catch::Contains("target.relief.file"));
    CHECK_THAT(message("white-ceramic", {"target.shape=relief", "target.relief.file=nowhere.csv"}),
               Catch::Contains("nowhere.csv"));
    CHECK_THAT(message("marble", {"emitter.wavelength_nm=850"}),
               Catch::Contains("850") || Catch::Contains("wavelength"));
}
