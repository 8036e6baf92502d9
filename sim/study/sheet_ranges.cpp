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
    OpenRange{"beam_diameter_mm", 2.0, 10.0, true, "laser diodes collimated over metres, full width at 1/e^2"},
    OpenRange{"infrared_nm", 850.0, 910.0, false, "pulsed diodes, the usual choice where nothing is said"},
    OpenRange{"lens_share_of_window", 0.7, 0.95, false, "the lens lies behind its window and fills most of it"},
    OpenRange{"lens_diameter_mm", 8.0, 35.0, true, "lenses that gather light of metres in a housing of a hand's width"},
    OpenRange{"lens_f_number", 0.9, 2.0, true, "focal length over diameter of a lens for one detector"},
    OpenRange{"detector_diameter_mm", 0.2, 1.0, true, "photodiodes fast enough, PIN or avalanche"},
    OpenRange{"modulation_MHz", 8.0, 80.0, true, "the higher the frequency the less noise, the lower the longer range"},
    OpenRange{"modulation_depth", 0.6, 0.95, false, "laser diodes modulated by their current"},
    OpenRange{"bandwidth_MHz", 80.0, 400.0, true, "source and detector together"},
    OpenRange{"full_well_e", 1e5, 1e7, true, "charge of a bucket, on a demodulating pixel or an integrator"},
    OpenRange{"read_noise_e", 30.0, 300.0, true, "of a bucket"},
    OpenRange{"pulse_ns", 2.0, 8.0, true, "pulsed diodes with a simple driver"},
    OpenRange{"pulse_rate_kHz", 10.0, 200.0, true, "what mean power and the class allow"},
    OpenRange{"pulses_share_of_period", 0.3, 0.95, false, "the rest of a sampling period is for evaluation"},
    OpenRange{"noise_nW", 1.0, 100.0, true, "amplifiers behind a PIN or an avalanche photodiode, as power of light"},
    OpenRange{
        "clock_share_of_variance", 0.05, 0.95, false,
        "of the scatter of a pulse's time by jitter; the rest is amplifier noise. A sheet does not tell them apart"},
    OpenRange{"jitter_ps", 5.0, 1000.0, true, "driver, comparator and time base together"},
    OpenRange{"digitiser_ps", 20.0, 200.0, true, "time digitisers"},
    OpenRange{"delay_drift_ps_per_K", 0.5, 10.0, true,
              "drivers and amplifiers without compensation, or with a simple one"},
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
