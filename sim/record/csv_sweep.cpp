#include <fmt/format.h>

#include <cmath>
#include <iterator>
#include <vector>

#include "sim/base/words.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/csv_head.hpp"
#include "sim/record/sweep_writers.hpp"
#include "sim/record/text.hpp"

namespace spotwright::record {

namespace {

// RFC 4180: in quotes where it would part or end a field, and where it would look like a comment. An apostrophe keeps
// spreadsheets from taking a text for a formula.
std::string field_of(std::string_view text) {
    std::string valid = one_line(text);
    const bool formula = !valid.empty() && std::string_view("=+-@").find(valid.front()) != std::string_view::npos;
    if (formula && !base::number_of(valid)) valid.insert(0, "'");
    if (valid.find_first_of(",\"\r\n#") == std::string::npos) return valid;
    std::string quoted = "\"";
    for (const char c : valid) {
        if (c == '"') quoted += '"';
        quoted += c;
    }
    return quoted + '"';
}

std::string head_of_sweep(const study::Sweep& sweep, const SeriesOrigin& origin) {
    std::string text = csv_head(sweep_format, sweep_format_version, origin);
    for (const study::SweepAxis& axis : sweep.axes) text += field_of(axis.key) + ',';
    for (const measure::Quantity& each : measure::sweep_quantities()) text += fmt::format("{},", each.name);
    return text + "verdict,obstacle\n";
}

}  // namespace

void write_csv_sweep(const std::filesystem::path& path, const study::Sweep& sweep, const SeriesOrigin& origin,
                     const GetPoint& get) {
    AtomicFile file(path);
    file.write(head_of_sweep(sweep, origin));
    std::vector<std::vector<std::string>> fields;  // of the values of each axis
    for (std::size_t i = 0; i < sweep.axes.size(); ++i) {
        fields.emplace_back();
        for (const std::string& word : study::labels_of(sweep, i).words) fields.back().push_back(field_of(word));
    }
    fmt::memory_buffer row;
    for (std::int64_t point = 0; point < sweep.points; ++point) {
        const study::SweepPoint result = get(point);
        const std::vector<std::size_t> places = study::places_of(sweep, point);
        row.clear();
        for (std::size_t i = 0; i < places.size(); ++i)
            fmt::format_to(std::back_inserter(row), "{},", fields[i][places[i]]);
        for (const double value : result.values) {
            if (!std::isnan(value)) fmt::format_to(std::back_inserter(row), "{}", value);
            row.push_back(',');
        }
        fmt::format_to(std::back_inserter(row), "{},{}\n", measure::name_of(result.level), field_of(result.obstacle));
        file.write({row.data(), row.size()});
    }
    file.commit();
}

}  // namespace spotwright::record
