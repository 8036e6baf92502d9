// From sums along the array to pixels: diffraction along it, integrated over each pixel.
#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/receiver/spread.hpp"
#include "sim/receiver/stray_light.hpp"

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

std::int64_t pixel_below(std::int64_t bins) {
    return (bins >= 0 ? bins : bins - bins_per_pixel + 1) / bins_per_pixel;
}

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

// What a pixel takes of light at a place, term by term, by how many bins its lower edge lies above the place: from
// `first` on, in steps of `grid`. Shares of distances that differ by whole pixels stand in a row.
class ShareTable {
public:
    ShareTable(const EdgeSpread& edge_spread, double scale_in_bins, double shift_in_bins, std::int64_t first,
               std::int64_t last, std::int64_t grid)
        : first_(first), grid_(grid), rows_per_term_(static_cast<std::size_t>(bins_per_pixel / grid)) {
        const auto whole_pixels = static_cast<std::size_t>((last - first) / bins_per_pixel + 1);
        row_length_ = whole_pixels + spread_padding;
        shares_.assign(edge_spread.count() * rows_per_term_ * row_length_, 0.0);
        const auto edges_at = [&](std::int64_t bins) {
            return edge_spread.terms((static_cast<double>(bins) - shift_in_bins) / scale_in_bins);
        };
        for (std::size_t j = 0; j < rows_per_term_; ++j) {
            const std::int64_t begin = first + static_cast<std::int64_t>(j) * grid;
            PatternTerms lower = edges_at(begin);
            for (std::size_t m = 0; m < whole_pixels; ++m) {
                const PatternTerms upper = edges_at(begin + static_cast<std::int64_t>(m + 1) * bins_per_pixel);
                for (std::size_t r = 0; r < edge_spread.count(); ++r) {
                    shares_[(r * rows_per_term_ + j) * row_length_ + m] = upper[r] - lower[r];
                }
                lower = upper;
            }
        }
    }

    // That at a distance, followed by those of pixels further up.
    [[nodiscard]] const double* at(std::size_t term, std::int64_t bins) const {
        const std::int64_t from_first = bins - first_;
        const auto row = static_cast<std::size_t>(from_first % bins_per_pixel / grid_);
        return shares_.data() + (term * rows_per_term_ + row) * row_length_ + from_first / bins_per_pixel;
    }

private:
    std::int64_t first_;
    std::int64_t grid_;
    std::size_t rows_per_term_;
    std::size_t row_length_ = 0;
    std::vector<double> shares_;  // row after row, term after term
};

// Pixels `first` to before `last`, cut to those of the array.
struct PixelRange {
    std::int64_t first = 0;
    std::int64_t last = 0;

    PixelRange(std::int64_t from, std::int64_t to, const std::vector<double>& pixels)
        : first(std::max<std::int64_t>(from, 0)), last(std::min(to, static_cast<std::int64_t>(pixels.size()))) {}

    [[nodiscard]] bool empty() const { return first >= last; }
    [[nodiscard]] std::size_t count() const { return static_cast<std::size_t>(last - first); }
};

// Adds to pixels what they take from places of a comb: from all that lie `stride` places apart, the first of them at
// each of the first `stride` ones, so that the places that go together lie whole pixels apart.
void add_comb(const Comb& comb, std::int64_t stride, const ShareTable& shares, const PixelRange& range,
              std::vector<double>& pixels) {
    if (range.empty()) return;
    std::vector<double> sums(range.count() + spread_padding, 0.0);
    const std::int64_t places = comb.count() / stride;
    const std::int64_t apart = stride * comb.step;
    std::vector<double> turned(static_cast<std::size_t>(places));
    for (std::size_t r = 0; r < comb.sums.size(); ++r) {
        for (std::int64_t start = 0; start < stride; ++start) {
            // The last place lies the least far below the first pixel.
            for (std::int64_t i = 0; i < places; ++i) {
                turned[static_cast<std::size_t>(places - 1 - i)] =
                    comb.sums[r][static_cast<std::size_t>(start + i * stride)];
            }
            const std::int64_t last_place = comb.first + start * comb.step + (places - 1) * apart;
            add_places(turned, shares.at(r, bins_per_pixel * range.first - last_place),
                       static_cast<std::size_t>(apart / bins_per_pixel), range.count(), sums.data());
        }
    }
    for (std::size_t k = 0; k < range.count(); ++k) pixels[static_cast<std::size_t>(range.first) + k] += sums[k];
}

