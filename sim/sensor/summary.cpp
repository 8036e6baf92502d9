#include "sim/sensor/summary.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <system_error>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/sensor/flight_layout.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::sensor {

namespace {

namespace fs = std::filesystem;

scenario::Scenario before_white_tile(const std::string& sensor, const std::string& file) {
    const std::string text =
        fmt::format("sensor = {}\n[target]\nmaterial = \"white-ceramic\"\n", scenario::toml_string(sensor));
    return scenario::parse(text, file);
}

// Shortest and longest period of the offer; without one, those of the sensor as delivered.
scenario::Pair periods_of(const scenario::Scenario& s) {
    const scenario::Offer* offer = scenario::offer_of(s, "exposure.period_us");
    if (offer == nullptr) return s.exposure.period;
    if (offer->bounds) return {(*offer->bounds)[0] * base::us, (*offer->bounds)[1] * base::us};
    if (offer->values.empty()) return s.exposure.period;
    const auto [least, most] = std::minmax_element(offer->values.begin(), offer->values.end());
    return {*least * base::us, *most * base::us};
}

}  // namespace

Summary summary_of(const scenario::Scenario& s) {
    Summary summary;
    summary.name = s.sensor.ends_with(".toml") ? fs::path(s.sensor).stem().string() : s.sensor;
    summary.title = s.sensor_file.title;
    summary.principle = scenario::word_of(s, "principle");
    constexpr double same = 1e-6;
    summary.specular = s.emitter.angle != 0.0 && std::abs(s.emitter.angle + s.receiver.angle) < same;
    summary.reference_distance = s.mount.reference_distance;
    summary.range = s.mount.range;
    const emitter::Beam beam = beam_of(s);
    for (int axis = 0; axis < 2; ++axis) {
        summary.spot.at(static_cast<std::size_t>(axis)) =
            2.0 * emitter::radius_at(beam, axis, s.mount.reference_distance);
    }
    summary.wavelength = s.emitter.wavelength;
    summary.laser_class = std::visit([](const auto& layout) { return layout.laser_class; }, layout_of(s));
    summary.period = periods_of(s);
    summary.offers = s.sensor_file.offers;
    summary.housing = s.housing;
    return summary;
}

std::vector<scenario::Scenario> shelf(const std::string& folder) {
    std::vector<scenario::Scenario> sensors;
    if (folder.empty()) {
        for (const std::string& name : scenario::sensor_names()) sensors.push_back(before_white_tile(name, "shelf"));
        return sensors;
    }
    std::error_code error;
    std::vector<fs::path> files;
    for (fs::directory_iterator entry(folder, error), end; !error && entry != end; entry.increment(error)) {
        if (entry->path().extension() == ".toml") files.push_back(entry->path());
    }
    if (error) throw base::IoError("read", folder, error.message());
    if (files.empty()) throw base::IoError("read", folder, "no sensor file (.toml) in this folder");
    std::sort(files.begin(), files.end());
    for (const fs::path& file : files) {
        sensors.push_back(before_white_tile(file.filename().string(), (fs::path(folder) / "shelf").string()));
    }
    return sensors;
}

}  // namespace spotwright::sensor
