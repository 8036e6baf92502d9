// Published experiments, reproduced with the set-up that their authors state. A difference is reported, not an error.
#pragma once

#include <string>
#include <vector>

namespace spotwright::validation {

/// One number of an experiment beside the simulated one.
struct ExperimentResult {
    std::string id;        ///< short and stable, as in `edge.width.horizontal`
    std::string quantity;  ///< a sentence
    std::string unit;
    double published = 0.0;
    double simulated = 0.0;
    double tolerance = 0.0;  ///< absolute, in `unit`
    std::string why;         ///< why this tolerance
    std::string comment;     ///< probable cause of a difference, and what the comparison cannot show
};

struct Experiment {
    std::string title;
    std::string article;
    std::string setup;  ///< as the article states it
    std::string model;  ///< how it is simulated, and what is assumed because the article does not state it
    std::vector<ExperimentResult> results;
};

/// |simulated - published| <= tolerance.
[[nodiscard]] bool agrees(const ExperimentResult& result);

/// All experiments, in a fixed order; the same numbers whatever the thread count.
[[nodiscard]] std::vector<Experiment> experiments(int threads);

// By subject; `experiments` joins them.
[[nodiscard]] Experiment edge_experiment(int threads);
[[nodiscard]] Experiment first_photon_experiment();
[[nodiscard]] Experiment pulse_receiver_experiment();
[[nodiscard]] Experiment range_camera_experiment(int threads);
[[nodiscard]] Experiment marble_experiment(int threads);
[[nodiscard]] Experiment moving_phase_experiment(int threads);

}  // namespace spotwright::validation
