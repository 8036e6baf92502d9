#include <cmath>
#include <limits>

#include "sim/flight/unwrap.hpp"
#include "sim/validation/phase.hpp"

namespace spotwright::validation {

flight::Modulation ideal_modulation(scenario::Waveform waveform, std::int64_t buckets) {
    return {waveform, worked_modulation, 1.0, std::numeric_limits<double>::infinity(), buckets, 0.5};
}

std::vector<double> mean_buckets(const flight::Modulation& modulation, const std::vector<BucketLight>& light,
                                 double steady) {
    const double open_time = modulation.gate_share * worked_measurement_time / static_cast<double>(modulation.buckets);
    flight::Light arriving{{}, steady / open_time};
    for (const BucketLight& part : light) {
        arriving.arrivals.push_back({part.phase / (2.0 * base::pi * modulation.frequency), part.signal / open_time});
    }
    return flight::bucket_electrons(modulation, arriving, worked_measurement_time);
}

double signal_of_amplitude(const flight::Modulation& modulation, double amplitude) {
    return amplitude / std::abs(flight::harmonic(modulation, 1));
}

double phase_difference(double phase, double from) {
    return std::remainder(phase - from, 2.0 * base::pi);
}

double distance_read(const flight::Modulation& modulation, const std::vector<double>& buckets) {
    const flight::Demodulated found = flight::demodulate(buckets);
    const flight::PhaseReading reading{modulation.frequency, found.phase,
                                       flight::phase_deviation(found, modulation.buckets, 0.0)};
    const auto unwrapped = flight::unwrap({&reading, 1}, {0.0, 1.0 / modulation.frequency});
    return 0.5 * base::speed_of_light * unwrapped.value().delay;
}

}  // namespace spotwright::validation
