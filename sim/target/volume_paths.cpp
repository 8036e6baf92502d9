#include "sim/target/volume_paths.hpp"

#include <boost/math/quadrature/gauss.hpp>

#include <algorithm>
#include <cmath>

#include <Eigen/Core>

#include "sim/base/constants.hpp"
#include "sim/target/fresnel.hpp"

namespace spotwright::target {

double reflected_share(const Volume& volume, std::span<const LastScatter> walk) {
    using Rule = boost::math::quadrature::gauss<double, 15>;
    constexpr int azimuths = 24;
    // Light of all azimuths at one inclination inside.
    const auto ring = [&](const LastScatter& each, double cosine) {
        if (each.spread == Spread::all_sides) return 0.5;
        if (each.spread == Spread::backing) return 2.0 * cosine;
        const double sine = std::sqrt(1.0 - cosine * cosine);
        double sum = 0.0;
        for (int i = 0; i < azimuths; ++i) {
            const double azimuth = 2.0 * base::pi * (i + 0.5) / azimuths;
            const double turn = sine * (std::cos(azimuth) * each.before[0] + std::sin(azimuth) * each.before[1]) -
                                cosine * each.before[2];
            sum += phase_function(volume.anisotropy, turn) * 2.0 * base::pi / azimuths;
        }
        return sum;
    };
    const auto towards = [&](double cosine) {
        const double sine2 = volume.index * volume.index * (1.0 - cosine * cosine);
        if (sine2 >= 1.0) return 0.0;
        const double passed = 1.0 - fresnel({volume.index, 0.0}, std::sqrt(1.0 - sine2)).unpolarised();
        double light = 0.0;
        for (const LastScatter& each : walk) {
            light += each.power * std::exp(-each.extinction * each.depth / cosine) * ring(each, cosine);
        }
        return light * passed;
    };
    return Rule::integrate(towards, std::sqrt(1.0 - 1.0 / (volume.index * volume.index)), 1.0);
}

std::vector<WeighedPath> paths_in_strip(const Volume& volume, const WalkGeometry& geometry,
                                        std::span<const LastScatter> walk, double half_height) {
    const double view2 = geometry.view[0] * geometry.view[0] + geometry.view[1] * geometry.view[1];
    const double up = std::sqrt(1.0 - std::min(view2, 1.0) / (volume.index * volume.index));
    const Eigen::Vector3d view(geometry.view[0] / volume.index, geometry.view[1] / volume.index, -up);
    std::vector<WeighedPath> paths;
    paths.reserve(walk.size());
    for (const LastScatter& each : walk) {
        double spread = 0.25 / base::pi;
        if (each.spread == Spread::backing) spread = up / base::pi;
        if (each.spread == Spread::forward) {
            spread = phase_function(volume.anisotropy,
                                    each.before[0] * view[0] + each.before[1] * view[1] + each.before[2] * view[2]);
        }
        const double radius = std::hypot(each.radius, each.centre[0], each.centre[1]);
        const double seen = radius <= half_height ? 1.0 : 2.0 / base::pi * std::asin(half_height / radius);
        const double out = each.depth / up;
        paths.push_back(
            {volume.index * (each.length + out), each.power * spread * std::exp(-each.extinction * out) * seen});
    }
    return paths;
}

}  // namespace spotwright::target
