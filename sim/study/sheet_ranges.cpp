#include "sim/study/sheet_ranges.hpp"

#include <array>
#include <cmath>

namespace spotwright::study {

namespace {

// All values: common practice.
constexpr std::array ranges{
    OpenRange{"receiver_angle_deg", 12.0, 40.0, false,
              "less gives little sensitivity, more makes a wide housing and shadows"},
    OpenRange{"spot_share_of_distance", 0.0008, 0.003, true,
              "full width over reference distance of a beam focused by a small collimator"},
    OpenRange{"beam_quality", 1.0, 1.3, false, "laser diodes of one transverse mode behind a collimator"},
    OpenRange{"wavelength_nm", 650.0, 680.0, false, "red laser diodes, the usual choice where nothing is said"},
    OpenRange{"linewidth_nm", 0.2, 2.0, true, "laser diodes of one or of some longitudinal modes"},
    OpenRange{"power_share_of_class", 0.4, 0.95, false,
              "makers use most of what the class allows, less some reserve for tolerance and temperature; less "
              "where the shortest exposure would be too long, as of a mirror"},
    OpenRange{"pixels", 512.0, 2048.0, true, "line arrays of 512, 1024 or 2048 pixels"},
    OpenRange{"pitch_um", 4.0, 14.0, true, "line arrays"},
    OpenRange{"filled_share", 0.7, 0.9, false, "some pixels are left at both ends for the width of the spot"},
    OpenRange{"height_um", 10.0, 200.0, true, "pixels of line arrays, from square ones to high ones"},
    OpenRange{"height_over_spot_image", 0.8, 1.6, true,
              "at least: a line or a tall spot is seen by pixels that are made for it"},
    OpenRange{"aperture_share_of_window", 0.35, 0.85, false,
              "the window leaves room for the field of view around the lens"},
    OpenRange{"f_number", 1.4, 6.0, true, "focal length over aperture: from bright to sharp small lenses"},
    OpenRange{"transmission", 0.45, 0.85, false, "window, interference filter and lens together"},
    OpenRange{"filter_width_nm", 10.0, 50.0, true, "interference filters around a laser diode"},
    OpenRange{"quantum_efficiency", 0.25, 0.7, false, "silicon arrays, fill factor included"},
    OpenRange{"full_well_e", 2e4, 2e6, true, "line arrays of pixels from some 5 um to some 50 um high"},
    OpenRange{"read_noise_e", 8.0, 60.0, true, "line arrays at some megapixels per second"},
    OpenRange{"response_nonuniformity", 0.002, 0.01, true, "line arrays, left after no correction or a simple one"},
    OpenRange{"lens_shift_um_per_K", 0.01, 0.1, true, "lens mounts in aluminium, glued or clamped"},
};

}  // namespace

std::span<const OpenRange> open_ranges() {
    return ranges;
}

const OpenRange& range_of(Open open) {
    return ranges.at(static_cast<std::size_t>(open));
}

double value_at(const OpenRange& range, double share) {
    if (range.logarithmic) return range.low * std::pow(range.high / range.low, share);
    return range.low + share * (range.high - range.low);
}

}  // namespace spotwright::study
