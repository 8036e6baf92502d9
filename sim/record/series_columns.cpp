#include "sim/record/series_columns.hpp"

#include "sim/base/units.hpp"
#include "sim/record/text.hpp"
#include "sim/scenario/schema.hpp"

namespace spotwright::record {

namespace {

std::vector<double> in_mm(const std::vector<double>& metres) {
    std::vector<double> result;
    result.reserve(metres.size());
    for (const double value : metres) result.push_back(value / base::mm);
    return result;
}

}  // namespace

SeriesRows rows_of(const study::SeriesBlock& block) {
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
    rows.position_px = block.position;
    rows.displacement_mm = in_mm(block.displacement);
    rows.output_mm = in_mm(block.output);
    rows.peak_e = block.peak;
    return rows;
}

SeriesOrigin origin_of(const scenario::Scenario& scenario, const std::string& when) {
    SeriesOrigin origin;
    origin.title = one_line(scenario.title);
    origin.source = "spotwright " SPOTWRIGHT_VERSION;
    origin.date = one_line(when);
    origin.seed = scenario.seed;
    origin.scenario_toml = valid_utf8(scenario::to_toml(scenario));
    return origin;
}

}  // namespace spotwright::record
