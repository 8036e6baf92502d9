// A polarised laser whose lens surrounds the beam.
#include <catch2/catch.hpp>

#include "sim/base/units.hpp"
#include "sim/flight/receive.hpp"
#include "sim/scenario/material.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"

using namespace spotwright;
using base::degree, base::mm;
using Catch::Matchers::WithinRel;

namespace {

// @param turn  Of part and field together about the beam, a quarter: in plane to out of plane.
double received(const char* material, double tilt, bool turn, double field) {
    scenario::Emitter emitter;
    emitter.polarisation_degree = 1.0;
    emitter.polarisation_direction = field;
    scenario::Mount mount;
    mount.reference_distance = 300.0 * mm;
    scenario::Receiver lens;
    lens.focal_length = 20.0 * mm;
    lens.aperture = scenario::round_aperture(20.0 * mm);
    scenario::Flight f;
    f.detector_diameter = 10.0 * mm;
    flight::TimedOptics optics;
    optics.beam = emitter::make_beam(emitter, mount);
    optics.receiver = flight::make_receiver(lens, f, mount, 0.0);
    optics.detector_diameter = f.detector_diameter;
    optics.electrons_per_joule = 1.0;
    scenario::Target part;
    part.tilt = turn ? scenario::Pair{0.0, -tilt} : scenario::Pair{tilt, 0.0};
    const scenario::Material made_of = scenario::library_material(material);
    const target::Surface surface = target::make_opaque_surface(made_of, emitter.wavelength);
    return flight::receive(optics, target::make_part(part, mount, optics.beam, 0.0), surface, made_of).received_power;
}

}  // namespace

TEST_CASE("part and field turned together about the beam of a coaxial sensor change nothing", "[flight][physics]") {
    for (const char* material : {"black-glossy-plastic", "white-glossy-paint", "blasted-steel"}) {
        INFO(material);
        const double in_plane = received(material, 12.0 * degree, false, 0.0);
        // Rays of two lattices: 1e-3.
        CHECK_THAT(received(material, 12.0 * degree, true, 90.0 * degree), WithinRel(in_plane, 2e-3));
    }
    // The field alone does not leave it so. Light at 60 deg enters a clear coat above a white base: 1 - R_p against 1 -
    // R_s, n = 1.5, is 0.998 against 0.823.
    CHECK(received("white-glossy-paint", 60.0 * degree, false, 0.0) >
          1.15 * received("white-glossy-paint", 60.0 * degree, false, 90.0 * degree));
}
