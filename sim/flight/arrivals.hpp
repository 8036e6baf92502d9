// Light that comes back to the detector, told apart by how long it was on its way.
#pragma once

#include <vector>

namespace spotwright::flight {

/// Light of one delay.
struct Arrival {
    double delay = 0.0;  ///< from the emitter's face to the detector. [s]
    double rate = 0.0;   ///< mean photoelectrons per second while the emitter is on. [1/s]
};

/// All that reaches the detector: what the pulse or the modulation is laid over, and what stays the same.
struct Light {
    std::vector<Arrival> arrivals;  ///< by delay, ascending
    double constant_rate = 0.0;     ///< ambient light and dark current. [1/s]
};

}  // namespace spotwright::flight
