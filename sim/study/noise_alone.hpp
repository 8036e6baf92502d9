// One source of noise of a frame at a time.
#pragma once

#include "sim/sensor/instrument.hpp"

namespace spotwright::study {

/// Digitising is the rounding to whole digits; ambient is the shot noise of ambient light and dark current.
enum class NoiseSource { none, shot, read, digitising, ambient };

/// The pose with the same mean light, in which one source of noise acts alone, over a background that is known exactly.
/// Electrons that make no noise become a fixed offset; digits that do not round are a thousand times finer.
/// @param background_rate  Ambient light when the background was measured, electrons per second and pixel. [1/s]
[[nodiscard]] sensor::Pose with_noise_alone(const sensor::TriangulationSetup& setup, const sensor::Pose& pose,
                                            NoiseSource source, double background_rate);

/// The same with the background the pose has measured: see `settle_exposure`.
[[nodiscard]] sensor::Pose with_background_alone(const sensor::TriangulationSetup& setup, const sensor::Pose& pose);

/// A reading of the pose without any noise, digitising included; none where it is invalid. [m]
[[nodiscard]] std::optional<double> quiet_reading(const sensor::TriangulationSetup& setup, const sensor::Pose& pose,
                                                  double background_rate);

}  // namespace spotwright::study
