#include "sim/drawing/profile_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/drawing/profile_axes.hpp"
#include "sim/measure/quantities.hpp"
#include "sim/record/quantity_text.hpp"

namespace spotwright::drawing {

namespace {

using base::mm;
using reading::Validity;

std::string pixels(double position) {
    return fmt::format("{:.2f}\u00A0px", position);
}

// What was read, to a tenth of a micrometre.
std::string read_millimetres(double displacement) {
    const std::string size = fmt::format("{:.4f}", std::abs(displacement) / mm);
    const bool is_zero = size == fmt::format("{:.4f}", 0.0);
    const std::string_view sign = is_zero ? "" : displacement < 0.0 ? "\u2212" : "+";
    return fmt::format("{}{}\u00A0mm", sign, size);
}

void replace_all(std::string& text, std::string_view from, std::string_view to) {
    for (std::size_t at = text.find(from); at != std::string::npos; at = text.find(from, at + to.size())) {
        text.replace(at, from.size(), to);
    }
}

std::string units_in_print(std::string text) {
    replace_all(text, " um", "\u00A0µm");
    replace_all(text, " mm", "\u00A0mm");
    return text;
}

std::string with_capital(const std::string& sentence) {
    const bool small = !sentence.empty() && sentence[0] >= 'a' && sentence[0] <= 'z';
    return small ? static_cast<char>(sentence[0] - 'a' + 'A') + sentence.substr(1) : sentence;
}

std::string highest_pixel(const ArrayReading& array) {
    return electrons(static_cast<double>(*std::max_element(array.net.begin(), array.net.end())));
}

std::string rule_in_words(const scenario::PeakChoice& choice) {
    switch (choice.rule) {
        case scenario::PeakRule::strongest:
            return "the strongest";
        case scenario::PeakRule::nearest:
            return "the nearest";
        case scenario::PeakRule::farthest:
            return "the farthest";
        case scenario::PeakRule::index:
            break;
    }
    return fmt::format("the one with index {}", choice.index);
}

std::string why_no_peak(const scenario::Scenario& s, const ArrayReading& array) {
    if (chosen_peak(array) != nullptr) return "the estimator finds no position in it: it is too narrow or too noisy";
    if (!array.peaks.empty()) {
        return fmt::format("the index {} is asked for, and {}", s.reading.choose.index,
                           array.peaks.size() == 1 ? std::string("the only peak has the index 0")
                                                   : fmt::format("peaks 0 to {} exist", array.peaks.size() - 1));
    }
    return fmt::format("the highest pixel has {}, less than half the threshold of {}", highest_pixel(array),
                       electrons(array.threshold));
}

std::string why_out_of_range(const sensor::TriangulationSetup& setup, const ArrayReading& array) {
    const reading::LocatedPeak* chosen = chosen_peak(array);
    if (chosen == nullptr || chosen->spot.validity != Validity::valid) {
        return "the chosen peak is cut off by the end of the array, so where it lies is not known";
    }
    return fmt::format("the spot is at {}, beyond the calibration, which covers {} to {}", pixels(location_of(*chosen)),
                       pixels(setup.instrument.calibration.lowest()), pixels(setup.instrument.calibration.highest()));
}

std::string why_saturated(const ArrayReading& array) {
    const reading::LocatedPeak* chosen = chosen_peak(array);
    const std::size_t first = chosen == nullptr ? 0 : chosen->window.first;
    const std::size_t last = chosen == nullptr ? array.saturated.size() : chosen->window.last;
    const auto count = std::count(array.saturated.begin() + static_cast<std::ptrdiff_t>(first),
                                  array.saturated.begin() + static_cast<std::ptrdiff_t>(last), std::uint8_t{1});
    return fmt::format("{} of {} pixels of the chosen peak stand{} at the top digit, so its shape is lost", count,
                       last - first, count == 1 ? "s" : "");
}

double height_of(const ArrayReading& array, const reading::LocatedPeak& peak) {
    return static_cast<double>(array.net[peak.window.highest]);
}

std::string about_peak(const sensor::TriangulationSetup& setup, const ArrayReading& array, std::size_t number) {
    const reading::LocatedPeak& peak = array.peaks[number];
    std::string where = words_of(peak.spot.validity);
    if (peak.spot.validity == Validity::valid) {
        const auto displacement = setup.instrument.calibration.displacement(peak.spot.position);
        where =
            fmt::format("{}, {}", pixels(peak.spot.position),
                        displacement ? "s\u00A0=\u00A0" + read_millimetres(*displacement) : "outside the calibration");
    }
    return fmt::format("Peak {}{}: {}; {} high.", number, peak.chosen ? " (chosen)" : "", where,
                       electrons(height_of(array, peak)));
}

}  // namespace

std::string words_of(Validity validity) {
    std::string words(reading::name_of(validity));
    std::replace(words.begin(), words.end(), '_', ' ');
    return words;
}

std::string value_of(const ArrayReading& array) {
    const reading::LocatedPeak* chosen = chosen_peak(array);
    if (chosen == nullptr) return {};
    switch (chosen->spot.validity) {
        case Validity::valid:
            if (array.result.validity != Validity::valid)
                return pixels(location_of(*chosen)) + ": outside the calibration";
            return fmt::format("{}: s\u00A0=\u00A0{}", pixels(array.result.position),
                               read_millimetres(array.result.displacement));
        case Validity::saturated:
            return "saturated";
        case Validity::out_of_range:
            return "cut off by the array's end";
        case Validity::too_dark:
        case Validity::no_peak:
        case Validity::ambiguous:
            break;
    }
    return "not located";
}

std::string absence(const scenario::PeakChoice& choice, const ArrayReading& array) {
    if (chosen_peak(array) != nullptr) return {};
    if (!array.peaks.empty()) return fmt::format("no peak has index {}", choice.index);
    if (array.result.validity == Validity::too_dark) return "too dark: no pixel is above the threshold";
    return "no peak: no pixel reaches half the threshold";
}

std::string explanation(const sensor::TriangulationSetup& setup, const sensor::Pose& pose, const ArrayReading& array) {
    const auto because = [&array](const std::string& reason) {
        return fmt::format("{}: {}.", with_capital(words_of(array.result.validity)), reason);
    };
    switch (array.result.validity) {
        case Validity::valid:
            return because(fmt::format(
                "the spot is at {}, which the calibration takes for s\u00A0=\u00A0{}; the lit point is at {}",
                pixels(array.result.position), read_millimetres(array.result.displacement),
                signed_number(pose.true_displacement / mm) + "\u00A0mm"));
        case Validity::too_dark:
            return because(fmt::format("the highest pixel has {}, and the threshold is {}", highest_pixel(array),
                                       electrons(array.threshold)));
        case Validity::saturated:
            return because(why_saturated(array));
        case Validity::no_peak:
            return because(why_no_peak(setup.scenario, array));
        case Validity::out_of_range:
            return because(why_out_of_range(setup, array));
        case Validity::ambiguous:
            break;
    }
    return because("more than one peak may be the part's");
}

std::vector<std::string> list_of_peaks(const sensor::TriangulationSetup& setup, const ArrayReading& array) {
    if (array.peaks.size() < 2) return {};
    std::vector<std::size_t> order(array.peaks.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&array](std::size_t a, std::size_t b) {
        const reading::LocatedPeak& one = array.peaks[a];
        const reading::LocatedPeak& other = array.peaks[b];
        return one.chosen != other.chosen ? one.chosen : height_of(array, one) > height_of(array, other);
    });
    constexpr std::size_t most = 3;
    if (order.size() > most) order.resize(most);
    std::sort(order.begin(), order.end());
    std::vector<std::string> list{fmt::format("{} peaks, numbered from the near end; {} is {}.", array.peaks.size(),
                                              rule_in_words(setup.scenario.reading.choose),
                                              chosen_peak(array) != nullptr ? "chosen" : "not there")};
    for (const std::size_t i : order) list.push_back(about_peak(setup, array, i));
    return list;
}

