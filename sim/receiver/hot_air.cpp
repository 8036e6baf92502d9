#include "sim/receiver/hot_air.hpp"

#include <boost/math/special_functions/bessel.hpp>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/base/quadrature.hpp"
#include "sim/base/random.hpp"

namespace spotwright::receiver {

namespace {

using base::pi;

// Wavenumbers over which a spectrum is summed, evenly on a logarithmic scale. With a step of 0.05 the trapezoid rule
// errs by less than 1e-4 for what is as smooth as these spectra.
struct Wavenumbers {
    double least = 0.0;
    double step = 0.05;
    std::size_t count = 0;
    [[nodiscard]] double at(std::size_t i) const { return least * std::exp(step * static_cast<double>(i)); }
};

// @param width  Of the narrowest light: eddies far smaller do not bend it. [m]
Wavenumbers wavenumbers_of(const HotAir& air, double width) {
    // The density falls as k^(1/3) per octave towards long eddies: without an outer scale far ones still count.
    const double longest = air.outer_scale > 0.0 ? 2.0 * pi / air.outer_scale / 50.0 : 1e-12 / width;
    const double shortest = air.inner_scale > 0.0 ? std::max(6.0 * 5.92 / air.inner_scale, longest * 10.0) : 1e12;
    const double seen = std::min(shortest, 2e3 / width);
    Wavenumbers k;
    k.least = longest;
    k.count = 1 + static_cast<std::size_t>(std::ceil(std::log(seen / longest) / k.step));
    return k;
}

template <class Density>
double sum_over(const Wavenumbers& k, const Density& density) {
    double sum = 0.0;
    for (std::size_t i = 0; i < k.count; ++i) sum += density(k.at(i)) * k.at(i) * k.step;
    return sum;
}

// Mean of a wave over a Gaussian beam, and over a round aperture.
double over_beam(double wavenumber, double radius) {
    return std::exp(-0.125 * wavenumber * wavenumber * radius * radius);
}
double over_disc(double wavenumber, double radius) {
    const double x = wavenumber * radius;
    return x < 1e-4 ? 1.0 : 2.0 * boost::math::cyl_bessel_j(1, x) / x;
}

// Alike bending along the line between two rays at a distance, 1 where they coincide: 2 <cos^2 phi cos(x cos phi)>.
double alike(double x) {
    return boost::math::cyl_bessel_j(0, x) - boost::math::cyl_bessel_j(2, x);
}

// Gauss-Legendre over the height.
template <class Each>
double over_height(const HotAir& air, const Each& each) {
    std::vector<base::QuadratureNode> nodes;
    constexpr int stretches = 4;
    for (int i = 0; i < stretches; ++i) {
        base::add_gauss_nodes<5>(air.height * i / stretches, air.height * (i + 1) / stretches, nodes);
    }
    double sum = 0.0;
    for (const base::QuadratureNode& node : nodes) sum += node.weight * each(node.at);
    return sum;
}

// Variance of a gradient of the index along one axis, by wavenumber, per metre of way.
double gradient_density(const HotAir& air, double wavenumber) {
    return 2.0 * pi * pi * std::pow(wavenumber, 3.0) * index_spectrum(air, wavenumber);
}

}  // namespace

double index_spectrum(const HotAir& air, double k) {
    const double k0 = air.outer_scale > 0.0 ? 2.0 * pi / air.outer_scale : 0.0;
    const double cut = k * air.inner_scale / 5.92;
    return 0.033 * air.structure_constant * std::exp(-cut * cut) * std::pow(k * k + k0 * k0, -11.0 / 6.0);
}

// B and V of (air.3) are `beam` and `view`.
double wander_density(const HotAir& air, const AirPaths& p, double k) {
    const double cos_beam = std::cos(p.beam_angle);
    const double cos_view = std::cos(p.view_angle);
    const double between = std::abs(std::tan(p.view_angle) - std::tan(p.beam_angle));
    const auto at = [&](double height) {
        const double beam = cos_view * std::pow(cos_beam, -1.5) * over_beam(k, p.beam_radius);
        const double cone = p.aperture_radius * std::min(1.0, height / cos_view / p.lens_distance);
        const double view = cos_beam * std::pow(cos_view, -1.5) * over_disc(k, cone);
        return height * height * (beam * beam + view * view - 2.0 * beam * view * alike(k * height * between));
    };
    const double lever = std::sin(p.view_angle - p.beam_angle);
    return gradient_density(air, k) * over_height(air, at) / (lever * lever);
}

double wander_variance(const HotAir& air, const AirPaths& paths) {
    if (air.structure_constant == 0.0 || air.height == 0.0) return 0.0;
    return sum_over(wavenumbers_of(air, paths.beam_radius), [&](double k) { return wander_density(air, paths, k); });
}

double beam_wander_variance(const HotAir& air, double radius) {
    const double levers = air.height * air.height * air.height / 3.0;
    return levers * sum_over(wavenumbers_of(air, radius), [&](double k) {
               const double mean = over_beam(k, radius);
               return gradient_density(air, k) * mean * mean;
           });
}

double arrival_variance(const HotAir& air, double radius) {
    return sum_over(wavenumbers_of(air, radius), [&](double k) {
        const auto at = [&](double height) {
            const double share = height / air.height;
            const double mean = over_disc(k, share * radius);
            return share * share * mean * mean;
        };
        return gradient_density(air, k) * over_height(air, at);
    });
}

std::vector<Drift> wander_in_time(const HotAir& air, const AirPaths& paths, double speed, std::uint64_t seed) {
    if (air.structure_constant == 0.0 || air.height == 0.0) return {};
    constexpr std::size_t drifts = 128;
    const Wavenumbers k = wavenumbers_of(air, paths.beam_radius);
    std::vector<double> up_to(k.count + 1, 0.0);
    for (std::size_t i = 0; i < k.count; ++i) {
        up_to[i + 1] = up_to[i] + wander_density(air, paths, k.at(i)) * k.at(i) * k.step;
    }
    const double variance = up_to.back();
    std::vector<Drift> list;
    base::RandomSequence random({seed, base::Stream::hot_air}, 0);
    for (std::size_t i = 0; i < drifts; ++i) {
        const double place = variance * (static_cast<double>(i) + random.uniform()) / drifts;
        const auto after = std::upper_bound(up_to.begin() + 1, up_to.end() - 1, place);
        const auto bin = static_cast<double>(after - up_to.begin()) - 1.0;
        const double within = (place - *(after - 1)) / std::max(*after - *(after - 1), 1e-300);
        const double wavenumber = k.least * std::exp(k.step * (bin + within - 0.5));
        const double direction = 2.0 * pi * random.uniform();
        const double phase = 2.0 * pi * random.uniform();
        list.push_back({wavenumber * speed * std::abs(std::cos(direction)), std::sqrt(2.0 * variance / drifts), phase});
    }
    return list;
}

}  // namespace spotwright::receiver
