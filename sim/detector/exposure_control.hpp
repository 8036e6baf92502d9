// Automatic exposure as a control loop: each frame's peak sets the exposure of a later one.
#pragma once

#include <deque>

#include "sim/detector/exposure.hpp"

namespace spotwright::detector {

/// Factor by which a frame asks the exposure to change: clip((L / S)^gamma, 1/g, g), S the net signal of the brightest
/// pixel, L = `level` times full well, gamma `loop_gain`, g `step_ratio`. A frame without signal asks for g.
///
/// A saturated frame hides its ratio. It asks for clip(min(level^gamma, 1/2), 1/g, 1): at least half, so that a level
/// near full well does not crawl, and no more than the step allows. Derived; halving is common practice.
/// @param peak  Net signal of the brightest pixel, background taken off; at `full_well` or above it is saturated. [e]
/// Equation (motion.12).
[[nodiscard]] double exposure_change(const scenario::Exposure& exposure, double full_well, double peak);

/// The loop. The exposure is multiplied by what a frame asks for, `latency` readings later than the next:
/// t[n+1] = clip(t[n] change(S[n - latency]), t_min, t_max), t_min the written exposure and t_max the longest period,
/// as for `settled_timing`. A fixed exposure never moves.
///
/// The change is that of the frame, applied to an exposure that has moved on meanwhile: with one frame of latency the
/// error e of the logarithm obeys e[n+1] = e[n] - gamma e[n-1], which overshoots above gamma = 1/4 and never settles at
/// gamma = 1.
/// Equation (motion.11).
class ExposureController {
public:
    /// @param first  Of the first reading, brought within the limits; not used by a fixed exposure. [s]
    ExposureController(const scenario::Exposure& exposure, double full_well, double first);

    /// Of the next reading. The period stretches to the exposure where that is longer. [s]
    [[nodiscard]] Timing timing() const;

    /// Uses the peak of that reading to set the exposure of the next one.
    /// @param peak  As for `exposure_change`. [e]
    void answer(double peak);

private:
    scenario::Exposure rule_;
    double full_well_;
    double exposure_;
    std::deque<double> asked_;  // changes not yet applied, the oldest first
};

}  // namespace spotwright::detector
