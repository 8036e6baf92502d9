#include "sim/target/sample.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/polarised.hpp"

namespace spotwright::target {

namespace {

using Eigen::Vector3d;

// How the mixture is made: share of the draws that take the glossy lobe.
double lobe_share(const Surface& surface, const Vector3d& to_light, const Vector3d& normal) {
    if (!surface.gloss) return 0.0;
    if (surface.reflectance <= 0.0) return 1.0;
    const double lobe = fresnel(surface.gloss->index, std::max(normal.dot(to_light), 0.0)).unpolarised();
    return std::clamp(lobe / (lobe + surface.reflectance), 0.1, 0.9);
}

}  // namespace

double scattered_share(const Surface& surface, const Vector3d& to_light, const Vector3d& normal) {
    double share = surface.reflectance;
    if (surface.gloss) {
        const double cosine = std::max(normal.dot(to_light), 0.0);
        share += fresnel(surface.gloss->index, cosine).unpolarised() * (1.0 - mirror_share(*surface.gloss, cosine));
    }
    return std::min(share, 1.0);
}

namespace {

// Of draws from the lobe, those from a wider one.
struct WiderLobe {
    double share = 0.0;
    const Surface* surface = nullptr;  // the same but for its slopes; null: none
};

std::optional<ScatterSample> sample_mixture(const Surface& surface, const WiderLobe& wider, const Vector3d& to_light,
                                            const Vector3d& normal, const std::array<double, 3>& uniform,
                                            const Polarisation& light) {
    const double from_haze = surface.gloss && surface.gloss->haze ? 0.25 : 0.0;
    const double from_lobes = (1.0 - from_haze) * lobe_share(surface, to_light, normal);
    const double from_wide = wider.share * from_lobes;
    const double from_base = 1.0 - from_haze - from_lobes;
    Vector3d direction;
    if (uniform[0] < from_lobes || (from_haze > 0.0 && uniform[0] < from_lobes + from_haze)) {
        const Surface& lobe = uniform[0] < from_wide ? *wider.surface : surface;
        const auto drawn = uniform[0] < from_lobes ? draw_lobe(lobe, to_light, normal, {uniform[1], uniform[2]})
                                                   : draw_haze(surface, to_light, normal, {uniform[1], uniform[2]});
        if (!drawn) return std::nullopt;
        direction = *drawn;
    } else {
        const double angle = 2.0 * base::pi * uniform[2];
        const LayAxes axes = lay_axes(surface.lay, normal);
        const double sine = std::sqrt(uniform[1]);
        direction = sine * std::cos(angle) * axes.along + sine * std::sin(angle) * axes.across +
                    std::sqrt(1.0 - uniform[1]) * normal;
    }
    const double cosine = normal.dot(direction);
    if (cosine <= 0.0) return std::nullopt;
    double density = from_base * cosine / base::pi;
    if (from_lobes > from_wide)
        density += (from_lobes - from_wide) * lobe_density(surface, to_light, direction, normal);
    if (from_wide > 0.0) density += from_wide * lobe_density(*wider.surface, to_light, direction, normal);
    if (from_haze > 0.0) density += from_haze * haze_density(surface, to_light, direction, normal);
    if (density <= 0.0) return std::nullopt;
    return ScatterSample{direction, scatter(surface, to_light, direction, normal, light) * cosine / density};
}

}  // namespace

std::optional<ScatterSample> sample_scatter(const Surface& surface, const Vector3d& to_light, const Vector3d& normal,
                                            const std::array<double, 3>& uniform, const Polarisation& light) {
    return sample_mixture(surface, {}, to_light, normal, uniform, light);
}

std::optional<ScatterSample> sample_flanks(const Surface& surface, const Vector3d& to_light, const Vector3d& normal,
                                           const std::array<double, 3>& uniform, const Polarisation& light) {
    if (!surface.gloss) return sample_scatter(surface, to_light, normal, uniform, light);
    constexpr double widening = 2.0;
    Surface wide = surface;
    wide.gloss->slope_along *= widening;
    wide.gloss->slope_across *= widening;
    return sample_mixture(surface, {0.5, &wide}, to_light, normal, uniform, light);
}

std::optional<Vector3d> draw_haze(const Surface& surface, const Vector3d& to_light, const Vector3d& normal,
                                  const std::array<double, 2>& uniform) {
    if (!surface.gloss || !surface.gloss->haze) return std::nullopt;
    const HazeLobe& haze = *surface.gloss->haze;
    const double sent = std::sqrt(std::pow(uniform[0], 1.0 / (1.0 - haze.half_power)) - 1.0) / haze.waves;
    const double azimuth = 2.0 * base::pi * uniform[1];
    const LayAxes axes = lay_axes(surface.lay, normal);
    const Vector3d along = normal.dot(to_light) * normal - to_light + sent * std::cos(azimuth) * axes.along +
                           sent * std::sin(azimuth) * axes.across;
    const double rest = 1.0 - along.squaredNorm();
    if (!(rest > 0.0)) return std::nullopt;
    return along + std::sqrt(rest) * normal;
}

double haze_density(const Surface& surface, const Vector3d& to_light, const Vector3d& to_view, const Vector3d& normal) {
    if (!surface.gloss || !surface.gloss->haze) return 0.0;
    const HazeLobe& haze = *surface.gloss->haze;
    const Vector3d sum = to_light + to_view;
    const double across = sum.dot(normal);
    const double square = std::max(0.0, sum.squaredNorm() - across * across);
    const double waves2 = haze.waves * haze.waves;
    return waves2 * (haze.half_power - 1.0) / base::pi * std::pow(1.0 + waves2 * square, -haze.half_power) *
           std::max(0.0, normal.dot(to_view));
}

std::optional<Vector3d> draw_lobe(const Surface& surface, const Vector3d& to_light, const Vector3d& normal,
                                  const std::array<double, 2>& uniform) {
    if (!surface.gloss) return std::nullopt;
    const LayAxes axes = lay_axes(surface.lay, normal);
    const Local half = facet_at(*surface.gloss, uniform[0], 2.0 * base::pi * uniform[1]);
    const Vector3d facet = half.x() * axes.along + half.y() * axes.across + half.z() * normal;
    if (facet.dot(to_light) <= 0.0) return std::nullopt;
    const Vector3d direction = 2.0 * facet.dot(to_light) * facet - to_light;
    if (normal.dot(direction) <= 0.0) return std::nullopt;
    return direction;
}

double lobe_density(const Surface& surface, const Vector3d& to_light, const Vector3d& to_view, const Vector3d& normal) {
    if (!surface.gloss) return 0.0;
    const LayAxes axes = lay_axes(surface.lay, normal);
    const Vector3d half = (to_view + to_light).normalized();
    const Local local(half.dot(axes.along), half.dot(axes.across), half.dot(normal));
    return facet_density(*surface.gloss, local) * local.z() / (4.0 * half.dot(to_light));
}

std::optional<Onward> go_on(const Surface& surface, const Arrival& arrival, base::RandomSequence& random) {
    constexpr double most = 0.99;
    constexpr double start = 1e-8;  // above the place, so that the ray does not meet it. [m]
    const double survival = std::min(arrival.mirrored + arrival.scattered, most);
    if (random.uniform() >= survival) return std::nullopt;
    const Vector3d origin = arrival.place + start * arrival.normal;
    const double mirror_chance = survival * arrival.mirrored / (arrival.mirrored + arrival.scattered);
    if (random.uniform() * survival < mirror_chance) {
        const Vector3d mirrored = 2.0 * arrival.to_light.dot(arrival.normal) * arrival.normal - arrival.to_light;
        Onward onward{{origin, mirrored}, arrival.mirrored / mirror_chance, false, {}};
        if (arrival.light.degree > 0.0) {
            const Fresnel left = fresnel(surface.gloss->index, arrival.to_light.dot(arrival.normal));
            onward.light = target::mirrored(arrival.light, left, arrival.to_light, arrival.normal);
        }
        return onward;
    }
    const auto sample = sample_scatter(surface, arrival.to_light, arrival.normal,
                                       {random.uniform(), random.uniform(), random.uniform()}, arrival.light);
    if (!sample) return std::nullopt;
    return Onward{{origin, sample->direction}, sample->weight / (survival - mirror_chance), true, {}};
}

}  // namespace spotwright::target
