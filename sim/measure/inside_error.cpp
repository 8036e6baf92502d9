#include "sim/measure/inside_error.hpp"

#include <variant>

#include "sim/base/cases.hpp"
#include "sim/scenario/markings.hpp"
#include "sim/scenario/material.hpp"

namespace spotwright::measure {

namespace {

void take_as_opaque(scenario::Material& material) {
    material.volume.reset();
    material.layer.reset();
    material.grain.reset();
}

}  // namespace

std::optional<double> inside_error(const sensor::TriangulationSetup& setup, double displacement) {
    const scenario::Target& part = setup.scenario.target;
    if (!part.made_of.volume || part.shape == scenario::ShapeKind::plane) return std::nullopt;
    sensor::TriangulationSetup plane = setup;
    scenario::Target& target = plane.scenario.target;
    scenario::remove_markings(target);
    target.shape = scenario::ShapeKind::plane;
    plane.walk.reset();
    sensor::TriangulationSetup opaque = plane;
    take_as_opaque(opaque.scenario.target.made_of);
    const auto inside = sensor::noiseless_reading(plane, displacement);
    const auto face = sensor::noiseless_reading(opaque, displacement);
    return inside && face ? std::optional(*inside - *face) : std::nullopt;
}

double inside_error_of(const sensor::Setup& setup) {
    const auto of_image = [](const sensor::TriangulationSetup& each) {
        return inside_error(each, each.scenario.target.displacement).value_or(0.0);
    };
    return std::visit(base::Cases{of_image, [](const sensor::FlightSetup&) { return 0.0; }}, setup);
}

}  // namespace spotwright::measure
