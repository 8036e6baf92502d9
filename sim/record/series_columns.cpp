#include "sim/record/series_columns.hpp"

#include "sim/base/units.hpp"
#include "sim/record/text.hpp"
#include "sim/scenario/schema.hpp"

namespace spotwright::record {

namespace {

std::vector<double> in_units(const std::vector<double>& values, double unit) {
    std::vector<double> result;
    result.reserve(values.size());
    for (const double value : values) result.push_back(value / unit);
    return result;
}

}  // namespace

SeriesColumns columns_of(scenario::Principle principle) {
    SeriesColumns columns;
    if (principle == scenario::Principle::phase_shift) {
        columns.position = {"phase_rad", "rad", "phase at the first frequency"};
        columns.strength = {"amplitude_e", "e", "amplitude of the charge of a bucket, least of all frequencies"};
    } else if (principle == scenario::Principle::pulsed) {
        columns.position = {"delay_ns", "ns", "time of the pulse, from its emission"};
        columns.strength = {"answered_pulses", "1", "pulses that gave a time"};
        columns.position_unit = base::ns;
    }
    return columns;
}

SeriesRows rows_of(const study::SeriesBlock& block, const SeriesColumns& columns) {
    SeriesRows rows;
    const std::size_t count = block.validity.size();
    rows.reading.reserve(count);
    rows.time_ms.reserve(count);
    rows.validity.reserve(count);
    for (std::size_t i = 0; i < count; ++i) {
        const std::int64_t reading = block.first + static_cast<std::int64_t>(i);
        rows.reading.push_back(reading);
        rows.time_ms.push_back(static_cast<double>(reading) * block.period / base::ms);
        rows.validity.push_back(static_cast<std::uint8_t>(block.validity[i]));
    }
    rows.position = in_units(block.position, columns.position_unit);
    rows.displacement_mm = in_units(block.displacement, base::mm);
    rows.output_mm = in_units(block.output, base::mm);
    rows.strength = block.peak;
    return rows;
}

SeriesOrigin origin_of(const scenario::Scenario& scenario, const std::string& when) {
    SeriesOrigin origin;
    origin.title = one_line(scenario.title);
    origin.source = "spotwright " SPOTWRIGHT_VERSION;
    origin.date = one_line(when);
    origin.seed = scenario.seed;
    origin.columns = columns_of(scenario.principle);
    origin.scenario_toml = valid_utf8(scenario::to_toml(scenario));
    return origin;
}

}  // namespace spotwright::record
