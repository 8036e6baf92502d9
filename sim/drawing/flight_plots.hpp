// Plots of light over time or distance: frames, scales and names of levels.
#pragma once

#include <string>
#include <vector>

#include "sim/drawing/profile_panel.hpp"

namespace spotwright::drawing {

/// What a scale shows: panel coordinates are `unit` times what is written.
struct Scale {
    double unit = 1.0;
    std::string name;
};

void draw_plot_frame(Canvas& canvas, const Panel& panel);

/// Round values below or over the panel, what they are at its right side; `id` of the group differs by the
/// panel's name.
void draw_scale_below(Canvas& canvas, const Panel& panel, const Scale& scale);
void draw_scale_above(Canvas& canvas, const Panel& panel, const Scale& scale);

/// Round values at the panel's left side, and what they are over them.
/// @param name_at  Where the name begins.
void draw_scale_beside(Canvas& canvas, const Panel& panel, const Scale& scale, const Vector2& name_at);

/// A level of a plot and what it is called. One beyond the scale has its name at the nearest end, without a leader.
struct NamedLevel {
    double value = 0.0;  ///< in panel coordinates
    std::vector<std::string> lines;
};

/// Names beside the panel, with leaders, none over another.
/// @param right  Where their room ends.
void draw_named_levels(Canvas& canvas, const Panel& panel, std::vector<NamedLevel> levels, double right);

/// An entry of a key: a short line, or a filled swatch where there is a fill.
struct KeyEntry {
    std::string name;
    Pen pen;
    const char* fill = nullptr;
};

/// In one row that ends at `right`.
void draw_plot_key(Canvas& canvas, const std::vector<KeyEntry>& entries, double right, double baseline);

/// A level line across the panel.
void draw_level_line(Canvas& canvas, const Panel& panel, double value, const Pen& pen, const std::string& id);

/// An upright line through the panel.
void draw_place_line(Canvas& canvas, const Panel& panel, double value, const Pen& pen, const std::string& id);

}  // namespace spotwright::drawing
