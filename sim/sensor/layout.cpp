#include "sim/sensor/layout.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/receiver/mirrored_beam.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/polarised.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::sensor {

namespace {

using base::mm;

double span_of(const scenario::Scenario& scenario) {
    return scenario.mount.range[1] - scenario.mount.range[0];
}

receiver::MeasurableRange range_of(const scenario::Scenario& scenario, const receiver::Receiver& receiver) {
    const double reference_distance = scenario.mount.reference_distance;
    return reads_mirrored_beam(scenario, receiver) ? receiver::mirrored_range(receiver, reference_distance)
                                                   : receiver::measurable_range(receiver, reference_distance);
}

}  // namespace

double percent_of_span(const scenario::Scenario& scenario, double length) {
    return 100.0 * length / span_of(scenario);
}

double speckle_correlation_area(const receiver::Aperture& aperture, double wavelength, double distance, double turn) {
    const auto sine_of_half_angle = [distance](double half_width) {
        return std::sin(std::atan(half_width / distance));
    };
    const double in_plane = sine_of_half_angle(aperture.half_in_plane * std::cos(turn));
    const double out_of_plane = sine_of_half_angle(aperture.half_out_of_plane);
    const double opening = aperture.shape == receiver::ApertureShape::round ? base::pi : 4.0;
    return wavelength * wavelength / (opening * in_plane * out_of_plane);
}

double speckle_limit(double correlation_area, double between_axes, double contrast) {
    return contrast * std::sqrt(correlation_area / (8.0 * base::pi)) / std::sin(between_axes);
}

double speckle_limit_at(const receiver::Receiver& receiver, double wavelength, double displacement, double contrast) {
    const Eigen::Vector3d lit(-displacement * std::tan(receiver.emitter_angle), 0.0, -displacement);
    const Eigen::Vector3d lens =
        receiver.object_distance * Eigen::Vector3d(std::sin(receiver.angle), 0.0, std::cos(receiver.angle));
    const Eigen::Vector3d view = lens - lit;
    const double direction = std::atan2(view.x(), view.z());
    const double area =
        speckle_correlation_area(receiver.aperture, wavelength, view.norm(), direction - receiver.angle);
    return speckle_limit(area, direction - receiver.emitter_angle, contrast);
}

std::string_view why_speckle_is_below_the_law(const scenario::Receiver& receiver) {
    if (receiver.aperture.shape != scenario::ApertureShape::round) return {};
    return "speckle is 30 to 40 % below the often quoted C lambda / (2 pi sin u sin theta): a round aperture takes "
           "1/sqrt(2), the foreshortened spot sqrt(cos theta)";
}

std::string_view why_limit_is_below_the_law(const scenario::Receiver& receiver) {
    if (receiver.aperture.shape != scenario::ApertureShape::round) return {};
    return "29 % below the often quoted C lambda / (2 pi sin u sin theta): a round aperture takes 1/sqrt(2)";
}

bool reads_mirrored_beam(const scenario::Scenario& scenario, const receiver::Receiver& receiver) {
    if (!scenario.reading.reference.index || !receiver::mirrored_position(receiver, 0.0)) return false;
    const target::Surface surface = target::make_surface(scenario.reading.reference, scenario.emitter.wavelength);
    if (!surface.gloss) return false;
    const Eigen::Vector3d normal = Eigen::Vector3d::UnitZ();
    const Eigen::Vector3d to_light(std::sin(receiver.emitter_angle), 0.0, std::cos(receiver.emitter_angle));
    const Eigen::Vector3d to_view(-to_light.x(), 0.0, to_light.z());
    const double opening =
        receiver::area_of(receiver.aperture) / (receiver.object_distance * receiver.object_distance) * to_view.z();
    // The lobe of gloss and haze peaks here: its peak value times the opening of a wide lens would be more light than
    // the interface reflects, so what it reflects bounds it.
    const emitter::Polarisation light = emitter::make_beam(scenario.emitter, scenario.mount).polarisation;
    const double mirrored = target::mirror_reflectance(surface, to_light, normal, light);
    const double reflected =
        target::fresnel(surface.gloss->index, to_light.z()).mean(target::s_share(light, to_light, normal));
    const double lobe =
        std::min(target::gloss_scatter(surface, to_light, to_view, normal, light) * opening, reflected - mirrored);
    return mirrored > target::base_scatter(surface, to_light, to_view, normal, light) * opening + lobe;
}

receiver::Receiver checked_receiver(const scenario::Scenario& scenario) {
    const receiver::Receiver receiver = receiver_of(scenario);
    const receiver::MeasurableRange range = range_of(scenario, receiver);
    const auto [near, far] = scenario.mount.range;
    if (near < range.near || far > range.far) {
        const bool near_end = near < range.near;
        scenario::reject(
            scenario, "mount.range_mm",
            fmt::format("range outside the geometry: the {} end is limited by the {}", near_end ? "near" : "far",
                        near_end ? range.near_limit : range.far_limit),
            fmt::format("{:.4g} to {:.4g} mm", range.near / mm, range.far / mm),
            "a longer array, a smaller magnification or a smaller angle covers more; for a mirror a larger "
            "aperture too");
    }
    return receiver;
}

Layout make_layout(const scenario::Scenario& scenario) {
    Layout layout;
    layout.receiver = checked_receiver(scenario);
    const receiver::Receiver& r = layout.receiver;
    layout.span = span_of(scenario);
    layout.detector_tilt = r.detector_tilt;
    layout.magnification = r.image_distance / r.object_distance;
    layout.mirrored = reads_mirrored_beam(scenario, r);
    layout.sensitivity = layout.mirrored ? receiver::mirrored_sensitivity(r, 0.0) : receiver::sensitivity_at(r, 0.0);
    layout.pixel_displacement = r.pitch / layout.sensitivity;
    layout.measurable = range_of(scenario, r);
    layout.object_side_na = receiver::object_side_na(r);
    layout.speckle_limit = speckle_limit_at(r, scenario.emitter.wavelength, 0.0, 1.0);
    const emitter::Beam beam = beam_of(scenario);
    const std::array<double, 3> displacements{scenario.mount.range[0], 0.0, scenario.mount.range[1]};
    for (std::size_t i = 0; i < displacements.size(); ++i) {
        // The range lies within the measurable one, where every displacement has an image.
        layout.image_position[i] = layout.mirrored ? receiver::mirrored_position(r, displacements[i]).value()
                                                   : receiver::image_position(r, displacements[i]).value();
        layout.distance[i] = scenario.mount.reference_distance + displacements[i] / std::cos(r.emitter_angle);
        layout.beam_radius[i] = emitter::radius_at(beam, 0, layout.distance[i]);
    }
    layout.laser_class = emitter::estimated_class(scenario.emitter.wavelength, scenario.emitter.power);
    layout.laser_caution = emitter::safety_caution();
    layout.glare = glare_of(scenario, r, beam, part_of(scenario, scenario.target.displacement));
    return layout;
}

}  // namespace spotwright::sensor
