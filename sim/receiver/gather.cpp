#include "sim/receiver/gather.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"

namespace spotwright::receiver {

// Equation (receiver.14).
DiffractionScale diffraction_scale(const Receiver& r, double wavelength, double u) {
    const double axial = r.image_distance + u * r.cos_beta;
    const double slope = u * r.sin_beta / axial;
    const double obliquity = 1.0 + slope * slope;
    const auto across_ray = [&](double half_width) { return wavelength * axial * obliquity / (2.0 * half_width); };
    return {across_ray(r.aperture.half_out_of_plane),
            across_ray(r.aperture.half_in_plane) * std::sqrt(obliquity) / (r.sin_beta - slope * r.cos_beta)};
}

AperturePoint aperture_point(const Aperture& aperture, double first, double second) {
    // Up and down again, so that both ends are alike.
    const auto folded = [](double t) { return t < 0.5 ? 2.0 * t : 2.0 - 2.0 * t; };
    const double area = area_of(aperture);
    if (aperture.shape == ApertureShape::rectangular) {
        return {(2.0 * folded(first) - 1.0) * aperture.half_in_plane,
                (2.0 * folded(second) - 1.0) * aperture.half_out_of_plane, area};
    }
    const double radius = aperture.half_in_plane * std::sqrt(folded(first));
    const double angle = 2.0 * base::pi * second;
    return {radius * std::cos(angle), radius * std::sin(angle), area};
}

double path_to_array(const Receiver& receiver, const Eigen::Vector3d& place, const ArrayPoint& at) {
    const ReceiverPoint from = to_receiver(receiver, place);
    const double along = at.u + receiver.array_shift;
    const Eigen::Vector3d to(receiver.image_distance + along * receiver.cos_beta,
                             -(along * receiver.sin_beta + receiver.array_offset), at.v);
    // The image is at `centre` / `inverse`, at infinity where that is 0.
    const double inverse = 1.0 / receiver.focal_length - 1.0 / from.axial;
    const Eigen::Vector3d centre(1.0, -from.transverse / from.axial, -from.out_of_plane / from.axial);
    const double to_image = centre.norm();
    const double from_array = (centre - inverse * to).norm();
    const bool before = inverse * to.x() < 1.0;  // the array comes before the image, or the image is virtual
    const double behind = before ? (2.0 * centre.dot(to) - inverse * to.squaredNorm()) / (to_image + from_array)
                                 : (to_image + from_array) / inverse;
    return (aperture_point(receiver, 0.0, 0.0) - place).norm() + behind - receiver.image_distance;
}

void Gatherer::Bins::reach(std::int64_t from, std::int64_t to) {
    const auto held = static_cast<std::int64_t>(sums.size());
    if (held > 0 && from >= first && to < first + held) return;
    // Half as much again on a side that is short, so that few steps lead to any size.
    const std::int64_t spare = 64 + held / 2;
    const std::int64_t begin = held > 0 && from >= first ? first : from - spare;
    const std::int64_t end = held > 0 && to < first + held ? first + held : to + 1 + spare;
    std::vector<PatternTerms> larger(static_cast<std::size_t>(end - begin), PatternTerms{});
    std::copy(sums.begin(), sums.end(), larger.begin() + (held > 0 ? first - begin : 0));
    sums = std::move(larger);
    first = begin;
}

Gatherer::Gatherer(const Receiver& receiver, const EdgeSpread& edge_spread, const DiffractionScale& scale)
    : receiver_(receiver), edge_spread_(&edge_spread), scale_(scale) {
    if (edge_spread.shape() != receiver.aperture.shape) {
        throw base::InternalError("the edge spread is of another shape of aperture than the receiver's");
    }
}

void Gatherer::add(const CollectedRay& ray) {
    CollectedBatch batch;  // NOLINT(cppcoreguidelines-pro-type-member-init): one ray
    batch.count = 1;
    batch.mirrored = ray.mirrored;
    batch.u[0] = ray.at.u;
    batch.v[0] = ray.at.v;
    batch.power[0] = ray.power;
    add(batch);
}

void Gatherer::add(const CollectedBatch& batch) {
    alignas(64) Lane place;
    alignas(64) Lane v;
    alignas(64) Lane power;
    alignas(64) Lane on_row;
    const double places = static_cast<double>(receiver_.pixels * bins_per_pixel);
    const double per_bin = static_cast<double>(bins_per_pixel) / receiver_.pitch;
    const double middle = 0.5 * places;
    // Diffraction brings light back onto the array from places beyond its ends.
    constexpr double beyond = 16.0 * static_cast<double>(bins_per_pixel);
    std::size_t count = 0;
    double lowest = std::numeric_limits<double>::infinity();
    double highest = -lowest;
    for (std::size_t i = 0; i < batch.count; ++i) {
        if (batch.power[i] == 0.0) continue;
        light_.collected += batch.power[i];
        const double at = batch.u[i] * per_bin + middle;
        if (!(at >= -beyond && at < places + beyond)) continue;
        place[count] = at;
        v[count] = batch.v[i];
        power[count] = batch.power[i];
        lowest = std::min(lowest, at);
        highest = std::max(highest, at);
        ++count;
    }
    if (count == 0) return;
    Bins& bins = batch.mirrored ? mirrored_ : scattered_;
    bins.reach(static_cast<std::int64_t>(std::floor(lowest)), static_cast<std::int64_t>(std::floor(highest)) + 1);
    const auto first = static_cast<double>(bins.first);
    for (std::size_t i = 0; i < count; ++i) place[i] -= first;
    std::fill(v.begin() + static_cast<std::ptrdiff_t>(count), v.end(), 0.0);
    const GatherPlan plan{edge_spread_->table(), edge_spread_->tail_slope(), 0.5 * receiver_.height / scale_.across,
                          scale_.across};
    gather_rays(plan, count, place.data(), v.data(), power.data(), bins.sums.data(), on_row.data());
    for (std::size_t i = 0; i < count; ++i) {
        if (!(place[i] + first >= 0.0 && place[i] + first < places)) continue;
        light_.on_row += on_row[i];
        light_.moment += on_row[i] * ((place[i] + first) / static_cast<double>(bins_per_pixel) - 0.5);
    }
}

void Gatherer::merge(Bins& bins, const Bins& other) {
    if (other.sums.empty()) return;
    bins.reach(other.first, other.first + static_cast<std::int64_t>(other.sums.size()) - 1);
    PatternTerms* to = bins.sums.data() + (other.first - bins.first);
    for (const PatternTerms& terms : other.sums) {
        for (std::size_t r = 0; r < pattern_terms; ++r) (*to)[r] += terms[r];
        ++to;
    }
}

void Gatherer::add(const Gatherer& other) {
    light_.collected += other.light_.collected;
    light_.on_row += other.light_.on_row;
    light_.moment += other.light_.moment;
    merge(scattered_, other.scattered_);
    merge(mirrored_, other.mirrored_);
}

std::optional<double> centroid_of(const Profile& profile) {
    double sum = 0.0;
    double moment = 0.0;
    for (std::size_t k = 0; k < profile.rate.size(); ++k) {
        sum += static_cast<double>(profile.rate[k]);
        moment += static_cast<double>(profile.rate[k]) * static_cast<double>(k);
    }
    if (sum <= 0.0) return std::nullopt;
    return moment / sum;
}

}  // namespace spotwright::receiver
