// Optics of several rays side by side: what surfaces send back and where the lens sends it. Included by kernels after
// hwy/foreach_target.h, once per instruction set.
#if defined(SPOTWRIGHT_OPTICS_LANES_INL_HPP) == defined(HWY_TARGET_TOGGLE)
#ifdef SPOTWRIGHT_OPTICS_LANES_INL_HPP
#undef SPOTWRIGHT_OPTICS_LANES_INL_HPP
#else
#define SPOTWRIGHT_OPTICS_LANES_INL_HPP
#endif

#include "sim/receiver/real_lanes-inl.hpp"

#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/receiver/ray_batch.hpp"

// Vectors have no value of their own to begin with; each is set where it is made.
// NOLINTBEGIN(cppcoreguidelines-pro-type-member-init)
HWY_BEFORE_NAMESPACE();
namespace spotwright::receiver {
namespace HWY_NAMESPACE {

HWY_INLINE Real3 load3(const Lanes3& from, std::size_t i) {
    return {Real::load(from.axial.data() + i), Real::load(from.transverse.data() + i),
            Real::load(from.out_of_plane.data() + i)};
}

HWY_INLINE void store3(const Real3& value, Lanes3& to, std::size_t i) {
    value.axial.store(to.axial.data() + i);
    value.transverse.store(to.transverse.data() + i);
    value.out_of_plane.store(to.out_of_plane.data() + i);
}

HWY_INLINE Real3 constant3(const Eigen::Vector3d& v) {
    return {Real(v.x()), Real(v.y()), Real(v.z())};
}

// As `emitter::path_to`, of places told from a foot on the beam's axis.
struct TravelLanes {
    Real3 axis;
    Real3 side;
    Real3 side_out;
    Real foot;        // from the emitter's face. [m]
    Real from_waist;  // of the foot. [m]
    Real rayleigh2;
    Real rayleigh2_out;

    TravelLanes(const emitter::Beam& beam, double along, const Receiver& receiver)
        : axis(constant3(direction_to_receiver(receiver, beam.direction))),
          side(constant3(direction_to_receiver(receiver, beam.axes[0]))),
          side_out(constant3(direction_to_receiver(receiver, beam.axes[1]))),
          foot(along),
          from_waist(along - beam.waist_along),
          rayleigh2(emitter::rayleigh_length(beam, 0) * emitter::rayleigh_length(beam, 0)),
          rayleigh2_out(emitter::rayleigh_length(beam, 1) * emitter::rayleigh_length(beam, 1)) {}

    HWY_INLINE Real operator()(const Real3& from_foot) const {
        const Real along = dot(from_foot, axis);
        const Real x = dot(from_foot, side);
        const Real y = dot(from_foot, side_out);
        const Real z = from_waist + along;
        const Real z2 = z * z;
        const Real bend = x * x / (z2 + rayleigh2) + y * y / (z2 + rayleigh2_out);
        return foot + along + Real(0.5) * z * bend;
    }
};

// The lens and the array; see `trace`.
struct ArrayLanes {
    Real inverse_focal_length;
    Real image_distance;
    Real sin_beta;
    Real cos_beta;
    Real offset;
    Real shift;
    // What most receivers do without.
    bool ideal;
    Wavefront wavefront;
    bool bare;
    CoverGlass glass;
    Real cos_mount;
    Real sin_mount;

    explicit ArrayLanes(const Receiver& r)
        : inverse_focal_length(1.0 / r.focal_length),
          image_distance(r.image_distance),
          sin_beta(r.sin_beta),
          cos_beta(r.cos_beta),
          offset(r.array_offset),
          shift(r.array_shift),
          ideal(r.wavefront.is_ideal()),
          wavefront(r.wavefront),
          bare(!(r.glass.thickness > 0.0)),
          glass(r.glass),
          cos_mount(std::cos(r.angle)),
          sin_mount(std::sin(r.angle)) {}

    struct Landing {
        Real u;
        Real v;
        RealMask arrives;
    };

    // Where a place behind the cover glass seems to be along a ray, by the cosine of its angle to the mounting normal.
    HWY_INLINE Real3 lifted(const Real3& place, Real cosine) const {
        const Real one(1.0);
        const Real inside = root(Real(glass.index * glass.index) - one + cosine * cosine);
        const Real lift = Real(glass.thickness) * (one - cosine / inside);
        return {place.axial - lift * cos_mount, place.transverse + lift * sin_mount, place.out_of_plane};
    }

