#include "sim/receiver/coherence.hpp"

#include <cmath>

#include "sim/base/constants.hpp"

namespace spotwright::receiver {

double wavenumber_deviation(double wavelength, double linewidth) {
    const double deviation = linewidth / std::sqrt(8.0 * std::log(2.0));
    return 2.0 * base::pi * deviation / (wavelength * wavelength);
}

double polarisation_contrast(double polarisation_degree) {
    return std::sqrt(0.5 * (1.0 + polarisation_degree * polarisation_degree));
}

double spectral_contrast(double wavenumber_deviation, double path_deviation) {
    const double phase = 2.0 * wavenumber_deviation * path_deviation;
    return 1.0 / std::sqrt(std::sqrt(1.0 + phase * phase));
}

double pattern_contrast(const Coherence& coherence) {
    return polarisation_contrast(coherence.polarisation_degree) *
           spectral_contrast(coherence.wavenumber_deviation, coherence.path_deviation);
}

}  // namespace spotwright::receiver
