#include "sim/record/hdf5_series.hpp"

#include <algorithm>
#include <array>
#include <limits>
#include <numeric>
#include <optional>
#include <vector>

#include "sim/base/units.hpp"

namespace spotwright::record {

namespace {

using base::mm, base::um;

constexpr double none = std::numeric_limits<double>::quiet_NaN();

void write_number(const Hdf5Object& object, const std::string& name, double value) {
    write_attribute(object, name, std::span<const double>(&value, 1));
}

template <class T>
Hdf5Object column(const Hdf5Object& file, const ColumnLabel& label, std::optional<T> missing = std::nullopt) {
    Hdf5Object variable = create_variable<T>(file, std::string(label.name), missing);
    write_attribute(variable, "long_name", label.long_name);
    write_attribute(variable, "units", label.units);
    return variable;
}

void write_flags(const Hdf5Object& validity) {
    std::array<std::uint8_t, reading::validity_count> values{};
    std::string meanings;
    for (std::size_t i = 0; i < values.size(); ++i) {
        values[i] = static_cast<std::uint8_t>(i);
        if (i > 0) meanings += ' ';
        meanings += reading::name_of(static_cast<reading::Validity>(i));
    }
    write_attribute(validity, "flag_values", std::span<const std::uint8_t>(values));
    write_attribute(validity, "flag_meanings", meanings);
}

// A dimension of counted places, 0 to count - 1.
Hdf5Object create_axis(const Hdf5Object& file, const std::string& name, std::string_view long_name,
                       std::int64_t count) {
    const std::array<std::int64_t, 1> shape{count};
    Hdf5Object axis = create_grid<std::int64_t>(file, name, shape, shape);
    std::vector<std::int64_t> places(static_cast<std::size_t>(count));
    std::iota(places.begin(), places.end(), std::int64_t{0});
    write_block(axis, std::array<std::int64_t, 1>{0}, shape, std::span<const std::int64_t>(places));
    write_attribute(axis, "long_name", long_name);
    write_attribute(axis, "units", "1");
    make_dimension(axis, name);
    return axis;
}

void write_origin(const Hdf5Object& file, const SeriesOrigin& origin) {
    write_attribute(file, "Conventions", "CF-1.10");
    write_attribute(file, "title", origin.title);
    write_attribute(file, "source", origin.source);
    write_attribute(file, "revision", origin.revision);
    write_attribute(file, "date", origin.date);
    write_attribute(file, "format", series_format);
    write_attribute(file, "format_version", std::span<const std::int64_t>(series_format_version));
    write_attribute(file, "seed", std::span<const std::int64_t>(&origin.seed, 1));
    write_attribute(file, "scenario", origin.scenario_toml);
}

void write_result(const Hdf5Object& file, const measure::ReadResult& result) {
    const measure::SeriesStatistics& statistics = result.statistics;
    const auto valid = static_cast<double>(statistics.validity[static_cast<std::size_t>(reading::Validity::valid)]);
    const auto readings = static_cast<double>(statistics.readings);
    write_number(file, "true_mm", result.true_displacement / mm);
    write_number(file, "mean_mm", statistics.mean ? *statistics.mean / mm : none);
    write_number(file, "bias_um", result.bias ? *result.bias / um : none);
    write_number(file, "still_sd_um", statistics.standard_deviation ? *statistics.standard_deviation / um : none);
    write_number(file, "valid_share", readings > 0.0 ? valid / readings : none);
    write_attribute(file, "verdict", measure::name_of(result.verdict.level));
}

}  // namespace

Hdf5Series::Hdf5Series(const std::filesystem::path& path, const SeriesOrigin& origin)
    : part_(path),
      file_(create_hdf5_file(part_.part(), path.string())),
      reading_(column<std::int64_t>(file_, origin.columns.reading)),
      time_(column<double>(file_, origin.columns.time, none)),
      position_(column<double>(file_, origin.columns.position, none)),
      displacement_(column<double>(file_, origin.columns.displacement, none)),
      output_(column<double>(file_, origin.columns.output, none)),
      peak_(column<float>(file_, origin.columns.strength, std::numeric_limits<float>::quiet_NaN())),
      validity_(column<std::uint8_t>(file_, origin.columns.validity)) {
    write_flags(validity_);
    write_origin(file_, origin);
    make_dimension(reading_, "reading");
    attach_dimension(time_, reading_);
    std::vector<const Hdf5Object*> variables{&position_, &displacement_, &output_, &peak_, &validity_};
    if (origin.columns.moves) {
        truth_.emplace(column<double>(file_, origin.columns.truth, none));
        exposure_.emplace(column<double>(file_, origin.columns.exposure, none));
        variables.insert(variables.end(), {&*truth_, &*exposure_});
    }
    for (const Hdf5Object* variable : variables) {
        attach_dimension(*variable, reading_);
        write_attribute(*variable, "coordinates", "time_ms");
    }
}

void Hdf5Series::append(const SeriesRows& rows) {
    if (rows.reading.empty()) return;
    const std::int64_t first = rows.reading.front();
    write_values(time_, first, std::span<const double>(rows.time_ms));
    write_values(position_, first, std::span<const double>(rows.position));
    write_values(displacement_, first, std::span<const double>(rows.displacement_mm));
    write_values(output_, first, std::span<const double>(rows.output_mm));
    write_values(peak_, first, std::span<const float>(rows.strength));
    write_values(validity_, first, std::span<const std::uint8_t>(rows.validity));
    if (truth_) write_values(*truth_, first, std::span<const double>(rows.true_mm));
    if (exposure_) write_values(*exposure_, first, std::span<const double>(rows.exposure_us));
    write_values(reading_, first, std::span<const std::int64_t>(rows.reading));
}

void Hdf5Series::put_frames(const measure::RawFrames& frames) {
    const std::int64_t count = static_cast<std::int64_t>(frames.digits.size()) / frames.pixels;
    const Hdf5Object frame = create_axis(file_, "frame", "index of the reading whose frame it is", count);
    const Hdf5Object pixel = create_axis(file_, "pixel", "index of the pixel along the array", frames.pixels);
    const std::array<std::int64_t, 2> shape{count, frames.pixels};
    const std::array<std::int64_t, 2> chunk{std::min<std::int64_t>(count, 64), frames.pixels};
    const Hdf5Object digits = create_grid<std::uint16_t>(file_, "frame_dn", shape, chunk);
    attach_dimension(digits, frame, 0);
    attach_dimension(digits, pixel, 1);
    write_attribute(digits, "long_name", "raw digit of a pixel, before background subtraction");
    write_attribute(digits, "units", "1");
    write_number(digits, "electrons_per_digit", 1.0 / frames.digitiser.gain);
    write_number(digits, "black_level_dn", frames.digitiser.black_level);
    write_number(digits, "top_digit_dn", frames.digitiser.top_digit);
    const std::array<std::int64_t, 2> start{0, 0};
    write_block(digits, start, shape, std::span<const std::uint16_t>(frames.digits));
}

void Hdf5Series::commit(const measure::ReadResult& result) {
    write_result(file_, result);
    close_hdf5_file(file_);
    part_.commit();
}

}  // namespace spotwright::record
