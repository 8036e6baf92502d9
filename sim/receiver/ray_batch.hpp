// Rays in batches, one array for each of their numbers, so that kernels work on several side by side.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>

#include <Eigen/Core>

#include "sim/emitter/beam.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/receiver/lattice.hpp"
#include "sim/target/footprint.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::receiver {

/// Three coordinates in the receiver's own axes. Of a place: axial counts from the lens towards the part, transverse
/// and out of plane as `ReceiverPoint`. Of a direction: towards the lens, transverse, out of plane.
struct Lanes3 {
    alignas(64) Lane axial;
    alignas(64) Lane transverse;
    alignas(64) Lane out_of_plane;
};

/// Where rays begin and through which place of the aperture they are asked to go.
struct SampleBatch {               // NOLINT(cppcoreguidelines-pro-type-member-init): kernels fill what counts
    std::size_t count = 0;         ///< rays that stand in the arrays; what lies behind them is not looked at
    alignas(64) Lane offset;       ///< in the beam, in plane, in 1/e^2 radii. [1]
    alignas(64) Lane offset_out;   ///< out of plane. [1]
    alignas(64) Lane spread;       ///< from the stream line, in plane, in angular radii. [1]
    alignas(64) Lane spread_out;   ///< [1]
    alignas(64) Lane power;        ///< of the ray. [W]
    alignas(64) Lane in_plane;     ///< place in the aperture. [m]
    alignas(64) Lane through_out;  ///< [m]
};

/// Which part of the beam's cross-section rays are to come from, along one axis: most of them from [from, to], the
/// fewer the farther away from it, so that none of the beam is left out. In 1/e^2 radii. The whole beam: -+
/// `beam_reach`.
struct BeamWindow {
    double from = -target::beam_reach;
    double to = target::beam_reach;
    double fade = 1.0;  ///< distance from the window at which rays stand half as close by the root, > 0

    friend bool operator==(const BeamWindow&, const BeamWindow&) = default;
};

/// How places of a lattice become rays of the beam: the first two coordinates choose the offset, the others the place
/// in the aperture, or the spread of rays that go on as from a mirror.
struct SamplePlan {
    double power = 0.0;                ///< of the beam. [W]
    BeamWindow window;                 ///< out of plane
    std::optional<Aperture> aperture;  ///< none: rays go on as from a mirror
    bool spread = false;               ///< rays spread about the stream lines

    [[nodiscard]] std::size_t dimensions() const { return (aperture ? 4U : 2U) + (spread ? 2U : 0U); }
};

/// Rays of one part of a lattice, as many as are left of it and fit.
/// @param first  Of the part's places, counted within it.
void draw_samples(const SamplePlan& plan, const Lattice& lattice, std::int64_t part, std::int64_t first,
                  SampleBatch& samples);

/// Lit points of a part.
struct LitBatch {  // NOLINT(cppcoreguidelines-pro-type-member-init): kernels fill what counts
    std::size_t count = 0;
    bool timed = false;          ///< whether rays tell the length of their ways
    Lanes3 place;                ///< [m]
    Lanes3 to_light;             ///< unit
    Lanes3 normal;               ///< unit
    alignas(64) Lane power;      ///< incident; 0: the ray misses the part. [W]
    alignas(64) Lane travelled;  ///< see `emitter::path_to`; only if timed. [m]
};

/// Rays on the plane of the array.
struct CollectedBatch {  // NOLINT(cppcoreguidelines-pro-type-member-init): kernels fill what counts
    std::size_t count = 0;
    bool mirrored = false;          ///< they have met nothing but mirrors
    alignas(64) Lane u;             ///< [m]
    alignas(64) Lane v;             ///< [m]
    alignas(64) Lane power;         ///< behind the lens; 0: not collected. [W]
    alignas(64) Lane path;          ///< see `CollectedRay::path`; only if their scene is timed. [m]
    alignas(64) Lane in_plane;      ///< place in the aperture that they have passed. [m]
    alignas(64) Lane out_of_plane;  ///< [m]
    alignas(64) Lane across;        ///< where they left the part; only if their scene asks. [m]
};

