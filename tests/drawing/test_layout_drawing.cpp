// The layout drawing: what it shows is where the geometry has it, and it stays readable for very different sensors.
#include <catch2/catch.hpp>

#include <array>
#include <cmath>
#include <regex>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/drawing/mounting.hpp"
#include "tests/support/layout.hpp"

namespace {

using namespace spotwright;
using namespace spotwright::test::layout;
using base::mm, base::degree;
using drawing::Vector2;

struct Case {
    const char* name;
    std::vector<std::string> settings;
};

// Sensors for geometry's sake; numbers invented.
const std::vector<Case>& cases() {
    static const std::vector<Case> list{
        {"default, 50 mm", {}},
        {"short range",
         {"mount.reference_distance_mm=30", "receiver.angle_deg=35", "receiver.distance_mm=32",
          "receiver.focal_length_mm=12", "target.displacement_mm=3"}},
        {"long range",
         {"mount.reference_distance_mm=300", "mount.range_mm=[-100,100]", "receiver.angle_deg=18",
          "receiver.distance_mm=300", "receiver.focal_length_mm=35", "detector.pixels=2048",
          "target.displacement_mm=-40", "target.tilt_deg=[12,0]"}},
        {"specular mount", {"emitter.angle_deg=-30", "receiver.angle_deg=30", "mount.range_mm=[-1.5,1.5]"}},
        {"steep receiver",
         {"receiver.angle_deg=60", "mount.range_mm=[-2,2]", "target.displacement_mm=1", "target.tilt_deg=[-20,0]"}},
        {"tiny range", {"mount.range_mm=[-0.5,0.5]", "detector.pixels=256", "target.displacement_mm=0.2"}},
        {"large range, tilted sensor",
         {"mount.reference_distance_mm=200", "mount.range_mm=[-70,300]", "receiver.angle_deg=25",
          "receiver.distance_mm=180", "receiver.focal_length_mm=12", "target.displacement_mm=200",
          "mount.tilt_deg=[8,3]"}},
        {"no far limit",
         {"mount.reference_distance_mm=200", "mount.range_mm=[-60,400]", "receiver.angle_deg=40",
          "receiver.distance_mm=150", "receiver.focal_length_mm=4", "detector.pixels=2048"}},
        {"receiver on the normal", {"emitter.angle_deg=-40", "receiver.angle_deg=0", "mount.range_mm=[-3,3]"}},
        {"narrow",
         {"mount.reference_distance_mm=100", "receiver.angle_deg=8", "receiver.distance_mm=95", "detector.pixels=2048",
          "mount.range_mm=[-10,10]"}},
        {"narrow and short",
         {"mount.reference_distance_mm=32.3", "receiver.angle_deg=10.74", "receiver.distance_mm=23.5",
          "receiver.focal_length_mm=10", "mount.range_mm=[-1.2,1.2]", "detector.pixels=4096",
          "target.displacement_mm=1.12", "target.tilt_deg=[-3,0]"}},
        {"steep beam, labels below the emitter",
         {"mount.reference_distance_mm=22", "emitter.angle_deg=-44", "receiver.angle_deg=44",
          "receiver.distance_mm=17.9", "receiver.focal_length_mm=3.65", "mount.range_mm=[-1.4,1.4]",
          "detector.pixels=4096", "target.displacement_mm=-0.95"}},
        {"array tilted the other way", {"receiver.detector_tilt_deg=-20", "mount.range_mm=[-3,3]"}},
        {"rectangular aperture", {"receiver.aperture_mm=[6.5, 2]"}},
        {"part out of sight", {"receiver.detector_tilt_deg=0", "target.displacement_mm=40"}},
    };
    return list;
}

}  // namespace

