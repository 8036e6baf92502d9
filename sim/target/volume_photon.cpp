#include "sim/target/volume_photon.hpp"

#include <algorithm>
#include <cmath>

#include "sim/target/fresnel.hpp"

namespace spotwright::target {

namespace {

bool leaves_front(const Volume& volume, const VolumePhoton& photon, VolumeRandom& random) {
    const double sine2 = volume.index * volume.index * (1.0 - photon.direction.z() * photon.direction.z());
    if (sine2 >= 1.0) return false;
    const double reflected = fresnel({volume.index, 0.0}, std::sqrt(1.0 - sine2)).unpolarised();
    return random.uniform() >= reflected;
}

// From face to face.
FlightEnd fly_in_layer(const Volume& volume, VolumePhoton& photon, VolumeRandom& random, double left) {
    for (;;) {
        const double along = photon.direction.z();
        const double to_face = along > 0.0 ? (volume.thickness - photon.place.z()) / along
                                           : (along < 0.0 ? -photon.place.z() / along : left + 1.0);
        if (left < to_face) {
            photon.place += left * photon.direction;
            photon.place.z() = std::clamp(photon.place.z(), 0.0, volume.thickness);
            photon.length += left;
            return FlightEnd::scatter;
        }
        photon.place += to_face * photon.direction;
        photon.length += to_face;
        left -= to_face;
        if (along > 0.0) {
            photon.place.z() = volume.thickness;
            return FlightEnd::backing;
        }
        photon.place.z() = 0.0;
        if (leaves_front(volume, photon, random)) return FlightEnd::outside;
        photon.direction.z() = -photon.direction.z();
    }
}

bool fly_to_front(const Volume& volume, VolumePhoton& photon, VolumeRandom& random, double length) {
    photon.place += length * photon.direction;
    photon.length += length;
    while (photon.place.z() < 0.0) {
        if (leaves_front(volume, photon, random)) return false;
        photon.place.z() = -photon.place.z();
        photon.direction.z() = -photon.direction.z();
    }
    return true;
}

}  // namespace

std::array<double, 2> draw_azimuth(VolumeRandom& random) {
    for (;;) {
        const double x = 2.0 * random.uniform() - 1.0;
        const double y = 2.0 * random.uniform() - 1.0;
        const double square = x * x + y * y;
        if (square > 1.0 || square < 1e-12) continue;
        const double scale = 1.0 / std::sqrt(square);
        return {x * scale, y * scale};
    }
}

FlightEnd fly(const Volume& volume, VolumePhoton& photon, VolumeRandom& random, double length) {
    if (is_layer(volume)) return fly_in_layer(volume, photon, random, length);
    return fly_to_front(volume, photon, random, length) ? FlightEnd::scatter : FlightEnd::outside;
}

void turn_forward(const Volume& volume, VolumePhoton& photon, VolumeRandom& random) {
    const double cosine = scatter_cosine(volume.anisotropy, random.uniform());
    const double sine = std::sqrt(std::max(0.0, 1.0 - cosine * cosine));
    const std::array<double, 2> azimuth = draw_azimuth(random);
    const Eigen::Vector3d side = photon.direction.unitOrthogonal();
    photon.direction =
        cosine * photon.direction + sine * (azimuth[0] * side + azimuth[1] * photon.direction.cross(side));
}

void leave_backing(VolumePhoton& photon, VolumeRandom& random) {
    const double sine2 = random.uniform();
    const double sine = std::sqrt(sine2);
    const std::array<double, 2> azimuth = draw_azimuth(random);
    photon.direction = {sine * azimuth[0], sine * azimuth[1], -std::sqrt(1.0 - sine2)};
}

}  // namespace spotwright::target
