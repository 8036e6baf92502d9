// Frames of a moving part: no more of the array is looked at than may matter to a reading.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "sim/detector/expose.hpp"
#include "sim/sensor/instrument.hpp"

namespace spotwright::measure {

/// How near the array's dark pixels are to where a peak may be found: half the threshold, below which `locate` makes no
/// difference. The worst of all pixels at one exposure, and anything between two exposures where both are bounded.
struct DarkBound {
    double margin = 0.0;    ///< from the mean net signal to that level; below 0: reached. [e]
    double variance = 0.0;  ///< [e^2]

    /// Of both.
    void join(const DarkBound& other);

    /// Least light that may bring a pixel there with a chance of 1e-12 or more (Bernstein's inequality, see
    /// `expose_pose`); 0: none is needed. [e]
    [[nodiscard]] double min_light() const;
};

/// What the sensor sees with the laser off at one exposure.
struct DarkFrame {
    std::vector<float> background;  ///< that it takes off. [DN]
    DarkBound bound;
};

/// @param ambient_rate  Photoelectrons per second and pixel. [1/s]
/// @param brightest_rate  The same at the brightest of flickering lamps, which the bound allows for. [1/s]
[[nodiscard]] DarkFrame make_dark_frame(const sensor::TriangulationSetup& setup, double ambient_rate,
                                        double brightest_rate, double exposure);

/// A background that is mixed of others.
struct BackgroundShare {
    const std::vector<float>* background = nullptr;  ///< [DN]
    double share = 0.0;                              ///< [1]

    friend bool operator==(const BackgroundShare&, const BackgroundShare&) = default;
};

/// A pose that is exposed anew for each reading, in a window of the array; nothing beyond the window is valid.
class MovingFrame {
public:
    /// Pixels, whole blocks of them, that stand for some on which there may be something to find; at least one block.
    /// @param pixels  From the first to before the last; the first not below the last: there are none.
    [[nodiscard]] static std::array<std::size_t, 2> window_of(const std::array<std::int64_t, 2>& pixels,
                                                              std::size_t count);

    /// The pose of this light, ready to be read.
    /// @param rate  Of the array. [1/s]
    const sensor::Pose& expose(const sensor::TriangulationSetup& setup, const std::vector<float>& rate,
                               const std::array<std::size_t, 2>& window, double ambient_rate,
                               const detector::Timing& timing, std::span<const BackgroundShare> backgrounds);

private:
    void mix_background(std::size_t first, std::size_t last, std::span<const BackgroundShare> backgrounds);

    sensor::Pose pose_;
    detector::PixelExposure exposure_;               // of the last pose; its exposure is 0 before there is one
    std::vector<BackgroundShare> mixed_;             // that the pose's background is mixed of
    std::array<std::size_t, 2> mixed_pixels_{0, 0};  // where it is
};

}  // namespace spotwright::measure
