// Triangulation against time of flight: the scaling rules of the study, where lines cross, and the chart of it.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/drawing/crossover_chart.hpp"
#include "sim/record/json.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/study/crossover.hpp"
#include "sim/sensor/sensor.hpp"
#include "tests/support/profile.hpp"
#include "sim/sensor/stations.hpp"

using namespace spotwright;
using namespace test;
using namespace test::profile;
using base::mm, base::um, base::nm, base::mW, base::ms, base::us;
using scenario::Principle;

namespace {

// A sensor over a bin, invented for the demonstration: 100 mm between lens and beam.
scenario::Scenario bin(const std::vector<std::string>& settings = {}) {
    std::vector<std::string> all{"principle=phase-shift",
                                 "mount.reference_distance_mm=4000",
                                 "mount.range_mm=[-3000,2500]",
                                 "emitter.wavelength_nm=850",
                                 "emitter.power_mW=5",
                                 "emitter.waist_radius_um=[3000,3000]",
                                 "receiver.angle_deg=1.432",
                                 "receiver.distance_mm=4001.25",
                                 "receiver.focal_length_mm=40",
                                 "receiver.aperture_mm=30",
                                 "detector.full_well_e=400000",
                                 "detector.read_noise_e=50",
                                 "flight.modulation_MHz=[20,16]",
                                 "run.speckle=off",
                                 "requirement.tolerance_um=30000"};
    all.insert(all.end(), settings.begin(), settings.end());
    return scenario::parse("schema = 1\n[target]\nmaterial = \"white-ceramic\"\n", "bin.toml", all);
}

measure::Verdict verdict_of(const scenario::Scenario& s) {
    return measure::read(sensor::set_up(s, 2), {2, {}, {}}).verdict;
}

double uncertainty(const scenario::Scenario& s) {
    return verdict_of(s).expanded_uncertainty.value();
}

study::ErrorAtDistance as_read(double uncertainty) {
    return {uncertainty, "shot, read and digitising noise", 1.0, {}, {}};
}

study::ErrorAtDistance unread(const std::string& word) {
    return {{}, {}, 0.0, word, "a sentence about " + word};
}

// Lines that no sensor drew: an error that grows with the square of distance, and one that does not.
std::vector<study::CrossoverPoint> made_up(double at_one_metre, double flat, std::int64_t count = 12) {
    std::vector<study::CrossoverPoint> points;
    for (std::int64_t k = 0; k < count; ++k) {
        const double distance = 0.05 * std::pow(200.0, static_cast<double>(k) / static_cast<double>(count - 1));
        points.push_back({distance, as_read(at_one_metre * distance * distance), as_read(flat)});
    }
    return points;
}

study::CrossoverStudy made_up_study(std::vector<study::CrossoverPoint> points) {
    study::CrossoverStudy study{100.0 * mm, scenario::PhaseShift{}, 5.0 * mW, std::move(points), {}};
    study.crossover = study::crossover_distance(study.points);
    return study;
}

}  // namespace

TEST_CASE("a triangulating error grows fourfold when the distance doubles", "[crossover][physics]") {
    // A small aperture spreads the spot over some pixels, equal ones, and a small full well makes its noise the
    // largest.
    const scenario::Scenario s =
        bin({"receiver.aperture_mm=4", "detector.response_nonuniformity=0", "detector.full_well_e=20000"});
    const measure::Verdict near = verdict_of(study::triangulation_at(s, 2.0));
    CHECK(near.contributions.front().cause == measure::Cause::noise);
    // Of some 320 readings a deviation is known to 4 %, a ratio of two to 5.6 %; three of these.
    CHECK(uncertainty(study::triangulation_at(s, 4.0)) / near.expanded_uncertainty.value() ==
          Approx(4.0).epsilon(0.17));
}

TEST_CASE("speckle of a triangulating reading grows fourfold too", "[crossover][physics]") {
    const scenario::Scenario s = bin({"run.speckle=coherent"});
    const measure::Verdict near = verdict_of(study::triangulation_at(s, 2.0));
    CHECK(near.contributions.front().cause == measure::Cause::speckle);
    // Of 40 patches a deviation is known to 11 %, a ratio of two to 16 %; three of these.
    CHECK(uncertainty(study::triangulation_at(s, 4.0)) / near.expanded_uncertainty.value() ==
          Approx(4.0).epsilon(0.48));
}

