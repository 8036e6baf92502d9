#include "sim/target/surface.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/polarised.hpp"

namespace spotwright::target {

namespace {

// The diffuse base by itself.
double diffuse_scatter(const Surface& surface, const Eigen::Vector3d& to_light, const Eigen::Vector3d& to_view,
                       double cos_i, double cos_o) {
    const double lambert = surface.reflectance / base::pi;
    if (surface.slope_deviation == 0.0) return lambert;
    // Without angles: cos(phi_i - phi_o) sin_i sin_o = l.v - cos_i cos_o, and with the larger angle having the
    // smaller cosine, sin(alpha) tan(beta) = sin_i sin_o / max(cos_i, cos_o).
    const double azimuth_term = to_light.dot(to_view) - cos_i * cos_o;
    return lambert * (1.0 + oren_nayar_gain(surface) * std::max(0.0, azimuth_term) / std::max(cos_i, cos_o));
}

}  // namespace

// Equation (target.7).
double facet_share(double slope_deviation) {
    const double s2 = slope_deviation * slope_deviation;
    return 1.0 - 0.5 * s2 / (s2 + 0.33);
}

// Equation (target.7).
double oren_nayar_gain(const Surface& surface) {
    const double s2 = surface.slope_deviation * surface.slope_deviation;
    const double published = 0.45 * s2 / (s2 + 0.09) / facet_share(surface.slope_deviation);
    // At grazing incidence the albedo is reflectance (1 + gain / 2).
    return std::min(published, 2.0 * (1.0 - surface.reflectance) / surface.reflectance);
}

LayAxes lay_axes(const Eigen::Vector3d& lay, const Eigen::Vector3d& normal) {
    Eigen::Vector3d along = lay - lay.dot(normal) * normal;
    if (along.squaredNorm() < 1e-24) along = normal.unitOrthogonal();  // the lay runs into the surface
    along.normalize();
    return {along, normal.cross(along)};
}

namespace {

// Diffuse reflectance of what lies below a layer, seen from within it: a rough metal sends light back to all sides.
double backing_of(const scenario::Layer& layer, double index, double wavelength) {
    const scenario::LayerBacking backing = scenario::layer_backing_at(layer, wavelength);
    return backing.index ? diffuse_fresnel(*backing.index / index) : backing.reflectance;
}

Volume make_volume(const scenario::Material& material, double wavelength) {
    const scenario::VolumeCoefficients at = scenario::volume_at(material, wavelength);
    Volume volume{at.reduced_scattering, at.absorption, scenario::volume_index_at(material, wavelength), at.anisotropy};
    if (material.layer) {
        volume.thickness = material.layer->thickness;
        volume.backing = backing_of(*material.layer, volume.index, wavelength);
    }
    return volume;
}

}  // namespace

Surface make_surface(const scenario::Material& material, double wavelength) {
    Surface surface = make_opaque_surface(material, wavelength);
    if (!material.volume) return surface;
    surface.volume = make_volume(material, wavelength);
    surface.reflectance = 0.0;
    return surface;
}

Surface make_opaque_surface(const scenario::Material& material, double wavelength) {
    Surface surface;
    surface.reflectance = scenario::reflectance_at(material, wavelength);
    surface.slope_deviation = material.slope.deviation;
    if (material.volume && !scenario::has_base(material)) surface.volume = make_volume(material, wavelength);
    if (!material.index) return surface;
    Gloss gloss;
    gloss.index = scenario::index_at(material, wavelength);
    const scenario::Roughness& roughness = material.roughness;
    gloss.distribution = roughness.distribution;
    gloss.rms_height = roughness.rms_height;
    gloss.slope_along = roughness.rms_slope[0];
    gloss.slope_across = roughness.rms_slope[1];
    gloss.wavelength = wavelength;
    if (material.haze && material.haze->rms_height > 0.0) gloss.haze = make_haze(*material.haze, wavelength);
    surface.gloss = gloss;
    surface.coupling = 1.0 / (1.0 - diffuse_fresnel(gloss.index));
    return surface;
}

// Equations (target.7) and (target.17).
double base_scatter(const Surface& surface, const Eigen::Vector3d& to_light, const Eigen::Vector3d& to_view,
                    const Eigen::Vector3d& normal, const Polarisation& light) {
    const double cos_i = normal.dot(to_light);
    const double cos_o = normal.dot(to_view);
    if (cos_i <= 0.0 || cos_o <= 0.0 || surface.reflectance <= 0.0) return 0.0;
    const double diffuse = diffuse_scatter(surface, to_light, to_view, cos_i, cos_o);
    if (!surface.gloss) return diffuse;
    const std::complex<double> index = surface.gloss->index;
    const double entering = 1.0 - fresnel(index, cos_i).mean(s_share(light, to_light, normal));
    return diffuse * (entering * (1.0 - fresnel(index, cos_o).unpolarised()) * surface.coupling);
}

double gloss_scatter(const Surface& surface, const Eigen::Vector3d& to_light, const Eigen::Vector3d& to_view,
                     const Eigen::Vector3d& normal, const Polarisation& light) {
    if (!surface.gloss) return 0.0;
    const LayAxes axes = lay_axes(surface.lay, normal);
    const auto local = [&](const Eigen::Vector3d& d) {
        return Local(d.dot(axes.along), d.dot(axes.across), d.dot(normal));
    };
    return glossy_scatter(*surface.gloss, local(to_light), local(to_view), {light.degree, local(light.direction)});
}

double haze_scatter(const Surface& surface, const Eigen::Vector3d& to_light, const Eigen::Vector3d& to_view,
                    const Eigen::Vector3d& normal, const Polarisation& light) {
    if (!surface.gloss || !surface.gloss->haze) return 0.0;
    const LayAxes axes = lay_axes(surface.lay, normal);
    const auto local = [&](const Eigen::Vector3d& d) {
        return Local(d.dot(axes.along), d.dot(axes.across), d.dot(normal));
    };
    return haze_scatter(*surface.gloss, local(to_light), local(to_view), {light.degree, local(light.direction)});
}

double scatter(const Surface& surface, const Eigen::Vector3d& to_light, const Eigen::Vector3d& to_view,
               const Eigen::Vector3d& normal, const Polarisation& light) {
    const double diffuse = base_scatter(surface, to_light, to_view, normal, light);
    return surface.gloss ? diffuse + gloss_scatter(surface, to_light, to_view, normal, light) : diffuse;
}

double mirror_reflectance(const Surface& surface, const Eigen::Vector3d& to_light, const Eigen::Vector3d& normal,
                          const Polarisation& light) {
    const double cosine = normal.dot(to_light);
    if (!surface.gloss || cosine <= 0.0) return 0.0;
    return mirror_share(*surface.gloss, cosine) *
           fresnel(surface.gloss->index, cosine).mean(s_share(light, to_light, normal));
}

}  // namespace spotwright::target
