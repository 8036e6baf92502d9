#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/drawing_file.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/drawing/shelf.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/record/sensors.hpp"
#include "sim/record/json_text.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/sensor/summary.hpp"

namespace spotwright::cli {

namespace {

using base::mm, base::um, base::us;

std::string spot_text(const scenario::Pair& spot) {
    constexpr double same = 0.01;
    if (std::abs(spot[0] - spot[1]) <= same * spot[0]) return fmt::format("{:.3g}", spot[0] / um);
    return fmt::format("{:.3g} x {:.3g}", spot[0] / um, spot[1] / um);
}

std::vector<std::string> row_of(const sensor::Summary& s) {
    return {printable(s.name),
            s.principle,
            s.specular ? "specular" : "diffuse",
            fmt::format("{:g}", s.reference_distance / mm),
            fmt::format("{:+g} to {:+g}", s.range[0] / mm, s.range[1] / mm),
            spot_text(s.spot),
            fmt::format("{:g}", s.wavelength / base::nm),
            s.laser_class,
            fmt::format("{:g} to {:g}", s.period[0] / us, s.period[1] / us),
            printable(s.title)};
}

std::string offers_text(const sensor::Summary& s) {
    std::string text = fmt::format("\n{} offers\n", printable(s.name));
    for (const scenario::Offer& offer : s.offers) {
        text += fmt::format("  {:<26}{}\n", offer.key, wrapped(scenario::describe_offer(offer), 28));
    }
    return text;
}

void draw_shelf_into(const std::string& file, const std::vector<scenario::Scenario>& shelf, const std::string& folder) {
    const std::string title =
        folder.empty() ? std::string("Library of sensors, invented for the demonstration") : "Sensors of " + folder;
    write_drawing(file, drawing::draw_shelf(shelf, title), title);
}

}  // namespace

int run_sensors(const Options& options) {
    if (!options.out.empty()) checked_drawing(options.out, {".svg", ".pdf"});
    std::vector<scenario::Scenario> shelf = sensor::shelf(options.folder);
    std::vector<sensor::Summary> sensors;
    for (const scenario::Scenario& s : shelf) sensors.push_back(sensor::summary_of(s));
    if (!options.sensor.empty()) {
        std::vector<std::string> names;
        for (const sensor::Summary& s : sensors) names.push_back(s.name);
        std::erase_if(shelf, [&](const scenario::Scenario& s) { return sensor::summary_of(s).name != options.sensor; });
        std::erase_if(sensors, [&](const sensor::Summary& s) { return s.name != options.sensor; });
        if (sensors.empty()) reject_sensor("SENSOR", options.sensor, names);
    }
    if (!options.out.empty()) draw_shelf_into(options.out, shelf, options.folder);
    if (options.json) {
        print("{}\n", record::json_text(record::to_json(sensors)));
        return exit_done;
    }
    std::vector<std::vector<std::string>> rows{{"sensor", "principle", "mount", "distance mm", "range mm", "spot um",
                                                "nm", "class", "period us", "description"}};
    for (const sensor::Summary& s : sensors) rows.push_back(row_of(s));
    print(
        "Distance: emitter face to the middle of the range. Spot: 1/e^2 diameter there, in plane x out of plane.\n"
        "Class: estimate. {}\n\n{}",
        wrapped(emitter::safety_caution(), 0), table(rows));
    if (!options.sensor.empty()) print("{}", offers_text(sensors.front()));
    if (!options.out.empty()) print("\ndrawing {}\n", options.out);
    return exit_done;
}

}  // namespace spotwright::cli