    HWY_INLINE Real3 seen_through_glass(const Real3& place, Real in_plane, Real out_of_plane) const {
        constexpr int steps = 3;
        Real3 seen = place;
        for (int i = 0; i < steps; ++i) {
            const Real3 way{seen.axial, in_plane - seen.transverse, out_of_plane - seen.out_of_plane};
            const Real cosine = (way.axial * cos_mount + way.transverse * sin_mount) / root(dot(way, way));
            seen = lifted(place, cosine);
        }
        return seen;
    }

    HWY_INLINE Landing trace(const Real3& from, Real in_plane, Real out_of_plane) const {
        const Real3 place = bare ? from : seen_through_glass(from, in_plane, out_of_plane);
        const Real inverse = Real(1.0) / place.axial;
        const Real inverse_image = inverse_focal_length - inverse;
        Real slope = place.transverse * inverse + in_plane * inverse_image;
        Real slope_out = place.out_of_plane * inverse + out_of_plane * inverse_image;
        if (!ideal) bend(in_plane, out_of_plane, slope, slope_out);
        const Real denominator = sin_beta - slope * cos_beta;
        const Real u = (image_distance * slope - in_plane - offset) / denominator;
        const Real axial = image_distance + u * cos_beta;
        const Real zero(0.0);
        return {u - shift, out_of_plane - axial * slope_out,
                both(place.axial > zero, both(denominator > zero, axial > zero))};
    }

    // As `path_to_array`, without a cover glass.
    HWY_INLINE Real path(const Real3& from, const Landing& at) const {
        const Real along = at.u + shift;
        const Real3 to{image_distance + along * cos_beta, -(along * sin_beta + offset), at.v};
        const Real one(1.0);
        const Real inverse_axial = one / from.axial;
        const Real inverse = inverse_focal_length - inverse_axial;
        const Real3 centre{one, -(from.transverse * inverse_axial), -(from.out_of_plane * inverse_axial)};
        const Real3 beyond = centre - inverse * to;
        const Real both_ways = root(dot(centre, centre)) + root(dot(beyond, beyond));
        const Real near = (Real(2.0) * dot(centre, to) - inverse * dot(to, to)) / both_ways;
        const Real behind = select(inverse * to.axial < one, near, both_ways / inverse);
        return root(dot(from, from)) + behind - image_distance;
    }

private:
    // As `slope_at`.
    HWY_INLINE void bend(Real in_plane, Real out_of_plane, Real& slope, Real& slope_out) const {
        const Real inverse_rim(1.0 / wavefront.rim);
        const Real x = in_plane * inverse_rim;
        const Real y = out_of_plane * inverse_rim;
        const Real r2 = x * x + y * y;
        const Real spherical = Real(4.0 * wavefront.spherical) * r2;
        const Real coma(wavefront.coma);
        slope = slope +
                inverse_rim * (spherical * x + coma * (r2 + Real(2.0) * x * x) + Real(2.0 * wavefront.astigmatism) * x);
        slope_out = slope_out + inverse_rim * (spherical + Real(2.0) * coma * x) * y;
    }
};

// Light on a face; see `target::s_share`.
struct PolarisationLanes {
    bool polarised;
    Real degree;
    Real3 direction;

    explicit PolarisationLanes(const emitter::Polarisation& light)
        : polarised(light.degree > 0.0), degree(light.degree), direction(constant3(light.direction)) {}

    HWY_INLINE Real s_share(const Real3& to_light, const Real3& facet) const {
        if (!polarised) return Real(0.5);
        constexpr double least = 1e-300;
        const Real3 across = cross(to_light, facet);
        const Real field = dot(direction, across);
        const Real along = dot(direction, to_light);
        const Real square = larger((Real(1.0) - along * along) * dot(across, across), Real(least));
        return Real(0.5) + degree * (smaller(field * field / square, Real(1.0)) - Real(0.5));
    }
};

struct FresnelLanes {
    Real n;
    Real k;

    explicit FresnelLanes(std::complex<double> index) : n(index.real()), k(index.imag()) {}

    struct Powers {
        Real s;
        Real p;

        HWY_INLINE Real unpolarised() const { return Real(0.5) * (s + p); }
        HWY_INLINE Real mean(Real s_share) const { return s_share * s + (Real(1.0) - s_share) * p; }
    };

    // As `target::fresnel`.
    HWY_INLINE Powers reflectance(Real cosine) const {
        const Real c = larger(Real(0.0), smaller(cosine, Real(1.0)));
        const Real sine2 = Real(1.0) - c * c;
        const Real d = n * n - k * k - sine2;
        const Real m = root(d * d + Real(4.0) * n * n * k * k);
        const Real greater = root(Real(0.5) * (m + magnitude(d)));
        const Real lesser = only(greater > Real(0.0), n * k / greater);
        const RealMask negative = d < Real(0.0);
        const Real a = select(negative, lesser, greater);
        const Real b2 = select(negative, greater * greater, lesser * lesser);
        const auto squared = [](Real x) { return x * x; };
        const Real s = (squared(a - c) + b2) / (squared(a + c) + b2);
        const Real turned = (squared(a * c - sine2) + b2 * c * c) / (squared(a * c + sine2) + b2 * c * c);
        return {s, s * turned};
    }

