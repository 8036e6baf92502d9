#include "sim/receiver/gather.hpp"

#include <boost/math/quadrature/gauss.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>

#include <Eigen/Core>
#include <unsupported/Eigen/FFT>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"

namespace spotwright::receiver {

namespace {

constexpr std::size_t bins_per_pixel = 8;

// The first kernel.size() values of the convolution, by FFT.
std::vector<double> convolved(const std::vector<double>& signal, const std::vector<double>& kernel) {
    std::size_t size = 1;
    while (size < signal.size() + kernel.size()) size *= 2;
    std::vector<double> padded_signal(signal);
    std::vector<double> padded_kernel(kernel);
    padded_signal.resize(size, 0.0);
    padded_kernel.resize(size, 0.0);
    Eigen::FFT<double> fft;
    std::vector<std::complex<double>> a;
    std::vector<std::complex<double>> b;
    fft.fwd(a, padded_signal);
    fft.fwd(b, padded_kernel);
    for (std::size_t i = 0; i < a.size(); ++i) a[i] *= b[i];
    std::vector<double> result;
    fft.inv(result, a);
    return result;
}

}  // namespace

DiffractionScale diffraction_scale(const Receiver& r, double wavelength, double u) {
    const double axial = r.image_distance + u * r.cos_beta;
    const double slope = u * r.sin_beta / axial;
    const double obliquity = 1.0 + slope * slope;
    const auto across_ray = [&](double half_width) { return wavelength * axial * obliquity / (2.0 * half_width); };
    return {across_ray(r.aperture.half_out_of_plane),
            across_ray(r.aperture.half_in_plane) * std::sqrt(obliquity) / (r.sin_beta - slope * r.cos_beta)};
}

namespace {

// A place between 0 and 1 that stands for a share of the way.
struct Node {
    double place;
    double share;
};

// Gauss-Legendre on [0, 1]: three points, or panels of seven.
std::vector<Node> nodes(int at_least) {
    if (at_least <= 3) {
        const double offset = std::sqrt(0.15);
        return {{0.5 - offset, 5.0 / 18.0}, {0.5, 8.0 / 18.0}, {0.5 + offset, 5.0 / 18.0}};
    }
    using Rule = boost::math::quadrature::gauss<double, 7>;
    std::vector<Node> list;
    const int panels = (at_least + 6) / 7;
    for (int panel = 0; panel < panels; ++panel) {
        const double half = 0.5 / panels;
        const double centre = (2 * panel + 1) * half;
        for (std::size_t i = 0; i < Rule::abscissa().size(); ++i) {
            const double x = half * Rule::abscissa()[i];
            const double share = half * Rule::weights()[i];
            list.push_back({centre + x, share});
            if (x != 0.0) list.push_back({centre - x, share});
        }
    }
    return list;
}

}  // namespace

std::vector<AperturePoint> aperture_points(const Aperture& aperture, const ApertureSampling& sampling) {
    std::vector<AperturePoint> points;
    const double area = area_of(aperture);
    if (aperture.shape == ApertureShape::rectangular) {
        const std::vector<Node> across = nodes(sampling.out_of_plane);
        for (const Node& x : nodes(sampling.in_plane)) {
            for (const Node& y : across) {
                points.push_back({(2.0 * x.place - 1.0) * aperture.half_in_plane,
                                  (2.0 * y.place - 1.0) * aperture.half_out_of_plane, area * x.share * y.share});
            }
        }
        return points;
    }
    for (const Node& square : nodes(sampling.rings)) {
        for (int k = 0; k < sampling.spokes; ++k) {
            const double angle = 2.0 * base::pi * (k + 0.5) / sampling.spokes;
            const double r = aperture.half_in_plane * std::sqrt(square.place);
            points.push_back({r * std::cos(angle), r * std::sin(angle), area * square.share / sampling.spokes});
        }
    }
    return points;
}

double path_to_lens(const Receiver& receiver, const Eigen::Vector3d& place) {
    return (aperture_place(receiver, 0.0, 0.0) - place).norm();
}

Gatherer::Gatherer(const Receiver& receiver, const EdgeSpread& edge_spread, double across_scale)
    : receiver_(receiver), edge_spread_(edge_spread), across_scale_(across_scale) {
    if (edge_spread.shape() != receiver.aperture.shape) {
        throw base::InternalError("the edge spread is of another shape of aperture than the receiver's");
    }
    power_.assign(static_cast<std::size_t>(receiver.pixels) * bins_per_pixel + 1, 0.0);
    first_ = power_.size();
}

void Gatherer::add(const ArrayPoint& at, double power) {
    collected_ += power;
    add_to(power_, at, power);
}

void Gatherer::add_mirrored(const ArrayPoint& at, double power) {
    add(at, power);
    mirrored_.resize(power_.size(), 0.0);
    add_to(mirrored_, at, power);
}

void Gatherer::add_to(std::vector<double>& bins, const ArrayPoint& at, double power) {
    const double place = (pixel_of(receiver_, at.u) + 0.5) * static_cast<double>(bins_per_pixel);
    if (!(place >= 0.0 && place < static_cast<double>(bins.size() - 1))) return;
    const double half_height = receiver_.height / 2.0;
    const double on_height =
        edge_spread_((half_height - at.v) / across_scale_) - edge_spread_((-half_height - at.v) / across_scale_);
    const auto bin = static_cast<std::size_t>(place);
    const double share = place - static_cast<double>(bin);
    bins[bin] += power * on_height * (1.0 - share);
    bins[bin + 1] += power * on_height * share;
    first_ = std::min(first_, bin);
    last_ = std::max(last_, bin + 2);
}

// Pixel k covers fine positions 8k to 8k + 8, and a bin stands at its own number, so one kernel serves all pairs of
// pixel and bin: the share of a bin's light that falls on a pixel which begins j bins above it, j from 1 - last to
// the end of the array.
std::vector<double> Gatherer::spread_over_pixels(const std::vector<double>& bins, double scale_in_bins) const {
    const auto pixels = static_cast<std::size_t>(receiver_.pixels);
    std::vector<double> result(pixels, 0.0);
    if (first_ >= last_) return result;
    const auto edge = [&](std::size_t i) {
        return edge_spread_((static_cast<double>(i) - static_cast<double>(last_ - 1)) / scale_in_bins);
    };
    std::vector<double> kernel((pixels - 1) * bins_per_pixel + last_);
    std::array<double, bins_per_pixel> lower{};
    for (std::size_t i = 0; i < bins_per_pixel; ++i) lower[i] = edge(i);
    for (std::size_t i = 0; i < kernel.size(); ++i) {
        const double upper = edge(i + bins_per_pixel);
        kernel[i] = upper - lower[i % bins_per_pixel];
        lower[i % bins_per_pixel] = upper;
    }
    const std::vector<double> lit(bins.begin() + static_cast<std::ptrdiff_t>(first_),
                                  bins.begin() + static_cast<std::ptrdiff_t>(last_));
    // Sum over lit bins b of lit[b] kernel[8k + last - 1 - first - b].
    const std::size_t start = lit.size() - 1;
    constexpr std::size_t narrow = 1024;
    if (lit.size() > narrow) {
        const std::vector<double> sums = convolved(lit, kernel);
        for (std::size_t pixel = 0; pixel < pixels; ++pixel) result[pixel] = sums[pixel * bins_per_pixel + start];
        return result;
    }
    for (std::size_t pixel = 0; pixel < pixels; ++pixel) {
        const double* place = kernel.data() + pixel * bins_per_pixel + start;
        for (std::size_t bin = 0; bin < lit.size(); ++bin) result[pixel] += lit[bin] * *(place - bin);
    }
    return result;
}

Profile Gatherer::profile(double along_scale, double wavelength, double quantum_efficiency) const {
    Profile profile;
    profile.rate.assign(static_cast<std::size_t>(receiver_.pixels), 0.0F);
    const double scale_in_bins = along_scale / receiver_.pitch * static_cast<double>(bins_per_pixel);
    const std::vector<double> power = spread_over_pixels(power_, scale_in_bins);
    const double electrons_per_joule = quantum_efficiency / base::photon_energy(wavelength);
    for (std::size_t k = 0; k < power.size(); ++k) {
        profile.rate[k] = static_cast<float>(std::max(power[k], 0.0) * electrons_per_joule);
        profile.received_power += std::max(power[k], 0.0);
    }
    if (!mirrored_.empty()) {
        const std::vector<double> mirrored = spread_over_pixels(mirrored_, scale_in_bins);
        profile.mirrored.resize(profile.rate.size());
        for (std::size_t k = 0; k < mirrored.size(); ++k) {
            profile.mirrored[k] =
                std::clamp(static_cast<float>(mirrored[k] * electrons_per_joule), 0.0F, profile.rate[k]);
        }
    }
    profile.collected_power = collected_;
    return profile;
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
