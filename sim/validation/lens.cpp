#include <algorithm>
#include <cmath>
#include <complex>

#include "sim/base/units.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/receiver/speckle_plan.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/validation/speckle.hpp"
#include "sim/validation/support.hpp"

namespace spotwright::validation {

namespace {

using namespace base;
using receiver::Receiver, receiver::ReceiverPoint, receiver::Wavefront;

constexpr const char* welford =
    "transverse aberration -R dW/dx over the pupil: W. T. Welford, Aberrations of Optical Systems (1986), ch. 7; M. "
    "Born, "
    "E. Wolf, Principles of Optics, ch. 5";
constexpr const char* marechal =
    "Strehl's ratio 1 - (2 pi sigma)^2 of a small aberration of rms sigma, and sigma of each: A. Marechal (1947); M. "
    "Born, "
    "E. Wolf, Principles of Optics, ch. 9";
constexpr double waves = 2.0;

// f/3.75 behind the lens, the array square to its axis.
Receiver square_receiver(const Wavefront& wavefront) {
    scenario::Scenario s = worked_example_sensor();
    s.receiver.detector_tilt = 0.0;
    Receiver r = sensor::receiver_of(s);
    const double rim = r.wavefront.rim;
    r.wavefront = wavefront;
    r.wavefront.rim = rim;
    return r;
}

receiver::ArrayPoint landing(const Receiver& r, double x, double y) {
    const double half = r.aperture.half_in_plane;
    return receiver::trace(r, ReceiverPoint{r.object_distance, 0.0, 0.0}, x * half, y * half).value();
}

// How far before the paraxial focus a ray through the rim crosses the axis, in plane or out of it.
double nearer_focus(Receiver r, bool in_plane) {
    const auto beside = [&](double distance) {
        r.image_distance = distance;
        const receiver::ArrayPoint at = in_plane ? landing(r, 1.0, 0.0) : landing(r, 0.0, 1.0);
        return in_plane ? at.u : at.v;
    };
    const double b = r.image_distance;
    const double here = beside(b);
    const double before = beside(0.99 * b);
    return here / (here - before) * 0.01 * b;
}

// Radius of the smallest circle that all rays pass, and how far before the paraxial focus it lies.
struct LeastCircle {
    double radius = 1.0;
    double before = 0.0;
};

LeastCircle least_circle(Receiver r, double reach) {
    const double b = r.image_distance;
    LeastCircle least;
    constexpr int steps = 2000;
    constexpr int rays = 200;
    for (int i = 0; i <= steps; ++i) {
        const double before = reach * i / steps;
        r.image_distance = b - before;
        double radius = 0.0;
        for (int k = 1; k <= rays; ++k) {
            radius = std::max(radius, std::abs(landing(r, static_cast<double>(k) / rays, 0.0).u));
        }
        if (radius < least.radius) least = {radius, before};
    }
    return least;
}

double strehl(const Wavefront& wavefront, double defocus_waves) {
    receiver::SpeckleView view = plain_speckle_view(receiver::ApertureShape::round, 0.05, 0.0, 400.0 * um);
    const double rim = view.aperture.half_in_plane;
    view.aberrations = wavefront;
    view.aberrations.rim = rim;
    const double defocus = -2.0 * defocus_waves * view.wavelength / (rim * rim);
    view.defocus = {defocus, defocus};
    const receiver::SpecklePlan plan = receiver::plan_speckle(view);
    return receiver::strehl_ratio(plan);
}

Check strehl_check(std::string id, std::string claim, const Wavefront& wavefront, double defocus_waves, double sigma) {
    const double phase = 2.0 * pi * sigma;
    return {std::move(id),
            std::move(claim),
            marechal,
            "1",
            1.0 - phase * phase,
            strehl(wavefront, defocus_waves),
            phase * phase * phase * phase + 3e-4,
            "the next term of the series, and the pupil's rim on its grid"};
}

std::vector<Check> ray_checks() {
    const double lead = waves * worked_example_sensor().emitter.wavelength;
    const Receiver spherical = square_receiver({lead, 0.0, 0.0});
    const Receiver coma = square_receiver({0.0, lead, 0.0});
    const Receiver astigmatism = square_receiver({0.0, 0.0, lead});
    const double n = spherical.image_distance / (2.0 * spherical.aperture.half_in_plane);
    const double shift = 16.0 * n * n * lead;
    const LeastCircle least = least_circle(spherical, 1.2 * shift);
    const std::string first_order = "1 %: the relation is of first order in the shift of focus over the image distance";
    const receiver::ArrayPoint side = landing(coma, std::cos(60.0 * degree), std::sin(60.0 * degree));
    return {
        {"lens.spherical.ray", "2 waves of W040 throw a ray at the rim 8 N W040 beside the focus", welford, "um",
         8.0 * n * lead / um, landing(spherical, 1.0, 0.0).u / um, 1e-6, "rounding: the relation is exact"},
        {"lens.spherical.focus", "rays at the rim meet 16 N^2 W040 before the paraxial focus", welford, "um",
         shift / um, nearer_focus(spherical, true) / um, 0.01 * shift / um, first_order},
        {"lens.spherical.circle", "the least circle has a quarter of the marginal ray's aberration", welford, "um",
         2.0 * n * lead / um, least.radius / um, 0.02 * n * lead / um, first_order},
        {"lens.spherical.circle.place", "it lies at three quarters of the way to the marginal focus", welford, "um",
         0.75 * shift / um, least.before / um, 0.01 * shift / um, first_order},
        {"lens.coma.tangential", "2 waves of W131 throw a ray at the rim in its plane 6 N W131 aside", welford, "um",
         6.0 * n * lead / um, landing(coma, 1.0, 0.0).u / um, 1e-6, "rounding: the relation is exact"},
        {"lens.coma.circle", "rays of the rim land on a circle of radius 2 N W131 about 4 N W131, twice for each turn",
         welford, "um", 2.0 * n * lead / um, std::hypot(side.u - 4.0 * n * lead, side.v) / um, 1e-6,
         "rounding: the relation is exact"},
        {"lens.astigmatism.foci", "2 waves of W222 part the foci by 8 N^2 W222", welford, "um", 0.5 * shift / um,
         (nearer_focus(astigmatism, true) - nearer_focus(astigmatism, false)) / um, 0.005 * shift / um, first_order},
    };
}

// A ray from a point through the plate by Snell's law, face by face: where it meets the array.
double snell_landing(Receiver r, const receiver::CoverGlass& glass, double outside) {
    // From the lens back: the ray meets the plate, whose faces are square to the normal, at any place between.
    const Eigen::Vector3d lens = receiver::aperture_point(r, 0.0, 0.0);
    const double inside = std::asin(std::sin(outside) / glass.index);
    const double before = lens.z() - glass.thickness;  // air on both sides together
    const double x = lens.x() - before * std::tan(outside) - glass.thickness * std::tan(inside);
    r.glass = glass;
    return receiver::trace(r, receiver::to_receiver(r, {x, 0.0, 0.0}), 0.0, 0.0).value().u;
}

std::vector<Check> glass_checks() {
    const scenario::Scenario s = worked_example_sensor();
    const Receiver r = sensor::receiver_of(s);
    const receiver::CoverGlass glass{3.0 * mm, 1.515};
    const double outside = r.angle + 2.0 * degree;
    // Without glass that ray meets the array where any place on it, as the line through the lens, is imaged.
    const Eigen::Vector3d lens = receiver::aperture_point(r, 0.0, 0.0);
    const Eigen::Vector3d on_line = lens - 40.0 * mm * Eigen::Vector3d(std::sin(outside), 0.0, std::cos(outside));
    const double expected = receiver::trace(r, receiver::to_receiver(r, on_line), 0.0, 0.0).value().u;
    return {{"glass.apparent_depth", "3 mm of glass lift what lies behind them by t (n - 1) / n, seen along the normal",
             "E. Hecht, Optics, ch. 4", "mm", 3.0 * 0.515 / 1.515, receiver::apparent_lift(glass, 1.0) / mm, 1e-12,
             "rounding"},
            {"glass.snell", "a slanted ray through 3 mm of glass meets the array where Snell's law sends it",
             "Snell's law at both faces, worked out a second time", "um", expected / um,
             snell_landing(r, glass, outside) / um, 1e-3, "steps of the ray's angle leave less than a nanometre"}};
}

}  // namespace

std::vector<Check> lens_checks() {
    constexpr double tenth = 0.1;
    const double lead = tenth * worked_speckle_wavelength;
    return joined({ray_checks(),
                   {strehl_check("lens.strehl.spherical", "0.1 wave of W040 at the paraxial focus", {lead, 0.0, 0.0},
                                 0.0, tenth * 2.0 / (3.0 * std::sqrt(5.0))),
                    strehl_check("lens.strehl.balanced", "the same, balanced by as much defocus the other way",
                                 {lead, 0.0, 0.0}, -tenth, tenth / (6.0 * std::sqrt(5.0))),
                    strehl_check("lens.strehl.coma", "0.1 wave of W131", {0.0, lead, 0.0}, 0.0, tenth / std::sqrt(8.0)),
                    strehl_check("lens.strehl.astigmatism", "0.1 wave of W222", {0.0, 0.0, lead}, 0.0, tenth / 4.0)},
                   glass_checks()});
}

}  // namespace spotwright::validation
