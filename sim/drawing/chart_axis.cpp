#include "sim/drawing/chart_axis.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string_view>

namespace spotwright::drawing {

namespace {

constexpr double slack = 1e-9;  // of a step: values of ticks are rounded

std::string superscript(int value) {
    constexpr std::array<std::string_view, 10> digits{"\u2070", "\u00B9", "\u00B2", "\u00B3", "\u2074",
                                                      "\u2075", "\u2076", "\u2077", "\u2078", "\u2079"};
    std::string text = value < 0 ? "\u207B" : "";
    for (const char digit : std::to_string(std::abs(value))) text += digits[static_cast<std::size_t>(digit - '0')];
    return text;
}

// Fixed decimals, a true minus sign, thousands apart.
std::string fixed(double value, int decimals) {
    const std::string text = apart_by_thousands(fmt::format("{:.{}f}", std::abs(value), decimals));
    if (text.find_first_of("123456789") == std::string::npos) return "0";
    return value < 0.0 ? "\u2212" + text : text;
}

int decimals_of(double step) {
    return std::max(0, static_cast<int>(std::ceil(-std::log10(step) - 1e-6)));
}

// Labels of values a step apart: as many decimals as make them differ.
std::vector<ChartTick> with_labels(const std::vector<double>& values, double step) {
    double largest = 0.0;
    for (const double value : values) largest = std::max(largest, std::abs(value));
    constexpr double longest = 1e7;
    constexpr double finest = 1e-5;
    std::vector<ChartTick> ticks;
    if (largest < longest && (step > finest || largest > 1.0)) {
        for (const double value : values) ticks.push_back({value, fixed(value, decimals_of(step))});
        return ticks;
    }
    const auto power = static_cast<int>(std::floor(std::log10(largest) + slack));
    const double unit = std::pow(10.0, power);
    for (const double value : values) {
        const std::string mantissa = fixed(value / unit, decimals_of(step / unit));
        ticks.push_back({value, value == 0.0 ? "0" : mantissa + "\u00B710" + superscript(power)});
    }
    return ticks;
}

std::vector<ChartTick> round_ticks(const AxisScale& scale, double step) {
    std::vector<double> values;
    const double last = std::floor(scale.high / step + slack);
    for (double k = std::ceil(scale.low / step - slack); k <= last; k += 1.0) {
        if (has_place(k * step, scale.logarithmic)) values.push_back(k * step);
    }
    return with_labels(values, step);
}

// A factor times powers of ten within the scale, every `stride`-th power.
void add_powers(const AxisScale& scale, int factor, int stride, std::vector<ChartTick>& ticks) {
    const auto first = static_cast<int>(std::floor(std::log10(scale.low))) - 1;
    const auto last = static_cast<int>(std::ceil(std::log10(scale.high))) + 1;
    for (int power = first; power <= last; ++power) {
        const double value = factor * std::pow(10.0, power);
        if (power % stride != 0 || value < scale.low * (1.0 - slack) || value > scale.high * (1.0 + slack)) continue;
        constexpr int finest = -4;
        constexpr int longest = 5;
        if (power >= finest && power <= longest) {
            ticks.push_back({value, fixed(value, std::max(0, -power))});
        } else {
            const std::string ten = "10" + superscript(power);
            ticks.push_back({value, factor == 1 ? ten : fmt::format("{}\u00B7{}", factor, ten)});
        }
    }
}

std::vector<ChartTick> power_ticks(const AxisScale& scale, std::initializer_list<int> factors, int stride) {
    std::vector<ChartTick> ticks;
    for (const int factor : factors) add_powers(scale, factor, stride, ticks);
    std::sort(ticks.begin(), ticks.end(), [](const ChartTick& a, const ChartTick& b) { return a.value < b.value; });
    return ticks;
}

// Room that a label takes along its axis, what keeps it from the next included. [page units]
double room_of(const ChartTick& tick, Along along) {
    constexpr double gap = 12.0;
    constexpr double line = 21.0;
    if (along == Along::y) return line;
    return std::max(text_width(tick.label, small_size), text_width(tick.below, small_size)) + gap;
}

bool fit(const std::vector<ChartTick>& ticks, const AxisScale& scale, Along along) {
    for (std::size_t i = 1; i < ticks.size(); ++i) {
        const double distance = std::abs(scale.place(ticks[i].value) - scale.place(ticks[i - 1].value));
        if (distance < 0.5 * (room_of(ticks[i], along) + room_of(ticks[i - 1], along))) return false;
    }
    return true;
}

std::vector<ChartTick> linear_ticks(const ChartAxis& axis, const AxisScale& scale, Along along) {
    constexpr int most = 10;
    std::vector<ChartTick> ticks;
    for (int intervals = most; intervals >= 1; --intervals) {
        double step = round_step((scale.high - scale.low) / intervals);
        if (axis.whole) step = std::max(1.0, step);
        ticks = round_ticks(scale, step);
        if (fit(ticks, scale, along)) return ticks;
    }
    ticks.resize(std::min<std::size_t>(1, ticks.size()));
    return ticks;
}

std::vector<ChartTick> logarithmic_ticks(const ChartAxis& axis, const AxisScale& scale, Along along) {
    std::vector<ChartTick> ticks = power_ticks(scale, {1, 2, 5}, 1);
    if (ticks.size() < 2) return linear_ticks(axis, scale, along);
    if (fit(ticks, scale, along)) return ticks;
    for (const int stride : {1, 2, 3, 5, 10, 20, 50, 100}) {
        ticks = power_ticks(scale, {1}, stride);
        if (fit(ticks, scale, along)) break;
    }
    return ticks.size() < 2 ? linear_ticks(axis, scale, along) : ticks;
}

bool is_labelled(const AxisTicks& ticks, double value) {
    return std::any_of(ticks.labelled.begin(), ticks.labelled.end(), [value](const ChartTick& tick) {
        return std::abs(tick.value - value) <= slack * std::abs(value);
    });
}

// Unlabelled ones between: 1 to 9 times powers of ten, or the powers alone where decades are short.
void add_minor(const AxisScale& scale, AxisTicks& ticks) {
    const double decade = std::abs(scale.end - scale.start) / (std::log10(scale.high) - std::log10(scale.low));
    constexpr double roomy = 24.0;
    constexpr double tight = 3.0;
    if (decade < tight) return;
    const std::vector<ChartTick> all =
        decade < roomy ? power_ticks(scale, {1}, 1) : power_ticks(scale, {1, 2, 3, 4, 5, 6, 7, 8, 9}, 1);
    for (const ChartTick& tick : all) {
        if (!is_labelled(ticks, tick.value)) ticks.minor.push_back(tick.value);
    }
}

AxisTicks own_ticks(const ChartAxis& axis, const AxisScale& scale, Along along) {
    AxisTicks ticks;
    for (const ChartTick& tick : axis.ticks) {
        if (!has_place(tick.value, scale.logarithmic) || tick.value < scale.low || tick.value > scale.high) continue;
        std::vector<ChartTick> both = ticks.labelled;
        both.push_back(tick);
        if (fit(both, scale, along)) {
            ticks.labelled.push_back(tick);
        } else {
            ticks.minor.push_back(tick.value);
        }
    }
    return ticks;
}

// A span of no extent, or of mere rounding, is widened so that its value stands in the middle.
void widen(AxisScale& scale) {
    if (scale.logarithmic) {
        if (scale.high > scale.low * (1.0 + slack)) return;
        constexpr double factor = 2.0;
        scale.low /= factor;
        scale.high *= factor;
        return;
    }
    const double size = std::max(std::abs(scale.low), std::abs(scale.high));
    if (scale.high - scale.low > slack * size) return;
    constexpr double share = 0.1;
    const double half = size > 0.0 ? share * size : 1.0;
    scale.low -= half;
    scale.high += half;
}

// Of a logarithmic scale; the quotient of its ends may be more than a number can hold.
double spanned(const AxisScale& scale) {
    return std::log(scale.high) - std::log(scale.low);
}

}  // namespace

bool has_place(double value, bool logarithmic) {
    constexpr double most = 1e150;
    return logarithmic ? value > 1.0 / most && value < most : std::abs(value) < most;
}

void Reach::include(double value) {
    if (!has_place(value, logarithmic)) return;
    low = std::min(low, value);
    high = std::max(high, value);
}

double AxisScale::place(double value) const {
    const double share =
        logarithmic ? (std::log(value) - std::log(low)) / spanned(*this) : (value - low) / (high - low);
    return start + share * (end - start);
}

AxisScale axis_scale(const ChartAxis& axis, const Reach& reach, double start, double end) {
    Reach all = reach;
    all.logarithmic = axis.logarithmic;
    if (axis.low) all.include(*axis.low);
    if (axis.high) all.include(*axis.high);
    AxisScale scale{all.low, all.high, axis.logarithmic, start, end};
    widen(scale);
    const bool low_stays = axis.low && *axis.low == scale.low && !axis.soft;
    const bool high_stays = axis.high && *axis.high == scale.high && !axis.soft;
    if (axis.logarithmic) {
        // Room for markers at both ends.
        constexpr double inset = 12.0;
        const double share = std::min(0.2, inset / std::abs(end - start));
        const double more = std::exp(spanned(scale) * share / (1.0 - 2.0 * share));
        if (!low_stays) scale.low /= more;
        if (!high_stays) scale.high *= more;
        return scale;
    }
    constexpr double intervals = 10.0;
    double step = round_step((scale.high - scale.low) / intervals);
    if (axis.whole) step = std::max(1.0, step);
    if (!low_stays) scale.low = step * std::floor(scale.low / step + slack);
    if (!high_stays) scale.high = step * std::ceil(scale.high / step - slack);
    return scale;
}

AxisTicks axis_ticks(const ChartAxis& axis, const AxisScale& scale, Along along) {
    if (!axis.ticks.empty()) return own_ticks(axis, scale, along);
    AxisTicks ticks;
    ticks.labelled = scale.logarithmic ? logarithmic_ticks(axis, scale, along) : linear_ticks(axis, scale, along);
    if (scale.logarithmic) add_minor(scale, ticks);
    return ticks;
}

double widest_label(const AxisTicks& ticks) {
    double widest = 0.0;
    for (const ChartTick& tick : ticks.labelled) widest = std::max(widest, text_width(tick.label, small_size));
    return widest;
}

}  // namespace spotwright::drawing
