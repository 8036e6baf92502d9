// What common practice gives for the parameters of a sensor that a data sheet leaves open: one table.
#pragma once

#include <cstddef>
#include <span>
#include <string_view>

namespace spotwright::study {

/// A parameter that is drawn where the sheet does not determine it.
struct OpenRange {
    std::string_view name;  ///< ends in its unit
    double low = 0.0;       ///< as named
    double high = 0.0;
    bool logarithmic = false;  ///< equally likely per ratio, else per difference
    std::string_view reason;
};

enum class Open {
    receiver_angle,
    spot_share,
    beam_quality,
    wavelength,
    linewidth,
    power_share,
    pixels,
    pitch,
    filled_share,
    height,
    height_share,
    aperture_share,
    f_number,
    transmission,
    filter_width,
    quantum_efficiency,
    full_well,
    read_noise,
    response_nonuniformity,
    lens_shift,
    // Time of flight.
    beam_diameter,
    infrared,
    lens_share,
    lens_diameter,
    lens_f_number,
    detector_diameter,
    modulation,
    modulation_depth,
    bandwidth,
    bucket_well,
    bucket_noise,
    pulse,
    pulse_rate,
    pulses_share,
    amplifier_noise,
    clock_share,
    jitter,
    digitiser,
    delay_drift
};
/// The first ones are those of triangulation.
inline constexpr std::size_t open_of_triangulation = 20;

/// In the order of `Open`.
[[nodiscard]] std::span<const OpenRange> open_ranges();
[[nodiscard]] const OpenRange& range_of(Open open);

/// A value of the range. @param share  In [0, 1]: how far along it.
[[nodiscard]] double value_at(const OpenRange& range, double share);

}  // namespace spotwright::study
