// Writes what a still target's frames are drawn from, so that the NumPy script of the same work can start from the very
// same sensor and pose: `spotwright_expected_frame SCENARIO [KEY=VALUE ...]` prints one JSON object.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/instrument.hpp"
#include "sim/sensor/sensor.hpp"

namespace {

using namespace spotwright;

// The calibration near the spot, finely enough that straight lines between the points stray by less than 1e-4 um.
nlohmann::json calibration_table(const sensor::TriangulationSetup& setup, double spot_px) {
    constexpr double reach_px = 24.0;
    constexpr double step_px = 1.0 / 16.0;
    nlohmann::json position_px = nlohmann::json::array();
    nlohmann::json displacement_um = nlohmann::json::array();
    for (double position = spot_px - reach_px; position <= spot_px + reach_px; position += step_px) {
        const auto displacement = setup.instrument.calibration.displacement(position);
        if (!displacement) continue;
        position_px.push_back(position);
        displacement_um.push_back(*displacement / base::um);
    }
    return {{"position_px", position_px}, {"displacement_um", displacement_um}};
}

nlohmann::json expected_frame(const scenario::Scenario& s) {
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 1);
    const sensor::Pose pose = sensor::make_pose(setup, s.target.displacement);
    const std::vector<float>& electrons = pose.expected.electrons;
    const auto pixels = static_cast<std::ptrdiff_t>(electrons.size());
    const auto brightest = std::max_element(electrons.begin(), electrons.end()) - electrons.begin();
    const std::int64_t first = pose.first_unit * base::unit_pixels;
    const std::int64_t last = std::min((pose.first_unit + pose.unit_count) * base::unit_pixels, s.detector.pixels);
    return {{"electrons", electrons},
            {"offset_e", pose.expected.offset},
            {"background_digit", std::vector<float>(pose.background.begin(), pose.background.begin() + pixels)},
            {"gain_digit_per_e", pose.expected.digitiser.gain},
            {"black_level_digit", pose.expected.digitiser.black_level},
            {"top_digit", pose.expected.digitiser.top_digit},
            {"read_noise_e", pose.expected.read_noise},
            {"threshold_e", pose.locate.threshold},
            {"drawn_pixels", {first, last}},
            {"calibration", calibration_table(setup, static_cast<double>(brightest))}};
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 2) {
        fmt::print(stderr, "usage: spotwright_expected_frame SCENARIO [KEY=VALUE ...]\n");
        return 2;
    }
    try {
        const scenario::Scenario s = scenario::load(argv[1], std::vector<std::string>(argv + 2, argv + argc));
        if (s.reading.peak != scenario::PeakMethod::centroid || s.reading.average != 1 || s.reading.median != 1) {
            fmt::print(stderr, "the NumPy script knows the centroid without smoothing only\n");
            return 2;
        }
        fmt::print("{}\n", expected_frame(s).dump());
    } catch (const base::Error& error) {
        fmt::print(stderr, "{}\n", error.what());
        return 2;
    }
    return 0;
}
