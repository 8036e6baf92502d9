#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/units.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/support.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::validation {

namespace {

using namespace base;

constexpr const char* projection = "closed form of the exact projection, derived; standard in triangulation texts";
// Largest relative deviation of the model's image position from u = b z sin / (a sin(beta) - z sin(theta + beta)),
// written out here a second time, over the whole range.
double worst_projection_error(const receiver::Receiver& r) {
    const double beta = pi / 2.0 - r.detector_tilt;
    double worst = 0.0;
    for (int i = -50; i <= 50; ++i) {
        if (i == 0) continue;
        const double z = i * 0.1 * mm;
        const double u = r.image_distance * z * std::sin(r.angle) /
                         (r.object_distance * std::sin(beta) - z * std::sin(r.angle + beta));
        worst = std::max(worst, std::abs(receiver::image_position(r, -z).value() / u - 1.0));
    }
    return worst;
}

// Spread of the places where rays through all of the aperture meet the array, for a point of the beam.
double aperture_spread(const receiver::Receiver& r, double displacement) {
    const receiver::ReceiverPoint point = receiver::to_receiver(r, {0.0, 0.0, -displacement});
    double lowest = std::numeric_limits<double>::infinity();
    double highest = -lowest;
    for (int i = -10; i <= 10; ++i) {
        const double u = receiver::trace(r, point, i * 0.1 * r.aperture.half_in_plane, 0.0).value().u;
        lowest = std::min(lowest, u);
        highest = std::max(highest, u);
    }
    return highest - lowest;
}

}  // namespace

std::vector<Check> geometry_checks() {
    const scenario::Scenario s = worked_example_sensor();
    const receiver::Receiver r = sensor::receiver_of(s);
    const auto u_at = [&r](double z_mm) { return receiver::image_position(r, -z_mm * mm).value() / mm; };
    const auto slope_at = [&r](double z_mm) { return receiver::sensitivity_at(r, -z_mm * mm); };
    const receiver::MeasurableRange range = receiver::measurable_range(r, 1.0);
    scenario::Scenario square = s;
    square.receiver.detector_tilt = 0.0;
    const receiver::Receiver square_array = sensor::receiver_of(square);
    receiver::Receiver square_aperture = r;
    square_aperture.aperture.shape = receiver::ApertureShape::rectangular;
    const double diffraction_radius =
        1.21967 * s.emitter.wavelength * r.image_distance / (2.0 * r.aperture.half_in_plane);

    std::vector<Check> checks{
        worked("geometry.image_distance", "the thin lens images 60 mm at f = 20 mm to 30 mm", "thin lens equation",
               "mm", 30.0, r.image_distance / mm),
        worked("geometry.scheimpflug", "the array's tilt keeps the beam in focus: tan(tilt) = m / tan(theta)",
               "T. Scheimpflug, British patent 1196 (1904); worked value", "deg", 40.89339, r.detector_tilt / degree),
        worked("geometry.u(+2mm)", "image position of a target 2 mm nearer", projection, "mm", 0.6913753, u_at(2.0)),
        worked("geometry.u(-2mm)", "image position of a target 2 mm farther", projection, "mm", -0.6339855, u_at(-2.0)),
        worked("geometry.u(+5mm)", "image position of a target 5 mm nearer", projection, "mm", 1.854332, u_at(5.0)),
        worked("geometry.u(-5mm)", "image position of a target 5 mm farther", projection, "mm", -1.492073, u_at(-5.0)),
        worked("geometry.u(+2mm).square", "the same with the array square to the axis", projection, "mm", 0.5148628,
               receiver::image_position(square_array, -2.0 * mm).value() / mm),
        worked("geometry.sensitivity", "sensitivity at the reference point is m sqrt(sin^2 + m^2 cos^2)", projection,
               "1", 0.3307189, slope_at(0.0)),
        worked("geometry.sensitivity(+5mm)", "sensitivity 5 mm nearer", projection, "1", 0.4158875, slope_at(5.0)),
        worked("geometry.sensitivity(-5mm)", "sensitivity 5 mm farther", projection, "1", 0.2692657, slope_at(-5.0)),
        worked("geometry.near_limit", "the array's end limits the near range", projection, "mm", 11.59499,
               -range.near / mm),
        worked("geometry.far_limit", "the array's end limits the far range", projection, "mm", 23.28674,
               range.far / mm),
        worked("geometry.na", "object-side numerical aperture sin(atan(D / 2a))", "definition", "1", 0.06651901,
               receiver::object_side_na(r)),
        worked("geometry.speckle_limit", "speckle limit of a round aperture at contrast 1",
               "derived; R. G. Dorsch, G. Haeusler, J. M. Herrmann, Appl. Opt. 33, 1306 (1994) divided by sqrt(2)",
               "um", 2.216311, sensor::speckle_limit_at(r, s.emitter.wavelength, 0.0, 1.0) / um),
        worked("geometry.speckle_limit(square)", "speckle limit of a square aperture as wide, at contrast 1",
               "derived: the same with the correlation area lambda^2 / (4 NA^2) of a square pupil", "um", 1.964154,
               sensor::speckle_limit_at(square_aperture, s.emitter.wavelength, 0.0, 1.0) / um),
    };
    checks.push_back({"geometry.exact", "image position equals the closed form all over the range", projection, "1",
                      0.0, worst_projection_error(r), 1e-12, "rounding: some thirty operations of 1.1e-16 each",
                      Relation::at_most});
    checks.push_back({"geometry.inverse", "displacement_at undoes image_position at 5 mm", projection, "mm", 5.0,
                      -receiver::displacement_at(r, u_at(5.0) * mm) / mm, 1e-11, "rounding"});
    for (const double end : {-5.0, 5.0}) {
        checks.push_back({end < 0.0 ? "geometry.focus(near)" : "geometry.focus(far)",
                          "with Scheimpflug's tilt, rays through all of the aperture meet within the Airy radius",
                          "first dark ring 1.21967 lambda N, M. Born, E. Wolf, Principles of Optics, ch. 8", "um",
                          diffraction_radius / um, aperture_spread(r, end * mm) / um, 0.0,
                          "no more than diffraction blurs", Relation::at_most});
        checks.push_back({end < 0.0 ? "geometry.defocus(near)" : "geometry.defocus(far)",
                          "without the tilt, the range's ends are visibly out of focus",
                          "geometric blur at least ten Airy radii, derived", "um", 10.0 * diffraction_radius / um,
                          aperture_spread(square_array, end * mm) / um, 0.0, "bound as stated", Relation::at_least});
    }
    return checks;
}

}  // namespace spotwright::validation
