// The cut part on the page: outline, hatching, the faces of a plate, and what light does there.
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "sim/drawing/cross_section.hpp"
#include "sim/drawing/mounting.hpp"
#include "sim/drawing/page_view.hpp"

namespace spotwright::drawing {

/// The light of a plate's back face: refracted in, reflected, refracted out to the centre of the lens. (x, z). [m]
struct BackLight {
    Eigen::Vector2d back = Eigen::Vector2d::Zero();  ///< where the beam's axis meets the back face
    Eigen::Vector2d exit = Eigen::Vector2d::Zero();  ///< where its light leaves the front face
    std::optional<double> image;                     ///< u on the array
};

/// The part as it is to be drawn in one view.
struct Section {
    std::vector<Outline> surface;
    double half_width = 0.0;                              ///< of the window. [m]
    Eigen::Vector2d up = Eigen::Vector2d::UnitY();        ///< the normal of the reference surface in the plane
    Eigen::Vector2d reference = Eigen::Vector2d::Zero();  ///< where the beam's axis meets the reference surface. [m]
    bool shows_reference = false;                         ///< the reference surface passes through the window
    std::optional<double> back_depth;                     ///< of a plate's back face below the front. [m]
    std::optional<double> backing_depth;                  ///< of what lies behind it. [m]
    std::optional<BackLight> back_light;                  ///< where the material of a plate lets light through
};

/// @param half_width, above, below  Of the window about the lit spot, in the part's own directions. [m]
[[nodiscard]] Section make_section(const scenario::Scenario& scenario, const Mounting& mounting,
                                   const receiver::Receiver& receiver, double half_width, double above, double below);

/// Half the size of the smallest window in which the part's relief shows several times better than in the whole of
/// `half_width`. @return none where there is no relief, or none that enlarging helps. [m]
[[nodiscard]] std::optional<double> detail_half_width(const scenario::Scenario& scenario, const Mounting& mounting,
                                                      double half_width, double beam_radius);

/// All points that the drawing of the section takes. [m]
[[nodiscard]] std::vector<Eigen::Vector2d> places_of(const Section& section);

/// Lines of the section on the page, for labels to keep clear of.
[[nodiscard]] std::vector<Segment> segments_of(const Section& section, const View& view);

/// Depth of the hatched rim. [page units]
inline constexpr double hatch_depth = 8.0;

/// Hatching and faces. Lines are cut off at the edges of the box.
/// @param id  Of the surface's polyline; further parts are numbered from 2, and a plate's other face ends in -back.
void draw_section(Canvas& canvas, const Section& section, const View& view, const Box& box, std::string_view id);

/// The beam's axis within a plate, and its light from the back face as far as the front.
void draw_back_light(Canvas& canvas, const BackLight& light, const Eigen::Vector2d& spot, const View& view,
                     const Box& box);

/// A small oblique cross where a ray is stopped.
void draw_stop(Canvas& canvas, const Vector2& at, double arm = 4.0);

}  // namespace spotwright::drawing
