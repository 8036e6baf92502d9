// Points and lines of a scene as JSON: [x, z] of the sensor's frame in mm.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include <Eigen/Core>

#include "bindings/web/engine/question.hpp"
#include "sim/base/units.hpp"
#include "sim/drawing/cross_section.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::web {

[[nodiscard]] inline Json point_mm(const Eigen::Vector2d& point) {
    return {point.x() / base::mm, point.y() / base::mm};
}

/// A unit vector.
[[nodiscard]] inline Json direction(const Eigen::Vector2d& vector) {
    return {vector.x(), vector.y()};
}

template <class Points>
[[nodiscard]] Json points_mm(const Points& points) {
    Json list = Json::array();
    for (const Eigen::Vector2d& point : points) list.push_back(point_mm(point));
    return list;
}

[[nodiscard]] Json outlines_mm(const std::vector<drawing::Outline>& outlines);

/// Where the 1/e^2 edges of the beam land in the plane of the mounting; null where one misses the part.
[[nodiscard]] Json spot_edges(const scenario::Scenario& scenario);

/// What scenes of all principles have: emitter and beam, displacement and truth.
/// @param radius  Of the beam at near end, reference and far end. [m]
[[nodiscard]] Json common_scene(const scenario::Scenario& scenario, const std::array<double, 3>& radius);

}  // namespace spotwright::web
