// The layout drawing of parts that are no plane: the cut through the part stands where the geometry has it.
#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <regex>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/target/part.hpp"
#include "tests/support/layout.hpp"
#include "tests/support/record.hpp"
#include "sim/sensor/stations.hpp"

namespace {

using namespace spotwright;
using namespace spotwright::test::layout;
using base::mm, base::degree;
using drawing::Vector2;
using test::Folder;

// A cut is thinned out to 2e-4 of the half width of its window, which is at most 60 page units.
constexpr double thinning = 2e-4 * 60.0;

using Settings = std::vector<std::string>;

Settings operator+(Settings a, const Settings& b) {
    a.insert(a.end(), b.begin(), b.end());
    return a;
}

// Every shape, each curvature and direction; numbers invented.
const std::vector<Settings>& shapes() {
    static const std::vector<Settings> list = [] {
        std::vector<Settings> all;
        for (const char* way : {"\"across\"", "\"parallel\""}) {
            const std::string edge = std::string("target.step.edge=") + way;
            const std::string roll = std::string("target.cylinder.axis=") + way;
            const std::string groove = std::string("target.groove.axis=") + way;
            const std::string wave = std::string("target.wave.axis=") + way;
            for (const char* position : {"-0.5", "0", "0.5"}) {
                all.push_back({"target.shape=\"step\"", edge, std::string("target.step.position_mm=") + position});
            }
            all.push_back({"target.shape=\"step\"", edge, "target.step.height_mm=-30", "target.step.position_mm=4"});
            for (const char* curvature : {"\"convex\"", "\"concave\""}) {
                const std::string curved = std::string("target.cylinder.curvature=") + curvature;
                all.push_back({"target.shape=\"cylinder\"", roll, curved, "target.cylinder.radius_mm=3",
                               "target.cylinder.position_mm=2"});
                all.push_back({"target.shape=\"cylinder\"", roll, curved, "target.cylinder.radius_mm=50"});
            }
            all.push_back({"target.shape=\"groove\"", groove, "target.groove.opening_deg=105"});
            all.push_back({"target.shape=\"wave\"", wave, "target.wave.position_mm=0.4"});
        }
        for (const char* curvature : {"\"convex\"", "\"concave\""}) {
            const std::string curved = std::string("target.sphere.curvature=") + curvature;
            all.push_back({"target.shape=\"sphere\"", curved});
            all.push_back(
                {"target.shape=\"sphere\"", curved, "target.sphere.radius_mm=4", "target.sphere.position_mm=[1,-1.5]"});
        }
        for (const char* thickness : {"1", "5"}) {
            const std::string thick = std::string("target.plate.thickness_mm=") + thickness;
            all.push_back({"target.shape=\"plate\"", "target.material=\"clear-glass\"", thick});
            all.push_back({"target.shape=\"plate\"", "target.material=\"clear-glass\"", thick,
                           "target.plate.backing=\"white-paper\"", "target.plate.gap_mm=0.5"});
        }
        return all;
    }();
    return list;
}

// Sensors and tilts that leave little room in different places.
const std::vector<Settings>& mountings() {
    static const std::vector<Settings> list{
        {},
        {"target.tilt_deg=[10,0]"},
        {"target.tilt_deg=[-10,4]", "mount.tilt_deg=[5,2]"},
        {"emitter.angle_deg=-30", "mount.range_mm=[-1,1]", "target.displacement_mm=0.2"},
        {"emitter.angle_deg=-30", "mount.range_mm=[-1,1]", "target.tilt_deg=[10,0]"},
        {"receiver.angle_deg=60", "mount.range_mm=[-2,2]", "target.displacement_mm=1", "target.tilt_deg=[-10,0]"},
        {"mount.reference_distance_mm=300", "mount.range_mm=[-100,100]", "receiver.angle_deg=18",
         "receiver.distance_mm=300", "receiver.focal_length_mm=35", "detector.pixels=2048",
         "target.displacement_mm=-40"},
        {"emitter.angle_deg=-40", "receiver.angle_deg=0", "mount.range_mm=[-3,3]", "target.displacement_mm=-1"},
        {"mount.reference_distance_mm=100", "receiver.angle_deg=8", "receiver.distance_mm=95", "detector.pixels=2048",
         "mount.range_mm=[-10,10]", "target.displacement_mm=8"},
        {"receiver.detector_tilt_deg=-20", "mount.range_mm=[-3,3]", "target.tilt_deg=[10,0]"},
        {"mount.reference_distance_mm=23.5", "emitter.angle_deg=-40.8", "receiver.angle_deg=40.8",
         "receiver.distance_mm=23.17", "receiver.focal_length_mm=3.6", "mount.range_mm=[-1.9,1.9]",
         "detector.pixels=4096", "target.displacement_mm=-1.8", "target.tilt_deg=[9.5,0]", "mount.tilt_deg=[-7,3]"},
        {"receiver.angle_deg=57", "emitter.angle_deg=-15", "mount.range_mm=[-2,2]", "target.displacement_mm=-1"},
    };
    return list;
}

std::string words_of(const Settings& settings) {
    std::string words;
    for (const std::string& setting : settings) words += setting + " ";
    return words;
}

Vector2 at(const Drawn& d, double x, double z) {
    return polyline(d.svg, "chief-ray-reference").front() + drawn_scale(d) * Vector2(x, -z);
}

std::vector<std::vector<Vector2>> pieces(const std::string& svg, const std::string& id) {
    std::vector<std::vector<Vector2>> list{polyline(svg, id)};
    while (!list.back().empty()) list.push_back(polyline(svg, id + "-" + std::to_string(list.size() + 1)));
    list.pop_back();
    return list;
}

double distance_to(const std::vector<std::vector<Vector2>>& lines, const Vector2& p) {
    double least = 1e300;
    for (const auto& line : lines) {
        for (std::size_t i = 0; i + 1 < line.size(); ++i) {
            const Vector2 way = line[i + 1] - line[i];
            const double length2 = way.squaredNorm();
            const double share = length2 > 0.0 ? std::clamp((p - line[i]).dot(way) / length2, 0.0, 1.0) : 0.0;
            least = std::min(least, (p - line[i] - share * way).norm());
        }
    }
    return least;
}

// Page units per millimetre as a group of the drawing states them.
double stated_scale(const std::string& svg, const std::string& group) {
    std::smatch stated;
    REQUIRE(std::regex_search(svg, stated, std::regex("id=\"" + group + "\" data-units-per-mm=\"([0-9.]+)\"")));
    return std::stod(stated[1]);
}

}  // namespace