TEST_CASE("chief rays are drawn straight through the lens centre onto the array", "[record][drawing]") {
    for (const Case& c : cases()) {
        CAPTURE(c.name);
        const Drawn d = draw(c.settings);
        const double scale = drawn_scale(d);
        const Vector2 lens = polyline(d.svg, "chief-ray-reference").at(1);
        const std::vector<Vector2> array = polyline(d.svg, "array");
        REQUIRE(array.size() == 2);
        const Vector2 centre = 0.5 * (array[0] + array[1]);
        const Vector2 along = (array[1] - array[0]).normalized();
        const std::array ids{"chief-ray-near", "chief-ray-reference", "chief-ray-far"};
        for (std::size_t i = 0; i < ids.size(); ++i) {
            CAPTURE(ids[i]);
            const std::vector<Vector2> ray = polyline(d.svg, ids[i]);
            REQUIRE(ray.size() == 3);
            CHECK((ray[1] - lens).norm() < rounding);
            CHECK(distance_to_line(ray[1], ray[0], ray[2]) < 2.0 * rounding);
            // The array's own direction is uncertain by rounding over its length.
            const double lever = 1.0 + (ray[2] - centre).norm() / (array[1] - array[0]).norm();
            CHECK(std::abs(cross(along, ray[2] - centre)) < lever * 2.0 * rounding);
            CHECK(along.dot(ray[2] - centre) == Approx(scale * d.layout.image_position[i]).margin(2.0 * rounding));
        }
    }
}

TEST_CASE("distances and angles are drawn to one scale", "[record][drawing]") {
    for (const Case& c : cases()) {
        CAPTURE(c.name);
        const Drawn d = draw(c.settings);
        const receiver::Receiver& r = d.layout.receiver;
        const double scale = drawn_scale(d);
        const std::vector<Vector2> axis = polyline(d.svg, "chief-ray-reference");
        CHECK((axis[1] - axis[0]).norm() == Approx(scale * r.object_distance).margin(2.0 * rounding));
        CHECK((axis[2] - axis[1]).norm() == Approx(scale * r.image_distance).margin(2.0 * rounding));

        const std::vector<Vector2> array = polyline(d.svg, "array");
        const double length = static_cast<double>(r.pixels) * r.pitch;
        CHECK((array[1] - array[0]).norm() == Approx(scale * length).margin(2.0 * rounding));

        // Clockwise from the beam to the receiver's axis on the page, whose y runs down.
        const Vector2 to_face = polyline(d.svg, "beam-axis").front() - axis[0];
        const Vector2 to_lens = axis[1] - axis[0];
        const double between = std::atan2(cross(to_face, to_lens), to_face.dot(to_lens));
        const double angle_rounding = rounding / to_lens.norm() + rounding / to_face.norm();
        CHECK(between == Approx(r.angle - r.emitter_angle).margin(angle_rounding));
        CHECK(std::atan2(to_lens.x(), -to_lens.y()) == Approx(r.angle).margin(angle_rounding));

        // The array from the lens plane: at tilt 0 it points outward, clockwise a quarter turn from the axis; the tilt
        // turns its + end away from the lens, anticlockwise.
        const Vector2 outward = Vector2(-to_lens.y(), to_lens.x()).normalized();
        const Vector2 along = array[1] - array[0];
        const double tilt = std::atan2(cross(along, outward), along.dot(outward));
        CHECK(tilt == Approx(r.detector_tilt).margin(rounding / along.norm() + angle_rounding));

        std::smatch stated;
        REQUIRE(std::regex_search(d.svg, stated, std::regex("id=\"mounting\" data-units-per-mm=\"([0-9.]+)\"")));
        CHECK(std::stod(stated[1]) ==
              Approx(scale * mm).margin(rounding * mm / d.scenario.mount.reference_distance + 1e-6));
    }
}

TEST_CASE("a rectangular aperture is named by both widths and drawn by the one in the plane", "[record][drawing]") {
    const Drawn round = draw({"receiver.aperture_mm=6.5"});
    const Drawn slot = draw({"receiver.aperture_mm=[6.5, 2]"});
    CHECK(round.svg.find(">aperture 6.5 mm<") != std::string::npos);
    CHECK(slot.svg.find(">aperture 6.5 × 2 mm<") != std::string::npos);
    const auto width = [](const Drawn& d) {
        const drawing::Mounting m = drawing::make_mounting(d.scenario, d.layout);
        return (m.rims[0] - m.rims[1]).norm();
    };
    CHECK(width(slot) == width(round));
    CHECK(width(slot) == Approx(6.5 * mm).epsilon(1e-12));
    CHECK(width(draw({"receiver.aperture_mm=[2, 6.5]"})) == Approx(2.0 * mm).epsilon(1e-12));
}

