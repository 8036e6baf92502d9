#include "sim/sensor/as_made.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/polarised.hpp"

namespace spotwright::sensor {

scenario::Receiver as_made(const scenario::Scenario& s) {
    scenario::Receiver made = s.receiver;
    base::RandomSequence random({static_cast<std::uint64_t>(s.detector.device_seed), base::Stream::specimen}, 0);
    const auto add = [&random](double tolerance, double& value) {
        const double place = 2.0 * random.uniform() - 1.0;
        if (tolerance > 0.0) value += tolerance * place;
    };
    add(s.making.focus, made.focus_error);
    add(s.making.tilt, made.tilt_error);
    add(s.making.spherical_waves, made.spherical_waves);
    add(s.making.coma_waves, made.coma_waves);
    add(s.making.astigmatism_waves, made.astigmatism_waves);
    return made;
}

scenario::Scenario with_ideal_lens(scenario::Scenario s) {
    s.making = {};
    s.receiver.spherical_waves = 0.0;
    s.receiver.coma_waves = 0.0;
    s.receiver.astigmatism_waves = 0.0;
    s.receiver.focus_error = 0.0;
    s.receiver.tilt_error = 0.0;
    return s;
}

bool has_ideal_lens(const scenario::Scenario& s) {
    const scenario::Scenario ideal = with_ideal_lens(s);
    return ideal.making == s.making && ideal.receiver == s.receiver;
}

namespace {

// Of both faces together, light mirrored to and fro between them included: (1 - R) / (1 + R).
double passed(double index, double cosine, double s_share = 0.5) {
    const target::Fresnel r = target::fresnel({index, 0.0}, cosine);
    const auto through = [](double reflected) { return (1.0 - reflected) / (1.0 + reflected); };
    return target::Fresnel{through(r.s), through(r.p)}.mean(s_share);
}

}  // namespace

void put_glass_before(const scenario::Cover& cover, emitter::Beam& beam, receiver::Receiver& r) {
    if (!(cover.glass > 0.0)) return;
    r.glass = {cover.glass, cover.index};
    const double fall = -beam.direction.z();
    beam.face.z() -= apparent_lift(r.glass, fall);
    const double s_share = target::s_share(beam.polarisation, -beam.direction, Eigen::Vector3d::UnitZ());
    beam.power *= passed(cover.index, fall, s_share);
    r.transmission *= passed(cover.index, std::cos(r.angle));
}

void put_dirt_before(const scenario::Cover& cover, receiver::Receiver& r) {
    r.stray.lost = cover.dirt_share;
    r.stray.veil = cover.dirt_share * cover.haze_share;
    r.stray.veil_angle = cover.haze;
}

double filter_passed(const scenario::Scenario& s, double wavelength) {
    if (!s.receiver.filter_edge) return 1.0;
    const double scale = *s.receiver.filter_edge / (2.0 * std::log(9.0));
    const auto at = [&](double off) {
        return 1.0 / (1.0 + std::exp((std::abs(off) - 0.5 * s.receiver.filter_width) / scale));
    };
    return at(wavelength - s.emitter.wavelength) / at(0.0);
}

double ghost_peak(const scenario::Scenario& s, std::span<const float> rate) {
    const double share = s.receiver.ghost_share;
    const double blur = s.receiver.ghost_blur;
    if (!(share > 0.0) || rate.empty()) return 0.0;
    const auto brightest = static_cast<double>(*std::max_element(rate.begin(), rate.end()));
    if (!(brightest > 0.0) || !(blur > 0.0)) return share;
    double all = 0.0;
    for (const float light : rate) all += static_cast<double>(light);
    const double chord = std::min(2.0 * blur, s.detector.height);
    const double middle = all * s.detector.pitch * chord / (base::pi * blur * blur);
    return share * std::min(1.0, middle / brightest);
}

double pointing_deviation(const scenario::Scenario& s, const emitter::Beam& beam, const receiver::Receiver& receiver,
                          double displacement) {
    if (!(s.emitter.pointing_jitter > 0.0)) return 0.0;
    const target::Part part = part_of(s, displacement);
    constexpr double turn = 1e-5;
    const auto image_at = [&](double by) -> std::optional<double> {
        const Eigen::Vector3d direction = (beam.direction + by * beam.axes[0]).normalized();
        const auto hit = target::meet(part, {beam.face, direction});
        if (!hit) return std::nullopt;
        const auto at = trace(receiver, to_receiver(receiver, beam.face + hit->distance * direction), 0.0, 0.0);
        return at ? std::optional(at->u) : std::nullopt;
    };
    const auto one = image_at(turn);
    const auto other = image_at(-turn);
    if (!one || !other) return 0.0;
    return s.emitter.pointing_jitter * std::abs(*one - *other) / (2.0 * turn) / receiver.pitch;
}

}  // namespace spotwright::sensor