TEST_CASE("an error by phase stays the same where exposure makes up for distance", "[crossover][physics]") {
    // As many electrons at either distance. Tolerance: three times 5.6 %, as above.
    const double near = uncertainty(study::flight_at(bin(), 1.0));
    CHECK(uncertainty(study::flight_at(bin(), 4.0)) / near == Approx(1.0).epsilon(0.17));
}

TEST_CASE("an error by phase grows with distance where exposure is at its longest", "[crossover][physics]") {
    // A quarter of the light for twice the distance: twice the error where photons alone make the noise, four times
    // where the dark detector does.
    const scenario::Scenario s = bin({"emitter.power_mW=0.004", "reading.threshold=0.0005"});
    const double growth = uncertainty(study::flight_at(s, 4.0)) / uncertainty(study::flight_at(s, 2.0));
    CHECK(growth > 2.0 * (1.0 - 0.17));
    CHECK(growth < 4.0 * (1.0 + 0.17));
}

TEST_CASE("the same housing is pointed farther", "[crossover][unit]") {
    const scenario::Scenario s = bin({"target.displacement_mm=-1000"});
    const double baseline = study::triangulation_baseline(s);
    CHECK(baseline == Approx(100.0 * mm).epsilon(1e-3));  // as the scenario rounds it
    for (const double distance : {0.2, 1.0, 8.0}) {
        CAPTURE(distance);
        const scenario::Scenario triangulating = study::triangulation_at(s, distance);
        CHECK(triangulating.principle == Principle(scenario::Triangulation{}));
        CHECK(study::triangulation_baseline(triangulating) == Approx(baseline));
        CHECK(triangulating.receiver.distance * std::cos(triangulating.receiver.angle) == Approx(distance));
        CHECK(study::flight_at(s, distance).principle == Principle(scenario::PhaseShift{}));
        for (const scenario::Scenario& at : {triangulating, study::flight_at(s, distance)}) {
            CHECK(at.mount.reference_distance == distance);
            CHECK(at.target.displacement == 0.0);
            CHECK(at.mount.range[0] < 0.0);
            CHECK(at.mount.range[0] > -distance);
            CHECK(at.mount.range[1] > 0.0);
            CHECK(at.emitter.power == s.emitter.power);
            CHECK(at.receiver.aperture.in_plane == s.receiver.aperture.in_plane);
            CHECK(at.exposure.period[1] == s.requirement.response);
            // The waist of a beam far from its focus at the face: within the square of waist over face.
            const emitter::Beam beam = sensor::beam_of(at);
            CHECK(emitter::radius_at(beam, 0, 0.0) == Approx(3.0 * mm).epsilon(0.05));
            CHECK(emitter::radius_at(beam, 0, distance) == Approx(at.emitter.waist_radius[0]));
        }
    }
}

TEST_CASE("pulses keep their peak power, and triangulation gets their mean", "[crossover][unit]") {
    const scenario::Scenario s = bin({"principle=pulsed", "emitter.power_mW=10000", "flight.pulse_ns=5",
                                      "flight.pulse_rate_kHz=10", "flight.pulses=1000", "requirement.response_ms=20"});
    CHECK(study::flight_at(s, 2.0).principle == Principle(scenario::Pulsed{}));
    CHECK(study::flight_at(s, 2.0).emitter.power == 10.0);
    CHECK(study::flight_at(s, 2.0).flight.pulses == 200);  // in 20 ms
    // A Gaussian pulse of 10 W and 5 ns holds 10 W 5 ns sqrt(pi / (4 ln 2)) = 53.22 nJ; 1e4 of them a second.
    CHECK(study::triangulation_at(s, 2.0).emitter.power == Approx(0.5322 * mW).epsilon(1e-4));
}

