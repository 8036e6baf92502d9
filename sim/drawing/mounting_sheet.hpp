// One drawing of a mounting in the making: its scale, the sizes that do not follow it, the words on it.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/drawing/mounting.hpp"
#include "sim/drawing/page_view.hpp"
#include "sim/drawing/part_detail.hpp"
#include "sim/drawing/part_section.hpp"

namespace spotwright::drawing {

// Sizes on the page, whatever the scale. [page units]
inline constexpr double plane_left = 84.0;  ///< reach of a target plane beside the beam
inline constexpr double plane_right = 54.0;
inline constexpr double part_half_width = 50.0;
inline constexpr double shaped_half_width = 60.0;  ///< of a part that is no plane
inline constexpr double shaped_above = 60.0;       ///< how far it may reach above the lit spot
inline constexpr double shaped_below = 100.0;
inline constexpr double column_gap = 24.0;     ///< between planes and their labels
inline constexpr double column_width = 168.0;  ///< at most
inline constexpr double emitter_half_width = 17.0;
inline constexpr double emitter_depth = 46.0;
inline constexpr double distance_offset = 50.0;  ///< of the reference distance from the beam
inline constexpr double receiver_offset = 36.0;  ///< of the receiver's distances from lens and array
inline constexpr double stop_blade = 13.0;
inline constexpr double label_line_spacing = 15.0;
inline constexpr double array_label_clearance = 32.0;  ///< from the middle of the emitter face

/// The housing on the page.
struct HousingView {
    Box box;                 ///< front at its bottom, back at its top
    bool is_broken = false;  ///< its back is drawn nearer to its front than it is
    double break_at = 0.0;   ///< down the page: where the rest of it is left out
};

struct Sheet {
    Canvas& canvas;
    const scenario::Scenario& scenario;
    const sensor::Layout& layout;
    const Mounting& mounting;
    View view;
    double beam_exaggeration = 1.0;         ///< drawn over true width. [1]
    std::optional<Section> section = {};    ///< of a part that is no plane
    std::optional<PartDetail> detail = {};  ///< where enlarging it shows more
    std::optional<HousingView> housing = {};
};

/// @param area  Of the page, to be filled.
[[nodiscard]] Sheet make_sheet(Canvas& canvas, const scenario::Scenario& scenario, const sensor::Layout& layout,
                               const Mounting& mounting, const Box& area);

/// Half the length of the array. [m]
[[nodiscard]] double half_array(const receiver::Receiver& receiver);

/// How far lens and array reach outward from the axis of the receiver. [m]
[[nodiscard]] double receiver_reach(const receiver::Receiver& receiver);

/// Distance along the beam at which its drawing ends: at the part, or at the far end where no part is drawn. [m]
[[nodiscard]] double beam_end(const Sheet& sheet);

/// Left and right end of the thin line that marks a target plane: 0 near end, 1 reference, 2 far end.
[[nodiscard]] Segment plane_line(const Sheet& sheet, std::size_t which);

/// Left and right end of the part, of its reference surface where it is no plane. The part must be drawn.
[[nodiscard]] Segment part_line(const Sheet& sheet);

/// Left end of what the label of the part points to.
[[nodiscard]] Vector2 part_anchor(const Sheet& sheet);

struct EmitterLabel {
    Vector2 at;  ///< of the first baseline
    Anchor anchor = Anchor::end;
    std::vector<std::string> lines;
};

/// On the outer side; a beam that leans far to the left has its room inside.
[[nodiscard]] EmitterLabel emitter_label(const Sheet& sheet);

[[nodiscard]] std::string angle_text(double angle);
[[nodiscard]] std::vector<std::string> array_lines(const sensor::Layout& layout, const scenario::Scenario& scenario);
[[nodiscard]] std::vector<std::string> lens_lines(const receiver::Receiver& receiver);

/// One label for each of near end, reference, far end, and the part if it is drawn.
/// @param with_detail  The part's refers to detail B.
[[nodiscard]] std::vector<std::vector<std::string>> plane_texts(const scenario::Scenario& scenario,
                                                                const Mounting& mounting, bool with_detail);

/// Width of the widest line at the body size. [page units]
[[nodiscard]] double widest(std::span<const std::string> lines);

/// What is not as it looks in the drawing.
[[nodiscard]] std::vector<std::string> remarks_of(const Sheet& sheet);

}  // namespace spotwright::drawing
