#include "sim/validation/experiments.hpp"

#include <cmath>

namespace spotwright::validation {

bool agrees(const ExperimentResult& result) {
    return std::abs(result.simulated - result.published) <= result.tolerance;
}

std::vector<Experiment> experiments(int threads) {
    return {edge_experiment(threads),         first_photon_experiment(),  pulse_receiver_experiment(),
            range_camera_experiment(threads), marble_experiment(threads), moving_phase_experiment(threads)};
}

}  // namespace spotwright::validation