TEST_CASE("the array limits the range of a near triangulating sensor", "[crossover][unit]") {
    const scenario::Scenario s = bin({"detector.pixels=128"});
    const scenario::Scenario near = study::triangulation_at(s, 0.1);
    CHECK(near.mount.range[1] < 0.05 * 0.1);
    CHECK(study::triangulation_at(s, 5.0).mount.range[1] == Approx(0.05 * 5.0));
}

TEST_CASE("a sensor that cannot be built gives no error, but a reason", "[crossover][unit]") {
    const study::CrossoverPoint lens = study::crossover_point(bin({"receiver.focal_length_mm=500"}), 0.3, 2);
    CHECK_FALSE(lens.flight.uncertainty);
    CHECK(lens.flight.obstacle == "out of focus");
    CHECK(lens.flight.reason.find("a lens of 500 mm") == 0);
    CHECK(lens.triangulation.obstacle == "out of focus");
    // No lens beside the beam: nothing to triangulate with, which is no matter to time of flight.
    const study::CrossoverPoint coaxial = study::crossover_point(bin({"receiver.angle_deg=0"}), 1.0, 2);
    CHECK_FALSE(coaxial.triangulation.uncertainty);
    CHECK(coaxial.triangulation.obstacle == "cannot be built");
    CHECK_FALSE(coaxial.triangulation.reason.empty());
    CHECK(coaxial.flight.uncertainty);
    const study::CrossoverPoint mirror = study::crossover_point(bin({"reading.calibrated_on=mirror"}), 1.0, 2);
    CHECK(mirror.triangulation.obstacle == "specular mount");
}

TEST_CASE("a part too dark to read gives no error, but a reason", "[crossover][unit]") {
    const study::CrossoverPoint point = study::crossover_point(bin({"emitter.power_mW=0.0000001"}), 2.0, 2);
    for (const study::ErrorAtDistance& error : {point.triangulation, point.flight}) {
        CHECK_FALSE(error.uncertainty);
        CHECK((error.obstacle == "too dark" || error.obstacle == "no peak"));
        CHECK(error.reason.find("of full well") != std::string::npos);
        CHECK(error.valid_share < 0.5);
    }
}

TEST_CASE("the study reads at equal steps of the logarithm of distance", "[crossover][unit]") {
    // Out of focus everywhere, so that it takes no time.
    const scenario::Scenario s = bin({"receiver.focal_length_mm=900"});
    const study::CrossoverStudy study = study::crossover_study(s, {0.1, 0.8, 4, 2});
    REQUIRE(study.points.size() == 4);
    CHECK(study.points[0].distance == Approx(0.1));
    CHECK(study.points[1].distance == Approx(0.2));
    CHECK(study.points[2].distance == Approx(0.4));
    CHECK(study.points[3].distance == Approx(0.8));
    CHECK_FALSE(study.crossover);
    CHECK(study.power == Approx(5.0 * mW));
    CHECK_THROWS_AS(study::crossover_study(s, {2.0, 1.0, 4, 2}), base::InternalError);
    CHECK_THROWS_AS(study::crossover_study(s, {1.0, 2.0, 1, 2}), base::InternalError);
}

TEST_CASE("lines cross where their logarithms do", "[crossover][unit]") {
    // 100 um d^2 meets 900 um at 3 m; lines that are straight in logarithms are met exactly.
    CHECK(study::crossover_distance(made_up(100.0 * um, 900.0 * um)).value() == Approx(3.0).epsilon(1e-9));
    CHECK_FALSE(study::crossover_distance(made_up(100.0 * um, 20000.0 * um)));  // would cross at 14 m
    CHECK_FALSE(study::crossover_distance(made_up(100.0 * um, 0.1 * um)));      // would have crossed at 0.03 m
    CHECK_FALSE(study::crossover_distance({}));
}

TEST_CASE("a crossover looks past distances that one of both does not read", "[crossover][unit]") {
    std::vector<study::CrossoverPoint> points = made_up(100.0 * um, 900.0 * um);
    points[0].flight = unread("out of focus");
    points[7].triangulation = points[8].flight = unread("too dark");  // at 1.46 m and 2.36 m
    CHECK(study::crossover_distance(points).value() == Approx(3.0).epsilon(1e-9));
    for (std::size_t k = 8; k < points.size(); ++k) points[k].triangulation = unread("too dark");
    CHECK_FALSE(study::crossover_distance(points));
}