    HWY_INLINE Real unpolarised(Real cosine) const { return reflectance(cosine).unpolarised(); }
};

// The glossy lobe; see `target::glossy_scatter`.
struct LobeLanes {
    FresnelLanes interface;
    Real along;  // alpha, sqrt(2) times the slope
    Real across;
    Real norm;
    Real height_phase;  // 4 pi Rq / lambda
    bool beckmann;
    bool hazy;
    target::HazeLobe haze;

    explicit LobeLanes(const target::Gloss& gloss)
        : interface(gloss.index),
          along(std::sqrt(2.0) * gloss.slope_along),
          across(std::sqrt(2.0) * gloss.slope_across),
          norm(base::pi * 2.0 * gloss.slope_along * gloss.slope_across),
          height_phase(4.0 * base::pi * gloss.rms_height / gloss.wavelength),
          beckmann(gloss.distribution == target::FacetDistribution::beckmann),
          hazy(gloss.haze.has_value()),
          haze(gloss.haze.value_or(target::HazeLobe{})) {}

    HWY_INLINE Real haze_share(Real cosine) const {
        return cosine * (Real(haze.lost) + Real(haze.lost_square) * cosine);
    }

    // See `target::haze_scatter`.
    // @param sent2  Square of the sum of both directions along the face.
    HWY_INLINE Real haze_scatter(Real cos_i, Real cos_o, Real sent2) const {
        const Real spread = Real(1.0) + Real(haze.waves * haze.waves) * larger(sent2, Real(0.0));
        const Real fall = exp_of_negative(Real(-haze.half_power) * logarithm(spread));
        const Real reflected = interface.unpolarised(cos_i) * interface.unpolarised(cos_o);
        return Real(haze.strength) * cos_i * cos_o * root(reflected) * fall;
    }

    HWY_INLINE Real coarse_mirror_share(Real cosine) const {
        const Real phase = height_phase * cosine;
        return exp_of_negative(-(phase * phase));
    }

    HWY_INLINE Real mirror_share(Real cosine) const {
        const Real coarse = coarse_mirror_share(cosine);
        return hazy ? coarse * (Real(1.0) - haze_share(cosine)) : coarse;
    }

    // 1/2 (exp(-q^2) / (q sqrt(pi)) - erfc(q)), erfc within 1.5e-7 by formula 7.1.26 of M. Abramowitz, I. Stegun,
    // Handbook of Mathematical Functions (1964).
    HWY_INLINE Real smith_lambda(Real x, Real y, Real cosine) const {
        const Real spread2 = (along * along * x * x + across * across * y * y) / (cosine * cosine);
        if (!beckmann) return Real(0.5) * (root(Real(1.0) + spread2) - Real(1.0));
        constexpr double smallest = 1e-300;
        const Real q = Real(1.0) / root(larger(spread2, Real(smallest)));
        const Real fall = exp_of_negative(-(q * q));
        const Real t = Real(1.0) / (Real(1.0) + Real(0.3275911) * q);
        Real sum(1.061405429);
        for (const double c : {-1.453152027, 1.421413741, -0.284496736, 0.254829592}) sum = sum * t + Real(c);
        const Real lambda = Real(0.5) * fall * (Real(1.0 / std::sqrt(base::pi)) / q - sum * t);
        return larger(lambda, Real(0.0));
    }

    HWY_INLINE Real density(Real x, Real y, Real cosine) const {
        const Real inverse = Real(1.0) / cosine;
        const Real slope_x = x * inverse / along;
        const Real slope_y = y * inverse / across;
        const Real q = slope_x * slope_x + slope_y * slope_y;
        const Real inverse2 = inverse * inverse;
        const Real scale = inverse2 * inverse2 / norm;
        if (beckmann) return exp_of_negative(-q) * scale;
        const Real one_more = Real(1.0) + q;
        return scale / (one_more * one_more);
    }
};

// Axes of the lay on the face; any two where the lay runs into it.
struct LayLanes {
    Real3 along;
    Real3 across;

