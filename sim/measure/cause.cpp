#include "sim/measure/cause.hpp"

#include <array>

namespace spotwright::measure {

namespace {

using namespace std::string_view_literals;

constexpr std::array names{
    "shot, read and digitising noise"sv,
    "bias of this part"sv,
    "pixel pattern and phase"sv,
    "error of the image itself"sv,
    "speckle, the same while the part stands still"sv,
    "error that changes during the motion: lag, noise, passing surfaces"sv,
    "mean error on the way"sv,
    "shot noise of the signal"sv,
    "read noise"sv,
    "shot noise of ambient light and dark current"sv,
    "noise of shot, electronics and digitising"sv,
    "background of the array"sv,
    "digitising"sv,
    "speckle"sv,
    "linearity with this material, and pixels"sv,
    "tilt of the part"sv,
    "change of ambient light"sv,
    "flicker of the lamps"sv,
    "temperature of the sensor"sv,
    "motion of the part"sv,
    "reference of the calibration"sv,
    "grain of the material, the same while the part stands still"sv,
    "range of the material's values"sv,
    "markings of the surface under the spot"sv,
    "hot air in the light"sv,
    "vibration of the mount"sv,
    "spot of a second sensor"sv,
    "pointing of the beam"sv,
    "making of the sensor, from specimen to specimen"sv,
    "light inside the part, estimated on a plane"sv,
};
static_assert(names.size() == static_cast<std::size_t>(Cause::inside) + 1);

}  // namespace

std::string_view name_of(Cause cause) {
    return names[static_cast<std::size_t>(cause)];
}

std::string name_of(const Contribution& c) {
    const bool is_bias_by_name = c.cause == Cause::bias || c.cause == Cause::mean_in_motion;
    return std::string(name_of(c.cause)) + (c.systematic && !is_bias_by_name ? ", bias" : "");
}

}  // namespace spotwright::measure
