// From sums along the array to pixels: diffraction along it, integrated over each pixel.
#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/receiver/gather.hpp"

namespace spotwright::receiver {

namespace {

// Light that stands at places `step` bins apart, the first at bin `first`, term by term.
struct Comb {
    std::int64_t first = 0;
    std::int64_t step = 1;
    std::vector<std::vector<double>> sums;  // of each term

    [[nodiscard]] std::int64_t count() const { return static_cast<std::int64_t>(sums.front().size()); }
    [[nodiscard]] std::int64_t last() const { return first + (count() - 1) * step; }
};

// The same light at places farther apart, on multiples of their distance; each is shared linearly between neighbours,
// which keeps the centroid.
Comb coarser(const Comb& comb, std::int64_t factor) {
    const std::int64_t step = comb.step * factor;
    const auto below = [step](std::int64_t place) { return (place >= 0 ? place : place - step + 1) / step; };
    Comb result{below(comb.first) * step, step, {}};
    const std::int64_t count = below(comb.last()) - below(comb.first) + 2;
    for (const std::vector<double>& sums : comb.sums) {
        std::vector<double> shared(static_cast<std::size_t>(count), 0.0);
        for (std::int64_t i = 0; i < comb.count(); ++i) {
            const std::int64_t from_first = comb.first + i * comb.step - result.first;
            const auto place = static_cast<std::size_t>(from_first / step);
            const double beyond = static_cast<double>(from_first % step) / static_cast<double>(step);
            const double value = sums[static_cast<std::size_t>(i)];
            shared[place] += (1.0 - beyond) * value;
            shared[place + 1] += beyond * value;
        }
        result.sums.push_back(std::move(shared));
    }
    return result;
}

// What pixels first .. last - 1 take from a comb.
class Spreading {
public:
    Spreading(const EdgeSpread& edge_spread, double scale_in_bins, double shift_in_bins, std::vector<double>& pixels)
        : edge_spread_(edge_spread), scale_in_bins_(scale_in_bins), shift_in_bins_(shift_in_bins), pixels_(pixels) {}

    void add(const Comb& comb, std::int64_t first_pixel, std::int64_t last_pixel) {
        first_pixel = std::max<std::int64_t>(first_pixel, 0);
        last_pixel = std::min(last_pixel, static_cast<std::int64_t>(pixels_.size()));
        if (first_pixel >= last_pixel) return;
        // Pixel k covers bins 8 k to 8 k + 8. Places and pixels are multiples of `grid` apart, so one table of edges
        // serves all pairs; it begins with the lower edge of the first pixel as the last place sees it.
        const std::int64_t grid = std::min(comb.step, bins_per_pixel);
        const std::int64_t from = bins_per_pixel * first_pixel - comb.last();
        const std::int64_t to = bins_per_pixel * last_pixel - comb.first;
        const auto entries = static_cast<std::size_t>((to - from) / grid + 1);
        std::vector<std::vector<double>> edges(comb.sums.size(), std::vector<double>(entries));
        for (std::size_t i = 0; i < entries; ++i) {
            const auto bins = static_cast<double>(from + static_cast<std::int64_t>(i) * grid);
            const PatternTerms terms = edge_spread_.terms((bins - shift_in_bins_) / scale_in_bins_);
            for (std::size_t r = 0; r < edges.size(); ++r) edges[r][i] = terms[r];
        }
        const auto pixel_steps = static_cast<std::size_t>(bins_per_pixel / grid);
        const auto place_steps = static_cast<std::size_t>(comb.step / grid);
        for (std::size_t r = 0; r < edges.size(); ++r) {
            for (std::size_t i = 0; i + pixel_steps < entries; ++i)
                edges[r][i] = edges[r][i + pixel_steps] - edges[r][i];
            add_term(comb.sums[r], edges[r], first_pixel, last_pixel, pixel_steps, place_steps);
        }
    }

private:
    // pixel k += sum over places p of sums[p] share[(k - first) pixel_steps + (last place - p) place_steps].
    void add_term(const std::vector<double>& sums, const std::vector<double>& share, std::int64_t first_pixel,
                  std::int64_t last_pixel, std::size_t pixel_steps, std::size_t place_steps) {
        const std::size_t count = sums.size();
        std::vector<double> turned(sums.rbegin(), sums.rend());
        for (std::int64_t k = first_pixel; k < last_pixel; ++k) {
            const double* from = share.data() + static_cast<std::size_t>(k - first_pixel) * pixel_steps;
            // Four sums side by side: each waits for its own additions.
            double sum[4] = {0.0, 0.0, 0.0, 0.0};
            std::size_t p = 0;
            for (; p + 4 <= count; p += 4) {
                for (std::size_t lane = 0; lane < 4; ++lane)
                    sum[lane] += turned[p + lane] * from[(p + lane) * place_steps];
            }
            for (; p < count; ++p) sum[0] += turned[p] * from[p * place_steps];
            pixels_[static_cast<std::size_t>(k)] += (sum[0] + sum[1]) + (sum[2] + sum[3]);
        }
    }

