// Light that has been inside a plate, and the way out from behind a face.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <vector>

#include <Eigen/Core>

#include "sim/emitter/beam.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/receiver/sources.hpp"
#include "sim/target/part.hpp"
#include "sim/target/plate.hpp"
#include "sim/target/refraction.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::receiver {

/// The way from a point behind the front face to a place in the aperture.
struct Escape {
    target::ExitRay way;
    Eigen::Vector3d exit = Eigen::Vector3d::Zero();        ///< where it leaves the front face, sensor's frame. [m]
    Eigen::Vector3d direction = Eigen::Vector3d::UnitZ();  ///< in air, unit, towards the aperture
    double solid_angle = 0.0;  ///< at the point, in its own medium, that the area of the aperture takes. [sr]
};

/// @param layers  From the point outwards.
/// @param through  Place and area in the aperture.
/// @return none where the aperture lies behind the face or the light does not come to the front of the lens.
[[nodiscard]] std::optional<Escape> escape_to(const Receiver& receiver, std::span<const target::Layer> layers,
                                              const Eigen::Vector3d& point, const Eigen::Vector3d& normal,
                                              const AperturePoint& through);

/// Layers between the backing of a slab and the air, from the backing outwards.
[[nodiscard]] std::array<target::Layer, 2> layers_before_backing(const target::Slab& slab, double index);

/// The slab's faces, as `plate_reflection` wants them.
[[nodiscard]] target::Plate plate_of(const target::Surface& surface);

/// Polarised light where it first comes to the backing, after straight passage of the plate's faces.
[[nodiscard]] emitter::Polarisation polarisation_behind(const emitter::Polarisation& light, const target::Plate& plate,
                                                        const Eigen::Vector3d& to_light, const Eigen::Vector3d& normal);

/// Adds the reflections of a plate's back face up to the first multiple, and what a backing behind it scatters and
/// mirrors, light that goes to and fro between plate and backing included. Products of reflectances are formed for each
/// polarisation until the backing scatters: its facets meet polarised light as the plate has weakened it, what they
/// send back is taken as unpolarised. The haze of the back face is left out.
void add_plate_sources(const LitScene& scene, std::vector<LightSource>& sources);

}  // namespace spotwright::receiver
