// The drawing of a time-of-flight sensor: true to the scenario, and legible.
#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/drawing/flight_layout.hpp"
#include "sim/sensor/flight_layout.hpp"
#include "tests/support/drawing.hpp"
#include "tests/support/flight_drawing.hpp"
#include "tests/support/profile.hpp"
#include "sim/sensor/stations.hpp"

using namespace spotwright;
using namespace test::flight_drawing;
using base::mm;
using test::between, test::check_texts, test::polyline, test::well_formed;
using test::profile::all_words, test::profile::rounding;

namespace {

const std::vector<FlightCase>& layout_cases() {
    static const std::vector<FlightCase> list{
        {"around the beam", by_phase, {}},
        {"beside the beam", by_phase, {"flight.baseline_mm=40"}},
        {"four frequencies", four_phases, {"flight.waveform=square"}},
        {"pulses", by_fraction, {"flight.baseline_mm=25"}},
        {"pulses that repeat soon", by_fraction, {"flight.pulse_rate_kHz=25000"}},
        {"phases that repeat soon", {"principle=phase-shift", "flight.modulation_MHz=[30]"}, {}},
        {"short range", by_phase, {"mount.range_mm=[-5,5]", "target.displacement_mm=2"}},
        {"from close by", by_phase, {"mount.range_mm=[-3990,20]"}},
        {"small and near",
         by_phase,
         {"mount.reference_distance_mm=200", "mount.range_mm=[-100,100]", "receiver.focal_length_mm=15"}},
        {"leaning", by_phase, {"emitter.angle_deg=20", "flight.baseline_mm=30"}},
        {"long title",
         by_phase,
         {"title=A title that tells the whole story of the conveyor, of the pallets that stand on it, of the hall and "
          "of the lamps over them, and of the years that it took until somebody measured how high they are"}},
        {"part far beyond", by_photons, {"target.displacement_mm=90000"}},
    };
    return list;
}

struct DrawnLayout {
    scenario::Scenario scenario;
    sensor::FlightLayout layout;
    std::string svg;
};

DrawnLayout draw_layout_of(const FlightCase& c) {
    DrawnLayout drawn{scenario_of(joined(c.sensor, c.part)), {}, {}};
    drawn.layout = sensor::make_flight_layout(drawn.scenario);
    drawn.svg = drawing::draw_layout(drawn.scenario, drawn.layout);
    return drawn;
}

double scale_bar(const std::string& svg, const std::string& name) {
    return std::stod(between(svg, " " + name + "=\"", "\"", svg.find("<g id=\"scale-bar\""))) / mm;
}

}  // namespace

TEST_CASE("the drawing of a time-of-flight sensor is legible", "[flight][record][drawing]") {
    for (const FlightCase& c : layout_cases()) {
        CAPTURE(c.name);
        const DrawnLayout d = draw_layout_of(c);
        check_texts(d.svg);
        CHECK(well_formed(d.svg));
        CHECK(d.svg == drawing::draw_layout(d.scenario, d.layout));
        const std::string words = all_words(d.svg);
        CHECK_THAT(words, Catch::Contains("Laser class " + d.layout.laser_class + " (estimated)"));
        CHECK_THAT(words, Catch::Contains("measuring range"));
    }
}

TEST_CASE("dimensions of the drawing are those of the scenario", "[flight][record][drawing]") {
    for (const FlightCase& c : layout_cases()) {
        CAPTURE(c.name);
        const DrawnLayout d = draw_layout_of(c);
        const double along = scale_bar(d.svg, "data-units-per-mm");
        const double across = scale_bar(d.svg, "data-across-units-per-mm");
        CHECK(across >= along);
        const std::vector<test::Vector2> housing =
            test::points_in(between(d.svg, "<polygon id=\"housing\" points=\"", "\""));
        const double face = housing.at(1).x();
        constexpr std::array names{"near", "reference", "far"};
        for (std::size_t i = 0; i < names.size(); ++i) {
            const double x = polyline(d.svg, "plane-" + std::string(names[i])).at(0).x();
            // The scale is written to 1e-6 of a unit for a millimetre.
            CHECK(std::abs(x - face - d.layout.distance[i] * along) < 2.0 * rounding + d.layout.distance[i] * 1e-3);
        }
        // The beam at the face: its upper edge is drawn first, its lower edge last.
        const std::vector<test::Vector2> beam = test::points_in(between(d.svg, "<polygon id=\"beam\" points=\"", "\""));
        const double radius = emitter::radius_at(sensor::beam_of(d.scenario), 0, 0.0);
        CHECK(std::abs(beam.back().y() - beam.front().y() - 2.0 * radius * across) < 4.0 * rounding);
        const std::vector<test::Vector2> field =
            test::points_in(between(d.svg, "<polygon id=\"field\" points=\"", "\""));
        const double rim = d.layout.receiver.aperture.half_in_plane;
        // At the lens it is as wide as the lens; that leans by the baseline over the distance.
        CHECK((field.back() - field.front()).norm() == Approx(2.0 * rim * across).epsilon(0.02));
    }
}

TEST_CASE("the distance over which readings repeat is drawn where it fits, and told where not",
          "[flight][record][drawing]") {
    const auto words = [](const char* name) {
        const auto c = std::find_if(layout_cases().begin(), layout_cases().end(),
                                    [name](const FlightCase& each) { return each.name == std::string(name); });
        return all_words(draw_layout_of(*c).svg);
    };
    CHECK_THAT(words("around the beam"), Catch::Contains("unambiguous, to beyond the drawing"));
    CHECK_THAT(words("phases that repeat soon"), Catch::Contains("readings repeat themselves"));
    CHECK_THAT(words("around the beam"), Catch::Contains("the lens surrounds the beam"));
    CHECK_THAT(words("beside the beam"), Catch::Contains("lens 40 mm beside the beam"));
    CHECK_THAT(words("leaning"), Catch::Contains("+20° from the mounting normal"));
}
