// Reasons that lie in the part and how it stands: its faces, its gloss, its tool marks, the light it sends.
#pragma once

#include <optional>
#include <vector>

#include "sim/measure/read.hpp"

namespace spotwright::measure {

/// Which of the surfaces that a plate has under one another.
enum class Face { front, back, behind };

/// The surface of a plate that a reading stands at: the nearest of where a thin pencil would show them, by
/// `target::apparent_thickness` to a triangulation sensor, by the optical path to one that times light.
/// @param displacement  Of the reading. [m]
/// @return none for a part that is no plate, and for a reading farther from all of them than a quarter of what lies
///   between them.
[[nodiscard]] std::optional<Face> face_read(const scenario::Scenario& scenario, double true_displacement,
                                            double displacement);

/// @param verdict  Its level, valid share and contributions.
[[nodiscard]] std::vector<Reason> reasons_of_part(const scenario::Scenario& scenario, const ReadResult& result,
                                                  const Verdict& verdict);

}  // namespace spotwright::measure