/// Takes light in batches.
using CollectBatch = std::function<void(const CollectedBatch&)>;

/// Fills batches of scattered light ray by ray and hands them on when they are full; `flush` hands on the rest.
class BatchWriter {
public:
    explicit BatchWriter(const CollectBatch& collect) : collect_(collect) {
        batch_.count = 0;
        batch_.mirrored = false;
    }

    void add(const ArrayPoint& at, double power, double path) {
        batch_.u[batch_.count] = at.u;
        batch_.v[batch_.count] = at.v;
        batch_.power[batch_.count] = power;
        batch_.path[batch_.count] = path;
        if (++batch_.count == batch_rays) flush();
    }

    void flush() {
        if (batch_.count > 0) collect_(batch_);
        batch_.count = 0;
    }

private:
    CollectedBatch batch_;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled ray by ray
    const CollectBatch& collect_;
};

/// A flat part, for rays of the beam.
struct FlatTarget {
    Eigen::Vector3d place;   ///< any point of it, in the sensor's frame. [m]
    Eigen::Vector3d normal;  ///< unit
};

/// Follows rays of the beam to a flat part. `along` is the distance from the emitter's face at which offsets count. The
/// same bits on every instruction set, as of all kernels here. Results as `emitter::ray_from_face` and `target::meet`,
/// to rounding.
void light_flat(const emitter::Beam& beam, double along, const FlatTarget& target, const Receiver& receiver,
                const SampleBatch& samples, LitBatch& lit);

/// Whether the two functions below know the shape: profiles of few pieces, rolls and balls.
bool has_shape_kernel(const target::Shape& shape);

/// The same as `light_flat` to a part of such a shape.
void light_shape(const emitter::Beam& beam, double along, const target::Part& part, const Receiver& receiver,
                 const SampleBatch& samples, LitBatch& lit);

/// Takes out the light that such a part itself hides from the receiver: see `target::hides`.
void hide_by_shape(const target::Part& part, const Receiver& receiver, const LitBatch& lit, CollectedBatch& collected);

/// Scattered light through the places of the aperture: power times f_r cos(theta_o) cos(theta_lens) dA / d^2 and the
/// receiver's transmission, as `target::scatter` and `trace`. Relative difference from them below 1e-6.
/// @param surface, light  Lay and field in the receiver's axes, as `direction_to_receiver` gives them.
void scatter_to_array(const target::Surface& surface, const emitter::Polarisation& light, const Receiver& receiver,
                      const LitBatch& lit, const SampleBatch& samples, CollectedBatch& collected);

/// The same light with the direction of its field in the receiver's axes.
[[nodiscard]] emitter::Polarisation polarisation_to_receiver(const Receiver& receiver,
                                                             const emitter::Polarisation& light);

/// Mirrored light, where it passes the aperture: power times `target::mirror_reflectance` and transmission.
/// @param light  As for `scatter_to_array`.
void mirror_to_array(const target::Surface& surface, const emitter::Polarisation& light, const Receiver& receiver,
                     const LitBatch& lit, CollectedBatch& collected);

/// What mirrored light has gone through behind the front face of a plate. Its share of the incident light is, for each
/// polarisation, coefficient (1 - R)^passed_faces R^reflections M^mirrors, R of a face of the plate and M of the
/// backing.
struct PlatePath {
    double coefficient = 1.0;  ///< how many ways there are that end at the same place
    int passed_faces = 2;
    int reflections = 1;   ///< at faces of the plate
    int mirrors = 0;       ///< at the backing
    int plate_passes = 1;  ///< to and fro through the plate
    int gap_passes = 0;    ///< to and fro through the gap
};

/// Mirrored light that has been behind the front face, where it passes the aperture.
/// @param light  As for `scatter_to_array`.
/// @param slab  With a backing of a gloss where the path has mirrors.
void plate_mirror_to_array(const target::Surface& surface, const emitter::Polarisation& light, const target::Slab& slab,
                           const PlatePath& path, const Receiver& receiver, const LitBatch& lit,
                           CollectedBatch& collected);

}  // namespace spotwright::receiver