    HWY_INLINE LayLanes(const Real3& lay, const Real3& normal) {
        const Real3 on_face = lay - dot(lay, normal) * normal;
        const Real squared = dot(on_face, on_face);
        const RealMask runs_in = squared < Real(1e-24);
        // Then across either axis of the receiver that the normal does not run along.
        const RealMask upright = magnitude(normal.axial) < Real(0.5);
        const Real3 other{select(upright, Real(1.0), Real(0.0)), select(upright, Real(0.0), Real(1.0)), Real(0.0)};
        const Real3 instead = other - dot(other, normal) * normal;
        const Real3 chosen{select(runs_in, instead.axial, on_face.axial),
                           select(runs_in, instead.transverse, on_face.transverse),
                           select(runs_in, instead.out_of_plane, on_face.out_of_plane)};
        along = (Real(1.0) / root(dot(chosen, chosen))) * chosen;
        across = cross(normal, along);
    }
};

// f_r of a surface; see `target::scatter`.
class ScatterLanes {
public:
    // @param light  Its direction in the receiver's axes, as the surface's lay.
    ScatterLanes(const target::Surface& surface, const emitter::Polarisation& light)
        : light_(light),
          lambert_(surface.reflectance / base::pi),
          coupling_(surface.coupling),
          lay_(constant3(surface.lay)),
          matt_(surface.reflectance > 0.0),
          rough_base_(surface.slope_deviation != 0.0),
          glossy_(surface.gloss.has_value()),
          lobe_(surface.gloss.value_or(target::Gloss{})),
          gain_(surface.reflectance > 0.0 && surface.slope_deviation != 0.0 ? target::oren_nayar_gain(surface) : 0.0) {}

    HWY_INLINE Real operator()(const Real3& to_light, const Real3& to_view, const Real3& normal) const {
        const Real cos_i = dot(normal, to_light);
        const Real cos_o = dot(normal, to_view);
        const RealMask seen = both(cos_i > Real(0.0), cos_o > Real(0.0));
        Real result(0.0);
        if (matt_) result = diffuse(to_light, to_view, cos_i, cos_o);
        if (!glossy_) return only(seen, result);
        if (matt_) {
            const Real entering = Real(1.0) - lobe_.interface.reflectance(cos_i).mean(light_.s_share(to_light, normal));
            result = result * coupling_ * entering * (Real(1.0) - lobe_.interface.unpolarised(cos_o));
        }
        return only(seen, result + lobe(to_light, to_view, normal, cos_i, cos_o));
    }

private:
    HWY_INLINE Real diffuse(const Real3& to_light, const Real3& to_view, Real cos_i, Real cos_o) const {
        if (!rough_base_) return lambert_;
        const Real azimuth = larger(dot(to_light, to_view) - cos_i * cos_o, Real(0.0));
        return lambert_ * (Real(1.0) + gain_ * azimuth / larger(cos_i, cos_o));
    }

    HWY_INLINE Real lobe(const Real3& to_light, const Real3& to_view, const Real3& normal, Real cos_i,
                         Real cos_o) const {
        const Real mirrored = larger(lobe_.coarse_mirror_share(cos_i), lobe_.coarse_mirror_share(cos_o));
        const Real3 sum = to_light + to_view;
        const Real3 half = (Real(1.0) / root(dot(sum, sum))) * sum;
        const LayLanes axes(lay_, normal);
        const Real density = lobe_.density(dot(half, axes.along), dot(half, axes.across), dot(half, normal));
        const Real hidden = lobe_.smith_lambda(dot(to_light, axes.along), dot(to_light, axes.across), cos_i) +
                            lobe_.smith_lambda(dot(to_view, axes.along), dot(to_view, axes.across), cos_o);
        const Real reflected = lobe_.interface.reflectance(dot(half, to_light)).mean(light_.s_share(to_light, half));
        const Real facets =
            (Real(1.0) - mirrored) * reflected * density / ((Real(1.0) + hidden) * Real(4.0) * cos_i * cos_o);
        if (!lobe_.hazy) return facets;
        const Real upright = cos_i + cos_o;
        const Real left = Real(1.0) - larger(lobe_.haze_share(cos_i), lobe_.haze_share(cos_o));
        const Real haze = lobe_.haze_scatter(cos_i, cos_o, dot(sum, sum) - upright * upright);
        if (!light_.polarised) return facets * left + haze;
        const FresnelLanes::Powers face = lobe_.interface.reflectance(cos_i);
        const Real share = face.mean(light_.s_share(to_light, normal)) / face.unpolarised();
        return facets * left + only(face.unpolarised() > Real(0.0), haze * share);
    }

    PolarisationLanes light_;
    Real lambert_;
    Real coupling_;
    Real3 lay_;
    bool matt_;
    bool rough_base_;
    bool glossy_;
    LobeLanes lobe_;
    Real gain_;
};

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::receiver
HWY_AFTER_NAMESPACE();
// NOLINTEND(cppcoreguidelines-pro-type-member-init)

#endif  // per target
