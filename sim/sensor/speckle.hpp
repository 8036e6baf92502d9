// Speckle laid over the light of one pose: on a part that stands still, and on one that is moved between readings.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "sim/receiver/coherent_speckle.hpp"
#include "sim/receiver/grain.hpp"
#include "sim/receiver/speckle_field.hpp"
#include "sim/sensor/instrument.hpp"

namespace spotwright::sensor {

/// The speckle of a part before an instrument.
struct Speckle {
    scenario::SpeckleModel model = scenario::SpeckleModel::coherent;  ///< that is used; never `off`
    std::string why_statistical;  ///< where the coherent model was asked for and would cost too much
    receiver::SpeckleView view;
    receiver::SpeckleField field;               ///< closed forms, and the fast model
    std::optional<receiver::SpecklePlan> plan;  ///< of the coherent model
    std::optional<receiver::GrainView> grain;   ///< of a volume whose material has grains
    Eigen::Vector2d place = {0.0, 0.0};         ///< of the lit point on the part. [m]
};

/// None where speckle is off, nothing scatters, the beam misses the part, or the lit point cannot be seen.
/// @param light  Of the pose, without speckle: where it is brightest is where the pattern is worked out.
[[nodiscard]] std::optional<Speckle> make_speckle(const TriangulationSetup& setup, double displacement,
                                                  const receiver::Profile& light);

/// The light of a pose under one pattern. Mirrored light m does not speckle by itself; with scattered light d it
/// interferes: I = m + d S + 2 sqrt(m d) F, S and F the pattern's intensity and field. [1/s]
/// Equation (speckle.8).
[[nodiscard]] std::vector<float> under_pattern(const receiver::Profile& profile,
                                               const receiver::SpecklePattern& pattern);

/// The pattern that the part shows where it stands, index 0, or at the n-th other patch of its surface. Pixels beyond
/// the image of the lit patch (light of a second face, or of a second reflection) see the fast model's.
[[nodiscard]] receiver::SpecklePattern pattern_at(const Speckle& speckle, const scenario::Scenario& scenario,
                                                  std::int64_t patch, receiver::SpeckleWorkspace& workspace);

/// Brightness of the grains where `pattern_at` has its pattern, which contains it; empty without grains.
[[nodiscard]] std::vector<float> grains_at(const Speckle& speckle, const scenario::Scenario& scenario,
                                           std::int64_t patch);

/// The same at any place of the surface. @param index  Of the fast model's pattern, >= 0.  @param place  On the part.
/// [m]
[[nodiscard]] receiver::SpecklePattern pattern_of_patch(const Speckle& speckle, const scenario::Scenario& scenario,
                                                        std::int64_t index, const Eigen::Vector2d& place,
                                                        receiver::SpeckleWorkspace& workspace);

/// Work of one pattern of the coherent model: places, times patterns that add up to it; 0 for the fast one.
[[nodiscard]] double work_of_pattern(const Speckle& speckle);

/// Scattered light on the array, before the pixels, as the part shows it where it stands; none but by the coherent
/// model.
[[nodiscard]] std::optional<receiver::SpeckleImage> image_of_patch(const Speckle& speckle,
                                                                   const scenario::Scenario& scenario);

/// What speckle does at one pose.
struct SpeckleStatistics {
    scenario::SpeckleModel model = scenario::SpeckleModel::coherent;
    std::string why_statistical;
    std::int64_t patches = 0;
    std::int64_t patches_read = 0;             ///< of them: they give a reading without noise
    double pattern_contrast = 0.0;             ///< of scattered light, before pixels add it up. [1]
    double contrast = 0.0;                     ///< of all light on the bright pixels. [1]
    double size = 0.0;                         ///< full width at half maximum of a speckle along the array. [m]
    std::optional<double> standard_deviation;  ///< of noiseless readings from patch to patch. [m]
    std::optional<double> grain_deviation;     ///< of them, by the grains of the material alone. [m]
    std::optional<double> offset;              ///< noiseless reading of this patch less that without speckle. [m]
    double limit = 0.0;                        ///< closed form for the pattern's contrast. [m]
    std::optional<double> replaced_deviation;  ///< of outputs when each reading meets another patch. [m]
    double replaced_valid_share = 0.0;
    std::int64_t replaced_independent = 0;        ///< outputs, or patches where these are fewer, that stand behind it
    std::optional<receiver::SpeckleImage> image;  ///< of the part where it stands; none but by the coherent model
};

/// The pose as the part shows it where it stands: its own frozen pattern, and the exposure that suits it.
[[nodiscard]] Pose still_pose(const TriangulationSetup& setup, const Pose& pose, const Speckle& speckle);

/// The scenario's part at a displacement, under its own pattern where it has one.
/// @param threads  For the ray model; 0: all cores.
[[nodiscard]] Pose pose_under_speckle(const TriangulationSetup& setup, double displacement, int threads);

/// The pose of a part that is moved between readings, by the fast model: each reading draws a pattern of its own. The
/// exposure is the given pose's.
/// @param smooth  The light without speckle.
[[nodiscard]] Pose moving_pose(const TriangulationSetup& setup, const Pose& still, const receiver::Profile& smooth,
                               const Speckle& speckle);

/// Poses of `run.patches` other patches, otherwise as the still one; at its exposure, or with automatic exposure at the
/// one that suits each.
/// @param smooth  The light without speckle.
[[nodiscard]] std::vector<Pose> poses_of_patches(const TriangulationSetup& setup, const Pose& still,
                                                 const receiver::Profile& smooth, const Speckle& speckle, int threads);

}  // namespace spotwright::sensor
