// The list of changes as it is made, for the files that fill it by kind of change.
#pragma once

#include <fmt/format.h>

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/measure/read.hpp"
#include "sim/study/changes.hpp"

namespace spotwright::study {

/// Shutters and gated emitters hardly open for less (common practice): below, the light is dimmed. [s]
inline constexpr double shortest_exposure = 0.05 * base::us;

/// A setting, key=value.
[[nodiscard]] inline std::string set(const char* key, double value) {
    return fmt::format("{}={:.6g}", key, value);
}
[[nodiscard]] inline std::string set(const char* key, double first, double second) {
    return fmt::format("{}=[{:.6g}, {:.6g}]", key, first, second);
}
[[nodiscard]] inline std::string set(const char* key, std::string_view word) {
    return fmt::format("{}={}", key, word);
}

/// Changes of a sensor that stands in the scenario itself, all of which may be another one.
class ChangeList {
public:
    ChangeList(const scenario::Scenario& scenario, const measure::ReadResult& result) : s_(scenario), result_(result) {}

    std::vector<Change> all();

private:
    void add(std::string kind, std::string words, std::vector<std::string> settings, double range = 0.0,
             int parts = 0) {
        list_.push_back({std::move(words), std::move(kind), std::move(settings), range, parts});
    }
    [[nodiscard]] bool shiny() const { return s_.target.made_of.index.has_value(); }
    void exposures();
    void dim(double share);
    void averages();
    void peaks();
    void calibration();
    void mounting();
    void triangulation_mounting();
    void specular_mount();
    [[nodiscard]] std::vector<std::string> specular_settings(double range_left, bool own_lens) const;
    [[nodiscard]] std::optional<double> specular_range(bool own_lens) const;
    void add_specular_mount(double left, bool own_lens);
    [[nodiscard]] bool range_fits(double more_deg) const;
    void orientation();
    void markings();
    void optics();
    void light();
    void zero();
    void flight();
    void table();

    const scenario::Scenario& s_;
    const measure::ReadResult& result_;
    std::vector<Change> list_;
};

}  // namespace spotwright::study
