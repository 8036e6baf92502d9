// Light gathered on the array: rays by place, then diffraction, then pixels. Shared by the models of light.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <limits>
#include <optional>
#include <vector>

#include "sim/receiver/diffraction.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/receiver/ray_batch.hpp"

namespace spotwright::receiver {

/// What the pixels receive from the laser, before any noise.
struct Profile {
    std::vector<float> rate;       ///< photoelectrons per second, pixel by pixel. [1/s]
    std::vector<float> mirrored;   ///< of them, from light that was only mirrored and makes no speckle; may be empty
    double collected_power = 0.0;  ///< through the aperture, after transmission. [W]
    double received_power = 0.0;   ///< of it, on the pixels. [W]
    double light_error = 0.0;      ///< of the quadrature: estimated error of the light on the pixels, over it. [1]
    double centroid_error = 0.0;   ///< of the quadrature: estimated error of the centroid. [px]
};

/// Scale of diffraction at a spot's image, lambda times working f-number: across the array by the aperture's
/// out-of-plane width, along it by the in-plane one. [m]
struct DiffractionScale {
    double across = 0.0;
    double along_array = 0.0;
};

/// @param u  Array coordinate of the spot's image. [m]
[[nodiscard]] DiffractionScale diffraction_scale(const Receiver& receiver, double wavelength, double u);

/// A place in the aperture that stands for an area of it.
struct AperturePoint {
    double in_plane = 0.0;      ///< from the lens centre. [m]
    double out_of_plane = 0.0;  ///< [m]
    double area = 0.0;          ///< [m^2]
};

/// The place of the aperture that belongs to two numbers in (0, 1): evenly spread over its area when they are, and the
/// same for first = 0 and 1 and for second = 0 and 1, as lattice rules want it. Its area is the whole aperture's.
[[nodiscard]] AperturePoint aperture_point(const Aperture& aperture, double first, double second);

/// Light that has come through the aperture to the plane of the array.
struct CollectedRay {
    ArrayPoint at;
    double power = 0.0;     ///< behind the lens. [W]
    double path = 0.0;      ///< optical length from the emitter's face; see `path_to_array`. [m]
    bool mirrored = false;  ///< it has met nothing but mirrors, and keeps its phase
};

/// Takes the light of a model ray by ray.
using Collect = std::function<void(const CollectedRay&)>;

/// Where light goes that passes the aperture and is known to miss the pixels.
inline constexpr ArrayPoint beside_the_array{std::numeric_limits<double>::infinity(), 0.0};

/// Length of the way from a place on the part through the lens to a place on the array, less the image distance: exact
/// for the thin lens of `trace`, whatever part of the aperture the ray passes. The lens makes all ways from a place O
/// to its image I as long as that through its centre C, and the ray comes to D on its way to I: |OC| + |CI| - |DI|, of
/// a place within the focal length |OC| - |CI| + |DI|. [m]
/// Equation (flight.1).
[[nodiscard]] double path_to_array(const Receiver& receiver, const Eigen::Vector3d& place, const ArrayPoint& at);

/// Places of the grid on which light is gathered, for each pixel.
inline constexpr std::int64_t bins_per_pixel = 8;

/// What has been gathered, before it is spread along the array.
struct GatheredLight {
    double collected = 0.0;  ///< through the aperture. [W]
    double on_row = 0.0;     ///< of it, within the pixels' height and the array's length. [W]
    double moment = 0.0;     ///< of it, about pixel 0. [W px]
};

/// Where a ray's light goes among the sums.
struct GatherPlan {
    const PatternTerms* table = nullptr;  ///< of the edge spread
    double tail_slope = 0.0;              ///< likewise
    double half_height = 0.0;             ///< of the pixels, in units of diffraction across the array. [1]
    double scale = 0.0;                   ///< this unit. [m]
};

/// Adds light to the sums of two neighbouring places for each ray: the terms of its share of the pixels' height.
/// @param place  Of each ray, in places of the grid, counted from the first of `sums` and within them. Arrays of
///   `batch_rays`, of which `count` are used.
/// @param on_row  Receives the light of each ray within the height. [W]
void gather_rays(const GatherPlan& plan, std::size_t count, const double* place, const double* v, const double* power,
                 PatternTerms* sums, double* on_row);

/// Sums rays by their place along the array, on a grid of an eighth of a pixel; each ray is shared linearly between
/// neighbours, which keeps the centroid exactly. Across the array the light of a ray within the pixels' height is that
/// of its diffraction pattern: one sum for each term of `EdgeSpread`.
class Gatherer {
public:
    /// @param scale  Of diffraction where the image lies. [m]
    /// @throws InternalError  The edge spread is of another shape of aperture than the receiver's.
    Gatherer(const Receiver& receiver, const EdgeSpread& edge_spread, const DiffractionScale& scale);

    void add(const CollectedRay& ray);

    void add(const ArrayPoint& at, double power) { add({at, power, 0.0, false}); }
    void add(const CollectedBatch& batch);

    /// Adds what another gathered for the same receiver.
    void add(const Gatherer& other);

    [[nodiscard]] const GatheredLight& light() const { return light_; }

    /// Spreads what was gathered by diffraction, integrates over the pixels and counts photoelectrons.
    /// @param shift  By which all light is moved along the array first. [m]
    [[nodiscard]] Profile profile(double wavelength, double quantum_efficiency, double shift = 0.0) const;

private:
    // Sums of the terms at neighbouring places of the grid.
    struct Bins {
        std::int64_t first = 0;  // place of the grid with which `sums` begins
        std::vector<PatternTerms> sums;

        // Makes room for places from .. to.
        void reach(std::int64_t from, std::int64_t to);
    };

    void merge(Bins& bins, const Bins& other);
    void add_spread(const Bins& bins, double shift_in_bins, std::vector<double>& pixels) const;

    Receiver receiver_;
    const EdgeSpread* edge_spread_;
    DiffractionScale scale_;
    GatheredLight light_;
    Bins scattered_;
    Bins mirrored_;  // what was only mirrored; empty without any
};

/// Centroid of a profile. [px]  Zero light has no centroid: none.
[[nodiscard]] std::optional<double> centroid_of(const Profile& profile);

}  // namespace spotwright::receiver
