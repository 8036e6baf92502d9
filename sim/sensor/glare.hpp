// Where the gloss of a part goes: its mirrored beam against the lens.
#pragma once

#include <optional>

#include "sim/emitter/beam.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/target/part.hpp"

namespace spotwright::sensor {

/// Of a part with an interface that mirrors or has a glossy lobe, about the point that the beam's axis lights.
struct Glare {
    /// `target.tilt_deg` at which the mirrored axis meets the lens's centre; none where the face at the lit point is
    /// not parallel to the part's reference surface. [rad]
    std::optional<scenario::Pair> tilt;
    double away = 0.0;      ///< angle of the face's normal from the normal that mirrors into the lens. [rad]
    double off_lens = 0.0;  ///< angle by which the mirrored axis passes the rim of the lens; < 0: it enters. [rad]
    double lens = 0.0;      ///< half-angle of the lens from the lit point, on the side of the mirrored axis. [rad]
    double lobe = 0.0;      ///< rms angle of the facets' normals towards the normal of glare; 0: no lobe. [rad]
    /// The lens has the gloss at some tilts and not at others: a mirror part, or a lobe whose double rms angle does not
    /// reach from the mounting normal to the normal of glare.
    bool narrow = false;
    bool wanted = false;  ///< the sensor is made to read the mirrored beam
};

/// The mirror law at the lit point: m = d - 2 (d n) n; the normal that mirrors into the lens is (v - d) / |v - d|, v
/// the direction from the lit point to the centre of the lens. Exact for the beam's axis; mount tilt included. Equation
/// (study.14).
/// @return none where the material has no gloss, or the beam misses the part.
[[nodiscard]] std::optional<Glare> glare_of(const scenario::Scenario& scenario, const receiver::Receiver& receiver,
                                            const emitter::Beam& beam, const target::Part& part);

/// Angle of the normal from that of glare within which the lens has the gloss: half of the lens, and of a lobe its
/// double rms angle, which holds 1 - exp(-2) = 86 % of Beckmann's facets in that direction. [rad]
[[nodiscard]] double reach_of(const Glare& glare);

/// Light that the lit point would scatter to the lens were the lay of its tool marks turned by 90 deg, over what it
/// does scatter there. [1]
/// @return none where the material has no lay, or the beam misses the part; infinite where it scatters nothing there.
[[nodiscard]] std::optional<double> gain_by_turned_lay(const scenario::Scenario& scenario,
                                                       const receiver::Receiver& receiver, const emitter::Beam& beam,
                                                       const target::Part& part);

}  // namespace spotwright::sensor
