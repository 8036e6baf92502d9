#include "sim/record/series_columns.hpp"

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/base/version.hpp"
#include "sim/record/text.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/measure/motion.hpp"

namespace spotwright::record {

namespace {

std::vector<double> in_units(const std::vector<double>& values, double unit) {
    std::vector<double> result;
    result.reserve(values.size());
    for (const double value : values) result.push_back(value / unit);
    return result;
}

// Time at which the exposure of a reading begins. [s]
double begin_of(const measure::SeriesBlock& block, std::size_t i) {
    if (block.moment.empty()) return static_cast<double>(block.first + static_cast<std::int64_t>(i)) * block.period;
    return block.moment[i].time - 0.5 * block.moment[i].exposure;
}

}  // namespace

SeriesColumns columns_of(const scenario::Scenario& scenario) {
    SeriesColumns columns;
    columns.moves = measure::is_moving_series(scenario);
    const auto by_phase = [&columns](scenario::PhaseShift) {
        columns.position = {"phase_rad", "rad", "phase at the first frequency"};
        columns.strength = {"amplitude_e", "e", "amplitude of the charge of a bucket, least of all frequencies"};
    };
    const auto by_pulses = [&columns](scenario::Pulsed) {
        columns.position = {"delay_ns", "ns", "time of the pulse, from its emission"};
        columns.strength = {"answered_pulses", "1", "pulses that gave a time"};
        columns.position_unit = base::ns;
    };
    const auto by_position = [&columns](scenario::Triangulation) {
        columns.position = {"position_px", "px", "position of the spot on the array"};
        columns.strength = {"peak_e", "e", "highest net signal of a pixel"};
    };
    std::visit(base::Cases{by_position, by_phase, by_pulses}, scenario.principle);
    return columns;
}

SeriesRows rows_of(const measure::SeriesBlock& block, const SeriesColumns& columns) {
    SeriesRows rows;
    const std::size_t count = block.validity.size();
    rows.reading.reserve(count);
    rows.time_ms.reserve(count);
    rows.validity.reserve(count);
    for (std::size_t i = 0; i < count; ++i) {
        const std::int64_t reading = block.first + static_cast<std::int64_t>(i);
        rows.reading.push_back(reading);
        rows.time_ms.push_back(begin_of(block, i) / base::ms);
        rows.validity.push_back(static_cast<std::uint8_t>(block.validity[i]));
    }
    rows.position = in_units(block.position, columns.position_unit);
    rows.displacement_mm = in_units(block.displacement, base::mm);
    rows.output_mm = in_units(block.output, base::mm);
    rows.strength = block.peak;
    for (const measure::Moment& moment : block.moment) {
        rows.true_mm.push_back(moment.truth / base::mm);
        rows.exposure_us.push_back(moment.exposure / base::us);
    }
    return rows;
}

SeriesOrigin origin_of(const scenario::Scenario& scenario, const std::string& when) {
    SeriesOrigin origin;
    origin.title = one_line(scenario.title);
    origin.source = "spotwright " + std::string(base::version());
    origin.revision = base::revision();
    origin.date = one_line(when);
    origin.seed = scenario.seed;
    origin.columns = columns_of(scenario);
    origin.scenario_toml = valid_utf8(scenario::to_toml(scenario));
    return origin;
}

}  // namespace spotwright::record
