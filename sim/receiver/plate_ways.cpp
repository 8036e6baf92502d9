#include "sim/receiver/plate_ways.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include "sim/target/gloss.hpp"

namespace spotwright::receiver {

SentDown sent_down(const target::Fresnel& r) {
    const auto by_front = [](double R) { return R < 1.0 ? (1.0 - R) * R / (1.0 + R) : 0.0; };
    return {r, {by_front(r.s), by_front(r.p)}};
}

target::Fresnel mirrored_by(const target::Surface& backing, double cosine) {
    if (!backing.gloss) return {};
    const target::Fresnel r = target::fresnel(backing.gloss->index, cosine);
    const double share = target::mirror_share(*backing.gloss, cosine);
    return {r.s * share, r.p * share};
}

bool is_polished(const target::Surface& backing) {
    constexpr double negligible = 1e-4;
    return mirrored_by(backing, 1.0).unpolarised() > negligible;
}

Passage Passage::draw(base::RandomSequence& random) {
    constexpr double rare = 0.1;
    constexpr double again = 0.5;
    const double u = random.uniform();
    if (u >= rare) return {0, 1.0 - rare};
    constexpr double most = 40.0;
    const auto returns = 1 + static_cast<int>(std::min(std::log(u / rare) / std::log(again), most));
    return {returns, rare * (1.0 - again) * std::pow(again, returns - 1)};
}

double Passage::thickness(const target::Slab& slab) const {
    return (1.0 + 2.0 * returns) * slab.thickness;
}

target::Fresnel Passage::shares(double index, double cosine) const {
    const target::Fresnel r = target::fresnel({index, 0.0}, cosine);
    const auto share = [this](double R) { return (1.0 - R) * (1.0 - R) * std::pow(R, 2 * returns); };
    return {share(r.s) / chance, share(r.p) / chance};
}

WayOut WayOut::draw(const target::Surface& backing, base::RandomSequence& random) {
    WayOut way{Passage::draw(random)};
    if (!is_polished(backing)) return way;
    constexpr std::array<double, 3> chances{0.7, 0.25, 0.05};
    double u = random.uniform();
    std::size_t returns = 0;
    while (returns + 1 < chances.size() && u >= chances[returns]) u -= chances[returns++];
    way.chance = chances[returns];
    for (std::size_t i = 0; i < returns; ++i) {
        (random.uniform() < 0.5 ? way.by_front : way.by_back) += 1;
        way.chance *= 0.5;
    }
    return way;
}

target::Slab WayOut::crossed(const target::Slab& slab) const {
    target::Slab unfolded = slab;
    unfolded.thickness = passage.thickness(slab) + 2.0 * by_front * slab.thickness;
    unfolded.gap *= 1.0 + 2.0 * (by_back + by_front);
    return unfolded;
}

double WayOut::weight(const target::Slab& slab, double index, double cosine) const {
    const target::Fresnel through = passage.shares(index, cosine);
    if (by_back + by_front == 0) return through.unpolarised() / chance;
    const SentDown down = sent_down(target::fresnel({index, 0.0}, cosine));
    const target::Fresnel up = mirrored_by(*slab.backing, cosine);
    const auto returned = [this](double back, double front, double mirror) {
        return std::pow(back * mirror, by_back) * std::pow(front * mirror, by_front);
    };
    const target::Fresnel left{through.s * returned(down.by_back.s, down.by_front.s, up.s),
                               through.p * returned(down.by_back.p, down.by_front.p, up.p)};
    return left.unpolarised() / chance;
}

}  // namespace spotwright::receiver