// A piece of neighbouring places, some whole pixels long from a pixel's edge on; dark places fill it up.
Comb piece_of(const Comb& comb, std::int64_t first, std::int64_t bins) {
    Comb piece{first, 1, {}};
    const std::int64_t begin = std::max(first, comb.first);
    const std::int64_t end = std::min(first + bins, comb.first + comb.count());
    for (const std::vector<double>& sums : comb.sums) {
        std::vector<double> values(static_cast<std::size_t>(bins), 0.0);
        if (begin < end) {
            std::copy(sums.begin() + (begin - comb.first), sums.begin() + (end - comb.first),
                      values.begin() + (begin - first));
        }
        piece.sums.push_back(std::move(values));
    }
    return piece;
}

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

// Light is taken in pieces of some 32 pixels. Close to a piece every place counts; 16 pixels away places may be taken
// together by pixels, and 128 pixels away by eight pixels. A place that stands for light within a distance d of it
// brings at a distance x an error of d^2 / x^2 of a tail that is itself less than a hundredth of the light.
void Gatherer::add_spread(const Bins& bins, double shift_in_bins, std::vector<double>& pixels) const {
    const auto whole = static_cast<std::int64_t>(std::floor(shift_in_bins));
    const Comb lit = lit_comb(bins.sums, bins.first + whole, *edge_spread_);
    if (lit.sums.empty()) return;
    constexpr std::int64_t near = 16;
    constexpr std::int64_t far = 128;
    constexpr std::int64_t longest_piece = 32;
    constexpr std::int64_t by_eight = bins_per_pixel * bins_per_pixel;
    const std::int64_t first = pixel_below(lit.first);
    const std::int64_t last = pixel_below(lit.last()) + 1;
    const std::int64_t pieces = (last - first + longest_piece - 1) / longest_piece;
    const std::int64_t length = (last - first + pieces - 1) / pieces;

    const double scale_in_bins = scale_.along_array / receiver_.pitch * static_cast<double>(bins_per_pixel);
    const double rest = shift_in_bins - static_cast<double>(whole);
    const std::int64_t reach = bins_per_pixel * (near + length);
    const ShareTable near_shares(*edge_spread_, scale_in_bins, rest, -reach, reach, 1);
    // By eight pixels, light may be put so far beyond a piece's ends.
    const std::int64_t lowest = bins_per_pixel * (first - 1) - 2 * by_eight;
    const std::int64_t highest = bins_per_pixel * (first + pieces * length + 1) + 2 * by_eight;
    const ShareTable far_shares(*edge_spread_, scale_in_bins, rest, -highest,
                                bins_per_pixel * receiver_.pixels - lowest, bins_per_pixel);
    for (std::int64_t begin = first; begin < last; begin += length) {
        const std::int64_t end = begin + length;
        const Comb piece = piece_of(lit, bins_per_pixel * begin, bins_per_pixel * length);
        add_comb(piece, bins_per_pixel, near_shares, {begin - near, end + near, pixels}, pixels);
        const Comb by_pixel = coarser(piece, bins_per_pixel);
        add_comb(by_pixel, 1, far_shares, {begin - far, begin - near, pixels}, pixels);
        add_comb(by_pixel, 1, far_shares, {end + near, end + far, pixels}, pixels);
        const Comb distant = coarser(by_pixel, bins_per_pixel);
        add_comb(distant, 1, far_shares, {0, begin - far, pixels}, pixels);
        add_comb(distant, 1, far_shares, {end + far, receiver_.pixels, pixels}, pixels);
    }
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
    if (!receiver_.stray.is_none()) {
        for (float& rate : profile.mirrored) rate *= static_cast<float>(1.0 - receiver_.stray.lost);
        const double middle = 0.5 * static_cast<double>(receiver_.pixels - 1);
        const double centre = light_.on_row > 0.0 ? light_.moment / light_.on_row + shift / receiver_.pitch : middle;
        add_stray_light(receiver_, light_.collected, centre, power);
    }
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
