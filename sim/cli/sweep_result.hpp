// The result of a sweep, collected point by point, as text and JSON.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

#include "sim/study/ensemble.hpp"
#include "sim/study/sweep.hpp"

namespace spotwright::cli {

/// Most points in a table, and in JSON.
inline constexpr std::int64_t most_points_in_table = 40;
inline constexpr std::int64_t most_points_in_json = 10000;

/// Counts, extremes, and the points that are shown one by one. The order of points does not matter.
class SweepResult {
public:
    /// @param kept  Sweeps of more points than this are shown by counts and extremes.
    SweepResult(const study::Sweep& sweep, std::int64_t kept);

    void add(std::int64_t point, const study::SweepPoint& result);

    /// How far the verdict of each point hangs on the sheet of the sensor: one spread for each, or none at all.
    void add(std::vector<study::EnsembleSpread> spreads) { spreads_ = std::move(spreads); }

    [[nodiscard]] bool all_stable() const { return levels_[0] == sweep_.points; }

    /// Several lines for people.
    [[nodiscard]] std::string text() const;

    [[nodiscard]] nlohmann::ordered_json json() const;

private:
    struct Extreme {
        double value = 0.0;
        std::int64_t point = -1;  // -1: none yet
    };
    struct Obstacle {
        std::int64_t points = 0;
        std::int64_t first = 0;
    };

    [[nodiscard]] std::string axes_text() const;
    [[nodiscard]] std::string points_table() const;
    [[nodiscard]] std::string extremes_table() const;
    [[nodiscard]] std::string obstacles_text() const;
    [[nodiscard]] std::string place_text(std::int64_t point) const;
    [[nodiscard]] nlohmann::ordered_json value_json(std::size_t axis, std::size_t place) const;
    [[nodiscard]] nlohmann::ordered_json point_json(std::int64_t point, const study::SweepPoint& result) const;

    const study::Sweep& sweep_;
    std::vector<study::AxisLabels> labels_;
    bool keeps_;
    std::map<std::int64_t, study::SweepPoint> points_;  // empty unless kept
    std::array<std::int64_t, 4> levels_{};
    std::vector<Extreme> least_;
    std::vector<Extreme> greatest_;
    std::map<std::string, Obstacle> obstacles_;  // the first few kinds
    std::int64_t hindered_ = 0;
    std::vector<study::EnsembleSpread> spreads_;
};

}  // namespace spotwright::cli
