// A triangulation sensor, calibrated; the same before a part; and one pose of that part.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "sim/detector/array.hpp"
#include "sim/detector/exposure.hpp"
#include "sim/detector/frames.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/reading/calibration.hpp"
#include "sim/reading/locate.hpp"
#include "sim/receiver/image.hpp"
#include "sim/receiver/speckle_field.hpp"
#include "sim/scenario/sensor_keys.hpp"
#include "sim/target/volume_walk.hpp"

namespace spotwright::sensor {

/// Share of the span by which the calibration reaches past either end of the range, so that noise at an end is no
/// reason to lose a reading.
inline constexpr double calibration_overreach = 0.02;

/// A sensor, built and calibrated. It does not depend on part, surroundings or run.
struct Instrument {
    scenario::SensorKeys keys;  ///< of which it is made
    emitter::Beam beam;
    receiver::Receiver receiver;
    receiver::EdgeSpread edge_spread;
    detector::FixedPattern pattern;
    reading::Calibration calibration;
};

/// A sensor before a part.
struct TriangulationSetup {
    Instrument instrument;  ///< at the temperature of the surroundings
    scenario::Scenario scenario;
    std::optional<target::CachedWalk> walk = std::nullopt;  ///< of a translucent part, as the scenario lights it
};

/// Builds the sensor and calibrates it on its reference (a matt white tile, or a mirror in a specular mount) over its
/// range, squarely mounted, at an exposure that suits the reference, without temporal noise (as a long average would
/// be), at 20 C.
/// @param threads  0: all cores.
/// @throws ScenarioError  The range is outside what the geometry can measure, or the reference's spot cannot be located
/// at
///   some place of it.
/// Equation (study.1).
[[nodiscard]] Instrument make_instrument(const scenario::Scenario& scenario, int threads);

/// Whether the reference is read at both ends of the range, where the calibration fails first; takes two images.
/// @throws ScenarioError  The range is outside what the geometry can measure.
[[nodiscard]] bool calibrates_at_ends(const scenario::Scenario& scenario);

/// The walk of light through the scenario's part, with enough photons for all readings to come; none where no light
/// goes in.
[[nodiscard]] std::optional<target::CachedWalk> make_walk(const TriangulationSetup& setup);

/// Sets the sensor before the scenario's part, and brings it to the temperature of the surroundings.
/// @throws InternalError  The scenario's sensor is another one: its `sensor_keys` differ.
[[nodiscard]] TriangulationSetup set_up(const Instrument& instrument, const scenario::Scenario& scenario);

/// Distance between two calibration points. [m]
[[nodiscard]] double calibration_spacing(double near, double far);

/// What a reading of the part at this displacement gives without noise and saturation, by the spot model; none where it
/// is invalid. [m]
[[nodiscard]] std::optional<double> noiseless_reading(const TriangulationSetup& setup, double displacement);

/// The same of images of the part at this displacement moved along the array: see `receiver::images_moved`.
/// @param shifts  [m]  @param exposure  None: one that suits each image. [s]
[[nodiscard]] std::vector<std::optional<double>> noiseless_readings(const TriangulationSetup& setup,
                                                                    double displacement, std::span<const double> shifts,
                                                                    std::optional<double> exposure = {});

/// Speckle that each reading of a moved part meets anew, by the fast model.
struct FreshSpeckle {
    receiver::SpeckleField field;
    std::vector<float> light;  ///< what of each pixel's electrons speckles: see `detector::RelativeLight`. [e]
};

/// Everything that readings of one still part have in common.
struct Pose {
    double displacement = 0.0;       ///< of the part's reference surface. [m]
    double true_displacement = 0.0;  ///< of the point that the beam's axis lights; the former where it misses. [m]
    receiver::Profile profile;
    /// Standard error of a reading from the image's own: by the ray model always, by the spot model where its estimate
    /// of the centroid's error is beyond the tolerance of images. [m]
    std::optional<double> model_error;
    double ambient_rate = 0.0;  ///< photoelectrons per second and pixel, of lamps and glow. [1/s]
    double glow_rate = 0.0;     ///< what of it is the glow of a hot part. [1/s]
    /// Photoelectrons per second of a second sensor while it is on, pixel by pixel; empty: none is seen. Where it
    /// lights at the same time they are in the profile as well. [1/s]
    std::vector<float> neighbour;
    double jitter = 0.0;   ///< of the spot by the pointing of the beam, standard deviation. [px]
    bool flickers = true;  ///< readings meet the flicker of the scenario's lamps; else their mean light
    detector::Timing timing;
    detector::ExpectedFrame expected;
    std::vector<float> background;  ///< of the whole array. [DN]
    reading::LocateOptions locate;
    std::optional<FreshSpeckle> fresh;  ///< none: the light is the same for each reading
    std::int64_t first_unit = 0;        ///< units of 16 pixels that are drawn: see `draw_window`
    std::int64_t unit_count = 0;
};

/// Without speckle: see sensor/speckle.hpp.
/// @param displacement  Of the part's reference surface. [m]  @param threads  For the ray model; 0: all cores.
[[nodiscard]] Pose make_pose(const TriangulationSetup& setup, double displacement, int threads = 0);

/// The same for pictures that follow a moving hand: by the spot model, with an image of `receiver::coarse`, whatever
/// the scenario asks for. No model error.
[[nodiscard]] Pose make_coarse_pose(const TriangulationSetup& setup, double displacement);

/// Of a scenario that asks for the ray model, the light of one part of its rays: see `receiver::trace_batch`.
[[nodiscard]] receiver::Profile trace_batch(const TriangulationSetup& setup, double displacement, std::int64_t batch);

/// The pose by the ray model from the parts of its rays that were traced so far, at least one; from all of them in
/// their order what `make_pose` gives.
[[nodiscard]] Pose pose_of_rays(const TriangulationSetup& setup, double displacement,
                                std::vector<receiver::Profile> batches);

/// Sets the exposure that suits the light of the pose, and measures the background at it.
void settle_exposure(const TriangulationSetup& setup, Pose& pose);

/// The background that the sensor takes off: mean digits of its laser-off frames at this exposure, or one level made of
/// them. [DN]  @param ambient_rate  Photoelectrons per second and pixel. [1/s]
[[nodiscard]] std::vector<float> measure_background(const TriangulationSetup& setup, double ambient_rate,
                                                    double exposure);

/// Exposes the light of the pose: frame and window of pixels, from profile and timing.
void expose_pose(const TriangulationSetup& setup, Pose& pose);

/// What readings of a pose give without noise and saturation, at its exposure; none where it is invalid. [m]
[[nodiscard]] std::optional<double> noiseless_reading(const TriangulationSetup& setup, const Pose& pose);

/// Pixels of the peak that such a reading stands on: from the first to the last over the threshold, none without a
/// peak.
[[nodiscard]] std::size_t pixels_read(const TriangulationSetup& setup, const Pose& pose);

/// Expected signal of the brightest pixel, without background. [e]
[[nodiscard]] double expected_peak(const Pose& pose);

/// Variance of a dark pixel: read noise and quantisation. [e^2]
/// Equation (study.9).
[[nodiscard]] double dark_variance(const scenario::Detector& detector);

/// One reading: frame, background, peak, calibration.
struct RawReading {
    reading::Validity validity = reading::Validity::no_peak;
    double position = 0.0;            ///< [px]
    double displacement = 0.0;        ///< [m]
    float peak = 0.0F;                ///< [e]
    std::optional<double> thickness;  ///< between the two nearest peaks, where asked for and both are located. [m]
};

/// Buffers of one thread, so that readings allocate nothing.
struct Scratch {
    std::vector<float> digits;
    std::vector<float> relative;
    std::vector<float> net;
    std::vector<detector::OwnFrame> frames;
    detector::ExpectedFrame flickered;  ///< of one reading under lamps that flicker
};

/// @param index  Of the reading, >= 0: chooses its random numbers.
[[nodiscard]] RawReading take_reading(const TriangulationSetup& setup, const Pose& pose, std::int64_t index,
                                      Scratch& scratch);

/// The readings from this index on, as `take_reading` takes them one by one; costs less.
void take_readings(const TriangulationSetup& setup, const Pose& pose, std::int64_t first, Scratch& scratch,
                   std::span<RawReading> readings);

/// Successive readings from this index on, each of its own pose and without fresh speckle, as `take_reading` takes them
/// one by one; costs less.
/// @param poses  As many as readings.
void take_own_readings(const TriangulationSetup& setup, std::span<const Pose* const> poses, std::int64_t first,
                       Scratch& scratch, std::span<RawReading> readings);

/// Digits of the whole array for one reading, as `take_reading` sees them. [DN]
[[nodiscard]] std::vector<float> frame_of(const TriangulationSetup& setup, const Pose& pose, std::int64_t index);

}  // namespace spotwright::sensor