TEST_CASE("of several crossings the one counts beyond which time of flight stays ahead", "[crossover][unit]") {
    std::vector<study::CrossoverPoint> points{{1.0, as_read(1.0 * um), as_read(2.0 * um)},
                                              {2.0, as_read(3.0 * um), as_read(2.0 * um)},
                                              {4.0, as_read(1.0 * um), as_read(2.0 * um)},
                                              {8.0, as_read(4.0 * um), as_read(2.0 * um)}};
    // One below by a factor of 2, the next above by 2: half-way between 4 m and 8 m in logarithms.
    CHECK(study::crossover_distance(points).value() == Approx(4.0 * std::sqrt(2.0)));
    points.push_back({16.0, as_read(1.0 * um), as_read(2.0 * um)});
    CHECK_FALSE(study::crossover_distance(points));
}

namespace {

std::string crossover_chart(const study::CrossoverStudy& study, const std::string& title = "Level of a bin") {
    scenario::Scenario s = bin();
    s.title = title;
    return drawing::draw_crossover(s, study);
}

// Value at a place of a logarithmic scale, read off its outermost ticks.
double value_at(const std::string& svg, const std::string& axis, const std::string& coordinate, double place) {
    Scale scale = scale_of(svg, axis, coordinate);
    scale.from.value = std::log(scale.from.value);
    scale.to.value = std::log(scale.to.value);
    return std::exp(scale.value(place));
}

}  // namespace

TEST_CASE("points of the crossover chart stand at distances and errors", "[crossover][record]") {
    for (const auto& [at_one_metre, unit] : {std::pair(100.0 * um, mm), std::pair(0.4 * um, um)}) {
        CAPTURE(at_one_metre);
        study::CrossoverStudy study = made_up_study(made_up(at_one_metre, 9.0 * at_one_metre));
        scenario::Scenario s = bin();
        s.requirement.tolerance = 20.0 * at_one_metre;
        const std::string svg = drawing::draw_crossover(s, study);
        const std::vector<Vector2> line = polyline(svg, "triangulation");
        const std::vector<Vector2> flat = polyline(svg, "time-of-flight");
        REQUIRE(line.size() == study.points.size());
        REQUIRE(flat.size() == study.points.size());
        // Places to 0.0005 page units, ticks likewise, on scales of 70 page units and more for a factor of e.
        for (std::size_t k = 0; k < line.size(); ++k) {
            CHECK(value_at(svg, "crossover-x-axis", "x", line[k].x()) ==
                  Approx(study.points[k].distance).epsilon(1e-4));
            CHECK(value_at(svg, "crossover-y-axis", "y", line[k].y()) * unit ==
                  Approx(study.points[k].triangulation.uncertainty.value()).epsilon(1e-4));
            CHECK(value_at(svg, "crossover-y-axis", "y", flat[k].y()) * unit ==
                  Approx(9.0 * at_one_metre).epsilon(1e-4));
        }
        const std::vector<Vector2> crossing = polyline(svg, "crossover");
        REQUIRE(crossing.size() == 2);
        CHECK(value_at(svg, "crossover-x-axis", "x", crossing[0].x()) == Approx(3.0).epsilon(1e-4));
        const std::vector<Vector2> tolerance = polyline(svg, "tolerance");
        REQUIRE(tolerance.size() == 2);
        CHECK(value_at(svg, "crossover-y-axis", "y", tolerance[0].y()) * unit ==
              Approx(s.requirement.tolerance).epsilon(1e-4));
    }
}