    const EdgeSpread& edge_spread_;
    double scale_in_bins_;
    double shift_in_bins_;
    std::vector<double>& pixels_;
};

// Lit places of the sums, term by term with their signs; none where all is dark.
Comb lit_comb(const std::vector<PatternTerms>& sums, std::int64_t first, const EdgeSpread& edge_spread) {
    const auto dark = [](const PatternTerms& terms) {
        return std::all_of(terms.begin(), terms.end(), [](double value) { return value == 0.0; });
    };
    const auto begin = std::find_if_not(sums.begin(), sums.end(), dark);
    const auto end = std::find_if_not(sums.rbegin(), sums.rend(), dark).base();
    Comb comb{first + (begin - sums.begin()), 1, {}};
    if (begin == sums.end()) return comb;
    for (std::size_t r = 0; r < edge_spread.count(); ++r) {
        std::vector<double> values;
        values.reserve(static_cast<std::size_t>(end - begin));
        for (auto at = begin; at != end; ++at) values.push_back(edge_spread.signs()[r] * (*at)[r]);
        comb.sums.push_back(std::move(values));
    }
    return comb;
}

}  // namespace

// Close to the light every place counts; 16 pixels away places may be taken together by pixels, and 128 pixels away by
// eight pixels. A place that stands for light within a distance d of it brings at a distance x an error of d^2 / x^2 of
// a tail that is itself less than a hundredth of the light.
void Gatherer::add_spread(const Bins& bins, double shift_in_bins, std::vector<double>& pixels) const {
    const auto whole = static_cast<std::int64_t>(std::floor(shift_in_bins));
    const Comb fine = lit_comb(bins.sums, bins.first + whole, *edge_spread_);
    if (fine.sums.empty()) return;
    constexpr std::int64_t near = 16;
    constexpr std::int64_t far = 128;
    const std::int64_t first = fine.first / bins_per_pixel;
    const std::int64_t last = fine.last() / bins_per_pixel + 1;
    Spreading spreading(*edge_spread_, scale_.along_array / receiver_.pitch * static_cast<double>(bins_per_pixel),
                        shift_in_bins - static_cast<double>(whole), pixels);
    spreading.add(fine, first - near, last + near);
    const Comb by_pixel = coarser(fine, bins_per_pixel);
    spreading.add(by_pixel, first - far, first - near);
    spreading.add(by_pixel, last + near, last + far);
    const Comb by_eight = coarser(by_pixel, bins_per_pixel);
    spreading.add(by_eight, 0, first - far);
    spreading.add(by_eight, last + far, receiver_.pixels);
}

Profile Gatherer::profile(double wavelength, double quantum_efficiency, double shift) const {
    Profile profile;
    const auto pixels = static_cast<std::size_t>(receiver_.pixels);
    const double electrons_per_joule = quantum_efficiency / base::photon_energy(wavelength);
    // Ripples of rounding and of the pattern's terms may fall a little below nothing.
    const auto rate_of = [electrons_per_joule](double power) {
        return static_cast<float>(std::max(power, 0.0) * electrons_per_joule);
    };
    const double shift_in_bins = shift / receiver_.pitch * static_cast<double>(bins_per_pixel);
    std::vector<double> power(pixels, 0.0);
    if (!mirrored_.sums.empty()) {
        add_spread(mirrored_, shift_in_bins, power);
        profile.mirrored.resize(pixels);
        std::transform(power.begin(), power.end(), profile.mirrored.begin(), rate_of);
    }
    add_spread(scattered_, shift_in_bins, power);
    profile.rate.resize(pixels);
    std::transform(power.begin(), power.end(), profile.rate.begin(), rate_of);
    for (std::size_t k = 0; k < profile.mirrored.size(); ++k) {
        profile.mirrored[k] = std::min(profile.mirrored[k], profile.rate[k]);
    }
    for (const double value : power) profile.received_power += std::max(value, 0.0);
    profile.collected_power = light_.collected;
    return profile;
}

}  // namespace spotwright::receiver
