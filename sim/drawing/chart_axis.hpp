// Scales of charts: which values they span, where these stand on the page, and which of them are labelled.
#pragma once

#include <limits>
#include <string>
#include <vector>

#include "sim/drawing/chart.hpp"

namespace spotwright::drawing {

/// Whether a scale has a place for a value. Sizes from 1e150 on count as infinite, and their inverses as zero, so that
/// scales stay finite.
[[nodiscard]] bool has_place(double value, bool logarithmic);

/// The least and the greatest of what is drawn along an axis.
struct Reach {
    bool logarithmic = false;
    double low = std::numeric_limits<double>::infinity();
    double high = -std::numeric_limits<double>::infinity();

    void include(double value);
    [[nodiscard]] bool empty() const { return low > high; }
};

/// A scale between two places of the page.
struct AxisScale {
    double low = 0.0;
    double high = 1.0;
    bool logarithmic = false;
    double start = 0.0;  ///< place of `low`. [page units]
    double end = 1.0;

    /// @param value  With a place on the scale. [page units]
    [[nodiscard]] double place(double value) const;
};

/// @param reach  Not empty.
[[nodiscard]] AxisScale axis_scale(const ChartAxis& axis, const Reach& reach, double start, double end);

struct AxisTicks {
    std::vector<ChartTick> labelled;  ///< ascending; no label touches the next
    std::vector<double> minor;        ///< of a logarithmic scale, and the axis's own whose labels have no room
};

enum class Along { x, y };

[[nodiscard]] AxisTicks axis_ticks(const ChartAxis& axis, const AxisScale& scale, Along along);

/// Width of the widest label. [page units]
[[nodiscard]] double widest_label(const AxisTicks& ticks);

}  // namespace spotwright::drawing
