// What the data sheet of a time-of-flight sensor leaves open.
#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/study/sheet_draw.hpp"
#include "sim/study/sheet_forms.hpp"

namespace spotwright::study {

using base::mm, base::nm, base::us;
using scenario::PhaseShift, scenario::Pulsed, scenario::Triangulation;
using scenario::Scenario, scenario::Sheet;

namespace {

double timed_wavelength_of(const Sheet& sheet, const SheetDraws& draw) {
    // Tables of materials end at round wavelengths.
    if (sheet.wavelength) return sheet.wavelength->middle();
    const auto red = [&draw] { return draw(Open::wavelength) * nm; };
    return std::visit(base::Cases{[&](Triangulation) { return red(); }, [&](PhaseShift) { return red(); },
                                  [&](Pulsed) { return sheet.laser_class == "2" ? red() : draw(Open::infrared) * nm; }},
                      sheet.principle);
}

// The waist behind a spot that is given out of plane, of the same beam quality and at the same place.
double waist_behind(double radius, const TimedBeam& beam, double wavelength) {
    const double spread = beam.quality * wavelength * beam.displacement / base::pi;
    const double square = radius * radius;
    const double root = std::sqrt(std::max(0.0, square * square - 4.0 * spread * spread));
    return std::sqrt(0.5 * (square + root));
}

// Distance over which readings must not repeat themselves. [m]
double longest_distance(const Sheet& sheet) {
    constexpr double reserve = 1.2;
    return reserve * std::max(sheet.reference_distance + sheet.range[1], sheet.range[1] - sheet.range[0]);
}

// One frequency where it is unambiguous; else two in the ratio m to m - 1, whose common divisor is. Equation
// (sheet.12).
std::vector<double> frequencies_for(double drawn, double distance) {
    const double lowest = base::speed_of_light / (2.0 * distance);
    constexpr double most = 12.0;  // a larger ratio leaves too little between the turns for a noisy phase
    const double m = std::min(std::ceil(drawn / lowest), most);
    constexpr double round = 1.0 * base::kHz;
    const double divisor = std::floor(std::min(drawn / m, lowest) / round) * round;
    if (m <= 1.0) return {divisor};
    return {m * divisor, (m - 1.0) * divisor};
}

}  // namespace

TimedBeam beam_of_divergence(double radius, double half_angle, double distance, double wavelength) {
    const double square = radius * radius - half_angle * half_angle * distance * distance;
    const auto quality_of = [&](double waist) { return base::pi * waist * half_angle / wavelength; };
    const double at_face = std::sqrt(std::max(0.0, square));
    if (quality_of(at_face) >= 1.0) return {at_face, -distance, quality_of(at_face)};
    return {radius, 0.0, quality_of(radius)};
}

void set_timed_beam(const Sheet& sheet, const SheetDraws& draw, Scenario& s) {
    scenario::Emitter& e = s.emitter;
    e.wavelength = timed_wavelength_of(sheet, draw);
    e.linewidth = draw(Open::linewidth) * nm;
    const double guess = 0.5 * draw(Open::beam_diameter) * mm;
    TimedBeam beam{
        sheet.spot.in_plane ? radius_of(sheet, draw.of(*sheet.spot.in_plane, StatedNumber::in_plane)) : guess, 0.0,
        draw(Open::beam_quality)};
    double radius = beam.waist;  // at the reference distance
    const double distance = sheet.reference_distance;
    if (sheet.spot.divergence) {
        const double half_angle = 0.5 * draw.of(*sheet.spot.divergence, StatedNumber::divergence);
        if (!sheet.spot.in_plane) radius = std::hypot(guess, half_angle * distance);
        beam = beam_of_divergence(radius, half_angle, distance, e.wavelength);
    } else if (sheet.spot.in_plane && sheet.spot.in_plane_at_ends) {
        const double at_ends = radius_of(sheet, draw.of(*sheet.spot.in_plane_at_ends, StatedNumber::at_ends));
        beam.quality = beam_quality_of(radius, at_ends, sheet.range, e.wavelength);
    }
    constexpr double best = 1.0;
    constexpr double worst = 100.0;  // as the key allows
    beam.quality = std::clamp(beam.quality, best, worst);
    const double across = sheet.spot.out_of_plane
                              ? radius_of(sheet, draw.of(*sheet.spot.out_of_plane, StatedNumber::out_of_plane))
                              : radius;
    e.waist_radius = {beam.waist, across == radius ? beam.waist : waist_behind(across, beam, e.wavelength)};
    e.waist_displacement = beam.displacement;
    e.beam_quality = beam.quality;
}

scenario::Pair lens_diameters(const Sheet& sheet) {
    const double window = sheet.housing.window[1];
    const OpenRange& range = range_of(window > 0.0 ? Open::lens_share : Open::lens_diameter);
    const double unit = window > 0.0 ? window : mm;
    return {range.low * unit, range.high * unit};
}

void set_timed_receiver(const Sheet& sheet, const SheetDraws& draw, Scenario& s) {
    const double window = sheet.housing.window[1];
    const double diameter = window > 0.0 ? draw(Open::lens_share) * window : draw(Open::lens_diameter) * mm;
    s.receiver.aperture = scenario::round_aperture(diameter);
    s.receiver.focal_length = draw(Open::lens_f_number) * diameter;
    s.receiver.transmission = draw(Open::transmission);
    s.receiver.filter_width = draw(Open::filter_width) * nm;
    s.detector.quantum_efficiency = draw(Open::quantum_efficiency);
    s.flight.detector_diameter = draw(Open::detector_diameter) * mm;
    s.flight.bandwidth = draw(Open::bandwidth) * base::MHz;
    // Nothing stated: the lens surrounds the beam.
    s.flight.baseline = sheet.windows_distance ? draw.of(*sheet.windows_distance, StatedNumber::windows) : 0.0;
}

void set_buckets(const Sheet& sheet, const SheetDraws& draw, Scenario& s) {
    s.flight.modulation = sheet.flight.modulation;
    if (s.flight.modulation.empty()) {
        s.flight.modulation = frequencies_for(draw(Open::modulation) * base::MHz, longest_distance(sheet));
    }
    s.flight.modulation_depth = draw(Open::modulation_depth);
    s.detector.full_well = draw(Open::bucket_well);
    s.detector.read_noise = draw(Open::bucket_noise);
}

void set_pulses(const Sheet& sheet, const SheetDraws& draw, Scenario& s) {
    scenario::Flight& f = s.flight;
    f.pulse = sheet.flight.pulse ? draw.of(*sheet.flight.pulse, StatedNumber::pulse) : draw(Open::pulse) * base::ns;
    f.pulse_rate = sheet.flight.pulse_rate ? draw.of(*sheet.flight.pulse_rate, StatedNumber::pulse_rate)
                                           : std::min(draw(Open::pulse_rate) * base::kHz,
                                                      base::speed_of_light / (2.0 * longest_distance(sheet)));
    const double in_period = draw(Open::pulses_share) * f.pulse_rate * s.exposure.period[0];
    f.pulses = sheet.flight.pulses.value_or(std::max(std::int64_t{1}, static_cast<std::int64_t>(in_period)));
    constexpr double delay_share = 0.75;  // of the pulse: where the fraction crosses at its steepest; common practice
    f.fraction_delay = delay_share * f.pulse;
    f.noise = draw(Open::amplifier_noise) * base::nW;
    f.jitter = draw(Open::jitter) * base::ps;
    f.digitiser = draw(Open::digitiser) * base::ps;
    s.emitter.power = sheet.power ? draw.of(*sheet.power, StatedNumber::power)
                                  : draw(Open::power_share) * pulse_class_limit(sheet.laser_class, s.emitter.wavelength,
                                                                                f.pulse, f.pulse_rate);
}

}  // namespace spotwright::study
