// From one frame to the position of the chosen peak, or the reason why there is none.
#pragma once

#include <cstdint>
#include <span>
#include <string_view>
#include <vector>

#include "sim/reading/peak.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::reading {

/// A reading is valid, or carries the reason why not. Values are stored in files and stay as they are.
enum class Validity : std::uint8_t {
    valid = 0,
    too_dark = 1,
    saturated = 2,
    no_peak = 3,
    out_of_range = 4,
    ambiguous = 5
};

inline constexpr std::size_t validity_count = 6;

/// `valid`, `too_dark`, ...
[[nodiscard]] std::string_view name_of(Validity validity);

/// How peaks are found, in electrons.
struct LocateOptions {
    scenario::PeakMethod method = scenario::PeakMethod::centroid;
    scenario::PeakChoice choose;
    float threshold = 0.0F;      ///< smallest peak that counts. [e]
    float saturation = 0.0F;     ///< net signal of a pixel known to be saturated; see `net_signal`. [e]
    double dark_variance = 1.0;  ///< of a pixel without light, read noise and quantisation. [e^2]
    bool at_array_start = true;  ///< the samples begin at the array's first pixel
    bool at_array_end = true;    ///< the samples end at the array's last pixel
};

struct Spot {
    Validity validity = Validity::no_peak;
    double position = 0.0;  ///< from the first sample, if valid. [px]
    float peak = 0.0F;      ///< highest net signal of the chosen peak, or of all samples without one. [e]
};

/// Runs of samples above the threshold. Gaps of up to two samples, caused by noise, are closed.
[[nodiscard]] std::vector<PeakWindow> find_peaks(std::span<const float> net, float threshold);

/// Net signal of a saturated pixel, whatever its background: larger than any measured one. [e]
inline constexpr float saturated_signal = 1e30F;

/// (digit - background) / gain, and `saturated_signal` where the digit is the top one. Sizes are equal.
void net_signal(std::span<const float> digits, std::span<const float> background, float gain, float top_digit,
                std::span<float> net);

/// Which of up to 64 samples stand above the threshold: bit k for sample k.
[[nodiscard]] std::uint64_t samples_above(std::span<const float> net, float threshold);

/// The first of the highest samples; needs one, and no NaN among them.
[[nodiscard]] std::size_t highest_sample(std::span<const float> net);

/// One peak of a frame.
struct LocatedPeak {
    PeakWindow window;
    Spot spot;            ///< result of `locate` if this peak were chosen
    bool chosen = false;  ///< by the rule of the options
};

/// Finds peaks, chooses one, and locates it.
/// `no_peak`: nothing reaches half the threshold, or the index asked for does not exist; `too_dark`: something does,
/// but not the threshold; `saturated`: a pixel of the chosen peak is at the top digit; `out_of_range`: the chosen peak
/// is cut off by the array's end. `nearest` is the peak at the highest pixel, `farthest` that at the lowest; peaks are
/// numbered from the near end.
[[nodiscard]] Spot locate(std::span<const float> net, const LocateOptions& options);

/// Every peak of a frame, located, from the near end on: its index in the list is that of `choose.index`.
/// One is the chosen peak, with the spot that `locate` returns; none is chosen if the list is empty or the index
/// asked for does not exist, and then `locate` gives the reason.
[[nodiscard]] std::vector<LocatedPeak> locate_all(std::span<const float> net, const LocateOptions& options);

}  // namespace spotwright::reading
