#include "sim/record/csv_series.hpp"

#include <fmt/format.h>

#include <cmath>
#include <iterator>

#include "sim/record/csv_head.hpp"

namespace spotwright::record {

namespace {

std::string header(const SeriesOrigin& origin) {
    std::string text = csv_head(series_format, series_format_version, origin);
    const SeriesColumns& c = origin.columns;
    text += fmt::format("{},{},{},{},{},{},{}", c.reading.name, c.time.name, c.position.name, c.displacement.name,
                        c.output.name, c.strength.name, c.validity.name);
    if (c.moves) text += fmt::format(",{},{}", c.truth.name, c.exposure.name);
    return text + '\n';
}

template <class Number>
void add_number(fmt::memory_buffer& text, Number value) {
    text.push_back(',');
    if (!std::isnan(value)) fmt::format_to(std::back_inserter(text), "{}", value);
}

}  // namespace

CsvSeries::CsvSeries(const std::filesystem::path& path, const SeriesOrigin& origin) : file_(path) {
    file_.write(header(origin));
}

void CsvSeries::append(const SeriesRows& rows) {
    fmt::memory_buffer text;
    for (std::size_t i = 0; i < rows.reading.size(); ++i) {
        fmt::format_to(std::back_inserter(text), "{}", rows.reading[i]);
        add_number(text, rows.time_ms[i]);
        add_number(text, rows.position[i]);
        add_number(text, rows.displacement_mm[i]);
        add_number(text, rows.output_mm[i]);
        add_number(text, rows.strength[i]);
        const auto validity = static_cast<reading::Validity>(rows.validity[i]);
        fmt::format_to(std::back_inserter(text), ",{}", reading::name_of(validity));
        if (!rows.true_mm.empty()) {
            add_number(text, rows.true_mm[i]);
            add_number(text, rows.exposure_us[i]);
        }
        text.push_back('\n');
    }
    file_.write({text.data(), text.size()});
}

void CsvSeries::commit(const measure::ReadResult& /*result*/) {
    file_.commit();
}

}  // namespace spotwright::record
