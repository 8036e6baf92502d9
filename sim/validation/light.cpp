#include <boost/math/tools/roots.hpp>

#include <cmath>
#include <numeric>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/flight/receive.hpp"
#include "sim/receiver/ambient.hpp"
#include "sim/receiver/image.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/support.hpp"
#include "sim/target/surface.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::validation {

namespace {

using namespace base;

std::vector<Check> beam_checks() {
    constexpr const char* iso = "ISO 11146-1, beam propagation; worked value";
    scenario::Scenario s;
    s.emitter.waist_radius = {25.0 * um, 25.0 * um};
    s.emitter.beam_quality = 1.2;
    s.emitter.power = 1.0 * mW;
    const emitter::Beam beam = sensor::beam_of(s);
    return {
        worked("beam.rayleigh", "Rayleigh length of a 25 um waist, M^2 = 1.2", iso, "mm", 2.498086,
               emitter::rayleigh_length(beam, 0) / mm),
        worked("beam.radius(5mm)", "1/e^2 radius 5 mm from the waist", iso, "um", 55.93597,
               emitter::radius_at(beam, 0, beam.waist_along + 5.0 * mm) / um),
        worked("beam.divergence", "half-angle of the far field", iso, "mrad", 10.00766,
               emitter::divergence(beam, 0) / 1e-3),
        worked("beam.peak_irradiance", "peak irradiance of 1 mW in a 25 um waist is 2P / (pi w^2)", iso, "W/m^2",
               1018592.0, emitter::irradiance_at(beam, Eigen::Vector3d::Zero())),
        worked("eye.class1_905", "class 1 limit for continuous light at 905 nm is 0.39 mW C4",
               "IEC 60825-1:2014, 700 to 1050 nm column; C4 = 10^(0.002 (lambda - 700))", "mW", 1.002454,
               emitter::emission_limits(905.0 * nm).class_1 / mW),
    };
}

std::vector<Check> surface_checks() {
    constexpr const char* oren = "M. Oren, S. K. Nayar, SIGGRAPH (1994), qualitative form; worked value";
    // The form's 0.8 is the facets' own reflectance.
    const target::Surface rough{0.8 * target::facet_share(20.0 * degree), 20.0 * degree};
    const auto direction = [](double angle) { return Eigen::Vector3d(std::sin(angle), 0.0, std::cos(angle)); };
    const Eigen::Vector3d normal = Eigen::Vector3d::UnitZ();
    return {
        worked("surface.oren_nayar(0)", "Oren-Nayar at 30 in, 45 out, same side", oren, "1/sr", 0.2472205,
               target::scatter(rough, direction(30.0 * degree), direction(45.0 * degree), normal)),
        worked("surface.oren_nayar(180)", "the same, opposite side", oren, "1/sr", 0.2203132,
               target::scatter(rough, direction(30.0 * degree), direction(-45.0 * degree), normal)),
    };
}

// Electrons on an array tall enough to lose nothing, for the published link budget.
std::vector<Check> link_budget_checks() {
    scenario::Scenario s = worked_example_sensor();
    s.emitter.power = 1.0 * mW;
    s.emitter.waist_radius = {20.0 * um, 20.0 * um};
    s.receiver.transmission = 0.9;
    s.detector.height = 100.0 * mm;
    const receiver::Receiver r = sensor::receiver_of(s);
    const receiver::EdgeSpread edge_spread;
    const target::Surface matt{0.8, 0.0};
    const receiver::Profile profile =
        receiver::image(sensor::beam_of(s), target::square_plane(0.0), matt, r, edge_spread, 0.55);
    const double electrons = std::accumulate(profile.rate.begin(), profile.rate.end(), 0.0) * 10.0 * us;
    const double share = profile.collected_power / (s.emitter.power * s.receiver.transmission);
    return {
        worked("light.photon_energy", "photon energy h c / lambda at 655 nm", "SI constants", "1e-19 J", 3.032742,
               photon_energy(655.0 * nm) / 1e-19),
        {"light.lambert_aperture", "a matt part sends rho sin^2(u) cos(theta) of its light into the aperture",
         "Lambert's law, exact for a point; worked value", "1", 0.003065577, share, 3e-7,
         "the spot's own size: terms of order (w/a)^2 and of the tilted footprint, about 1e-4 of the value"},
        {"light.electrons", "1 mW for 10 us, rho 0.8, transmission 0.9, quantum efficiency 0.55",
         "link budget, derived; worked value", "e", 5.003593e7, electrons, 1.5e5,
         "light diffracted beyond both ends of the array, 4 / (pi^3 x) with x half the array over lambda N: 0.06 %, "
         "and beyond its height; at most 0.3 %"},
    };
}

// The same budget through the receiver of a time-of-flight sensor: 20 mm lens around the beam, part at 100 mm.
std::vector<Check> timed_link_checks() {
    scenario::Scenario s = worked_example_sensor();
    s.principle = scenario::PhaseShift{};
    s.mount.reference_distance = 100.0 * mm;
    s.emitter.power = 1.0 * mW;
    s.receiver.aperture = scenario::round_aperture(20.0 * mm);
    s.receiver.transmission = 0.7;
    s.detector.quantum_efficiency = 0.6;
    s.flight.detector_diameter = 1.0 * mm;
    const flight::TimedOptics optics = sensor::timed_optics_of(s);
    const target::Surface matt{0.5, 0.0};
    const auto received = [&](const Eigen::Vector3d& normal) {
        return flight::receive(optics, target::plane_through(Eigen::Vector3d::Zero(), normal), matt, s.target.made_of);
    };
    const flight::Received square = received(Eigen::Vector3d::UnitZ());
    const double turn = 30.0 * degree;
    const flight::Received turned = received({std::sin(turn), 0.0, std::cos(turn)});
    double rate = 0.0;
    for (const flight::Arrival& arrival : square.light.arrivals) rate += arrival.rate;
    constexpr const char* small_spot = "the spot's own size, (w/d)^2, and quadrature over the lens: below 1e-5 of it";
    return {
        {"light.timed.square", "1 mW, rho 0.5, lens 20 mm, 0.1 m, transmission 0.7: received power",
         "Lambert's law, P rho sin^2(u) eta; worked value", "uW", 3.46534653, square.received_power / uW, 4e-5,
         small_spot},
        {"light.timed.turned", "the same part turned by 30 deg: cos(30 deg) of it",
         "Lambert's law: projected solid angle of the lens times the cosine", "1", 0.8660254,
         turned.received_power / square.received_power, 1e-5, small_spot},
        {"light.timed.path", "way there and back", "geometry", "mm", 200.0, square.mean_path / mm, 1e-3,
         "beam radius 40 um: sagitta below 0.02 um; rounding of the distance"},
        {"light.timed.electrons", "electrons of 3.5 uW in 100 us, quantum efficiency 0.6",
         "N = eta P t lambda / (h c); worked value", "e", 692442734.0,
         rate / square.received_power * 3.5 * uW * 100.0 * us, 100.0,
         "sums of a thousand shares, rounded: 1.5e-7 of it"},
    };
}

std::vector<Check> ambient_checks() {
    scenario::Scenario s = worked_example_sensor();
    s.receiver.filter_width = 10.0 * nm;
    s.receiver.transmission = 0.8;
    s.receiver.detector_tilt = 0.0;
    s.receiver.aperture = scenario::round_aperture(s.receiver.focal_length / 2.0);
    s.detector.pitch = 5.0 * um;
    s.detector.height = 5.0 * um;
    s.detector.quantum_efficiency = 0.6;
    s.surroundings.light = scenario::Light::daylight;
    s.surroundings.illuminance = 1e5;
    const receiver::Receiver r = sensor::receiver_of(s);
    const double irradiance = receiver::spectral_irradiance(s.surroundings.light, 1e5, 655.0 * nm);
    // The worked value takes 1.38058095 W/(m^2 nm); ours is scaled to it, so that only the optics are compared.
    const receiver::Band band = receiver::filter_band(s.emitter.wavelength, s.receiver.filter_width);
    const double rate = receiver::lamp_rate(s.surroundings, r, s.detector, band, [](double) { return 0.5; });
    const double electrons = rate * 100.0 * us * (1.38058095e9 / irradiance);
    return {
        {"ambient.pixel", "sunlit matt part: electrons on a 5 um pixel in 100 us at f/2, m = 0.5",
         "radiance times etendue, paraxial pi / (4 F^2 (1+m)^2); worked value", "e", 758.708928, electrons, 25.0,
         "exact sin^2(u') against the paraxial tan^2(u'): 1/37 against 1/36, 2.7 %"},
        {"ambient.sun_655", "full sun of 1e5 lx near 655 nm", "ASTM G173-03 global, mean over 655 +- 10 nm",
         "W/(m^2 nm)", 1.38058, irradiance * nm, 0.28, "a Planck radiator stands in for the sun: 20 %"},
        {"ambient.sun_850", "full sun of 1e5 lx near 850 nm", "ASTM G173-03 global, mean over 850 +- 10 nm",
         "W/(m^2 nm)", 0.977287, receiver::spectral_irradiance(scenario::Light::daylight, 1e5, 850.0 * nm) * nm, 0.2,
         "a Planck radiator stands in for the sun: 20 %"},
    };
}

// Full width at half maximum of a line spread, from the edge spread by central differences. [lambda N]
double line_width(receiver::ApertureShape shape) {
    const receiver::EdgeSpread edge_spread(shape);
    constexpr double step = 1.0 / 64.0;
    const auto line_spread = [&edge_spread](double x) {
        return (edge_spread(x + step) - edge_spread(x - step)) / (2.0 * step);
    };
    const double half = 0.5 * line_spread(0.0);
    const auto bracket = boost::math::tools::bisect([&](double x) { return line_spread(x) - half; }, 0.1, 1.0,
                                                    boost::math::tools::eps_tolerance<double>(30));
    return bracket.first + bracket.second;
}

std::vector<Check> diffraction_checks() {
    constexpr const char* born_wolf = "M. Born, E. Wolf, Principles of Optics, ch. 8, integrated across; worked value";
    constexpr const char* difference =
        "central difference of step 1/64: the width grows by about step^2 times the curvature, 3e-4";
    return {{"diffraction.line_spread", "full width at half maximum of the round aperture's line spread", born_wolf,
             "lambda N", 1.001662, line_width(receiver::ApertureShape::round), 5e-4, difference},
            {"diffraction.line_spread(slit)", "full width at half maximum of the rectangular aperture's line spread",
             born_wolf, "lambda N", 0.8858929, line_width(receiver::ApertureShape::rectangular), 5e-4, difference}};
}

}  // namespace

std::vector<Check> light_checks() {
    return joined({beam_checks(), surface_checks(), link_budget_checks(), timed_link_checks(), ambient_checks(),
                   diffraction_checks()});
}

}  // namespace spotwright::validation
