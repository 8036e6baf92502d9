#include "sim/flight/photon_counting.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <numbers>

#include "sim/base/errors.hpp"
#include "sim/base/median.hpp"
#include "sim/base/random.hpp"
#include "sim/flight/require.hpp"

namespace spotwright::flight {

namespace {

constexpr double half_sum = 1.4;  // deviations; the running sum of best signal over noise for a Gaussian on background
constexpr double reach = 5.0;     // deviations about the middle that may hold the pulse's photons

void require_valid(const PhotonCounter& c, const Light& light, double pulse_duration) {
    require(c.deviation > 0.0, "deviation of photon times in s", c.deviation, "above 0");
    require(c.bin > 0.0, "bin of photon times in s", c.bin, "above 0");
    require(pulse_duration > 0.0, "duration of the pulse in s", pulse_duration, "above 0");
    require(c.pulses >= 1, "pulses of a reading", static_cast<double>(c.pulses), "at least 1");
    const double bins = (c.gate_end - c.gate_begin) / c.bin;
    require(bins > 9.5 && bins < 1e6 + 0.5, "bins of the gate", bins, "10 to a million");
    require(light.constant_rate >= 0.0, "rate of constant light in 1/s", light.constant_rate, "at least 0");
    for (const Arrival& a : light.arrivals) {
        require(a.rate >= 0.0 && std::isfinite(a.rate), "rate of an arrival in 1/s", a.rate, "at least 0");
    }
}

// Share of a Gaussian's photons that come before t.
double share_before(double t, double delay, double deviation) {
    return 0.5 * std::erfc((delay - t) / (std::numbers::sqrt2 * deviation));
}

// For each step of the guide, of which there are a power of two, the first bin that may hold its chances.
std::vector<std::uint32_t> guide_table(const std::vector<double>& cumulative) {
    std::vector<std::uint32_t> guide(std::bit_ceil(2 * cumulative.size()));
    std::uint32_t bin = 0;
    for (std::size_t g = 0; g < guide.size(); ++g) {
        const double chance = static_cast<double>(g) / static_cast<double>(guide.size());
        while (bin + 1 < cumulative.size() && cumulative[bin] <= chance) ++bin;
        guide[g] = bin;
    }
    return guide;
}

template <class Counts>
std::vector<double> without_pile_up(const Counts& counts, double pulses) {
    std::vector<double> result(counts.size(), 0.0);
    double left = pulses;
    for (std::size_t i = 0; i < counts.size(); ++i) {
        const double h = static_cast<double>(counts[i]);
        // Mean counts of much light use up the pulses but for rounding: what is left may come out below zero.
        if (h > 0.0) result[i] = h < left ? -std::log1p(-h / left) : -std::log(0.5 / std::max(left, 0.5));
        left -= h;
    }
    return result;
}

// A histogram ready to be searched: photons by bin, and by how much their variance exceeds their number.
struct Histogram {
    std::vector<double> photons;
    std::vector<double> excess;  // pulses over those still without a photon; 1 where pile-up stays
    std::vector<double> sums;    // of photons, running, about each bin
    std::size_t half = 0;        // the sum about bin i runs over [i - half, i + half], as far as there are bins
};

std::size_t sum_begin(const Histogram& h, std::size_t i) {
    return i - std::min(i, h.half);
}

std::size_t sum_end(const Histogram& h, std::size_t i) {
    return std::min(i + h.half + 1, h.photons.size());
}

template <class Counts>
Histogram make_histogram(const PhotonCounter& counter, const Counts& counts) {
    Histogram h;
    const double pulses = static_cast<double>(counter.pulses);
    h.half = static_cast<std::size_t>(std::lround(half_sum * counter.deviation / counter.bin));
    h.excess.assign(counts.size(), 1.0);
    if (counter.pile_up_corrected) {
        h.photons = without_pile_up(counts, pulses);
        double left = pulses;
        for (std::size_t i = 0; i < counts.size(); ++i) {
            h.photons[i] *= pulses;
            h.excess[i] = pulses / std::max(left, 0.5);
            left -= static_cast<double>(counts[i]);
        }
    } else {
        for (const auto count : counts) h.photons.push_back(static_cast<double>(count));
    }
    std::vector<double> before(counts.size() + 1, 0.0);
    for (std::size_t i = 0; i < counts.size(); ++i) before[i + 1] = before[i] + h.photons[i];
    for (std::size_t i = 0; i < counts.size(); ++i) h.sums.push_back(before[sum_end(h, i)] - before[sum_begin(h, i)]);
    return h;
}

// Photons of the sum about bin i beyond the background's, over the least that counts as a peak: six standard
// deviations, and by six photons more, which is the skewness of counts at six standard deviations (E. A. Cornish,
// R. A. Fisher, Rev. Inst. Int. Stat. 5, 307 (1938), from memory: the quantile z of a Poisson number is near
// m + z sqrt(m) + z^2 / 6).
double standing(const Histogram& h, std::size_t i, double background) {
    constexpr double z = 6.0;
    const double expected = background * static_cast<double>(sum_end(h, i) - sum_begin(h, i));
    const double least = z * std::sqrt(expected * h.excess[i]) + z * z / 6.0 * h.excess[i];
    return (h.sums[i] - expected) / least;
}

// Mean of the bins that take no part in a sum standing out; each weighted by the pulses it was told from. A first
// guess from the median of the sums, by which peaks are left out.
double background_of(const Histogram& h) {
    const double guess = (base::upper_median(h.sums) + 1.0) / static_cast<double>(2 * h.half + 1);
    const std::size_t around = static_cast<std::size_t>(reach / half_sum * static_cast<double>(h.half)) + 1;
    std::size_t clear_from = 0;
    double photons = 0.0;
    double weights = 0.0;
    const auto add = [&](std::size_t i) {
        photons += h.photons[i] / h.excess[i];
        weights += 1.0 / h.excess[i];
    };
    for (std::size_t i = 0; i < h.photons.size(); ++i) {
        if (standing(h, i, guess) <= 1.0) continue;
        for (std::size_t k = clear_from; k + around < i; ++k) add(k);
        clear_from = std::max(clear_from, i + around);
    }
    for (std::size_t k = clear_from; k < h.photons.size(); ++k) add(k);
    return weights > 0.0 ? photons / weights : 0.0;
}

struct Peak {
    double time = 0.0;
    double photons = 0.0;  // that belong to it
};

// Most likely middle of a Gaussian over an even background: each photon counts with its chance of belonging to the
// pulse. Source: A. P. Dempster, N. M. Laird, D. B. Rubin, J. R. Stat. Soc. B 39, 1 (1977), expectation-maximisation.
Peak likely_peak(const PhotonCounter& counter, const Histogram& h, std::size_t place, double background) {
    const double deviation = std::hypot(counter.deviation, counter.bin / std::sqrt(12.0)) / counter.bin;
    const auto bins = static_cast<double>(h.photons.size());
    double middle = static_cast<double>(place);
    double signal = std::max(h.sums[place], 1.0);
    constexpr int most_steps = 60;
    for (int step = 0; step < most_steps; ++step) {
        double number = 0.0;
        double moment = 0.0;
        const auto begin = static_cast<std::size_t>(std::clamp(middle - reach * deviation, 0.0, bins));
        const auto end = static_cast<std::size_t>(std::clamp(middle + reach * deviation + 1.0, 0.0, bins));
        for (std::size_t i = begin; i < end; ++i) {
            if (h.photons[i] == 0.0) continue;
            const double x = static_cast<double>(i);
            const double z = (x - middle) / deviation;
            const double of_pulse = signal / (deviation * std::sqrt(2.0 * std::numbers::pi)) * std::exp(-0.5 * z * z);
            const double belongs = background > 0.0 ? of_pulse / (of_pulse + background) : 1.0;
            number += h.photons[i] * belongs;
            moment += h.photons[i] * belongs * (x - middle);
        }
        if (number <= 0.0) break;
        const double move = moment / number;
        const double enough = 0.003 * deviation / std::sqrt(number);
        middle += move;
        signal = number;
        if (std::abs(move) < enough) break;
    }
    return {counter.gate_begin + counter.bin * (middle + 0.5), signal};
}

template <class Counts>
std::optional<Peak> peak_from(const PhotonCounter& counter, const Counts& counts) {
    const Histogram h = make_histogram(counter, counts);
    const double background = background_of(h);
    std::size_t place = 0;
    double best = 0.0;
    for (std::size_t i = 0; i < h.sums.size(); ++i) {
        const double here = standing(h, i, background);
        if (here > best) {
            best = here;
            place = i;
        }
    }
    if (best <= 1.0) return {};
    return likely_peak(counter, h, place, background);
}

CountReading reading_of(const CountingPlan& plan, double detected, const std::optional<Peak>& peak) {
    const auto pulses = static_cast<double>(plan.counter.pulses);
    CountReading reading{detected / pulses, std::nullopt, 0.0};
    if (!peak) return reading;
    reading.time = peak->time;
    reading.photons = peak->photons / pulses;
    return reading;
}

// Adds the photons of pulses of light to the bins.
void add_light(const Light& light, double pulse_duration, CountingPlan& plan) {
    const PhotonCounter& counter = plan.counter;
    for (const Arrival& a : light.arrivals) {
        const double photons = a.rate * pulse_duration;
        double before = share_before(counter.gate_begin, a.delay, counter.deviation);
        for (std::size_t i = 0; i < plan.mean.size(); ++i) {
            const double edge = counter.gate_begin + counter.bin * static_cast<double>(i + 1);
            const double share = share_before(edge, a.delay, counter.deviation);
            plan.mean[i] += photons * (share - before);
            before = share;
        }
    }
}

void accumulate(CountingPlan& plan) {
    plan.cumulative.clear();
    double sum = 0.0;
    for (const double mean : plan.mean) {
        sum += mean;
        plan.cumulative.push_back(-std::expm1(-sum));
    }
    plan.guide = guide_table(plan.cumulative);
}

// The bin in which the first photon comes that has this chance of 32 bits; none where it is beyond all.
std::optional<std::size_t> bin_of_word(const CountingPlan& plan, std::uint32_t word) {
    const double chance = (static_cast<double>(word) + 0.5) * 0x1p-32;
    if (chance >= plan.cumulative.back()) return std::nullopt;
    const int shift = 32 - std::countr_zero(plan.guide.size());
    std::size_t bin = plan.guide[word >> static_cast<unsigned>(shift)];
    while (plan.cumulative[bin] <= chance) ++bin;
    return bin;
}

}  // namespace

CountingPlan make_counting_plan(const PhotonCounter& counter, const Light& light, double pulse_duration) {
    require_valid(counter, light, pulse_duration);
    CountingPlan plan;
    plan.counter = counter;
    plan.background = light.constant_rate * counter.bin;
    const auto bins = static_cast<std::size_t>(std::lround((counter.gate_end - counter.gate_begin) / counter.bin));
    plan.mean.assign(bins, plan.background);
    add_light(light, pulse_duration, plan);
    accumulate(plan);
    return plan;
}

CountingPlan with_more_light(CountingPlan plan, const Light& light, double pulse_duration) {
    const PhotonCounter& counter = plan.counter;
    const auto bins = static_cast<double>(plan.mean.size());
    constexpr double far = 8.0;  // deviations: beyond there is no photon in 1e15
    for (const Arrival& a : light.arrivals) {
        const double middle = (a.delay - counter.gate_begin) / counter.bin;
        const double half = far * counter.deviation / counter.bin;
        const auto first = static_cast<std::size_t>(std::clamp(std::floor(middle - half), 0.0, bins));
        const auto end = static_cast<std::size_t>(std::clamp(std::ceil(middle + half), 0.0, bins));
        const double photons = a.rate * pulse_duration;
        const auto edge = [&](std::size_t i) {
            return share_before(counter.gate_begin + counter.bin * static_cast<double>(i), a.delay, counter.deviation);
        };
        double before = edge(first);
        for (std::size_t i = first; i < end; ++i) {
            const double share = edge(i + 1);
            plan.mean[i] += photons * (share - before);
            before = share;
        }
    }
    accumulate(plan);
    return plan;
}

std::vector<std::int64_t> count_photons(const CountingPlan& plan, std::uint64_t seed, std::int64_t reading) {
    constexpr std::size_t batch = 16 * static_cast<std::size_t>(base::block_pixels);
    std::array<std::uint32_t, batch> words{};
    std::vector<std::int64_t> counts(plan.mean.size(), 0);
    const double any = plan.cumulative.back();
    const int shift = 32 - std::countr_zero(plan.guide.size());
    const auto pulses = static_cast<std::size_t>(plan.counter.pulses);
    for (std::size_t done = 0; done < pulses; done += batch) {
        const auto first_block = static_cast<std::int64_t>(done) / base::block_pixels;
        base::fill_words({seed, base::Stream::photon_arrival}, reading, first_block, words);
        const std::size_t count = std::min(batch, pulses - done);
        for (std::size_t k = 0; k < count; ++k) {
            const double chance = (static_cast<double>(words[k]) + 0.5) * 0x1p-32;
            if (chance >= any) continue;
            std::size_t bin = plan.guide[words[k] >> static_cast<unsigned>(shift)];
            while (plan.cumulative[bin] <= chance) ++bin;
            ++counts[bin];
        }
    }
    return counts;
}

std::optional<std::size_t> bin_of_pulse(const CountingPlan& plan, std::uint64_t seed, std::int64_t reading,
                                        std::int64_t pulse) {
    return bin_of_word(plan, base::random_word({seed, base::Stream::photon_arrival}, reading, pulse));
}

// Equation (pulse.13).
std::vector<double> corrected_counts(std::span<const std::int64_t> counts, std::int64_t pulses) {
    std::int64_t sum = 0;
    for (const std::int64_t count : counts) {
        require(count >= 0 && count <= pulses - sum, "count of first photons", static_cast<double>(count),
                "0 to the pulses left");
        sum += count;
    }
    return without_pile_up(counts, static_cast<double>(pulses));
}

// Equations (pulse.14) and (pulse.15).
CountReading time_of(const CountingPlan& plan, std::span<const std::int64_t> counts) {
    double detected = 0.0;
    for (const std::int64_t count : counts) detected += static_cast<double>(count);
    return reading_of(plan, detected, peak_from(plan.counter, counts));
}

CountReading noiseless_count(const CountingPlan& plan) {
    std::vector<double> counts;
    double before = 0.0;
    for (const double cumulative : plan.cumulative) {
        counts.push_back(static_cast<double>(plan.counter.pulses) * (cumulative - before));
        before = cumulative;
    }
    return reading_of(plan, before * static_cast<double>(plan.counter.pulses), peak_from(plan.counter, counts));
}

std::optional<double> noiseless_time(const CountingPlan& plan) {
    return noiseless_count(plan).time;
}

}  // namespace spotwright::flight
