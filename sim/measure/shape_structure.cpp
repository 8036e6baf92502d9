#include "sim/measure/shape_structure.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"

namespace spotwright::measure {

namespace {

using Eigen::Vector3d;
using ShapeStructures = std::array<ShapeStructure, 2>;

// Half the size of the spot along a position of the shape.
double radius_on(const emitter::Beam& beam, const Vector3d& lit) {
    const double along = emitter::travelled(beam, lit);
    return std::max(emitter::radius_at(beam, 0, along), emitter::radius_at(beam, 1, along));
}

struct StructureFinder {
    double radius;  // of the beam
    double slant;   // tangent of the flattest way on which light comes or goes

    [[nodiscard]] double edge_step() const { return radius / 8.0; }
    [[nodiscard]] double round_step(double curvature_radius) const {
        return std::max(edge_step(), curvature_radius / 128.0);
    }
    // Beyond the outermost place of a shape: the beam's own width, and what heights hide or light.
    [[nodiscard]] double reach(double lowest, double highest) const {
        return 3.0 * radius + slant * (highest - lowest);
    }

    ShapeStructures operator()(const target::Flat& /*shape*/) const { return {}; }
    ShapeStructures operator()(const target::Extrusion& shape) const {
        const double beyond = reach(shape.lowest, shape.highest);
        return {ShapeStructure{edge_step(), shape.points.front().x() - beyond, shape.points.back().x() + beyond, 0.0},
                ShapeStructure{}};
    }
    ShapeStructures operator()(const target::Roll& shape) const {
        return {ShapeStructure{round_step(shape.radius), -2.0 * shape.radius, 2.0 * shape.radius, 0.0},
                ShapeStructure{}};
    }
    ShapeStructures operator()(const target::Ball& shape) const {
        const ShapeStructure each{round_step(shape.radius), -2.0 * shape.radius, 2.0 * shape.radius, 0.0};
        return {each, each};
    }
    ShapeStructures operator()(const target::Ripple& shape) const {
        const double k = 2.0 * base::pi / shape.period;
        const double wanted = std::min(round_step(1.0 / (std::abs(shape.amplitude) * k * k + 1e-300)),
                                       std::max(edge_step(), shape.period / 64.0));
        return {ShapeStructure{wanted, 0.0, 0.0, shape.period}, ShapeStructure{}};
    }
    ShapeStructures operator()(const target::HeightMap& shape) const {
        const double beyond = reach(shape.lowest, shape.highest);
        return {ShapeStructure{edge_step(), shape.x.front() - beyond, shape.x.back() + beyond, 0.0},
                ShapeStructure{edge_step(), shape.y.front() - beyond, shape.y.back() + beyond, 0.0}};
    }
};

// Tangent of the largest angle between the part's normal and a way of light to the lens or from the emitter.
double flattest_way(const sensor::TriangulationSetup& setup) {
    const scenario::Scenario& s = setup.scenario;
    const receiver::Receiver& r = setup.instrument.receiver;
    const double lens = std::atan(std::max(r.aperture.half_in_plane, r.aperture.half_out_of_plane) / r.object_distance);
    double turned = lens;
    for (const scenario::Pair& tilt : {s.mount.tilt, s.target.tilt}) turned += std::hypot(tilt[0], tilt[1]);
    const double view = std::max(std::abs(r.angle), std::abs(r.emitter_angle)) + turned;
    constexpr double flattest = 80.0 * base::degree;
    constexpr double spare = 1.25;  // the lens is nearer to a part before its reference point
    return spare * std::tan(std::min(view, flattest));
}

}  // namespace

std::array<ShapeStructure, 2> structure_of(const sensor::TriangulationSetup& setup, const target::Shape& shape,
                                           const Vector3d& lit) {
    return std::visit(StructureFinder{radius_on(setup.instrument.beam, lit), flattest_way(setup)}, shape);
}

}  // namespace spotwright::measure
