// The length of light's way to the array, held against the direction in which it travels: the gradient of the way is
// the unit vector along the ray (the eikonal equation; M. Born, E. Wolf, Principles of Optics, ch. 3).
#include <catch2/catch.hpp>

#include <cmath>
#include <random>

#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/scenario/scenario.hpp"

using namespace spotwright;
using base::mm, base::um;
using Eigen::Vector3d;

namespace {

receiver::Receiver wide_lens() {
    receiver::Receiver r;
    r.object_distance = 200.0 * mm;
    r.focal_length = 25.0 * mm;
    r.image_distance = 1.0 / (1.0 / r.focal_length - 1.0 / r.object_distance);
    r.aperture = {receiver::ApertureShape::round, 10.0 * mm, 10.0 * mm};
    r.pixels = 1;
    r.pitch = r.height = 10.0 * mm;
    receiver::set_detector_tilt(r, 0.0);
    return r;
}

// A place of the array behind the lens: along the axis, transverse and out of plane as `ReceiverPoint` counts.
Vector3d behind(const receiver::Receiver& r, const receiver::ArrayPoint& at) {
    return {r.image_distance, -at.u, at.v};
}

}  // namespace

TEST_CASE("the way through the lens grows as the light travels, at the array and at the part", "[flight][published]") {
    const receiver::Receiver r = wide_lens();
    std::mt19937 random(3);
    const auto between = [&random](double low, double high) {
        return std::uniform_real_distribution<double>(low, high)(random);
    };
    for (int i = 0; i < 200; ++i) {
        INFO("ray " << i);
        // Nearer than the focal length, where the image is virtual, before and behind the place in focus.
        const double from_lens = i % 4 == 0 ? between(5.0, 24.0) * mm : between(30.0, 2000.0) * mm;
        const Vector3d place(between(-0.2, 0.2) * from_lens, between(-0.2, 0.2) * from_lens,
                             r.object_distance - from_lens);
        const double in_plane = between(-7.0, 7.0) * mm;
        const double out_of_plane = between(-7.0, 7.0) * mm;
        const auto landing = [&](const Vector3d& from, double by, double by_out) {
            return receiver::trace(r, receiver::to_receiver(r, from), in_plane + by, out_of_plane + by_out).value();
        };
        constexpr double step = 1.0 * um;
        const receiver::ArrayPoint at = landing(place, 0.0, 0.0);
        const Vector3d onward = (behind(r, at) - Vector3d(0.0, in_plane, out_of_plane)).normalized();
        for (const auto& [by, by_out] : {std::pair(step, 0.0), std::pair(0.0, step)}) {
            const receiver::ArrayPoint more = landing(place, by, by_out);
            const receiver::ArrayPoint less = landing(place, -by, -by_out);
            const double longer = receiver::path_to_array(r, place, more) - receiver::path_to_array(r, place, less);
            // Rounding of ways of a metre.
            CHECK(longer == Approx(onward.dot(behind(r, more) - behind(r, less))).margin(1e-14).epsilon(1e-4));
        }
        const Vector3d from_place = (receiver::aperture_point(r, in_plane, out_of_plane) - place).normalized();
        // To one place of the array, by whatever place of the lens: the way is stationary against that. A lens that is
        // sharp at all distances, as the thin one here, cannot be had: it keeps this to the third order in the angles.
        const double steepest = std::max(std::hypot(from_place.x(), from_place.y()) / from_place.z(),
                                         std::hypot(onward.y(), onward.z()) / onward.x());
        for (int axis = 0; axis < 3; ++axis) {
            const Vector3d moved = step * Vector3d::Unit(axis);
            const double longer =
                receiver::path_to_array(r, place + moved, at) - receiver::path_to_array(r, place - moved, at);
            CHECK(std::abs(longer + from_place.dot(2.0 * moved)) < 2.0 * step * std::pow(steepest, 3) + 1e-13);
        }
    }
}

TEST_CASE("from a place in focus all ways end at its image, as long as that through the middle of the lens",
          "[flight][unit]") {
    const receiver::Receiver r = wide_lens();
    const receiver::ArrayPoint middle = receiver::trace(r, {r.object_distance, 0.0, 0.0}, 0.0, 0.0).value();
    CHECK(receiver::path_to_array(r, Vector3d::Zero(), middle) == Approx(r.object_distance).epsilon(1e-14));
    const Vector3d beside(0.0, 40.0 * mm, 0.0);
    const receiver::ArrayPoint image = receiver::trace(r, receiver::to_receiver(r, beside), 8.0 * mm, 0.0).value();
    const double oblique = std::hypot(1.0, 0.2);
    CHECK(receiver::path_to_array(r, beside, image) ==
          Approx(r.object_distance * oblique + r.image_distance * (oblique - 1.0)).epsilon(1e-12));
}

TEST_CASE("the way of a beam's light grows square to its wavefront, along its stream lines", "[flight][published]") {
    scenario::Emitter emitter;
    emitter.waist_radius = {8.0 * um, 25.0 * um};
    emitter.waist_displacement = -150.0 * mm;
    emitter.beam_quality = 3.0;
    scenario::Mount mount;
    mount.reference_distance = 200.0 * mm;
    const emitter::Beam beam = emitter::make_beam(emitter, mount);
    for (const double along : {20.0 * mm, 50.1 * mm, 51.0 * mm, 300.0 * mm}) {
        for (const double offset : {-0.8, 0.3, 1.1}) {
            for (int axis = 0; axis < 2; ++axis) {
                const std::array<double, 2> offsets{axis == 0 ? offset : 0.0, axis == 0 ? 0.0 : offset};
                const emitter::BeamRay ray = emitter::ray_at(beam, along, offsets);
                const Vector3d& across = beam.axes[static_cast<std::size_t>(axis)];
                const Vector3d step = 1e-3 * emitter::radius_at(beam, axis, along) * across;
                const double longer =
                    emitter::path_to(beam, ray.origin + step) - emitter::path_to(beam, ray.origin - step);
                const double slope = ray.direction.dot(across) / ray.direction.dot(beam.direction);
                CHECK(longer == Approx(slope * 2.0 * step.norm()).margin(1e-15).epsilon(1e-6));
            }
        }
    }
    CHECK(emitter::path_to(beam, beam.face + 0.3 * beam.direction) == Approx(0.3));
}