TEST_CASE("the drawn outline of every shape passes through the lit point", "[record][drawing][shape][slow]") {
    int drawn = 0;
    for (const Settings& shape : shapes()) {
        for (const Settings& mounting : mountings()) {
            CAPTURE(words_of(shape + mounting));
            const Drawn d = draw(shape + mounting);
            const emitter::Beam beam = sensor::beam_of(d.scenario);
            const auto hit =
                target::meet(sensor::part_of(d.scenario, d.scenario.target.displacement), {beam.face, beam.direction});
            if (!hit) {  // the beam passes beside the part
                CHECK(pieces(d.svg, "part").empty());
                CHECK(d.svg.find("is not drawn") != std::string::npos);
                continue;
            }
            ++drawn;
            const Eigen::Vector3d lit = beam.face + hit->distance * beam.direction;
            CHECK(distance_to(pieces(d.svg, "part"), at(d, lit.x(), lit.z())) < thinning + 2.0 * rounding);
        }
    }
    CHECK(drawn > 250);
}

TEST_CASE("a roll is drawn as a whole circle of its radius, touching the reference surface",
          "[record][drawing][shape]") {
    for (const double position_mm : {0.0, 2.0}) {
        for (const double tilt_deg : {0.0, 10.0}) {
            CAPTURE(position_mm, tilt_deg);
            const Drawn d =
                draw({"target.shape=\"cylinder\"", "target.cylinder.radius_mm=3", "target.displacement_mm=1",
                      "target.cylinder.position_mm=" + std::to_string(position_mm),
                      "target.tilt_deg=[" + std::to_string(tilt_deg) + ",0]"});
            // The axis lies one radius below the reference surface, which the tilt turns about the lit point of it:
            // a positive one lowers the right side.
            const double c = std::cos(tilt_deg * degree);
            const double s = std::sin(tilt_deg * degree);
            const Vector2 axis = at(d, (position_mm * c - 3.0 * s) * mm, -1.0 * mm - (position_mm * s + 3.0 * c) * mm);
            const double radius = 3.0 * mm * drawn_scale(d);
            const std::vector<Vector2> circle = polyline(d.svg, "part");
            REQUIRE(circle.size() > 30);
            CHECK((circle.front() - circle.back()).norm() < rounding);
            double around = 0.0;
            for (std::size_t i = 0; i + 1 < circle.size(); ++i) {
                CHECK((circle[i] - axis).norm() == Approx(radius).margin(2.0 * rounding));
                CHECK((0.5 * (circle[i] + circle[i + 1]) - axis).norm() ==
                      Approx(radius).margin(thinning + 2.0 * rounding));
                around += std::atan2(cross(circle[i] - axis, circle[i + 1] - axis),
                                     (circle[i] - axis).dot(circle[i + 1] - axis));
            }
            // Once around, and clockwise on the page: the material is on the right of the way.
            CHECK(around == Approx(2.0 * base::pi).margin(1e-6));
        }
    }
}

