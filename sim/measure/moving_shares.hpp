// Images of segments under a spot, made of the images of its shares.
#pragma once

#include <cstddef>
#include <vector>

#include "sim/receiver/spot_shares.hpp"

namespace spotwright::measure {

/// Light of a spot before lines that lie an eighth of its radius apart, and by Lagrange's cubic between them: an error
/// of 0.01 % of the spot's light at most.
class ShareImages {
public:
    ShareImages() = default;
    /// @param images  One for each place of `lines`.
    ShareImages(const receiver::LinesAcross& lines, const std::vector<receiver::Profile>& images);

    /// Adds the light between two places to `rate` and `mirrored`, of as many pixels as the images.
    void add_between(double from, double to, std::vector<float>& rate, std::vector<float>& mirrored) const;

    /// From the first line on all of the spot lies within so far. [m]
    [[nodiscard]] double reach() const { return reach_; }

private:
    void add_before(double place, float sign, std::vector<float>& rate, std::vector<float>& mirrored) const;
    void add_image(std::size_t line, float weight, std::vector<float>& rate, std::vector<float>& mirrored) const;

    double reach_ = 0.0;
    double step_ = 1.0;
    std::size_t first_ = 0;  // pixel of the images, which are dark elsewhere
    std::vector<std::vector<float>> rate_;
    std::vector<std::vector<float>> mirrored_;
};

}  // namespace spotwright::measure
