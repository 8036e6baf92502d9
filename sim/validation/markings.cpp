// Checks of what varies over a surface.
#include <fmt/format.h>

#include <cmath>

#include "sim/base/units.hpp"
#include "sim/receiver/image.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/target/markings.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/support.hpp"

namespace spotwright::validation {

namespace {

using namespace base;

// A part of reflectance 0.8 whose half beyond a border across the mounting plane returns 0.04, before the sensor of the
// worked examples with a spot of this radius; the displacement that the centroid of all its light stands for.
double border_reads(double radius, double border, double turn = 0.0) {
    scenario::Scenario s = worked_example_sensor();
    s.emitter.waist_radius = {radius, 40.0 * um};
    s.emitter.beam_quality = 1.0;
    s.detector.height = 1.0 * mm;  // all of the spot
    const receiver::Receiver r = sensor::receiver_of(s);
    target::Part part = target::square_plane(0.0);
    part.markings.emplace();
    const target::Surface dark{0.04, 0.0};
    part.markings->cover = target::Cover{target::Border{}, {turn, {border, 0.0}}, dark};
    const auto centroid = [&](const target::Part& lit) {
        const receiver::EdgeSpread edge_spread;
        const receiver::Profile profile =
            receiver::image(sensor::beam_of(s), lit, {0.8, 0.0}, r, edge_spread, s.detector.quantum_efficiency);
        return receiver::centroid_of(profile).value();
    };
    const double moved = (centroid(part) - centroid(target::square_plane(0.0))) * r.pitch;
    return -moved / receiver::sensitivity_at(r, 0.0);
}

std::vector<Check> border_checks() {
    constexpr const char* source =
        "centroid of a Gaussian spot on two reflectances, derived (markings.3), (markings.4)";
    constexpr const char* why = "the image's promise of 0.02 px for each of two images, 40 um of displacement a pixel";
    constexpr double tolerance = 1.6;
    const auto check = [&](const char* id, double radius, double border, double expected) {
        return Check{id,
                     fmt::format("a border of 0.8 to 0.04 at {:g} um under a spot of {:g} um shifts the reading",
                                 border / um, radius / um),
                     source,
                     "um",
                     expected,
                     border_reads(radius, border) / um,
                     tolerance,
                     why};
    };
    return {
        check("markings.border(-20, 40)", 40.0 * um, -20.0 * um, -39.67172),
        check("markings.border(0, 40)", 40.0 * um, 0.0, -25.00720),
        check("markings.border(15, 40)", 40.0 * um, 15.0 * um, -12.62912),
        check("markings.border(-10, 100)", 100.0 * um, -10.0 * um, -71.54056),
        check("markings.border(15, 100)", 100.0 * um, 15.0 * um, -49.25732),
        {"markings.border(along)", "a border in the plane of the mounting shifts nothing", "symmetry, derived", "um",
         0.0, border_reads(40.0 * um, 0.0, 90.0 * degree) / um, tolerance, why},
    };
}

std::vector<Check> groove_checks() {
    const target::FeedMarks marks{150.0 * um, 0.8 * mm};
    const double crest = target::groove_at(marks, 75.0 * um * (1.0 - 1e-12)).height;
    return {worked("markings.feed_marks",
                   "a feed of 0.15 mm and a tool tip of 0.8 mm leave grooves of the depth f^2 / (8 r)",
                   "peak-to-valley height of turned surfaces, handbook formula from memory; worked value", "um",
                   3.515625, (crest - target::groove_at(marks, 0.0).height) / um)};
}

}  // namespace

std::vector<Check> marking_checks() {
    return joined({border_checks(), groove_checks()});
}

}  // namespace spotwright::validation