TEST_CASE("a step is drawn with an upright wall of its height", "[record][drawing][shape]") {
    for (const double position : {-0.5 * mm, 0.5 * mm}) {
        const Drawn d = draw({"target.shape=\"step\"", "target.step.height_mm=3",
                              "target.step.position_mm=" + std::to_string(position / mm)});
        const std::vector<Vector2> outline = polyline(d.svg, "part");
        const Vector2 foot = at(d, position, 0.0);
        const Vector2 top = at(d, position, 3.0 * mm);
        // The wall is narrowed down to rounding, so its two ends are corners of the line.
        for (const Vector2& corner : {foot, top}) {
            CHECK(std::any_of(outline.begin(), outline.end(),
                              [&](const Vector2& p) { return (p - corner).norm() < 2.0 * rounding; }));
        }
        CHECK(distance_to({outline}, 0.5 * (foot + top)) < 2.0 * rounding);
    }
}

TEST_CASE("shapes along the plane are cut at one level, and that is said", "[record][drawing][shape]") {
    const Drawn d = draw({"target.shape=\"step\"", "target.step.height_mm=2", "target.step.position_mm=-0.5",
                          "target.step.edge=\"parallel\""});
    const std::vector<Vector2> outline = polyline(d.svg, "part");
    REQUIRE(outline.size() >= 2);
    for (const Vector2& p : outline) CHECK(p.y() == Approx(at(d, 0.0, 2.0 * mm).y()).margin(2.0 * rounding));
    CHECK(d.svg.find("The edge of the step runs along this plane") != std::string::npos);
    CHECK(d.svg.find("Detail B") == std::string::npos);
}

TEST_CASE("reliefs from a file draw their own profile, maps the one in the plane", "[record][drawing][shape]") {
    const Folder folder;
    std::ofstream(folder / "profile.csv") << "x_mm,height_mm\n-3,0\n-1,1.5\n1,1.5\n2,-1\n";
    // The profile times 1 + y: in the plane of the mounting the profile itself.
    std::ofstream(folder / "map.csv") << "x_mm,y_mm,height_mm\n-3,-1,0\n-1,-1,0\n1,-1,0\n2,-1,0\n"
                                         "-3,1,0\n-1,1,3\n1,1,3\n2,1,-2\n";
    for (const char* file : {"profile.csv", "map.csv"}) {
        for (const char* tilt_deg : {"0", "10"}) {
            CAPTURE(file, tilt_deg);
            Drawn d;
            const Settings settings{std::string("target.relief.file=\"") + file + "\"",
                                    std::string("target.tilt_deg=[") + tilt_deg + ",0]"};
            d.scenario = scenario::parse("[target]\nmaterial = \"white-ceramic\"\nshape = \"relief\"\n",
                                         (folder / "relief.toml").string(), settings);
            d.layout = sensor::make_layout(d.scenario);
            d.svg = drawing::draw_layout(d.scenario, d.layout);
            const double c = std::cos(std::stod(tilt_deg) * degree);
            const double s = std::sin(std::stod(tilt_deg) * degree);
            // The part turns about the point of its reference surface that the beam lights: the origin.
            for (const auto& [x, height] : {std::array{-3.0, 0.0}, std::array{-1.0, 1.5}, std::array{1.0, 1.5},
                                            std::array{1.5, 0.25}, std::array{2.0, -1.0}, std::array{4.0, -1.0}}) {
                const Vector2 place = at(d, (x * c + height * s) * mm, (height * c - x * s) * mm);
                // A kink may fall between two stations, a thousandth of the half width apart.
                CHECK(distance_to(pieces(d.svg, "part"), place) < thinning + 1e-3 * 60.0 + 2.0 * rounding);
            }
            check_texts(d.svg);
        }
    }
}

