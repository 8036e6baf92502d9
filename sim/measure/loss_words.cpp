// In words: why readings of a part were lost.
#include <fmt/format.h>

#include <cmath>
#include <string>
#include <variant>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/measure/reason.hpp"

namespace spotwright::measure {

namespace {

using base::mm, base::ms, base::us, base::length_text;

constexpr const char* no_light =
    "almost no light from the part reaches the detector; a mirror-like part reflects it past the lens unless it stands "
    "square";
constexpr const char* cut_off = "the chosen peak is cut off by the end of the array, or lies beyond the calibration";

std::string words_of(const AmbientFillsPixels& r) {
    return fmt::format(
        "ambient light and dark current alone take {:.3g} of full well; a shade, a narrower filter, a shorter exposure "
        "or a "
        "cooler sensor would lower that",
        r.share);
}
std::string words_of(const GlowFillsPixels& r) {
    return fmt::format(
        "the part glows: at {:.4g} C it takes {:.3g} of full well by itself; a shorter wavelength, a narrower filter "
        "or a shorter exposure with more power would lower that",
        r.temperature - base::zero_celsius, r.share);
}
std::string words_of(const OffsetSaturates& r) {
    return fmt::format("light fills only {:.3g} of full well; pixel offset or read noise saturates the pixel", r.light);
}
std::string words_of(const TooMuchLight& r) {
    return fmt::format("light would fill {:.3g} of full well; {:.3g} times the exposure would bring it to {:.2g}",
                       r.asked, r.level / r.asked, r.level);
}
std::string words_of(const PeakTooLow& r) {
    const std::string found =
        fmt::format("the peak is {:.3g} of full well; the threshold is {:.3g}", r.peak, r.threshold);
    constexpr double beyond_help = 1e4;
    if (r.peak * beyond_help < r.level) return found + ": almost no light from the part reaches the array";
    return fmt::format("{}; {:.3g} times the exposure would bring it to {:.2g}", found, r.level / r.peak, r.level);
}
std::string words_of(const NoLight& /*r*/) {
    return no_light;
}
std::string words_of(const PhotonsInBackground& r) {
    return fmt::format("the {:.3g} electrons of a pulse are lost in the background", r.electrons);
}
std::string words_of(const PulseTooWeak& r) {
    return fmt::format("the pulse peak is {:.3g} times the noise; the threshold is {:.3g}", r.over_noise, r.threshold);
}
std::string amplitude_text(double amplitude, double threshold) {
    return fmt::format("the amplitude is {:.3g} of full well; the threshold is {:.3g}", amplitude, threshold);
}
std::string words_of(const AmplitudeTooLow& r) {
    return fmt::format("{}; {:.3g} times the exposure would bring the brightest bucket to {:.2g}",
                       amplitude_text(r.amplitude, r.threshold), r.level / r.peak, r.level);
}
std::string words_of(const ModulationTooWeak& r) {
    return fmt::format(
        "{}, and its bucket's charge {:.3g}: there is light, but its modulation is weak by depth, bandwidth or ambient "
        "light",
        amplitude_text(r.amplitude, r.threshold), r.charge);
}
std::string words_of(const PhotonsCrowd& r) {
    return fmt::format(
        "{:.3g} photons of a pulse are detected, and only the first is seen: less power or a smaller aperture, for one "
        "a pulse or fewer",
        r.electrons);
}
std::string words_of(const PartOutside& r) {
    return fmt::format("the part is at {:.4g} mm, outside the range of {:.4g} to {:.4g} mm", r.displacement / mm,
                       r.near / mm, r.far / mm);
}
std::string words_of(const DistanceRepeats& r) {
    return fmt::format("{}: it reads as another distance, for readings repeat every {:.4g} mm", words_of(r.part),
                       r.every / mm);
}
std::string words_of(const WrapUnsure& r) {
    return fmt::format(
        "noise leaves a chance of {:.2g} for a wrong whole number of periods; more light, a longer exposure or "
        "frequencies in the ratio of smaller numbers lower it",
        r.chance);
}
std::string words_of(const NoSuchPeak& r) {
    return fmt::format("there is no peak with the index {}", r.index);
}
std::string words_of(const PeakUnfit& /*r*/) {
    return "the chosen peak is too narrow or too noisy for the estimator";
}
std::string words_of(const PeakCutOff& /*r*/) {
    return cut_off;
}
std::string words_of(const BeyondCalibration& /*r*/) {
    return "the reading lies beyond the calibration";
}
std::string words_of(const PartLeavesRange& r) {
    return fmt::format(
        "at {:.3g} % of readings the part is outside the range of {:.4g} to {:.4g} mm, or beside the beam",
        100.0 * r.share, r.near / mm, r.far / mm);
}
std::string words_of(const FixedExposureUnfit& r) {
    return fmt::format("the fixed exposure of {:.4g} us is too {} for some of what passes", r.exposure / us,
                       r.too_short ? "short" : "long");
}
std::string words_of(const ExposureTooSlow& r) {
    return fmt::format("the exposure, from {:.4g} to {:.4g} us, {}", r.shortest / us, r.longest / us,
                       r.at_limit ? "reaches its limit, or follows too late" : "follows what passes too late");
}
std::string words_of(const Unexplained& /*r*/) {
    return "see the scenario";
}

}  // namespace

std::string in_words(const WhyLost& why) {
    return std::visit([](const auto& each) { return words_of(each); }, why);
}

}  // namespace spotwright::measure
