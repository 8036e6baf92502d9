#include "sim/receiver/ray_draw.hpp"

#include <boost/math/special_functions/erf.hpp>

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"

namespace spotwright::receiver {

namespace {

double cauchy_density(double x, double centre, double width) {
    const double t = (x - centre) / width;
    return 1.0 / (base::pi * width * (1.0 + t * t));
}

// Share of Cauchy's distribution below x, less a half.
double cauchy_below(double x, double centre, double width) {
    return std::atan((x - centre) / width) / base::pi;
}

}  // namespace

RayPoints::RayPoints(std::uint64_t seed, std::int64_t index) {
    // Rays draw from indices of 0 and more.
    for (std::size_t i = 0; i < ray_dimensions; ++i) {
        shift_[i] = base::random_word({seed, base::Stream::ray}, -1 - index, static_cast<std::int64_t>(i));
    }
}

std::array<double, ray_dimensions> RayPoints::next() {
    std::array<double, ray_dimensions> point{};
    for (std::size_t i = 0; i < ray_dimensions; ++i) {
        const std::uint32_t digits = begun_ ? sobol_() : 0U;  // the library leaves out the first point, the corner
        point[i] = (static_cast<double>(digits ^ shift_[i]) + 0.5) * 0x1p-32;
    }
    begun_ = true;
    return point;
}

double beam_offset(double uniform) {
    // exp(-2 t^2) is a Gaussian of standard deviation 1/2.
    return std::sqrt(0.5) * boost::math::erf_inv(2.0 * uniform - 1.0);
}

Weighed RowOffsets::draw(double uniform) const {
    if (share <= 0.0) return {beam_offset(uniform), 1.0};
    const bool from_row = uniform < share;
    const double offset = from_row ? centre + half_width * std::tan(base::pi * (uniform / share - 0.5))
                                   : beam_offset((uniform - share) / (1.0 - share));
    const double gaussian = std::sqrt(2.0 / base::pi) * std::exp(-2.0 * offset * offset);
    const double drawn = share * cauchy_density(offset, centre, half_width) + (1.0 - share) * gaussian;
    return {offset, gaussian / drawn};
}

RowOffsets row_offsets(const emitter::Beam& beam, double along, const std::optional<target::Hit>& hit,
                       const Receiver& receiver, double across_scale) {
    RowOffsets row;
    if (!hit) return row;
    const target::Part plane = target::plane_through(beam.face + along * beam.direction, hit->normal);
    const auto landing = [&](double offset, double out_of_plane) -> std::optional<double> {
        const emitter::BeamRay ray = emitter::ray_from_face(beam, along, {0.0, offset});
        const auto at = target::meet(plane, ray);
        if (!at) return std::nullopt;
        const auto on_array =
            trace(receiver, to_receiver(receiver, ray.origin + at->distance * ray.direction), 0.0, out_of_plane);
        if (!on_array) return std::nullopt;
        return on_array->v;
    };
    constexpr double step = 0.1;
    const auto middle = landing(0.0, 0.0);
    const auto beside = landing(step, 0.0);
    const auto rim = landing(0.0, receiver.aperture.half_out_of_plane);
    if (!middle || !beside || !rim || *beside == *middle) return row;
    const double per_offset = (*beside - *middle) / step;
    row.centre = -*middle / per_offset;
    row.half_width = (0.5 * receiver.height + across_scale + std::abs(*rim - *middle)) / std::abs(per_offset);
    constexpr double most_of_beam = 0.5;
    if (row.half_width < most_of_beam && std::abs(row.centre) < 8.0) row.share = 0.75;
    return row;
}

double RowAperture::half_side(double in_plane) const {
    const Aperture& aperture = receiver_.aperture;
    if (aperture.shape == ApertureShape::rectangular) return aperture.half_out_of_plane;
    const double radius = aperture.half_in_plane;
    return std::sqrt(std::max(0.0, radius * radius - in_plane * in_plane));
}

// Where the light lands across the array is linear in the out-of-plane place.
std::optional<RowAperture::Bell> RowAperture::bell_at(double in_plane) const {
    const double half = half_side(in_plane);
    const auto middle = trace(receiver_, from_, in_plane, 0.0);
    const auto rim = trace(receiver_, from_, in_plane, half);
    if (!middle || !rim || half <= 0.0) return std::nullopt;
    const double per_place = (rim->v - middle->v) / half;
    const double seen = 0.5 * receiver_.height + across_scale_;
    // So little blur that the row sees all places alike.
    if (std::abs(per_place) * half < 0.1 * seen) return std::nullopt;
    return Bell{-middle->v / per_place, seen / std::abs(per_place), half};
}

Eigen::Vector2d RowAperture::draw(double first, double second) const {
    const Aperture& aperture = receiver_.aperture;
    // In-plane place, and where between the rims of the opening there: even over the opening together.
    double in_plane = (2.0 * first - 1.0) * aperture.half_in_plane;
    double between = second;
    if (aperture.shape == ApertureShape::round) {
        const double radius = std::sqrt(first);
        const double angle = 2.0 * base::pi * second;
        in_plane = aperture.half_in_plane * radius * std::cos(angle);
        const double chord = half_side(in_plane);
        if (chord > 0.0) between = 0.5 + 0.5 * aperture.half_in_plane * radius * std::sin(angle) / chord;
        between = std::clamp(between, 0.0, 1.0);
    }
    return {in_plane, on_chord(in_plane, between)};
}

double RowAperture::on_chord(double in_plane, double between) const {
    const auto bell = bell_at(in_plane);
    if (!bell) return (2.0 * between - 1.0) * half_side(in_plane);
    if (between < 0.5) return (4.0 * between - 1.0) * bell->half_side;
    const double low = cauchy_below(-bell->half_side, bell->centre, bell->width);
    const double high = cauchy_below(bell->half_side, bell->centre, bell->width);
    const double place = bell->centre + bell->width * std::tan(base::pi * std::lerp(low, high, 2.0 * between - 1.0));
    return std::clamp(place, -bell->half_side, bell->half_side);
}

Weighed RowAperture::redraw(double in_plane, double out_of_plane) const {
    const double half = half_side(in_plane);
    if (half <= 0.0) return {out_of_plane, 1.0};
    const double place = on_chord(in_plane, std::clamp(0.5 + 0.5 * out_of_plane / half, 0.0, 1.0));
    return {place, 1.0 / (area_of(receiver_.aperture) * density({in_plane, place}))};
}

bool RowAperture::sees_strip() const {
    constexpr double small = 0.25;
    const auto bell = bell_at(0.0);
    return bell && bell->width < small * bell->half_side;
}

double RowAperture::density(const Eigen::Vector2d& place) const {
    const double even = 1.0 / area_of(receiver_.aperture);
    const auto bell = bell_at(place.x());
    if (!bell) return even;
    const double low = cauchy_below(-bell->half_side, bell->centre, bell->width);
    const double high = cauchy_below(bell->half_side, bell->centre, bell->width);
    const double peaked = cauchy_density(place.y(), bell->centre, bell->width) / (high - low);
    return even * (0.5 + 0.5 * peaked * 2.0 * bell->half_side);
}

double lobe_chance(const target::Surface& surface, const Receiver& receiver, double distance) {
    if (!surface.gloss) return 0.0;
    // Solid angle within the lobe's 1/e, twice as wide in angle as the facets' sqrt(2) rms slopes.
    const double lobe = 8.0 * base::pi * surface.gloss->slope_along * surface.gloss->slope_across;
    const double seen = area_of(receiver.aperture) / (distance * distance);
    return 0.5 * seen / (seen + lobe);
}

}  // namespace spotwright::receiver
