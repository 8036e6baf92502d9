// Frames of a moving part: what is the same for all of them is made once, and the rest is as much as pixels are lit.
#pragma once

#include <cstddef>
#include <vector>

#include "sim/study/moving_light.hpp"

namespace spotwright::study {

/// A frame without light of the laser, and which of its pixels may matter all the same.
struct DarkFrame {
    Pose pose;
    std::size_t first = 0;      ///< pixel that may matter
    std::size_t last = 0;       ///< one past the last; not more than `first`: none does
    std::size_t brightest = 0;  ///< pixel
};

/// @param ambient_rate  Photoelectrons per second and pixel. [1/s]  @param background  That the sensor takes off. [DN]
[[nodiscard]] DarkFrame make_dark_frame(const Instrument& instrument, double ambient_rate,
                                        const detector::Timing& timing, const std::vector<float>& background);

/// A dark frame on which light falls, reading after reading.
class MovingFrame {
public:
    /// The pose of this light, ready to be read. Work goes with the pixels that are lit.
    /// @param dark  Another one than before: it is copied.
    const Pose& lit(const Instrument& instrument, const DarkFrame& dark, const LightSum& light);

    /// Another dark frame may stand where the last one did.
    void forget() { dark_ = nullptr; }

private:
    void darken(const DarkFrame& dark);

    Pose pose_;
    const DarkFrame* dark_ = nullptr;
    std::size_t first_ = 0;  // pixels that were lit
    std::size_t last_ = 0;
};

}  // namespace spotwright::study
