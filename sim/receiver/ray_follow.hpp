// Single rays followed from the beam to the part and on, and what of their light comes through the aperture.
#pragma once

#include <array>
#include <optional>

#include <Eigen/Core>

#include "sim/base/random.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/receiver/ray_inside.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::receiver {

/// A ray of the beam.
struct LaunchedRay {
    emitter::BeamRay ray;
    double power = 0.0;  ///< [W]
    double path = 0.0;   ///< of the light at its origin, from the emitter's face. [m]
    emitter::Polarisation light;
};

/// Follows single rays, of which each is independent of the others. Light is told as the spot model does, but for
/// `CollectedRay::path`, which is that of the ray itself: see `path_to_array`.
class RayFollower {
public:
    /// @param scene  Lives at least as long, like all that it refers to.
    RayFollower(const Scene& scene, const Collect& collect);

    /// Hands on what of the ray comes through the aperture: where it meets the part, scattered light by one look
    /// through a place of the aperture, mirrored light where it passes. Then the ray goes on as one of them, drawn by
    /// their shares, until it leaves or dies by lot; what enters a plate or a volume is followed inside. All sums are
    /// true on average.
    /// @param through  Two even numbers for the place of the aperture by which scattered light is first looked at.
    void follow(const LaunchedRay& launched, std::array<double, 2> through, base::RandomSequence& random);

private:
    bool mark(Eigen::Vector3d& place, Eigen::Vector3d& normal, const Eigen::Vector3d& to_light,
              base::RandomSequence& random);
    void count_scattered(const Eigen::Vector3d& place, const Eigen::Vector3d& to_light, const Eigen::Vector3d& normal,
                         std::array<double, 2> uniform);
    bool count_mirrored(const Eigen::Vector3d& place, const Eigen::Vector3d& mirrored, double power);

    Scene scene_;
    std::optional<Scene> covered_scene_;  // of the material that covers some of the part
    const Collect& collect_;
    bool meets_itself_;
    Eigen::Vector3d axis_;

    // Of the ray that is followed.
    const target::Surface* surface_ = nullptr;  // that it meets
    double power_ = 0.0;                        // [W]
    double path_ = 0.0;                         // [m]
    bool scattered_ = false;                    // on its way
    bool counts_ = true;                        // its light, from this meeting with the part on
    emitter::Polarisation light_;
};

}  // namespace spotwright::receiver
