#include "sim/record/hdf5_series.hpp"

#include <algorithm>
#include <array>
#include <limits>
#include <numeric>
#include <optional>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/hdf5_file.hpp"

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

struct Hdf5Series::Open {
    Open(const std::filesystem::path& path, const SeriesOrigin& origin);

    AtomicFile part;  // stands first, so that HDF5 has closed the part before it is removed
    Hdf5Object file;
    Hdf5Object reading;
    Hdf5Object time;
    Hdf5Object position;
    Hdf5Object displacement;
    Hdf5Object output;
    Hdf5Object peak;
    Hdf5Object validity;
    std::optional<Hdf5Object> truth;     // of a part that does not stand still
    std::optional<Hdf5Object> exposure;  // likewise
};

Hdf5Series::Open::Open(const std::filesystem::path& path, const SeriesOrigin& origin)
    : part(path),
      file(create_hdf5_file(part.part(), path.string())),
      reading(column<std::int64_t>(file, origin.columns.reading)),
      time(column<double>(file, origin.columns.time, none)),
      position(column<double>(file, origin.columns.position, none)),
      displacement(column<double>(file, origin.columns.displacement, none)),
      output(column<double>(file, origin.columns.output, none)),
      peak(column<float>(file, origin.columns.strength, std::numeric_limits<float>::quiet_NaN())),
      validity(column<std::uint8_t>(file, origin.columns.validity)) {
    write_flags(validity);
    write_origin(file, origin);
    make_dimension(reading, "reading");
    attach_dimension(time, reading);
    std::vector<const Hdf5Object*> variables{&position, &displacement, &output, &peak, &validity};
    if (origin.columns.moves) {
        truth.emplace(column<double>(file, origin.columns.truth, none));
        exposure.emplace(column<double>(file, origin.columns.exposure, none));
        variables.insert(variables.end(), {&*truth, &*exposure});
    }
    for (const Hdf5Object* variable : variables) {
        attach_dimension(*variable, reading);
        write_attribute(*variable, "coordinates", "time_ms");
    }
}

Hdf5Series::Hdf5Series(const std::filesystem::path& path, const SeriesOrigin& origin)
    : open_(std::make_unique<Open>(path, origin)) {}

Hdf5Series::~Hdf5Series() = default;
Hdf5Series::Hdf5Series(Hdf5Series&&) noexcept = default;
Hdf5Series& Hdf5Series::operator=(Hdf5Series&&) noexcept = default;

void Hdf5Series::append(const SeriesRows& rows) {
    if (rows.reading.empty()) return;
    const std::int64_t first = rows.reading.front();
    write_values(open_->time, first, std::span<const double>(rows.time_ms));
    write_values(open_->position, first, std::span<const double>(rows.position));
    write_values(open_->displacement, first, std::span<const double>(rows.displacement_mm));
    write_values(open_->output, first, std::span<const double>(rows.output_mm));
    write_values(open_->peak, first, std::span<const float>(rows.strength));
    write_values(open_->validity, first, std::span<const std::uint8_t>(rows.validity));
    if (open_->truth) write_values(*open_->truth, first, std::span<const double>(rows.true_mm));
    if (open_->exposure) write_values(*open_->exposure, first, std::span<const double>(rows.exposure_us));
    write_values(open_->reading, first, std::span<const std::int64_t>(rows.reading));
}

void Hdf5Series::put_frames(const measure::RawFrames& frames) {
    const std::int64_t count = static_cast<std::int64_t>(frames.digits.size()) / frames.pixels;
    const Hdf5Object frame = create_axis(open_->file, "frame", "index of the reading whose frame it is", count);
    const Hdf5Object pixel = create_axis(open_->file, "pixel", "index of the pixel along the array", frames.pixels);
    const std::array<std::int64_t, 2> shape{count, frames.pixels};
    const std::array<std::int64_t, 2> chunk{std::min<std::int64_t>(count, 64), frames.pixels};
    const Hdf5Object digits = create_grid<std::uint16_t>(open_->file, "frame_dn", shape, chunk);
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
    write_result(open_->file, result);
    close_hdf5_file(open_->file);
    open_->part.commit();
}

}  // namespace spotwright::record
