// A triangulation sensor on marble.
#include <fmt/format.h>

#include <cmath>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/measure/read.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/validation/experiments.hpp"

namespace spotwright::validation {

namespace {

using namespace base;

// The default mount: 30 deg, beam radius 40 um.
scenario::Scenario near_sensor() {
    scenario::Scenario s;
    s.title = "marble";
    s.file = "marble";
    s.emitter.wavelength = 660.0 * nm;
    s.target.made_of = scenario::library_material("marble");
    s.target.material = s.target.made_of.name;
    s.reading.reference = scenario::library_material("white-ceramic");
    s.exposure.mode = scenario::ExposureMode::automatic;
    s.exposure.period = {125.0 * us, 10.0 * ms};
    return s;
}

// A scanner of statues: stand-off 1.2 m, points 0.25 mm apart.
scenario::Scenario far_scanner() {
    scenario::Scenario s = near_sensor();
    s.mount.reference_distance = 1.2;
    s.mount.range = {-70.0 * mm, 70.0 * mm};
    s.emitter.power = 5.0 * mW;
    s.emitter.waist_radius = {0.25 * mm, 0.25 * mm};
    s.receiver.angle = 20.0 * degree;
    s.receiver.distance = 1.2 / std::cos(20.0 * degree);
    s.receiver.focal_length = 50.0 * mm;
    s.receiver.aperture = scenario::round_aperture(10.0 * mm);
    return s;
}

double bias_of(const scenario::Scenario& s, int threads) {
    const std::optional<double> reading = sensor::noiseless_reading(sensor::set_up(s, threads), 0.0);
    if (!reading) throw base::InternalError("the marble of the experiment gives no reading");
    return *reading;
}

// From place to place: speckle and grains.
sensor::SpeckleStatistics places(scenario::Scenario s, int threads) {
    s.run.readings = 1;
    s.run.speckle = scenario::SpeckleModel::statistical;
    return measure::read(sensor::set_up(s, threads), {threads, {}, {}}).speckle.value();
}

}  // namespace

Experiment marble_experiment(int threads) {
    constexpr const char* why =
        "half of a digit, 5 um, and 4 um by the unknown anisotropy (0.6 to 0.95, simulated); how stones differ from "
        "each other is not in it";
    const sensor::SpeckleStatistics uneven = places(far_scanner(), threads);
    return {"marble reads too far, and unevenly",
            "M. Levoy, notes to a talk on 3D scanning, 3DPVT (2002), on work with the National Research Council of "
            "Canada; published by G. Godin, J.-A. Beraldin, M. Rioux, M. Levoy and others, \"An assessment of laser "
            "range measurement on marble surfaces\" (2001), title from memory, text not at hand",
            "Laser triangulation on marble: a bias of 40 um in depth, and noise of almost 1/4 mm from the crystals. "
            "The notes state no geometry. The project's scanner of statues had a stand-off of 1.2 m and points 0.25 mm "
            "apart (M. Levoy, Eurographics 1999); its angle of 20 deg and 660 nm are from memory.",
            "The library's marble, under a sensor with the default mount (30 deg, beam radius 40 um) and under a "
            "scanner as described (20 deg, beam radius 0.25 mm; lens assumed), both calibrated on white ceramic.",
            {{"marble.bias.near", "mean depth read into marble, default mount", "um", 40.0,
              bias_of(near_sensor(), threads) / um, 9.0, why,
              "The size agrees. It proves little: the set-up of the published value is unknown."},
             {"marble.bias.far", "mean depth read into marble, scanner of statues", "um", 40.0,
              bias_of(far_scanner(), threads) / um, 9.0, why,
              "The reading depends on how much of the wide glow in the stone counts, so on beam, pixels and threshold, "
              "none of which is published. The published bias may be from another scanner, on a laboratory sample."},
             {"marble.noise", "standard deviation between places of the marble, scanner of statues", "um", 250.0,
              uneven.standard_deviation.value_or(0.0) / um, 50.0, "\"almost 1/4 mm\": a fifth of it",
              fmt::format("The author holds the crystals responsible. The library's grains (0.3 mm, 10 % of the light "
                          "from one to the next) are assumptions; alone they give {:.1f} um, the rest is speckle. "
                          "Mirrorlike glints of single crystals and light led along their faces are not modelled.",
                          uneven.grain_deviation.value_or(0.0) / um)}}};
}

}  // namespace spotwright::validation