TEST_CASE("a ray that the part hides ends where it is stopped, and is marked as hidden", "[record][drawing][shape]") {
    const Settings beside{"target.shape=\"step\"", "target.step.position_mm=0.5"};
    const Drawn hidden = draw(beside + Settings{"target.step.height_mm=5"});
    CHECK(polyline(hidden.svg, "chief-ray-part").empty());
    const std::vector<Vector2> ray = polyline(hidden.svg, "chief-ray-part-hidden");
    REQUIRE(ray.size() == 2);
    // The wall stands 0.5 mm towards the lens, which is seen at 30 deg from the normal.
    const Vector2 stop = at(hidden, 0.5 * mm, 0.5 * mm / std::tan(30.0 * degree));
    CHECK((ray[1] - stop).norm() < 3.0 * rounding);
    CHECK(hidden.svg.find("the part hides its lit spot") != std::string::npos);

    // 0.8 mm are not high enough: the ray passes the edge at 0.866 mm.
    const Drawn seen = draw(beside + Settings{"target.step.height_mm=0.8"});
    CHECK(polyline(seen.svg, "chief-ray-part-hidden").empty());
    CHECK(polyline(seen.svg, "chief-ray-part").size() == 3);
    CHECK(seen.svg.find("the part hides its lit spot") == std::string::npos);

    // In detail B the same for rays from the middle and from both edges of the beam.
    const Drawn detail = draw(beside + Settings{"target.step.height_mm=1"});
    for (const char* id : {"detail-ray-left", "detail-ray-axis", "detail-ray-right"}) {
        CHECK(polyline(detail.svg, std::string(id) + "-hidden").size() == 2);
        CHECK(polyline(detail.svg, id).empty());
    }
    CHECK(detail.svg.find("stopped by the part") != std::string::npos);
}

TEST_CASE("detail B shows a groove to the scale that its bar states", "[record][drawing][shape]") {
    const Drawn d = draw({"target.shape=\"groove\"", "target.groove.opening_deg=105", "target.groove.depth_mm=0.5"});
    const double scale = stated_scale(d.svg, "detail-scale-bar");
    CHECK(scale > 4.0 * stated_scale(d.svg, "mounting"));
    const std::vector<Vector2> outline = polyline(d.svg, "detail-part");
    REQUIRE(outline.size() >= 5);
    const auto by_height = [](const Vector2& a, const Vector2& b) { return a.y() < b.y(); };
    const auto bottom = std::max_element(outline.begin(), outline.end(), by_height);
    const double surface = outline.front().y();
    // The window of the detail is 2.5 times wider than its frame, of 250 page units at most; half of that is thinned.
    const double tolerance = 2e-4 * 2.5 * 125.0 + 2.0 * rounding;
    CHECK((bottom->y() - surface) / scale == Approx(0.5).margin(tolerance / scale));
    // Both rims: half the depth's share of the opening to either side.
    const double half_mouth = 0.5 * std::tan(52.5 * degree) * scale;
    for (const double side : {-1.0, 1.0}) {
        CHECK(distance_to({outline}, {bottom->x() + side * half_mouth, surface}) < tolerance);
        CHECK(distance_to({outline}, {bottom->x() + 0.5 * side * half_mouth, 0.5 * (surface + bottom->y())}) <
              tolerance);
    }
    // The bar itself.
    std::smatch bar;
    const std::regex line("id=\"detail-scale-bar\"[^>]*>\\s*<line x1=\"([0-9.]+)\"[^>]*x2=\"([0-9.]+)\"");
    REQUIRE(std::regex_search(d.svg, bar, line));
    std::smatch named;
    REQUIRE(std::regex_search(d.svg, named, std::regex("([0-9.]+) mm, ([0-9.]+) times larger")));
    CHECK(std::stod(bar[2]) - std::stod(bar[1]) == Approx(std::stod(named[1]) * scale).margin(2.0 * rounding));
    // Two significant digits are written.
    CHECK(std::stod(named[2]) == Approx(scale / stated_scale(d.svg, "mounting")).epsilon(0.05));
}

TEST_CASE("detail B stands where enlarging helps, and nowhere else", "[record][drawing][shape]") {
    const auto has_detail = [](const Settings& settings) {
        const std::string svg = draw(settings).svg;
        const bool drawn = svg.find("Detail B") != std::string::npos;
        CHECK((svg.find("(detail B)") != std::string::npos) == drawn);
        return drawn;
    };
    CHECK_FALSE(has_detail({}));
    CHECK(has_detail({"target.shape=\"step\"", "target.step.position_mm=0.5"}));
    CHECK(has_detail({"target.shape=\"wave\""}));
    const Settings plate{"target.shape=\"plate\"", "target.material=\"clear-glass\""};
    CHECK(has_detail(plate + Settings{"target.plate.thickness_mm=1"}));
    CHECK_FALSE(has_detail(plate + Settings{"target.plate.thickness_mm=5"}));
    // Enlarged, a large roll only looks flatter, and a step out of reach is not seen at all.
    CHECK_FALSE(has_detail({"target.shape=\"cylinder\"", "target.cylinder.radius_mm=50"}));
    CHECK_FALSE(has_detail({"target.shape=\"step\"", "target.step.position_mm=200"}));
    CHECK_FALSE(has_detail({"target.shape=\"wave\"", "target.wave.amplitude_mm=0"}));
}

