// Light gathered on the array: rays by place, then diffraction, then pixels. Shared by the models of light.
#pragma once

#include <cstddef>
#include <functional>
#include <limits>
#include <optional>
#include <vector>

#include "sim/receiver/diffraction.hpp"
#include "sim/receiver/geometry.hpp"

namespace spotwright::receiver {

/// What the pixels receive from the laser, before any noise.
struct Profile {
    std::vector<float> rate;       ///< photoelectrons per second, pixel by pixel. [1/s]
    std::vector<float> mirrored;   ///< of them, from light that was only mirrored and makes no speckle; may be empty
    double collected_power = 0.0;  ///< through the aperture, after transmission. [W]
    double received_power = 0.0;   ///< of it, on the pixels. [W]
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

/// How many places of the aperture stand for it: rings times spokes of a round one, in plane times out of plane of a
/// rectangular one. Rings, and either side of a rectangle, come in threes or in panels of seven.
struct ApertureSampling {
    int rings = 3;
    int spokes = 8;
    int in_plane = 3;
    int out_of_plane = 3;
};

/// Round: Gauss-Legendre in the square of the radius, equally spaced spokes, exact for polynomials over the disc.
/// Rectangular: Gauss-Legendre along both sides.
[[nodiscard]] std::vector<AperturePoint> aperture_points(const Aperture& aperture, const ApertureSampling& sampling);

/// Light that has come through the aperture to the plane of the array.
struct CollectedRay {
    ArrayPoint at;
    double power = 0.0;     ///< behind the lens. [W]
    double path = 0.0;      ///< optical length from the emitter's face to the lens; see `path_to_lens`. [m]
    bool mirrored = false;  ///< it has met nothing but mirrors, and keeps its phase
};

/// Takes the light of a model ray by ray.
using Collect = std::function<void(const CollectedRay&)>;

/// Where light goes that passes the aperture and is known to miss the pixels.
inline constexpr ArrayPoint beside_the_array{std::numeric_limits<double>::infinity(), 0.0};

/// Length of the way from a place on the part to the lens and on, less what is the same for every place: the lens makes
/// all ways from a place to its image equally long, so it is the distance from the lens centre. [m]
[[nodiscard]] double path_to_lens(const Receiver& receiver, const Eigen::Vector3d& place);

/// Sums rays by their place along the array, on a grid of an eighth of a pixel; each ray is shared linearly between
/// neighbours, which keeps the centroid exactly.
class Gatherer {
public:
    /// @throws InternalError  The edge spread is of another shape of aperture than the receiver's.
    Gatherer(const Receiver& receiver, const EdgeSpread& edge_spread, double across_scale);

    /// @param power  Of a ray that has passed the aperture. [W]
    void add(const ArrayPoint& at, double power);

    /// The same for light that has met nothing but mirrors, and keeps its phase.
    void add_mirrored(const ArrayPoint& at, double power);

    void add(const CollectedRay& ray) { ray.mirrored ? add_mirrored(ray.at, ray.power) : add(ray.at, ray.power); }

    [[nodiscard]] double collected() const { return collected_; }

    /// Spreads what was gathered by diffraction, integrates over the pixels and counts photoelectrons.
    /// @param along_scale  Of diffraction along the array. [m]
    [[nodiscard]] Profile profile(double along_scale, double wavelength, double quantum_efficiency) const;

private:
    void add_to(std::vector<double>& bins, const ArrayPoint& at, double power);
    [[nodiscard]] std::vector<double> spread_over_pixels(const std::vector<double>& bins, double scale_in_bins) const;

    Receiver receiver_;
    const EdgeSpread& edge_spread_;
    double across_scale_;
    double collected_ = 0.0;
    std::vector<double> power_;     // all of it
    std::vector<double> mirrored_;  // what was only mirrored; empty without any
    std::size_t first_ = 0;         // bins outside [first, last) are dark
    std::size_t last_ = 0;
};

/// Centroid of a profile. [px]  Zero light has no centroid: none.
[[nodiscard]] std::optional<double> centroid_of(const Profile& profile);

}  // namespace spotwright::receiver
