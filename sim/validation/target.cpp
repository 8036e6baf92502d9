#include <boost/math/quadrature/exp_sinh.hpp>
#include <boost/math/tools/roots.hpp>

#include <fmt/format.h>

#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/support.hpp"
#include "sim/target/plate.hpp"
#include "sim/target/polarised.hpp"
#include "sim/target/refraction.hpp"
#include "sim/target/subsurface.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::validation {

namespace {

using namespace base;

// Crown glass at 655 nm by the Sellmeier formula of the material's source, where the library's table has rounded
// values.
double glass_index() {
    const double square = 0.655 * 0.655;  // um^2
    return std::sqrt(1.0 + 1.03961212 * square / (square - 0.00600069867) +
                     0.231792344 * square / (square - 0.0200179144) + 1.01046945 * square / (square - 103.560653));
}

std::vector<Check> thickness_checks() {
    constexpr const char* source = "ray geometry of a plane-parallel plate, derived; worked value";
    const double n = glass_index();
    const double a = 30.0 * degree;
    const auto looks = [n](double angle) { return target::apparent_thickness(1.0 * mm, n, angle, angle); };
    const Eigen::Vector3d ray(std::sin(a), 0.0, -std::cos(a));
    const Eigen::Vector3d inside = target::refract(ray, Eigen::Vector3d::UnitZ(), n).value();
    // Traced to the back face, mirrored, and to the front again.
    const Eigen::Vector3d back = target::mirrored(inside, Eigen::Vector3d::UnitZ());
    const double apart = 1.0 * mm * (inside.x() / -inside.z() + back.x() / back.z()) * std::cos(a);
    const double wrong = target::thickness_from(looks(a), n + 0.001, a, a) - 1.0 * mm;
    return {
        worked("plate.refraction", "30 deg in air is refracted into crown glass", source, "deg", 19.27922,
               std::atan2(inside.x(), -inside.z()) / degree),
        worked("plate.separation", "rays from front and back of a 1 mm plate are apart", source, "mm", 0.6058503,
               apart / mm),
        worked("plate.apparent(30)", "a 1 mm plate between axes of 30 deg looks thinner", source, "mm", 0.6058503,
               looks(a) / mm),
        worked("plate.apparent(45)", "the same at 45 deg", source, "mm", 0.5280310, looks(45.0 * degree) / mm),
        worked("plate.apparent(0)", "the same at normal incidence: t / n", source, "mm", 0.6603440, looks(0.0) / mm),
        worked("plate.thickness", "the thickness is recovered from what it looks like", source, "mm", 1.0,
               target::thickness_from(0.6058503 * mm, n, a, a) / mm),
        worked("plate.index_error", "an index 0.001 too high makes a 1 mm plate thicker by", source, "um", 0.7411082,
               wrong / um),
    };
}

std::vector<Check> plate_power_checks() {
    constexpr const char* source = "Fresnel's equations, M. Born, E. Wolf, Principles of Optics, ch. 1; worked value";
    const target::Plate plate{glass_index(), {1.0, 0.0}};
    const double cosine = std::cos(30.0 * degree);
    const auto order = [&](int k) { return target::plate_reflection(plate, cosine, k); };
    const target::Fresnel all = target::plate_reflections_from(plate, cosine, 0);
    return {
        worked("plate.front.s", "front reflection of crown glass at 30 deg, s-polarised", source, "1", 0.06024378,
               order(0).s),
        worked("plate.back.s", "back reflection (1 - R)^2 R", source, "1", 0.05320380, order(1).s),
        worked("plate.third.s", "third reflection (1 - R)^2 R^3", source, "1", 0.0001930932, order(2).s),
        worked("plate.all.s", "all reflections add up to 2 R / (1 + R)", source, "1", 0.1136414, all.s),
        worked("plate.front.p", "front reflection, p-polarised", source, "1", 0.02655825, order(0).p),
        worked("plate.back.p", "back reflection, p-polarised", source, "1", 0.02516630, order(1).p),
        worked("plate.third.p", "third reflection, p-polarised", source, "1", 1.775081e-05, order(2).p),
        worked("plate.all.p", "all reflections, p-polarised", source, "1", 0.05174231, all.p),
        worked("plate.front", "front reflection, unpolarised", source, "1", 0.04340101, order(0).unpolarised()),
        worked("plate.back", "back reflection, unpolarised: averaged after the products", source, "1", 0.03918505,
               order(1).unpolarised()),
    };
}

// Light that lies in the xz plane, its field at these angles from it.
std::vector<Check> polarisation_checks() {
    constexpr const char* fresnel = "Fresnel's equations, M. Born, E. Wolf, Principles of Optics, ch. 1; worked value";
    const auto at = [](double angle) { return Eigen::Vector3d(std::sin(angle), 0.0, std::cos(angle)); };
    const auto reflected = [&](std::complex<double> index, double angle, double field) {
        target::Surface face;
        face.gloss = target::Gloss{index};
        const Eigen::Vector3d in_plane(std::cos(angle), 0.0, -std::sin(angle));
        return target::mirror_reflectance(
            face, at(angle), Eigen::Vector3d::UnitZ(),
            {1.0, std::cos(field) * in_plane + std::sin(field) * Eigen::Vector3d::UnitY()});
    };
    const auto excess = [&](std::complex<double> index, double angle, double field) {
        return reflected(index, angle, field) /
                   (0.5 * (reflected(index, angle, 0.0) + reflected(index, angle, 0.5 * pi))) -
               1.0;
    };
    const double a = 30.0 * degree;
    return {
        worked("polarised.glass.y", "glass of n = 1.5 at 30 deg, field square to the plane of incidence", fresnel, "1",
               0.05779611, reflected({1.5, 0.0}, a, 0.5 * pi)),
        worked("polarised.glass.x", "the same, field in it", fresnel, "1", 0.02524915, reflected({1.5, 0.0}, a, 0.0)),
        worked("polarised.glass.excess", "so much more, and less, than the mean of both", fresnel, "1", 0.3919184,
               excess({1.5, 0.0}, a, 0.5 * pi)),
        {"polarised.malus", "field at 30 deg from the plane: a quarter of the power in s (sin^2)",
         "E. L. Malus (1809), from memory", "1", 0.25,
         target::s_share({1.0, std::cos(a) * Eigen::Vector3d::UnitX() + std::sin(a) * Eigen::Vector3d::UnitY()},
                         Eigen::Vector3d::UnitZ(), at(0.1)),
         1e-12, "rounding"},
        {"polarised.brewster", "glass at atan(1.5), field in the plane of incidence: no reflection",
         "D. Brewster, Phil. Trans. R. Soc. 105, 125 (1815)", "1", 0.0, reflected({1.5, 0.0}, std::atan(1.5), 0.0),
         1e-15, "square of a rounding"},
        worked("polarised.aluminium", "aluminium, 655 nm, 30 deg: so little more than the mean",
               "the same equations with n + ik of A. D. Rakic, Appl. Opt. 34, 4755 (1995); worked value", "1",
               0.01454431, excess({1.591784, 7.759824}, a, 0.5 * pi)),
    };
}

constexpr const char* dipole_source =
    "H. W. Jensen et al., \"A practical model for subsurface light transport\", SIGGRAPH (2001); worked value";

// The library's marble in its red channel.
target::Volume marble() {
    return target::make_surface(scenario::library_material("marble"), 650.0 * nm).volume.value();
}

std::vector<Check> dipole_checks() {
    const target::Dipole dipole = target::make_dipole(marble());
    const auto ring = [&dipole](double r) { return 2.0 * pi * r * target::glow(dipole, r); };
    boost::math::quadrature::exp_sinh<double> integrator;
    // In millimetres, which is the scale that the rule of quadrature has to meet.
    const double integral = integrator.integrate([&ring](double r) { return ring(r * mm) * mm; }, 1e-10);
    const auto bracket =
        boost::math::tools::bisect([&dipole](double r) { return target::share_within(dipole, r) - 0.5; }, 0.0,
                                   20.0 * mm, boost::math::tools::eps_tolerance<double>(40));
    const double boundary = 0.75 * (dipole.virtual_depth / dipole.real_depth - 1.0);
    return {
        worked("volume.turned_back", "marble: the face turns back F_dr of the diffuse light inside", dipole_source, "1",
               0.5967333, (boundary - 1.0) / (boundary + 1.0)),
        worked("volume.boundary", "boundary factor A = (1 + F_dr) / (1 - F_dr)", dipole_source, "1", 3.959497,
               boundary),
        worked("volume.attenuation", "marble, red: effective attenuation of the glow", dipole_source, "1/mm", 0.1175169,
               dipole.attenuation * mm),
        worked("volume.real_depth", "depth of the dipole's source", dipole_source, "mm", 0.4561836,
               dipole.real_depth / mm),
        worked("volume.virtual_depth", "height of the dipole's sink", dipole_source, "mm", 2.864527,
               dipole.virtual_depth / mm),
        worked("volume.glow(0.5mm)", "exitance 0.5 mm from the place of entry", dipole_source, "1/mm^2", 0.1254476,
               target::glow(dipole, 0.5 * mm) * mm * mm),
        worked("volume.glow(2mm)", "exitance 2 mm from it", dipole_source, "1/mm^2", 0.009093840,
               target::glow(dipole, 2.0 * mm) * mm * mm),
        worked("volume.total", "diffuse reflectance in closed form", dipole_source, "1", 0.8301915,
               target::total_reflectance(dipole)),
        worked("volume.total.integral", "the same as integral of the exitance", dipole_source, "1", 0.8301915,
               integral),
        worked("volume.half", "radius that holds half of the diffuse light", dipole_source, "mm", 1.558149,
               0.5 * (bracket.first + bracket.second) / mm),
    };
}

// Reflectances that are printed beside the coefficients.
std::vector<Check> reflectance_checks() {
    const auto check = [](const char* name, const char* channel, double wavelength, double printed) {
        const target::Surface surface = target::make_surface(scenario::library_material(name), wavelength);
        return Check{fmt::format("volume.{}.{}", name, channel),
                     "diffuse reflectance of the library's material",
                     "H. W. Jensen et al., SIGGRAPH (2001), table of measured coefficients, printed beside them; from "
                     "memory",
                     "1",
                     printed,
                     target::total_reflectance(target::make_dipole(surface.volume.value())),
                     0.005,
                     "half of the last printed digit"};
    };
    return {check("marble", "red", 650.0 * nm, 0.83),       check("marble", "green", 530.0 * nm, 0.79),
            check("marble", "blue", 460.0 * nm, 0.75),      check("whole-milk", "red", 650.0 * nm, 0.91),
            check("whole-milk", "green", 530.0 * nm, 0.88), check("whole-milk", "blue", 460.0 * nm, 0.76)};
}

std::vector<Check> single_scatter_checks() {
    constexpr const char* source = "attenuation on both paths, derived; worked value";
    const double view = 30.0 * degree;
    const double c = std::cos(view);
    const target::Volume volume = marble();
    const auto reads = [&](const target::Volume& each) {
        return -target::apparent_thickness(target::seen_depth(each, 1.0, c), each.index, 0.0, view) / um;
    };
    const target::ExitRay exit =
        target::exit_ray(std::vector<target::Layer>{{1.0 * mm, volume.index}}, 60.0 * mm,
                         60.0 * mm * std::tan(view) + 1.0 * mm * std::tan(std::asin(0.5 / 1.5)));
    return {
        worked("volume.refraction", "the ray found out of marble to 30 deg in air starts inside at",
               "Snell's law; worked value", "deg", 19.47122, std::asin(exit.inside.front().sine) / degree),
        worked("volume.seen_depth", "marble: mean depth of the first scatter seen at 30 deg", source, "mm", 0.2213774,
               target::seen_depth(volume, 1.0, c) / mm),
        worked("volume.reads", "that light alone reads too far by", source, "um", -135.5654, reads(volume)),
        worked("volume.reads.dense", "the same alone for an extinction of 10 per mm", source, "um", -29.71729,
               reads({10.0 / mm, 0.0, 1.5})),
        worked("volume.glow_shift", "light that comes at 30 deg glows around a place farther on by",
               "L. Wang, S. Jacques, Appl. Opt. 34, 2362 (1995), from memory; worked value", "um", 152.0612,
               target::glow_shift(volume, c) / um),
        {"volume.single", "once-scattered light straight down without refraction: (1 - ln 2) / 2",
         "S. Chandrasekhar, Radiative Transfer (1950)", "1", 0.5 * (1.0 - std::log(2.0)),
         target::single_reflectance({1.0 / mm, 0.0, 1.0}, 1.0), 1e-9, "quadrature to 1e-10 of the value"},
    };
}

}  // namespace

std::vector<Check> target_checks() {
    return joined({thickness_checks(), plate_power_checks(), polarisation_checks(), dipole_checks(),
                   reflectance_checks(), single_scatter_checks()});
}

}  // namespace spotwright::validation
