// The data sheet of a known sensor.
#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/study/infer.hpp"

namespace spotwright::study {

namespace {

using base::mm, base::um, base::us;
using scenario::Scenario;

// Of the offer of a key: its values or bounds. [as written]
std::vector<double> offered(const Scenario& s, std::string_view key) {
    const scenario::Offer* offer = scenario::offer_of(s, key);
    if (offer == nullptr) return {};
    if (offer->bounds) return {(*offer->bounds)[0], (*offer->bounds)[1]};
    return offer->values;
}

void add_timing(const Scenario& s, scenario::Sheet& sheet) {
    for (const double period : offered(s, "exposure.period_us")) sheet.periods.push_back(period * us);
    if (sheet.periods.empty()) sheet.periods = {s.exposure.period[0]};
    const std::vector<double> exposures = offered(s, "exposure.exposure_us");
    if (exposures.size() == 2) sheet.exposures = scenario::Pair{s.exposure.exposure, exposures[1] * us};
    for (const double average : offered(s, "reading.average")) {
        sheet.averages.push_back(static_cast<std::int64_t>(average));
    }
}

void add_light(const Scenario& s, scenario::Sheet& sheet) {
    constexpr int few = 2;
    constexpr int exact = 4;
    sheet.wavelength = scenario::stated(s.emitter.wavelength, base::nm, 3);
    const std::string laser_class =
        std::visit([](const auto& layout) { return layout.laser_class; }, sensor::layout_of(s));
    if (laser_class == "not estimated" || laser_class == "4") {
        sheet.power = scenario::stated(s.emitter.power, base::mW, few);
    } else {
        sheet.laser_class = laser_class;
    }
    const emitter::Beam beam = sensor::beam_of(s);
    const double distance = s.mount.reference_distance;
    const auto width = [&](int axis, double place) { return 2.0 * emitter::radius_at(beam, axis, distance + place); };
    sheet.spot.in_plane = scenario::stated(width(0, 0.0), um, few);
    sheet.spot.out_of_plane = scenario::stated(width(1, 0.0), um, few);
    const double ends =
        std::sqrt(0.5 * (std::pow(width(0, s.mount.range[0]), 2) + std::pow(width(0, s.mount.range[1]), 2)));
    // A beam that hardly widens tells its quality only by more digits than a sheet has.
    constexpr double widens = 1.15;
    if (ends > widens * width(0, 0.0)) sheet.spot.in_plane_at_ends = scenario::stated(ends, um, few);
    const double between = std::visit(base::Cases{[&](scenario::Triangulation) {
                                                      return s.receiver.distance * std::sin(s.receiver.angle) -
                                                             distance * std::sin(s.emitter.angle);
                                                  },
                                                  [&](scenario::PhaseShift) { return s.flight.baseline; },
                                                  [&](scenario::Pulsed) { return s.flight.baseline; }},
                                      s.principle);
    if (between > 0.0) sheet.windows_distance = scenario::stated(between, mm, exact - 1);
}

void add_figures(const Scenario& s, scenario::Sheet& sheet) {
    constexpr int few = 2;
    scenario::SheetRepeatability conditions;
    constexpr std::int64_t usual = 64;
    conditions.average = sheet.averages.empty() ? usual : std::min(usual, sheet.averages.back());
    conditions.period = sheet.periods.front();
    conditions.material = sheet.mount == scenario::SheetMount::specular ? "mirror" : "white-ceramic";
    std::vector<std::string> settings{"run.speckle=off", "target.displacement_mm=0",
                                      "target.material=" + conditions.material};
    Scenario tile = scenario::with_settings(s, settings);
    tile.exposure.period = {sheet.periods.front(), sheet.periods.back()};
    const Figures figures = figures_of(sensor::set_up(tile, 0), conditions, true);
    const auto of = [&figures](SheetFigure figure) { return figures.at(static_cast<std::size_t>(figure)); };
    if (const auto value = of(SheetFigure::repeatability)) {
        conditions.value = scenario::stated(*value, um, few);
        sheet.repeatability = conditions;
    }
    constexpr double percent = 0.01;
    constexpr double noticeable = 1e-7;  // of the span: what is less no sheet states
    if (const auto value = of(SheetFigure::linearity); value && *value > noticeable) {
        sheet.linearity = scenario::stated(*value, percent, few);
    }
    if (const auto value = of(SheetFigure::temperature); value && *value > 0.0) {
        sheet.temperature = scenario::stated(*value, percent, few);
    }
}

}  // namespace

scenario::Sheet sheet_of(const Scenario& s) {
    scenario::Sheet sheet;
    sheet.title = s.sensor_file.title.empty() ? s.title : s.sensor_file.title;
    sheet.principle = s.principle;
    sheet.mount = s.emitter.angle != 0.0 ? scenario::SheetMount::specular : scenario::SheetMount::diffuse;
    sheet.reference_distance = s.mount.reference_distance;
    sheet.range = s.mount.range;
    sheet.housing = s.housing;
    add_timing(s, sheet);
    add_light(s, sheet);
    add_figures(s, sheet);
    return sheet;
}

}  // namespace spotwright::study
