// A log beside the prediction, and the parameters of the model that explain it.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/bench/log.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::bench {

/// One quantity of the log beside the model's. Lengths in m.
struct Compared {
    std::string name;  ///< as in `still_sd_um`: with the unit in which it is shown
    double measured = 0.0;
    double predicted = 0.0;
    std::optional<study::Interval> measured_interval;   ///< 95 %
    std::optional<study::Interval> predicted_interval;  ///< 95 %
    std::optional<bool> agree;                          ///< the intervals meet; none where there are none
};

/// A parameter of the model, from the log.
struct Fitted {
    std::string name;  ///< with its unit likewise, in SI here
    double value = 0.0;
    std::optional<double> standard_uncertainty;  ///< none where the value lies at the end of what is possible
    study::Interval interval;                    ///< 95 %
};

struct BenchFit {
    std::string basis;                ///< from what, in words
    std::vector<Fitted> parameters;   ///< empty if the log does not determine them: see `remarks`
    std::optional<double> remaining;  ///< standard deviation of what the fit leaves (linearity). [m]
    std::vector<std::string> remarks;
};

struct Bench {
    std::vector<Compared> compared;
    BenchFit fit;
};

/// Of a log over time: scatter, valid share and, where it is recorded, the signal, as the model has them for whatever
/// patch of its surface the part may show. Fitted are the part's reflectance,
/// as a factor of the scenario's, and noise that the model does not know, added in quadrature; without the signal the
/// reflectance alone, to the scatter.
[[nodiscard]] Bench compare_with_model(const BenchLog& log, const TimeStatistics& statistics,
                                       const sensor::Setup& setup, int threads);

/// Of a linearity log: the figures of linearity. Fitted are the part's tilt in the mounting plane and the offset of the
/// reading from the reference.
[[nodiscard]] Bench compare_with_model(const BenchLog& log, const LinearityStatistics& statistics,
                                       const sensor::Setup& setup, int threads);

}  // namespace spotwright::bench