TEST_CASE("where there is no room for detail B the mounting makes some", "[record][drawing][shape]") {
    const Settings wide{"mount.reference_distance_mm=31.1",
                        "receiver.angle_deg=53.85",
                        "emitter.angle_deg=-7.9",
                        "receiver.distance_mm=34",
                        "mount.range_mm=[-3,3]",
                        "receiver.focal_length_mm=10.26",
                        "detector.pixels=4096",
                        "target.displacement_mm=0.84"};
    const std::string plain = draw(wide).svg;
    const std::string grooved = draw(wide + Settings{"target.shape=\"groove\""}).svg;
    CHECK(grooved.find("Detail B") != std::string::npos);
    CHECK(stated_scale(grooved, "mounting") < 0.98 * stated_scale(plain, "mounting"));
    check_texts(grooved);
}

TEST_CASE("labels pushed upwards stay below the emitter's", "[record][drawing][shape]") {
    // A deep hollow lifts the labels: the place that its part's points to is its rim.
    check_texts(draw({"mount.reference_distance_mm=107.7", "receiver.angle_deg=41.94", "emitter.angle_deg=-13.27",
                      "receiver.distance_mm=101.8", "receiver.focal_length_mm=42.4", "mount.range_mm=[-11.07,11.07]",
                      "detector.pixels=4096", "target.displacement_mm=10.36", "target.shape=\"sphere\"",
                      "target.sphere.radius_mm=264.4", "target.sphere.position_mm=[144.46,-88.74]",
                      "target.sphere.curvature=\"concave\""})
                    .svg);
}

TEST_CASE("light of a plate's back face is drawn by Snell's law", "[record][drawing][shape]") {
    for (const double emitter_deg : {0.0, -30.0}) {
        const Drawn d = draw({"target.shape=\"plate\"", "target.plate.thickness_mm=5", "mount.range_mm=[-1,1]",
                              "target.material=\"clear-glass\"", "emitter.angle_deg=" + std::to_string(emitter_deg)});
        const double index = scenario::index_at(d.scenario.target.made_of, d.scenario.emitter.wavelength).real();
        const double scale = drawn_scale(d);
        const double depth = 5.0 * mm * scale;
        const std::vector<Vector2> back = polyline(d.svg, "part-back");
        REQUIRE(back.size() >= 2);
        CHECK(back.front().y() == Approx(at(d, 0.0, -5.0 * mm).y()).margin(2.0 * rounding));
        const std::vector<Vector2> ray = polyline(d.svg, "chief-ray-back");
        REQUIRE(ray.size() == 3);
        // In: from the spot at the origin. Out: from the exit to the lens.
        const double in = std::asin(std::sin(-emitter_deg * degree) / index);
        const double at_back = at(d, 0.0, 0.0).x() + depth * std::tan(in);
        const double out_inside = std::atan((ray[0].x() - at_back) / depth);
        const Vector2 to_lens = (ray[1] - ray[0]).normalized();
        CHECK(index * std::sin(out_inside) == Approx(to_lens.x()).margin(4.0 * rounding / depth));
        // A chief ray goes straight on.
        CHECK(distance_to_line(ray[2], ray[0], ray[1]) < 4.0 * rounding);
    }
}

TEST_CASE("whatever the shape, nothing leaves the page and texts keep off each other",
          "[record][drawing][shape][slow]") {
    for (const Settings& shape : shapes()) {
        for (const Settings& mounting : mountings()) {
            CAPTURE(words_of(shape + mounting));
            const std::string svg = draw(shape + mounting).svg;
            check_texts(svg);
            CHECK(svg.find("nan") == std::string::npos);
            for (std::size_t list = svg.find("points=\""); list != std::string::npos;
                 list = svg.find("points=\"", list + 1)) {
                std::istringstream points(svg.substr(list + 8, svg.find('"', list + 8) - list - 8));
                double x = 0.0;
                double y = 0.0;
                char comma = ' ';
                bool inside = true;
                while (points >> x >> comma >> y) {
                    inside = inside && x > 0.0 && x < page_width && y > 0.0 && y < page_height;
                }
                CHECK(inside);
            }
        }
    }
}
