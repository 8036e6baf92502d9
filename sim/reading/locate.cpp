#include "sim/reading/locate.hpp"

#include <algorithm>
#include <array>
#include <bit>

namespace spotwright::reading {

namespace {

// Calls `found` for each run above threshold, from the first sample on; allocates nothing.
template <class Found>
void for_each_peak(std::span<const float> net, float threshold, const Found& found) {
    constexpr std::size_t widest_gap = 2;
    constexpr std::size_t word_samples = 64;
    PeakWindow window;  // empty: none is open
    for (std::size_t begin = 0; begin < net.size(); begin += word_samples) {
        std::uint64_t above = samples_above(net.subspan(begin, std::min(word_samples, net.size() - begin)), threshold);
        while (above != 0) {  // one stretch of neighbours after the other
            const auto skipped = static_cast<std::size_t>(std::countr_zero(above));
            const auto length = static_cast<std::size_t>(std::countr_one(above >> skipped));
            above &= length + skipped < word_samples ? ~std::uint64_t{0} << (skipped + length) : 0;
            const std::size_t first = begin + skipped;
            const std::size_t highest = first + highest_sample(net.subspan(first, length));
            const bool open = window.last > window.first;
            if (open && first <= window.last + widest_gap) {
                window.last = first + length;
                if (net[highest] > net[window.highest]) window.highest = highest;
                continue;
            }
            if (open) found(window);
            window = {first, first + length, highest};
        }
    }
    if (window.last > window.first) found(window);
}

bool is_empty(const PeakWindow& window) {
    return window.first == window.last;
}

// The chosen peak; an empty window where there is none.
PeakWindow choose_peak(std::span<const float> net, const LocateOptions& options) {
    PeakWindow chosen;
    std::int64_t count = 0;
    if (options.choose.rule == scenario::PeakRule::index) {  // the only rule that must know how many there are
        for_each_peak(net, options.threshold, [&](const PeakWindow&) { ++count; });
    }
    std::int64_t number_from_far_end = 0;
    for_each_peak(net, options.threshold, [&](const PeakWindow& window) {
        const std::int64_t number_from_near_end = count - 1 - number_from_far_end;
        ++number_from_far_end;
        const bool first = is_empty(chosen);
        bool take = first;
        switch (options.choose.rule) {
            case scenario::PeakRule::strongest:
                take = first || net[window.highest] > net[chosen.highest];
                break;
            case scenario::PeakRule::nearest:
                take = true;  // the last one met lies at the highest pixel
                break;
            case scenario::PeakRule::farthest:
                break;
            case scenario::PeakRule::index:
                take = number_from_near_end == options.choose.index;
                break;
        }
        if (take) chosen = window;
    });
    return chosen;
}

Spot spot_without_peak(std::span<const float> net, const LocateOptions& options) {
    Spot spot;
    spot.peak = net.empty() ? 0.0F : *std::max_element(net.begin(), net.end());
    const bool seen = spot.peak > 0.5F * options.threshold && spot.peak <= options.threshold;
    spot.validity = seen ? Validity::too_dark : Validity::no_peak;
    return spot;
}

Spot spot_of(std::span<const float> net, const PeakWindow& window, const LocateOptions& options) {
    Spot spot;
    spot.peak = std::min(net[window.highest], options.saturation);
    if (net[window.highest] >= saturated_signal) {
        spot.validity = Validity::saturated;
        return spot;
    }
    const bool cut_off =
        (options.at_array_start && window.first == 0) || (options.at_array_end && window.last == net.size());
    if (cut_off) {
        spot.validity = Validity::out_of_range;
        return spot;
    }
    const auto position = locate_peak(options.method, net, window, options.threshold, options.dark_variance);
    if (position) {
        spot.position = *position;
        spot.validity = Validity::valid;
    }
    return spot;
}

}  // namespace

std::string_view name_of(Validity validity) {
    static constexpr std::array<std::string_view, validity_count> names{"valid",   "too_dark",     "saturated",
                                                                        "no_peak", "out_of_range", "ambiguous"};
    return names[static_cast<std::size_t>(validity)];
}

std::vector<PeakWindow> find_peaks(std::span<const float> net, float threshold) {
    std::vector<PeakWindow> peaks;
    for_each_peak(net, threshold, [&peaks](const PeakWindow& window) { peaks.push_back(window); });
    return peaks;
}

Spot locate(std::span<const float> net, const LocateOptions& options) {
    const PeakWindow window = choose_peak(net, options);
    if (is_empty(window)) return spot_without_peak(net, options);
    return spot_of(net, window, options);
}

std::vector<LocatedPeak> locate_all(std::span<const float> net, const LocateOptions& options) {
    const PeakWindow chosen = choose_peak(net, options);
    std::vector<LocatedPeak> peaks;
    for_each_peak(net, options.threshold, [&](const PeakWindow& window) {
        const bool is_chosen = !is_empty(chosen) && window.first == chosen.first;
        peaks.push_back({window, spot_of(net, window, options), is_chosen});
    });
    std::reverse(peaks.begin(), peaks.end());  // the near end images onto the highest pixels
    return peaks;
}

}  // namespace spotwright::reading
