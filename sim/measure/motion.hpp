// Position of a moving part at a time, and its segments under the beam.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include <Eigen/Core>

#include "sim/scenario/scenario.hpp"
#include "sim/target/part.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::measure {

/// Whether the part moves at all. A turning cylinder moves even where it runs true: its surface passes.
[[nodiscard]] bool moves(const scenario::Scenario& scenario);

/// Whether readings trace the part from place to place: it moves, has segments, or is set off by an
/// eccentricity.
[[nodiscard]] bool is_moving_series(const scenario::Scenario& scenario);

/// Whether its surface passes under the beam: across, by rotation or by the path.
[[nodiscard]] bool surface_passes(const scenario::Scenario& scenario);

/// A part at a time.
struct PartState {
    double along = 0.0;                ///< displacement of the reference surface. [m]
    Eigen::Vector2d across{0.0, 0.0};  ///< displacement of the shape since time 0, along its own surface: x, y. [m]
    Eigen::Vector2d passed{0.0, 0.0};  ///< displacement of the surface since time 0, rotation included. [m]
    double way = 0.0;                  ///< place along `target.segments` that the beam's axis lights. [m]
    double turned = 0.0;               ///< angle of a rotation since time 0. [rad]
};

/// along = displacement + v t + A sin(2 pi f t) + path(t) - e cos(phi), phi = 2 pi n t + angle of the high spot: the
/// axis of an eccentric cylinder runs on a circle about that of its rotation, e cos(phi) towards the sensor and e
/// sin(phi) with the rotation, so that its surface stands at r(phi) = e cos(phi) + sqrt(R^2 - e^2 sin^2(phi)) under the
/// beam, exactly. Motion across is that of a part that travels along its own surface: a tilted plane stays where it is.
/// Equation (motion.1).
[[nodiscard]] PartState part_state_at(const scenario::Scenario& scenario, double time);

/// The same, for many times.
class Trajectory {
public:
    /// @param scenario  Outlives the course.
    explicit Trajectory(const scenario::Scenario& scenario);

    [[nodiscard]] PartState at(double time) const;

    /// @param cycles  Of the vibration, in place of f t: where its phase does not go with time. [1]
    [[nodiscard]] PartState at(double time, double cycles) const;

private:
    const scenario::Scenario& scenario_;
    Eigen::Vector2d across_;   // velocity. [m/s]
    double speed_ = 0.0;       // across. [m/s]
    double path_share_ = 1.0;  // of the distance that the path's motion towards x counts as. [1]
    Eigen::Vector2d carried_;  // unit: where a turning cylinder carries its surface
    double circumference_ = 0.0;
};

/// The part's shape wherever it goes.
/// Equation (motion.2).
class MovedPart {
public:
    /// @param beam  That lights the part: a warm one may meet a shape elsewhere than that of the scenario.
    /// @throws DomainError  As `target::make_part`.
    MovedPart(const scenario::Scenario& scenario, const emitter::Beam& beam);

    /// Under the scenario's own beam.
    explicit MovedPart(const scenario::Scenario& scenario) : MovedPart(scenario, sensor::beam_of(scenario)) {}

    /// @param offset  Of the shape's origin from the lit point of the reference surface, along the shape's own x and y.
    ///   [m]
    [[nodiscard]] target::Part at(double along, const Eigen::Vector2d& offset) const;

    /// That offset at a place: the written position, and how far the shape has gone.
    [[nodiscard]] Eigen::Vector2d offset_at(const PartState& place) const;

    /// The point of the reference surface that the beam's axis lights, in the sensor's frame. [m]
    [[nodiscard]] Eigen::Vector3d lit(double along) const { return lit_at_zero_ + along * lit_per_along_; }

    /// Displacement along whose lit point this is, given its z in the sensor's frame. [m]
    [[nodiscard]] double along_of(double lit_z) const { return (lit_z - lit_at_zero_.z()) / lit_per_along_.z(); }

    /// Displacement of the point that the beam's axis lights; none where the beam misses. [m]
    [[nodiscard]] std::optional<double> lit_displacement(double along, const Eigen::Vector2d& offset) const;

    /// The same part of which only one segment is lit. Its shape stands where it is written, and x of its offset is
    /// the place along the segments that the beam's axis lights (`PartState::way`).
    [[nodiscard]] MovedPart only(const scenario::Segments& segments, std::size_t segment) const;

    [[nodiscard]] const target::Part& prototype() const { return prototype_; }

    [[nodiscard]] bool is_segment() const { return is_segment_; }

    /// The offset at time 0, as it is written. [m]
    [[nodiscard]] const Eigen::Vector2d& written_offset() const { return position_; }

private:
    target::Part prototype_;
    Eigen::Matrix2d into_shape_;       // from the reference surface's x and y to the shape's
    Eigen::Vector3d lit_at_zero_;      // [m]
    Eigen::Vector3d lit_per_along_;    // [1]
    Eigen::Vector3d mounting_normal_;  // unit
    Eigen::Vector2d position_;         // written, along the shape's own x and y. [m]
    Eigen::Vector3d motion_;           // unit: where the surface passes to, in the reference surface
    bool is_segment_ = false;          // see `only`
    emitter::Beam beam_;
};

/// Index of the segment at a place along the segments, which repeat without end. At least one.
[[nodiscard]] std::size_t piece_at(const scenario::Segments& segments, double way);

struct PieceShare {
    std::size_t piece = 0;
    double share = 0.0;  ///< of the beam's power. [1]
};

/// Share of a Gaussian beam on each segment: (erf(sqrt2 b/w) - erf(sqrt2 a/w)) / 2 for a segment from a to b from its
/// axis. A beam wider than all segments together lights each by its length.
/// @param radius  1/e^2, along the motion. [m]
/// Equation (motion.4).
[[nodiscard]] std::vector<PieceShare> lit_segments(const scenario::Segments& segments, double way, double radius);

}  // namespace spotwright::measure
