// Shapes of parts, each in axes of its own, and where a ray meets them.
#pragma once

#include <optional>
#include <variant>
#include <vector>

#include <Eigen/Core>

#include "sim/emitter/beam.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::target {

using emitter::BeamRay;

// The reference surface is z = 0, z towards the sensor. Long shapes run along y.

/// The plane z = 0.
struct Flat {};

/// A profile of straight pieces that runs on for ever along y: step, groove, relief. Beyond its first and last point it
/// is level. Points stand from left to right; two with the same x make a wall.
struct Extrusion {
    std::vector<Eigen::Vector2d> points;  ///< (x, height). [m]
    double lowest = 0.0;                  ///< height. [m]
    double highest = 0.0;
};

/// A roll that touches z = 0 from below, or the half of a tube that rests on it.
struct Roll {
    double radius = 0.0;  ///< [m]
    bool concave = false;
};

/// A ball that touches z = 0 from below, or the half of a hollow ball that rests on it.
struct Ball {
    double radius = 0.0;  ///< [m]
    bool concave = false;
};

/// z = amplitude cos(2 pi x / period).
struct Ripple {
    double amplitude = 0.0;  ///< [m]
    double period = 1.0;     ///< [m]
};

/// Heights on a grid, bilinear between its places; beyond its rim it goes on as at the rim.
struct HeightMap {
    std::vector<double> x;       ///< ascending. [m]
    std::vector<double> y;       ///< ascending. [m]
    std::vector<double> height;  ///< at (x[i], y[k]) at i * y.size() + k. [m]
    double lowest = 0.0;
    double highest = 0.0;
};

/// A block with upright walls on the plane z = 0, its middle at the origin.
struct Block {
    Eigen::Vector2d half_width{0.5, 0.5};  ///< [m]
    double height = 1.0;                   ///< > 0. [m]
};

using Shape = std::variant<Flat, Extrusion, Roll, Ball, Ripple, HeightMap, Block>;

/// Where a ray meets a surface.
struct Hit {
    double distance = 0.0;                              ///< along the ray. [m]
    Eigen::Vector3d normal = Eigen::Vector3d::UnitZ();  ///< unit, towards the side that the ray comes from
};

/// From points as they stand in the shape's own x, in order. At least one.
[[nodiscard]] Extrusion make_extrusion(std::vector<Eigen::Vector2d> points);

[[nodiscard]] HeightMap make_height_map(const scenario::HeightTable& table);

/// The first place beyond `nearest` where the ray meets the outside of the shape; none when it misses, or would meet
/// the inside first. Exact for straight, round and bilinear pieces; a wave is found to rounding unless the ray only
/// grazes a crest by less than a millionth of the period's square over the amplitude.
/// @param nearest  [m]
[[nodiscard]] std::optional<Hit> meet(const Shape& shape, const BeamRay& ray, double nearest);

/// Whether light that leaves a point of the shape outwards can meet the shape again.
[[nodiscard]] bool hides_itself(const Shape& shape);

}  // namespace spotwright::target
