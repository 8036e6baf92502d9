// The main task: a series of readings of one part, its statistics, and the verdict.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "sim/sensor/flight_instrument.hpp"
#include "sim/measure/moving.hpp"
#include "sim/measure/verdict.hpp"
#include "sim/sensor/glare.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/measure/series.hpp"
#include "sim/sensor/speckle.hpp"

namespace spotwright::measure {

struct Signal {
    double peak = 0.0;            ///< expected signal of the brightest pixel. [e]
    double peak_share = 0.0;      ///< of full well; above 1 it saturates. [1]
    double background = 0.0;      ///< ambient light and dark current of a pixel. [e]
    double lamps = 0.0;           ///< what of it is light of lamps and sky. [e]
    double glow = 0.0;            ///< what of it is the glow of a hot part; triangulation. [e]
    double haze = 0.0;            ///< share of it in what the lit point scatters to the lens; triangulation. [1]
    double received_power = 0.0;  ///< on the array, while the laser is on. [W]
    double ghost = 0.0;           ///< peak of the ghost by filter and window, of full well; triangulation. [1]
};

/// Result of one frequency, without noise.
struct FrequencyResult {
    double frequency = 0.0;  ///< [Hz]
    double phase = 0.0;      ///< in [0, 2 pi), as the buckets have it. [rad]
    double amplitude = 0.0;  ///< of a bucket's charge. [e]
    double offset = 0.0;     ///< mean charge of a bucket. [e]
    double deviation = 0.0;  ///< standard deviation of the phase of one reading, closed form. [rad]
};

/// Results of triangulation alone.
struct TriangulationDetails {
    sensor::Pose pose;  ///< of the part where it stands, under its own speckle pattern
};

/// Results of time of flight, by any method.
struct TimedLight {
    double unambiguous_distance = 0.0;  ///< [m]
    double path_deviation = 0.0;        ///< standard deviation of the light's path: depth within the spot. [m]
    double grains = 0.0;                ///< speckle patterns that the detector adds up. [1]
    double brightness = 0.0;            ///< see `sensor::brightness_of`. [1]
    double table_left = 0.0;            ///< largest error between points of the table of corrections. [m]
    sensor::FlightPose pose;            ///< of the part where it stands, under its own speckle
};

/// Results of a phase shift alone.
struct PhaseDetails {
    TimedLight light;
    std::vector<FrequencyResult> frequencies;
    double wrap_error_chance = 0.0;  ///< closed form for the nearest confusion. [1]
    double wrong_wrap_share = 0.0;   ///< of valid readings: more than half a period off. [1]
};

/// Results of the timing of pulses alone, without noise.
struct PulseDetails {
    TimedLight light;
    double electrons = 0.0;           ///< photoelectrons of one pulse. [e]
    double noise_ratio = 0.0;         ///< peak of the signal over the amplifier's noise; 0 for counting. [1]
    double answered_share = 0.0;      ///< pulses that give a time: mean over the readings. [1]
    std::optional<double> deviation;  ///< standard deviation of the time of one pulse, closed form. [s]
    double overload = 0.0;            ///< peak without saturation, over the amplifier's saturation; 0: never. [1]
};

/// Results of one principle alone.
using Details = std::variant<TriangulationDetails, PhaseDetails, PulseDetails>;

/// The light that is timed; null where none is.
[[nodiscard]] const TimedLight* timed_light(const Details& details);

struct ReadResult {
    double true_displacement = 0.0;  ///< of a moving part: mean truth of the outputs. [m]
    detector::Timing timing;         ///< of a part that moves: at time 0, as the signal
    double response_time = 0.0;      ///< of the output to a step. [s]
    Signal signal;
    SeriesStatistics statistics;
    std::optional<double> bias;        ///< mean output less truth, with the speckle of this patch. [m]
    std::optional<double> systematic;  ///< of it, what is left without speckle: the same wherever the beam lands. [m]
    /// Of it, what markings of the surface bring: the reading without noise and speckle less that of the same part
    /// without them; none without markings, on the move, by the ray model, or where either gives no reading. [m]
    std::optional<double> marking_error;
    /// Not of it, as the models leave it out: see `inside_error`. Verdicts count it. [m]
    std::optional<double> inside_error;
    double air_wander = 0.0;         ///< standard deviation of outputs by hot air. [m]
    double air_wander_single = 0.0;  ///< of single readings. [m]
    double mount_shake = 0.0;        ///< standard deviation of outputs by a vibration of the mount. [m]
    /// What a second sensor brings to outputs of one that times light, over all phases between the clocks: see
    /// `sensor::neighbour_errors`. [m]
    double neighbour_shift = 0.0;    ///< mean
    double neighbour_scatter = 0.0;  ///< standard deviation
    /// Of it, what errors of focus and aberrations bring: that of this sensor less that of one with an ideal lens, each
    /// calibrated; none with an ideal lens, on the move, by the ray model, or where either gives no reading. [m]
    std::optional<double> lens_error;
    std::optional<double> glass_error;  ///< likewise, of a cover glass that was not there at the calibration. [m]
    double pointing_deviation = 0.0;    ///< of a reading, by the pointing of the beam. [m]
    double spot_radius = 0.0;           ///< 1/e^2, in the plane of the mounting, where the beam meets the part. [m]
    std::optional<double> pixel_error;  ///< see pixel_error.hpp. [m]
    std::optional<double> model_error;  ///< see `Pose::model_error`. [m]
    std::optional<sensor::SpeckleStatistics> speckle;  ///< none where it is off or nothing scatters
    /// Of a part with gloss before a triangulation sensor; on the move at time 0.
    std::optional<sensor::Glare> glare;
    std::optional<double> turned_lay_gain;  ///< see `gain_by_turned_lay`; likewise. [1]
    Verdict verdict;
    std::optional<TrackingResult> tracking;   ///< none for a part that stands still
    std::optional<ExposureUse> exposure_use;  ///< likewise
    std::optional<Scan> scan;                 ///< none where the motion is no scan
    Details details;
};

struct ReadOptions {
    int threads = 0;
    std::function<void(const SeriesBlock&)> sink;
    std::function<void(std::int64_t done, std::int64_t all)> progress;
};

/// Reads the scenario's part `run.readings` times where it stands, and as often moved to another patch between
/// readings. A part that moves, or has segments, is traced from place to place; its light and speckle are
/// those of time 0.
/// @throws ScenarioError  What `MovingScene` rejects.
[[nodiscard]] ReadResult read(const sensor::TriangulationSetup& setup, const ReadOptions& options);

/// The same by any principle.
[[nodiscard]] ReadResult read(const sensor::Setup& setup, const ReadOptions& options);
/// Catches a kind of setup without its own `read`: it would convert to `Setup` and recurse without end.
template <class Other>
ReadResult read(const Other&, const ReadOptions&) = delete;

/// Copies the results of a series over time into a result.
void follow(const scenario::Scenario& scenario, const MovingSeries& series, ReadResult& result);

/// U = k sqrt(sum of squared standard deviations) + |bias|, k = 2, judged against the tolerance T: `stable` when U <= T
/// / uncertainty_ratio and enough readings are valid, `marginal` when U <= T and somewhat fewer are, `unreadable` when
/// fewer than half are, else `unstable`. Of valid shares the lesser counts: of the part where it stands, or moved to
/// other patches. Source: JCGM 100:2008 for the combination (F.2.4.5 for the uncorrected bias); the 4:1 ratio is common
/// practice.
/// Equation (study.5).
[[nodiscard]] Verdict judge(const scenario::Scenario& scenario, const ReadResult& result);

}  // namespace spotwright::measure
