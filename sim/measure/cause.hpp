// What makes a reading err: the causes that verdicts and budgets name.
#pragma once

#include <string>
#include <string_view>

namespace spotwright::measure {

enum class Cause {
    noise,             ///< of the signal, electronics and digitising together, as readings show it
    bias,              ///< of the part as it stands
    pixels,            ///< pattern of response, and the phase of the spot within a pixel
    image,             ///< the model's own error of the image
    speckle,           ///< that stays the same while the part stands still
    change_in_motion,  ///< of the error while the part moves
    mean_in_motion,    ///< mean error while the part moves
    shot_noise,        ///< of the signal
    read_noise,        ///< of the electronics
    ambient_noise,     ///< shot noise of ambient light and dark current
    timing_noise,      ///< of a sensor that times light: all of its noise
    background,        ///< of the array, as measured
    digitising,        ///< rounding to whole digits
    patches,           ///< speckle, from one patch of the surface to another
    linearity,         ///< with this material, and pixels
    tilt,              ///< of the part
    ambient_change,    ///< of ambient light since the background was measured
    flicker,           ///< of lamps, from one exposure to the next
    temperature,       ///< of the sensor
    motion,            ///< of the part
    reference,         ///< of the calibration
    grain,             ///< of the material: places that send back more and less light
    material,          ///< range of the material's values
    markings,          ///< pattern, texture or feed marks of the surface under the spot
    hot_air,           ///< in which the spot wanders
    mount_vibration,   ///< of the sensor
    neighbour,         ///< a second sensor's spot in view
    pointing,          ///< jitter of the beam, from reading to reading
    making,            ///< of the sensor: from specimen to specimen
    inside,            ///< of the part: light that enters it, where its shape's model leaves that out
};

/// In words, as "speckle, the same while the part stands still".
[[nodiscard]] std::string_view name_of(Cause cause);

/// One cause of error and how much of it there is.
struct Contribution {
    Cause cause = Cause::noise;
    double size = 0.0;        ///< standard deviation, or the whole of a systematic error. [m]
    bool systematic = false;  ///< an uncorrected bias: added as it is, not in quadrature
};

/// Name of the cause; "..., bias" for the systematic part of a cause that scatters too.
[[nodiscard]] std::string name_of(const Contribution& contribution);

}  // namespace spotwright::measure