std::vector<Row> quantity_rows(std::span<const std::string_view> names, const scenario::Scenario& scenario,
                               const measure::ReadResult& result) {
    std::vector<Row> rows;
    for (const std::string_view name : names) {
        const measure::Quantity& quantity = measure::quantity_named(name);
        std::string text = record::short_quantity_text(quantity, result, scenario);
        if (text.starts_with('-')) text.replace(0, 1, "\u2212");
        for (const std::string_view unit : {"m", "s", "W"}) {
            replace_all(text, " u" + std::string(unit), "\u00A0µ" + std::string(unit));
        }
        const std::size_t unit = text.rfind(' ');
        if (unit != std::string::npos && !text.starts_with("below")) text.replace(unit, 1, "\u00A0");
        rows.push_back({std::string(quantity.long_name), text});
    }
    return rows;
}

std::vector<Row> rows_of(const scenario::Scenario& scenario, const measure::ReadResult& result) {
    // As few as leave room for the reasons and the list of peaks.
    constexpr std::array<std::string_view, 7> names{
        "valid_share", "peak_share", "exposure_us", "mean_mm", "bias_um", "still_sd_um", "expanded_uncertainty_um"};
    return quantity_rows(names, scenario, result);
}

std::string in_print(std::string sentence) {
    const auto replace = [&sentence](std::string_view from, std::string_view to) { replace_all(sentence, from, to); };
    replace("+-", "±");
    sentence = units_in_print(sentence);
    for (std::size_t i = 0; i < reading::validity_count; ++i) {
        const auto validity = static_cast<Validity>(i);
        replace(reading::name_of(validity), words_of(validity));
    }
    return with_capital(sentence) + ".";
}

}  // namespace spotwright::drawing
