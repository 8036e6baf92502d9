#include "sim/measure/moving_shares.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/measure/moving_smear.hpp"

namespace spotwright::measure {

ShareImages::ShareImages(const receiver::LinesAcross& lines, const std::vector<receiver::Profile>& images)
    : reach_(lines.place.back()), step_(lines.place[1] - lines.place[0]) {
    const std::vector<float>& all = images.back().rate;
    const float seen = 1e-8F * *std::max_element(all.begin(), all.end());
    const auto lit = [seen](float value) { return value > seen; };
    first_ = static_cast<std::size_t>(std::find_if(all.begin(), all.end(), lit) - all.begin());
    const auto last = static_cast<std::size_t>(all.rend() - std::find_if(all.rbegin(), all.rend(), lit));
    const auto cut = [&](const std::vector<float>& values) {
        const auto from = values.begin() + static_cast<std::ptrdiff_t>(first_);
        return last > first_ ? std::vector<float>(from, values.begin() + static_cast<std::ptrdiff_t>(last))
                             : std::vector<float>{};
    };
    for (const receiver::Profile& image : images) {
        rate_.push_back(cut(image.rate));
        mirrored_.push_back(cut(image.mirrored));
    }
}

void ShareImages::add_image(std::size_t line, float weight, std::vector<float>& rate,
                            std::vector<float>& mirrored) const {
    const auto add = [&](const std::vector<float>& image, std::vector<float>& sum) {
        for (std::size_t k = 0; k < image.size(); ++k) sum[first_ + k] += weight * image[k];
    };
    add(rate_[line], rate);
    add(mirrored_[line], mirrored);
}

void ShareImages::add_before(double place, float sign, std::vector<float>& rate, std::vector<float>& mirrored) const {
    const auto last = static_cast<double>(rate_.size() - 1);
    const double at = (place + reach_) / step_;
    if (at <= 0.0) return;
    if (at >= last) {
        add_image(rate_.size() - 1, sign, rate, mirrored);
        return;
    }
    const double line = std::min(std::floor(at), last - 1.0);
    const std::array<double, 4> shares = cubic_shares(at - line);
    for (std::size_t i = 0; i < shares.size(); ++i) {
        const double of = line + static_cast<double>(i) - 1.0;
        if (of < 0.0) continue;  // dark
        add_image(static_cast<std::size_t>(std::min(of, last)), sign * static_cast<float>(shares[i]), rate, mirrored);
    }
}

void ShareImages::add_between(double from, double to, std::vector<float>& rate, std::vector<float>& mirrored) const {
    add_before(to, 1.0F, rate, mirrored);
    add_before(from, -1.0F, rate, mirrored);
}

}  // namespace spotwright::measure
