#include "sim/study/instrument_changes.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "sim/base/units.hpp"
#include "sim/sensor/as_made.hpp"

namespace spotwright::study {

std::vector<Change> instrument_changes_of_user(const scenario::Scenario& s, const measure::ReadResult& result) {
    std::vector<Change> list;
    if (!scenario::abilities_of(s.principle).array) return list;
    if (s.cover.dirt_share > 0.0) list.push_back({"clean the window", "clean", {"cover.dirt_share=0"}, 0.0, 0});
    if (s.cover.glass > 0.0 && !s.cover.calibrated) {
        list.push_back({"calibrate with the cover glass in place", "glass", {"cover.calibrated=yes"}, 0.0, 0});
    }
    const double ghost = result.signal.ghost;
    constexpr double above = 1.5;
    constexpr double most = 0.5;
    if (ghost >= s.reading.threshold && above * ghost < most) {
        list.push_back(
            {"a threshold above the ghost", "ghost", {fmt::format("reading.threshold={:.3g}", above * ghost)}, 0.0, 0});
    }
    return list;
}

std::vector<Change> instrument_changes(const scenario::Scenario& s, const measure::ReadResult& result) {
    std::vector<Change> list = instrument_changes_of_user(s, result);
    if (!scenario::abilities_of(s.principle).array) return list;
    if (!sensor::has_ideal_lens(s)) {
        std::vector<std::string> settings;
        for (const char* error :
             {"spherical_waves", "coma_waves", "astigmatism_waves", "focus_error_um", "tilt_error_deg"}) {
            settings.push_back(fmt::format("receiver.{}=0", error));
        }
        for (const char* tolerance : {"focus_um", "tilt_deg", "spherical_waves", "coma_waves", "astigmatism_waves"}) {
            settings.push_back(fmt::format("making.{}=0", tolerance));
        }
        list.push_back({"a lens without aberrations, in focus", "lens", std::move(settings), 0.0, 1});
    }
    if (s.emitter.polarisation_degree > 0.0 && s.target.made_of.index) {
        const double now = s.emitter.polarisation_direction / base::degree;
        list.push_back({"a half-wave plate that turns the laser's polarisation by 90 deg",
                        "polarisation",
                        {fmt::format("emitter.polarisation_direction_deg={:.6g}", now > 0.0 ? now - 90.0 : now + 90.0)},
                        0.0,
                        1});
    }
    if (s.receiver.ghost_share > 0.0) {
        constexpr double coated = 1e-4;  // common practice
        if (s.receiver.ghost_share > coated) {
            list.push_back({"a coated filter: a ghost of 1e-4", "ghost", {"receiver.ghost_share=1e-4"}, 0.0, 1});
        }
    }
    const double warming = scenario::sensor_temperature(s) - base::room_temperature;
    constexpr double little = 0.99;
    if (sensor::filter_passed(s, s.emitter.wavelength + s.thermal.wavelength_change * warming) < little) {
        list.push_back({"a filter twice as wide",
                        "filter",
                        {fmt::format("receiver.filter_width_nm={:.6g}", 2.0 * s.receiver.filter_width / base::nm)},
                        0.0,
                        1});
    }
    return list;
}

}  // namespace spotwright::study
