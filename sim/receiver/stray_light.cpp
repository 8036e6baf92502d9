#include "sim/receiver/stray_light.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/base/constants.hpp"

namespace spotwright::receiver {

namespace {

// Share of a disc's light, evenly spread, within the pixels' height and below a place along the array. The integral of
// 2 min(sqrt(R^2 - x^2), h / 2) / (pi R^2).
class Disc {
public:
    Disc(double radius, double height) : radius_(radius), half_(std::min(0.5 * height, radius)) {
        flat_ = std::sqrt(radius * radius - half_ * half_);
    }

    [[nodiscard]] double below(double x) const {
        const double at = std::clamp(x, -radius_, radius_);
        const double low = std::min(at, -flat_);
        double area = segment(low) - segment(-radius_);
        if (at > -flat_) area += 2.0 * half_ * (std::min(at, flat_) + flat_);
        if (at > flat_) area += segment(at) - segment(flat_);
        return area / (base::pi * radius_ * radius_);
    }

private:
    // Integral of 2 sqrt(R^2 - x^2).
    [[nodiscard]] double segment(double x) const {
        return x * std::sqrt(std::max(0.0, radius_ * radius_ - x * x)) +
               radius_ * radius_ * std::asin(std::clamp(x / radius_, -1.0, 1.0));
    }

    double radius_;
    double half_;
    double flat_ = 0.0;  // between -flat and flat the height cuts the disc
};

// Shares of a pixel's light that pixels around it receive of the ghost, from the pixel `first` away on.
struct Shares {
    std::ptrdiff_t first = 0;
    std::vector<double> share;
};

// A ghost without blur is as sharp as the image: its light goes to two neighbours.
Shares ghost_shares(const Receiver& r) {
    const double shift = r.stray.ghost_shift / r.pitch;
    Shares shares;
    if (r.stray.ghost_blur < 0.5 * r.pitch) {
        shares.first = static_cast<std::ptrdiff_t>(std::floor(shift));
        const double beyond = shift - std::floor(shift);
        shares.share = {1.0 - beyond, beyond};
        return shares;
    }
    const Disc disc(r.stray.ghost_blur, r.height);
    const double radius = r.stray.ghost_blur / r.pitch;
    shares.first = static_cast<std::ptrdiff_t>(std::floor(shift - radius));
    const auto last = static_cast<std::ptrdiff_t>(std::ceil(shift + radius));
    double before = 0.0;
    for (std::ptrdiff_t k = shares.first; k <= last; ++k) {
        const double up_to = disc.below((static_cast<double>(k) + 0.5 - shift) * r.pitch);
        shares.share.push_back(up_to - before);
        before = up_to;
    }
    return shares;
}

void add_ghost(const Receiver& r, std::span<const double> image, std::span<double> power) {
    const Shares ghost = ghost_shares(r);
    const auto pixels = static_cast<std::ptrdiff_t>(image.size());
    const auto places = static_cast<std::ptrdiff_t>(ghost.share.size());
    constexpr double dark = 1e-7;  // of the brightest pixel: its ghost is beneath the rounding of the image
    const double least = dark * *std::max_element(image.begin(), image.end());
    for (std::ptrdiff_t k = 0; k < pixels; ++k) {
        if (!(image[static_cast<std::size_t>(k)] > least)) continue;
        const double light = r.stray.ghost_share * image[static_cast<std::size_t>(k)];
        const std::ptrdiff_t first = k + ghost.first;
        const std::ptrdiff_t begin = std::clamp<std::ptrdiff_t>(-first, 0, places);
        const std::ptrdiff_t end = std::clamp<std::ptrdiff_t>(pixels - first, begin, places);
        for (std::ptrdiff_t i = begin; i < end; ++i) {
            power[static_cast<std::size_t>(first + i)] += light * ghost.share[static_cast<std::size_t>(i)];
        }
    }
}

void add_veil(const Receiver& r, double light, double centre, std::span<double> power) {
    const double across = r.image_distance * std::tan(r.stray.veil_angle);
    const double along = across / r.sin_beta / r.pitch;
    const double root_two = std::sqrt(2.0);
    const double on_row = std::erf(0.5 * r.height / (across * root_two));
    double before = std::erf((-0.5 - centre) / (along * root_two));
    for (std::size_t k = 0; k < power.size(); ++k) {
        const double up_to = std::erf((static_cast<double>(k) + 0.5 - centre) / (along * root_two));
        power[k] += light * on_row * 0.5 * (up_to - before);
        before = up_to;
    }
}

}  // namespace

void add_stray_light(const Receiver& r, double collected, double centre, std::span<double> power) {
    const std::vector<double> image(power.begin(), power.end());
    for (double& value : power) value *= 1.0 - r.stray.lost;
    if (r.stray.ghost_share > 0.0) add_ghost(r, image, power);
    if (r.stray.veil > 0.0) add_veil(r, r.stray.veil * collected, centre, power);
}

}  // namespace spotwright::receiver