TEST_CASE("the part is drawn at its displacement and tilt, the sensor's tilt the other way", "[record][drawing]") {
    const Drawn d = draw({"target.displacement_mm=2", "target.tilt_deg=[10,0]", "mount.tilt_deg=[4,0]"});
    const double scale = drawn_scale(d);
    const Vector2 reference = polyline(d.svg, "chief-ray-reference").front();
    const std::vector<Vector2> part = polyline(d.svg, "part");
    REQUIRE(part.size() == 2);
    // The sensor turned by +4 deg sees the part turned by -4 deg about the reference point. Its beam, along z, meets
    // that plane at 2 mm / cos 4, and the part's own tilt turns it about this point.
    const double turned = 4.0 * degree;
    const double drawn_tilt = 6.0 * degree;
    const double spot_z = -2.0 * mm / std::cos(turned);
    const Vector2 middle = 0.5 * (part[0] + part[1]);
    CHECK(middle.x() == Approx(reference.x()).margin(rounding));
    CHECK(middle.y() == Approx(reference.y() - scale * spot_z).margin(2.0 * rounding));
    // A positive tilt turns the front towards the receiver at the right: the right end goes down.
    const Vector2 along = part[1] - part[0];
    CHECK(std::atan2(along.y(), along.x()) == Approx(drawn_tilt).margin(rounding / along.norm()));
    CHECK(d.svg.find("The sensor is tilted by 4°") != std::string::npos);
}

TEST_CASE("a part out of sight is left out and said so", "[record][drawing]") {
    const Drawn d = draw({"target.displacement_mm=40"});
    CHECK(polyline(d.svg, "part").empty());
    CHECK(d.svg.find("The part at s = +40 mm is not drawn") != std::string::npos);
}

TEST_CASE("the drawing is well formed and holds no number that is none", "[record][drawing]") {
    for (const Case& c : cases()) {
        CAPTURE(c.name);
        const Drawn d = draw(c.settings);
        CHECK(well_formed(d.svg));
        CHECK_FALSE(std::regex_search(d.svg, std::regex("\\b(nan|inf)\\b")));
    }
    CHECK_FALSE(well_formed("<svg><g></svg></g>"));
    CHECK_FALSE(well_formed("<text>a & b</text>"));
    CHECK(draw(cases()[7].settings).svg.find("no far limit") != std::string::npos);
}

TEST_CASE("texts keep their sizes, stay on the page and off each other", "[record][drawing]") {
    for (const Case& c : cases()) {
        CAPTURE(c.name);
        const std::string svg = draw(c.settings).svg;
        CHECK(texts(svg).size() > 40);
        check_texts(svg);
    }
}

TEST_CASE("the same scenario gives the same drawing", "[record][drawing]") {
    CHECK(draw({}).svg == draw({}).svg);
    CHECK(draw({}).svg != draw({"receiver.angle_deg=31"}).svg);
}

TEST_CASE("titles are escaped, and cut when they are too long", "[record][drawing]") {
    Drawn d = draw({});
    d.scenario.title = "Seals <b>&\"gaps\"\n" + std::string(400, 'W');
    const std::string svg = drawing::draw_layout(d.scenario, d.layout);
    CHECK(well_formed(svg));
    CHECK(svg.find("Seals &lt;b&gt;&amp;&quot;gaps&quot;") != std::string::npos);
    CHECK(svg.find("<b>") == std::string::npos);
    for (const DrawnText& text : texts(svg)) CHECK(box_of(text).right < 1123.0);
}

TEST_CASE("wavelength, power, laser class and its caution are on the drawing", "[record][drawing]") {
    std::string all;
    for (const DrawnText& text : texts(draw({"emitter.wavelength_nm=670", "emitter.power_mW=0.9"}).svg)) {
        all += text.words + " ";
    }
    CHECK(all.find("670 nm, 0.9 mW") != std::string::npos);
    CHECK(all.find("Laser class 2 (estimated)") != std::string::npos);
    CHECK(all.find("not a classification") != std::string::npos);
}
