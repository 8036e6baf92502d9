#include "sim/base/median.hpp"
#include "sim/drawing/array_reading.hpp"

#include <algorithm>
#include <cmath>

namespace spotwright::drawing {

namespace {

// Signal above background of a digit, pixel by pixel.
std::vector<float> signal_of_digit(const sensor::Pose& pose, double digit) {
    std::vector<float> signal(pose.expected.electrons.size());
    for (std::size_t k = 0; k < signal.size(); ++k) {
        const double above = digit - static_cast<double>(pose.background[k]);
        signal[k] = static_cast<float>(above / pose.expected.digitiser.gain);
    }
    return signal;
}

}  // namespace

ArrayReading analyse(const sensor::TriangulationSetup& setup, const sensor::Pose& pose, std::int64_t index) {
    const detector::Digitiser& digitiser = pose.expected.digitiser;
    const std::vector<float> digits = sensor::frame_of(setup, pose, index);
    ArrayReading array;
    array.net.resize(digits.size());
    reading::net_signal(digits, std::span(pose.background).first(digits.size()), static_cast<float>(digitiser.gain),
                        static_cast<float>(digitiser.top_digit), array.net);
    reading::LocateOptions options = pose.locate;
    options.at_array_start = true;  // the frame is that of the whole array
    options.at_array_end = true;
    array.peaks = reading::locate_all(array.net, options);

    const std::vector<float> at_top = signal_of_digit(pose, digitiser.top_digit);
    array.saturated.resize(digits.size());
    array.expected = signal_of_digit(pose, digitiser.black_level);
    for (std::size_t k = 0; k < digits.size(); ++k) {
        array.expected[k] += pose.expected.electrons[k] + pose.expected.offset[k];
        array.saturated[k] = array.net[k] >= reading::saturated_signal ? 1 : 0;
        if (array.saturated[k] != 0) array.net[k] = at_top[k];
    }
    array.saturation = static_cast<double>(base::upper_median(at_top));
    array.threshold = static_cast<double>(pose.locate.threshold);
    array.full_well = setup.scenario.detector.full_well;
    array.dark_deviation = std::sqrt(pose.locate.dark_variance);
    sensor::Scratch scratch;
    array.result = sensor::take_reading(setup, pose, index, scratch);
    array.near_end = setup.instrument.calibration.position(setup.scenario.mount.range[0]);
    array.far_end = setup.instrument.calibration.position(setup.scenario.mount.range[1]);
    array.truth = setup.instrument.calibration.position(pose.true_displacement);
    return array;
}

const reading::LocatedPeak* chosen_peak(const ArrayReading& array) {
    const auto found = std::find_if(array.peaks.begin(), array.peaks.end(),
                                    [](const reading::LocatedPeak& peak) { return peak.chosen; });
    return found == array.peaks.end() ? nullptr : &*found;
}

double location_of(const reading::LocatedPeak& peak) {
    if (peak.spot.validity == reading::Validity::valid) return peak.spot.position;
    return 0.5 * static_cast<double>(peak.window.first + peak.window.last - 1);
}

namespace {

constexpr std::int64_t min_window = 24;
constexpr std::size_t most_windows = 3;

// Pixels around one or several peaks, and what decides which are shown.
struct Surroundings {
    PixelWindow window;
    bool chosen = false;
    float highest = 0.0F;
};

std::int64_t size_of(const PixelWindow& window) {
    return window.last - window.first;
}

// As much again on either side.
PixelWindow around(std::int64_t first, std::int64_t last) {
    const std::int64_t margin = std::max<std::int64_t>(6, last - first);
    return {first - margin, last + margin};
}

// Among many peaks, only those that stand out are worth a look.
std::vector<Surroundings> around_peaks(const ArrayReading& array) {
    constexpr std::size_t many = 6;
    constexpr float outstanding = 0.1F;  // of the highest
    float highest = 0.0F;
    for (const reading::LocatedPeak& peak : array.peaks) highest = std::max(highest, array.net[peak.window.highest]);
    const float least = array.peaks.size() > many ? outstanding * highest : 0.0F;
    std::vector<Surroundings> list;
    for (const reading::LocatedPeak& peak : array.peaks) {
        const float height = array.net[peak.window.highest];
        if (height < least && !peak.chosen) continue;
        const PixelWindow window =
            around(static_cast<std::int64_t>(peak.window.first), static_cast<std::int64_t>(peak.window.last));
        list.push_back({window, peak.chosen, height});
    }
    return list;
}

// The brightest light, if it differs from darkness.
std::vector<Surroundings> around_brightest(const ArrayReading& array) {
    constexpr float visible = 5.0F;  // standard deviations of a dark pixel
    constexpr float edge = 0.1F;
    const auto brightest = std::max_element(array.expected.begin(), array.expected.end());
    if (*brightest < visible * static_cast<float>(array.dark_deviation)) return {};
    auto first = brightest;
    auto last = brightest;
    while (first != array.expected.begin() && *(first - 1) > edge * *brightest) --first;
    while (last != array.expected.end() && *last > edge * *brightest) ++last;
    return {{around(first - array.expected.begin(), last - array.expected.begin()), true, *brightest}};
}

void grow(PixelWindow& window, std::int64_t least, std::int64_t pixels) {
    const std::int64_t missing = std::max<std::int64_t>(0, least - size_of(window));
    window.first -= missing / 2;
    window.last += missing - missing / 2;
    const std::int64_t shift =
        std::max<std::int64_t>(0, -window.first) - std::max<std::int64_t>(0, window.last - pixels);
    window.first = std::max<std::int64_t>(0, window.first + shift);
    window.last = std::min(pixels, window.last + shift);
}

// Joins what touches; the list runs from pixel 0 on.
std::vector<Surroundings> joined(std::vector<Surroundings> list) {
    constexpr std::int64_t narrow_gap = 8;
    std::sort(list.begin(), list.end(),
              [](const Surroundings& a, const Surroundings& b) { return a.window.first < b.window.first; });
    std::vector<Surroundings> result;
    for (const Surroundings& next : list) {
        if (result.empty() || next.window.first > result.back().window.last + narrow_gap) {
            result.push_back(next);
            continue;
        }
        Surroundings& last = result.back();
        last.window.last = std::max(last.window.last, next.window.last);
        last.chosen = last.chosen || next.chosen;
        last.highest = std::max(last.highest, next.highest);
    }
    return result;
}

std::int64_t total_of(const std::vector<Surroundings>& list) {
    std::int64_t total = 0;
    for (const Surroundings& each : list) total += size_of(each.window);
    return total;
}

}  // namespace

std::vector<PixelWindow> windows_to_enlarge(const ArrayReading& array) {
    const auto pixels = static_cast<std::int64_t>(array.net.size());
    std::vector<Surroundings> list = around_peaks(array);
    if (list.empty()) list = around_brightest(array);
    list = joined(std::move(list));
    if (list.size() > most_windows) {
        std::stable_sort(list.begin(), list.end(), [](const Surroundings& a, const Surroundings& b) {
            return a.chosen != b.chosen ? a.chosen : a.highest > b.highest;
        });
        list.resize(most_windows);
    }
    // Pixels are drawn equally wide in all windows, so each window needs its share of them to have room for labels.
    constexpr std::int64_t min_share = 4;
    for (std::size_t pass = 0; pass < most_windows; ++pass) {
        const std::int64_t least = std::max(min_window, total_of(list) / min_share);
        for (Surroundings& each : list) grow(each.window, least, pixels);
        list = joined(std::move(list));
    }
    if (2 * total_of(list) > pixels) return {};
    std::vector<PixelWindow> windows;
    for (const Surroundings& each : list) windows.push_back(each.window);
    return windows;
}

}  // namespace spotwright::drawing
