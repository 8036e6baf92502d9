#include "sim/sensor/flight_layout.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/flight/air.hpp"
#include "sim/flight/receive.hpp"
#include "sim/flight/unwrap.hpp"
#include "sim/sensor/flight_instrument.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::sensor {

namespace {

using base::Cases;
using scenario::PhaseShift, scenario::Pulsed, scenario::Triangulation;

FrequencyLayout frequency_layout(const scenario::Scenario& s, double frequency) {
    FrequencyLayout layout;
    const double period = distance_per_delay(s) / frequency;
    layout.frequency = frequency;
    layout.distance_per_radian = period / (2.0 * base::pi);
    if (s.flight.waveform != scenario::Waveform::sine) {
        const bool odd = s.flight.buckets % 2 != 0;
        layout.cyclic_error_period = period / static_cast<double>(odd ? 2 * s.flight.buckets : s.flight.buckets);
    }
    return layout;
}

void add_light(FlightLayout& layout, const scenario::Scenario& s) {
    const flight::TimedOptics optics = timed_optics_of(s);
    const emitter::Beam& beam = optics.beam;
    const target::Surface tile = target::make_opaque_surface(s.reading.reference, s.emitter.wavelength);
    const std::array<double, 3> displacements{s.mount.range[0], 0.0, s.mount.range[1]};
    for (std::size_t i = 0; i < displacements.size(); ++i) {
        layout.distance[i] = s.mount.reference_distance + displacements[i] / std::cos(s.emitter.angle);
        layout.beam_radius[i] = emitter::radius_at(beam, 0, layout.distance[i]);
        const Eigen::Vector3d spot = beam.face + layout.distance[i] * beam.direction;
        const receiver::ReceiverPoint seen = receiver::to_receiver(layout.receiver, spot);
        if (layout.distance[i] <= 0.0 || seen.axial <= 0.0) {
            scenario::reject(s, "mount.range_mm", "the near end lies behind the emitter's face or the lens",
                             fmt::format("above {:.6g} mm", -s.mount.reference_distance / base::mm));
        }
        layout.field[i] = field_at(layout.receiver, 0.5 * s.flight.detector_diameter, seen.axial);
        layout.field_offset[i] = seen.transverse + 0.0;  // no -0
        layout.spot_within_field[i] = std::abs(seen.transverse) + layout.beam_radius[i] <= layout.field[i].radius;
        const flight::Received received =
            flight::receive(optics, target::square_plane(displacements[i]), tile, s.reading.reference);
        layout.collected_power[i] = received.collected_power;
        layout.received_power[i] = received.received_power;
    }
}

void add_continuous_class(FlightLayout& layout, const scenario::Scenario& s) {
    layout.mean_power = s.emitter.power;
    layout.laser_class = emitter::estimated_class(s.emitter.wavelength, layout.mean_power);
    layout.laser_caution = emitter::safety_caution();
}

void add_pulse_class(FlightLayout& layout, const scenario::Scenario& s) {
    const double wavelength = s.emitter.wavelength;
    const emitter::PulseTrain train{s.flight.pulse, s.flight.pulse_rate};
    const double energy = s.emitter.power * pulse_duration(train.duration);
    layout.mean_power = energy * train.rate;
    if (train.duration * train.rate > 1.0) {  // pulses run into one another: continuous light
        layout.laser_class = emitter::estimated_class(wavelength, layout.mean_power);
        layout.laser_caution = emitter::safety_caution();
        return;
    }
    layout.laser_class = emitter::estimated_pulse_class(wavelength, train, energy);
    layout.laser_caution = emitter::pulse_safety_caution();
}

}  // namespace

Field field_at(const receiver::Receiver& r, double detector_radius, double axial) {
    const double image = detector_radius * axial / r.image_distance;
    const double blur = r.aperture.half_in_plane * std::abs(1.0 - axial / r.object_distance);
    return {image + blur, std::max(image - blur, 0.0)};
}

FlightLayout make_flight_layout(const scenario::Scenario& s) {
    FlightLayout layout;
    layout.receiver = timed_optics_of(s).receiver;
    layout.span = s.mount.range[1] - s.mount.range[0];
    add_light(layout, s);
    layout.unambiguous_distance = unambiguous_distance(s);
    const auto by_phase = [&](PhaseShift) {
        for (const double frequency : s.flight.modulation) layout.frequencies.push_back(frequency_layout(s, frequency));
        add_continuous_class(layout, s);
    };
    const auto by_pulses = [&](Pulsed) { add_pulse_class(layout, s); };
    const auto untimed = [](Triangulation) { throw base::InternalError("a layout by time of flight without it"); };
    std::visit(Cases{by_phase, by_pulses, untimed}, s.principle);
    return layout;
}

}  // namespace spotwright::sensor
