// A photon inside a translucent volume: its flights from scatter to scatter, through layers, and what turns it.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

#include <Eigen/Geometry>

#include "sim/base/random.hpp"
#include "sim/target/subsurface.hpp"

namespace spotwright::target {

/// Uniform numbers one after another, fetched many at a time.
class VolumeRandom {
public:
    explicit VolumeRandom(std::uint64_t seed) : key_{seed, base::Stream::volume_walk} {}

    double uniform() {
        if (next_ == words_.size()) {
            base::fill_words(key_, batch_++, 0, words_);
            next_ = 0;
        }
        return (static_cast<double>(words_[next_++]) + 0.5) * 0x1p-32;
    }

private:
    base::RandomKey key_;
    std::int64_t batch_ = 0;
    std::array<std::uint32_t, 1024> words_{};
    std::size_t next_ = words_.size();
};

/// A point of the unit circle, evenly drawn, without the cost of sine and cosine.
[[nodiscard]] std::array<double, 2> draw_azimuth(VolumeRandom& random);

/// In the frame of `WalkGeometry`: z leads into the volume.
struct VolumePhoton {
    Eigen::Vector3d place = Eigen::Vector3d::Zero();       ///< [m]
    Eigen::Vector3d direction = Eigen::Vector3d::UnitZ();  ///< of travel, unit
    double power = 1.0;                                    ///< per entered power. [1]
    double length = 0.0;                                   ///< of the way so far. [m]
};

/// Where a flight ends.
enum class FlightEnd { scatter, backing, outside };

/// Moves the photon by a length, back from the front face where that reflects, and at most to the backing of a layer.
/// Light that is outside was counted where it scattered.
[[nodiscard]] FlightEnd fly(const Volume& volume, VolumePhoton& photon, VolumeRandom& random, double length);

/// A new direction, drawn by the phase function of the volume.
void turn_forward(const Volume& volume, VolumePhoton& photon, VolumeRandom& random);

/// A new direction, up from the backing of a layer, as a matt face sends light back.
void leave_backing(VolumePhoton& photon, VolumeRandom& random);

}  // namespace spotwright::target