TEST_CASE("words of the crossover chart stay on the page and off each other", "[crossover][record]") {
    std::vector<std::vector<study::CrossoverPoint>> cases{
        made_up(100.0 * um, 900.0 * um),   made_up(100.0 * um, 20000.0 * um), made_up(100.0 * um, 1e-9),
        made_up(100.0 * um, 10000.0 * um), made_up(0.001 * um, 0.02 * um),    made_up(300.0 * um, 30000.0 * um, 2)};
    std::vector<study::CrossoverPoint> gaps = cases.front();
    for (const std::size_t k : {0U, 1U, 5U}) gaps[k].flight = unread("cannot be built");
    for (const std::size_t k : {2U, 4U, 6U, 8U, 10U}) gaps[k].triangulation = unread("specular mount");
    for (const std::size_t k : {3U, 5U, 7U, 9U, 11U}) gaps[k].triangulation = unread("out of range");
    cases.push_back(gaps);
    std::vector<study::CrossoverPoint> nothing = cases.front();
    for (study::CrossoverPoint& point : nothing) point.flight = point.triangulation = unread("too dark");
    cases.push_back(nothing);
    for (const auto& points : cases) {
        const std::string svg = crossover_chart(made_up_study(points));
        check_texts(svg);
        CHECK(well_formed(svg));
        for (const std::string& list : values_of(svg, "points")) {
            for (const Vector2& p : points_in(list)) {
                REQUIRE((p.x() >= 0.0 && p.x() <= 1123.0));
                REQUIRE((p.y() >= 0.0 && p.y() <= 794.0));
            }
        }
    }
    check_texts(crossover_chart(made_up_study(gaps), std::string(60, 'W') + " " + std::string(90, 'i')));
    CHECK(well_formed(crossover_chart(made_up_study(gaps), "Bins <b>&\"lids\"")));
}

TEST_CASE("the crossover chart says in words what it shows", "[crossover][record]") {
    std::vector<study::CrossoverPoint> points = made_up(100.0 * um, 900.0 * um);
    const std::string words = all_words(crossover_chart(made_up_study(points)));
    CHECK(words.find("crossover at 3 m") != std::string::npos);
    CHECK(words.find("Triangulation stops being the better choice at 3 m") != std::string::npos);
    CHECK(words.find("white-ceramic: mean power 5 mW, aperture 30 mm, focal length 40 mm, baseline of the "
                     "triangulation 100 mm") != std::string::npos);
    CHECK(words.find("triangulation: 10 mm at 10 m") != std::string::npos);
    CHECK(words.find("tolerance ±30 mm") != std::string::npos);
    CHECK(words.find("does not read") == std::string::npos);
    points.back().flight = unread("too dark");
    const std::string dark = all_words(crossover_chart(made_up_study(points)));
    CHECK(dark.find("does not read here") != std::string::npos);
    CHECK(dark.find("too dark") != std::string::npos);
    CHECK(dark.find("No reading at 10 m, time of flight, by phase: a sentence about too dark.") != std::string::npos);
    CHECK(all_words(crossover_chart(made_up_study(made_up(100.0 * um, 0.1 * um))))
              .find("time of flight is the better choice wherever both read") != std::string::npos);
    CHECK(all_words(crossover_chart(made_up_study(made_up(1.0 * um, 0.1))))
              .find("triangulation is still the better choice") != std::string::npos);
}

TEST_CASE("the JSON of a crossover has its numbers in the units of their names", "[crossover][record]") {
    std::vector<study::CrossoverPoint> points = made_up(100.0 * um, 900.0 * um);
    points.back().flight = unread("too dark");
    const nlohmann::ordered_json json = record::to_json(made_up_study(points));
    CHECK(json["crossover_mm"].get<double>() == Approx(3000.0));
    CHECK(json["baseline_mm"].get<double>() == Approx(100.0));
    CHECK(json["mean_power_mW"].get<double>() == Approx(5.0));
    CHECK(json["time_of_flight"] == "phase-shift");
    REQUIRE(json["distances"].size() == points.size());
    const auto& last = json["distances"].back();
    CHECK(last["distance_mm"].get<double>() == Approx(10000.0));
    CHECK(last["triangulation"]["expanded_uncertainty_um"].get<double>() == Approx(10000.0));
    CHECK(last["triangulation"]["largest"] == "shot, read and digitising noise");
    CHECK(last["time_of_flight"]["expanded_uncertainty_um"].is_null());
    CHECK(last["time_of_flight"]["obstacle"] == "too dark");
    CHECK(last["time_of_flight"]["reason"] == "a sentence about too dark");
    CHECK(record::to_json(made_up_study(made_up(1.0 * um, 0.1)))["crossover_mm"].is_null());
}
