#include "sim/flight/receive.hpp"

#include <boost/math/distributions/gamma.hpp>
#include <boost/math/distributions/normal.hpp>

#include <algorithm>
#include <cmath>
#include <iterator>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/detector/array.hpp"
#include "sim/flight/timed_ways.hpp"
#include "sim/receiver/ambient.hpp"
#include "sim/receiver/coherence.hpp"

namespace spotwright::flight {

namespace {

// Speckle patterns on the detector; 0 where the beam misses the part.
double grains_of(const TimedOptics& optics, const target::Part& part, const target::Surface& surface,
                 const scenario::Material& material) {
    const emitter::Beam& beam = optics.beam;
    const receiver::Receiver& r = optics.receiver;
    const auto hit = target::meet(part, {beam.face, beam.direction});
    if (!hit) return 0.0;
    const Eigen::Vector3d place = beam.face + hit->distance * beam.direction;
    const Eigen::Vector3d view = receiver::aperture_point(r, 0.0, 0.0) - place;
    const receiver::ScatterDirections directions{-beam.direction, view.normalized(), hit->normal, beam.polarisation};
    const double contrast = receiver::pattern_contrast(
        receiver::coherence_of(material, surface, directions, beam.wavelength, optics.linewidth));
    const double spot =
        base::pi * emitter::radius_at(beam, 0, hit->distance) * emitter::radius_at(beam, 1, hit->distance);
    const double scale = beam.wavelength * view.norm();
    const double patterns = 1.0 + receiver::area_of(r.aperture) * spot / (scale * scale);
    return patterns / (contrast * contrast);
}

}  // namespace

receiver::Receiver make_receiver(const scenario::Receiver& from, const scenario::Flight& flight,
                                 const scenario::Mount& mount, double emitter_angle) {
    receiver::Receiver r;
    r.emitter_angle = emitter_angle;
    r.angle = emitter_angle + std::atan2(flight.baseline, mount.reference_distance);
    r.object_distance = std::hypot(flight.baseline, mount.reference_distance);
    r.focal_length = from.focal_length;
    r.image_distance = 1.0 / (1.0 / r.focal_length - 1.0 / r.object_distance);
    r.aperture = {from.aperture.shape, from.aperture.in_plane / 2.0, from.aperture.out_of_plane / 2.0};
    r.transmission = from.transmission;
    r.pixels = 1;
    r.pitch = r.height = std::sqrt(base::pi) / 2.0 * flight.detector_diameter;
    receiver::set_detector_tilt(r, 0.0);
    return r;
}

Received receive(const TimedOptics& optics, const target::Part& part, const target::Surface& surface,
                 const scenario::Material& material) {
    const TimedWays timed = timed_ways(optics.beam, part, surface, optics.receiver, optics.detector_diameter / 2.0);
    Received result;
    result.collected_power = timed.collected_power;
    result.received_power = timed.received_power;
    constexpr std::size_t most = 4096;
    const std::vector<Way> ways = at_most(timed.ways, most);
    double squares = 0.0;
    for (const Way& way : ways) {
        result.light.arrivals.push_back({way.path / base::speed_of_light, way.power * optics.electrons_per_joule});
        result.mean_path += way.power / result.received_power * way.path;
    }
    for (const Way& way : ways) {
        squares += way.power / result.received_power * (way.path - result.mean_path) * (way.path - result.mean_path);
    }
    result.path_deviation = std::sqrt(squares);
    if (timed.received_power > timed.mirrored_power) {
        result.grains = grains_of(optics, part, surface, material);
        result.scattered_share = 1.0 - timed.mirrored_power / timed.received_power;
    }
    return result;
}

namespace {

// Relative light of so many patterns where a share `below` of all patches has less. Of many patterns by Wilson and
// Hilferty's cube (PNAS 17, 684 (1931)), which at a million is exact to 2e-6 of the standard deviation; series of the
// gamma law itself end without a result from some 1e10 patterns on, as metres-wide spots have.
double relative_light(double patterns, double below) {
    constexpr double many = 1e6;
    if (patterns < many) {
        return boost::math::quantile(boost::math::gamma_distribution<double>(patterns, 1.0 / patterns), below);
    }
    const double root =
        1.0 - 1.0 / (9.0 * patterns) +
        boost::math::quantile(boost::math::normal_distribution<double>(), below) / (3.0 * std::sqrt(patterns));
    return root * root * root;
}

}  // namespace

Light speckled(const Received& received, std::uint64_t seed, std::int64_t patch) {
    if (received.grains <= 0.0 || received.light.arrivals.empty()) return received.light;
    std::vector<Way> ways;
    double all = 0.0;
    for (const Arrival& arrival : received.light.arrivals) {
        ways.push_back({arrival.delay * base::speed_of_light, arrival.rate});
        all += arrival.rate;
    }
    constexpr std::size_t most = 64;
    ways = at_most(std::move(ways), most);
    base::RandomSequence random({seed, base::Stream::returned_light}, patch);
    Light light{{}, received.light.constant_rate};
    for (const Way& way : ways) {
        const double shape = std::max(received.grains * way.power / all, 1e-3);
        const double relative = relative_light(shape, random.uniform());
        const double rate = way.power * (1.0 + received.scattered_share * (relative - 1.0));
        light.arrivals.push_back({way.path / base::speed_of_light, rate});
    }
    return light;
}

Light with_at_most(const Light& light, std::size_t count) {
    std::vector<Way> ways;
    for (const Arrival& arrival : light.arrivals) {
        if (arrival.rate > 0.0) ways.push_back({arrival.delay * base::speed_of_light, arrival.rate});
    }
    if (ways.empty()) return {{}, light.constant_rate};
    Light result{{}, light.constant_rate};
    for (const Way& way : at_most(std::move(ways), count)) {
        result.arrivals.push_back({way.path / base::speed_of_light, way.power});
    }
    return result;
}

}  // namespace spotwright::flight
