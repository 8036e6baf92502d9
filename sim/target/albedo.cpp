#include "sim/target/albedo.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"
#include "sim/base/quadrature.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/part.hpp"
#include "sim/target/plate.hpp"
#include "sim/target/subsurface.hpp"

namespace spotwright::target {

namespace {

using Eigen::Vector3d;

// Equation (target.8), with tan (1 - sin^3) as sin cos (1 + sin + sin^2) / (1 + sin).
double azimuth_gain(double cosine) {
    const double c = std::clamp(cosine, 0.0, 1.0);
    const double s = std::sqrt(1.0 - c * c);
    const double angle = std::acos(c);
    return 2.0 / base::pi * (s * (0.5 * angle - 0.5 * s * c) + s * c * (1.0 + s + s * s) / (3.0 * (1.0 + s)));
}

// The same for light that passes an interface on its way in: equation (target.31).
double passed_gain(const Gloss& gloss, double cosine) {
    const double angle = std::acos(std::clamp(cosine, 0.0, 1.0));
    std::vector<base::QuadratureNode> nodes;
    base::add_gauss_nodes<8>(0.0, angle, nodes);
    base::add_gauss_nodes<8>(angle, 0.5 * base::pi, nodes);
    double sum = 0.0;
    for (const base::QuadratureNode& node : nodes) {
        const double s = std::sin(node.at);
        const double c = std::cos(node.at);
        const double either = std::sin(angle) * s / std::max(std::cos(angle), c);  // sin(alpha) tan(beta)
        sum += node.weight * either * (1.0 - fresnel(gloss.index, c).unpolarised()) * c * s;
    }
    return 2.0 / base::pi * sum;
}

// What the face of a translucent part lets in and out.
double passed_by_face(const Surface& surface, double cosine) {
    return 1.0 - fresnel({surface.volume->index, 0.0}, cosine).unpolarised();
}

double base_albedo(const Surface& surface, double cosine) {
    const double gain = surface.slope_deviation > 0.0 && surface.reflectance > 0.0 ? oren_nayar_gain(surface) : 0.0;
    if (surface.volume) return passed_by_face(surface, cosine) * diffuse_reflectance(*surface.volume);
    if (!surface.gloss) return surface.reflectance * (1.0 + (gain > 0.0 ? gain * azimuth_gain(cosine) : 0.0));
    const double passed = 1.0 - fresnel(surface.gloss->index, cosine).unpolarised();
    if (surface.reflectance == 0.0) return 0.0;
    return surface.reflectance * passed *
           (1.0 + (gain > 0.0 ? gain * surface.coupling * passed_gain(*surface.gloss, cosine) : 0.0));
}

// Facets of the lobe by quantiles of their slope and by azimuth; calls f(where light to the view comes from, its
// share).
template <unsigned radial, class F>
void for_facets(const Surface& surface, const Vector3d& to_view, const Vector3d& normal, int azimuths, const F& f) {
    const Gloss& gloss = *surface.gloss;
    const LayAxes axes = lay_axes(surface.lay, normal);
    const Local view(to_view.dot(axes.along), to_view.dot(axes.across), normal.dot(to_view));
    if (view.z() <= 0.0) return;
    const double shadowed = smith_lambda(gloss, view);
    std::vector<base::QuadratureNode> quantiles;
    base::add_gauss_nodes<radial>(0.0, 1.0, quantiles);
    for (const base::QuadratureNode& quantile : quantiles) {
        for (int k = 0; k < azimuths; ++k) {
            const Local half = facet_at(gloss, quantile.at, 2.0 * base::pi * (k + 0.5) / azimuths);
            const double turned = half.dot(view);
            const Local from = 2.0 * turned * half - view;
            if (turned <= 0.0 || from.z() <= 0.0) continue;
            const double rough = facet_light_share(gloss, from.z(), view.z());
            const double visible = 1.0 / (1.0 + shadowed + smith_lambda(gloss, from));
            const double share = rough * fresnel(gloss.index, turned).unpolarised() * visible * turned /
                                 (view.z() * half.z()) * quantile.weight / azimuths;
            f(Vector3d(from.x() * axes.along + from.y() * axes.across + from.z() * normal), share);
        }
    }
}

double surface_albedo(const Surface& surface, const Vector3d& to_view, const Vector3d& normal) {
    const double cosine = normal.dot(to_view);
    if (cosine <= 0.0) return 0.0;
    double albedo = base_albedo(surface, cosine) + mirror_reflectance(surface, to_view, normal);
    if (surface.gloss) {
        albedo += haze_share(*surface.gloss, cosine) * fresnel(surface.gloss->index, cosine).unpolarised();
        for_facets<8>(surface, to_view, normal, 12, [&albedo](const Vector3d&, double share) { albedo += share; });
    }
    return std::min(albedo, 1.0);
}

// Of a plate without absorption: reflected by both faces, and that of light from all sides.
double plate_reflectance(const Surface& surface, double cosine) {
    return plate_reflections_from({surface.gloss->index.real(), {1.0, 0.0}}, cosine, 0).unpolarised();
}

double diffuse_plate_reflectance(const Surface& surface) {
    std::vector<base::QuadratureNode> nodes;
    base::add_gauss_nodes<16>(0.0, 1.0, nodes);
    double sum = 0.0;
    for (const auto& [cosine, weight] : nodes) sum += 2.0 * weight * cosine * plate_reflectance(surface, cosine);
    return sum;
}

// Directions to the lamp, each with the same share of its irradiance on a face square to it.
std::vector<Vector3d> lamp_points(const DistantLamp& lamp) {
    constexpr int rings = 3;
    constexpr int around = 8;
    const Vector3d side = lamp.direction.unitOrthogonal();
    const Vector3d other = lamp.direction.cross(side);
    std::vector<Vector3d> points;
    for (int ring = 0; ring < rings; ++ring) {
        const double sine = std::sin(lamp.half_angle) * std::sqrt((ring + 0.5) / rings);
        for (int k = 0; k < around; ++k) {
            const double at = 2.0 * base::pi * (k + 0.5) / around;
            points.emplace_back(sine * (std::cos(at) * side + std::sin(at) * other) +
                                std::sqrt(1.0 - sine * sine) * lamp.direction);
        }
    }
    return points;
}

// What of the aperture sees the lamp in a mirror that sends this direction to its centre, over the lamp's projected
// solid angle. [1/sr times pi]
double mirrored_lamp(const DistantLamp& lamp, const Vector3d& from) {
    const double apart = (from - lamp.direction).norm();
    const double sine = std::sin(lamp.half_angle);
    return covered_share(lamp.aperture_half_angle, lamp.half_angle, apart) / (sine * sine);
}

double surface_factor(const Surface& surface, const DistantLamp& lamp, const Vector3d& to_view,
                      const Vector3d& normal) {
    if (normal.dot(to_view) <= 0.0) return 0.0;
    const bool wide_lobe = surface.gloss && 2.0 * std::min(surface.gloss->slope_along, surface.gloss->slope_across) >
                                                lamp.half_angle + lamp.aperture_half_angle;
    const double volume = surface.volume ? diffuse_reflectance(*surface.volume) * surface.coupling : 0.0;
    const double passed = surface.volume ? passed_by_face(surface, normal.dot(to_view)) : 0.0;
    const std::vector<Vector3d> points = lamp_points(lamp);
    double sum = 0.0;
    for (const Vector3d& to_light : points) {
        const double cosine = normal.dot(to_light);
        if (cosine <= 0.0) continue;
        double factor = base::pi * base_scatter(surface, to_light, to_view, normal);
        factor += base::pi * (wide_lobe ? gloss_scatter(surface, to_light, to_view, normal)
                                        : haze_scatter(surface, to_light, to_view, normal));
        if (surface.volume) {
            factor += volume * passed * passed_by_face(surface, cosine);
        }
        sum += factor * cosine / static_cast<double>(points.size());
    }
    if (!surface.gloss) return sum;
    if (!wide_lobe) {
        for_facets<16>(surface, to_view, normal, 32,
                       [&](const Vector3d& from, double share) { sum += share * mirrored_lamp(lamp, from); });
    }
    const Vector3d from = 2.0 * normal.dot(to_view) * normal - to_view;
    return sum + mirror_reflectance(surface, to_view, normal) * mirrored_lamp(lamp, from);
}

}  // namespace

Layers layers_at(const scenario::Target& target, const scenario::Mount& mount, double wavelength) {
    Layers layers;
    layers.surface = make_surface(target, mount, scenario::nearest_known_wavelength(target.made_of, wavelength));
    layers.plate = target.shape == scenario::ShapeKind::plate && layers.surface.gloss.has_value();
    if (layers.plate && target.plate.backing_made_of) {
        const scenario::Material& backing = *target.plate.backing_made_of;
        layers.backing = make_opaque_surface(backing, scenario::nearest_known_wavelength(backing, wavelength));
    }
    return layers;
}

// Equations (target.30) to (target.32).
double directional_albedo(const Layers& layers, const Vector3d& to_view, const Vector3d& normal) {
    const double cosine = normal.dot(to_view);
    if (cosine <= 0.0) return 0.0;
    if (!layers.plate) return surface_albedo(layers.surface, to_view, normal);
    const double reflected = plate_reflectance(layers.surface, cosine);
    if (!layers.backing) return reflected;
    const double behind = surface_albedo(*layers.backing, to_view, normal);
    const double around = diffuse_plate_reflectance(layers.surface);
    return reflected + (1.0 - reflected) * behind * (1.0 - around) / (1.0 - behind * around);
}

// Equation (target.33).
double directional_emissivity(const Layers& layers, const Vector3d& to_view, const Vector3d& normal) {
    if (layers.plate && !layers.backing) return 0.0;
    return 1.0 - directional_albedo(layers, to_view, normal);
}

// Equation (target.34).
double lamp_radiance_factor(const Layers& layers, const DistantLamp& lamp, const Vector3d& to_view,
                            const Vector3d& normal) {
    const double cosine = normal.dot(to_view);
    if (cosine <= 0.0) return 0.0;
    if (!layers.plate) return surface_factor(layers.surface, lamp, to_view, normal);
    const Vector3d from = 2.0 * cosine * normal - to_view;
    double factor = plate_reflectance(layers.surface, cosine) * mirrored_lamp(lamp, from);
    const double incident = normal.dot(lamp.direction);
    if (layers.backing && incident > 0.0) {
        const Plate plate{layers.surface.gloss->index.real(), {1.0, 0.0}};
        factor += plate_passed(plate, cosine).unpolarised() * plate_passed(plate, incident).unpolarised() *
                  surface_factor(*layers.backing, lamp, to_view, normal);
    }
    return factor;
}

double covered_share(double radius, double other, double apart) {
    const double smaller = std::min(radius, other);
    const double larger = std::max(radius, other);
    if (apart >= radius + other) return 0.0;
    if (apart <= larger - smaller) return smaller * smaller / (radius * radius);
    const auto segment = [apart](double r, double s) {
        const double x = std::clamp((apart * apart + r * r - s * s) / (2.0 * apart * r), -1.0, 1.0);
        return r * r * (std::acos(x) - x * std::sqrt(1.0 - x * x));
    };
    return (segment(radius, other) + segment(other, radius)) / (base::pi * radius * radius);
}

}  // namespace spotwright::target
