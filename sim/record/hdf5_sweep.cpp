#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <limits>
#include <span>
#include <string>
#include <vector>

#include "sim/record/atomic_file.hpp"
#include "sim/record/hdf5_file.hpp"
#include "sim/record/sweep_writers.hpp"
#include "sim/record/text.hpp"

namespace spotwright::record {

namespace {

constexpr double absent = std::numeric_limits<double>::quiet_NaN();

using Sizes = std::vector<std::int64_t>;

void write_sweep_origin(const Hdf5Object& file, const SeriesOrigin& origin) {
    constexpr std::int64_t schema_version = 1;
    write_attribute(file, "Conventions", "CF-1.10");
    write_attribute(file, "title", origin.title);
    write_attribute(file, "source", origin.source);
    write_attribute(file, "revision", origin.revision);
    write_attribute(file, "date", origin.date);
    write_attribute(file, "format", sweep_format);
    write_attribute(file, "format_version", std::span<const std::int64_t>(sweep_format_version));
    write_attribute(file, "schema_version", std::span<const std::int64_t>(&schema_version, 1));
    write_attribute(file, "seed", std::span<const std::int64_t>(&origin.seed, 1));
    write_attribute(file, "scenario", origin.scenario_toml);
}

// A variable along one axis of the grid.
template <class T>
Hdf5Object column_of(const Hdf5Object& file, const std::string& name, const std::vector<T>& values,
                     const std::string& long_name, const std::string& units) {
    constexpr std::int64_t longest_chunk = 4096;
    const std::array length{static_cast<std::int64_t>(values.size())};
    const std::array chunk{std::min(length[0], longest_chunk)};
    Hdf5Object variable = create_grid<T>(file, name, length, chunk);
    write_attribute(variable, "long_name", long_name);
    if (!units.empty()) write_attribute(variable, "units", units);
    const std::array<std::int64_t, 1> start{0};
    write_block<T>(variable, start, length, std::span<const T>(values));
    return variable;
}

// The axis as a coordinate variable of its own name, which is the dimension.
Hdf5Object write_axis(const Hdf5Object& file, const std::string& key, const study::AxisLabels& labels) {
    using Kind = study::AxisLabels::Kind;
    const auto made = [&]() -> Hdf5Object {
        if (labels.kind == Kind::numbers) return column_of(file, key, labels.numbers, labels.meaning, labels.units);
        if (labels.kind == Kind::whole_numbers) return column_of(file, key, labels.whole, labels.meaning, labels.units);
        std::vector<std::string> words;
        for (const std::string& word : labels.words) words.push_back(one_line(word));
        return column_of(file, key, words, labels.meaning, "");
    };
    Hdf5Object axis = made();
    make_dimension(axis, key);
    return axis;
}

// Consecutive blocks of the grid, each of at most so many points.
class Blocks {
public:
    Blocks(const Sizes& shape, std::int64_t most) : shape_(shape), block_(shape.size(), 1) {
        std::int64_t inner = 1;
        for (std::size_t i = shape.size(); i-- > 0;) {
            split_ = i;
            block_[i] = std::min(shape[i], std::max<std::int64_t>(most / inner, 1));
            if (block_[i] < shape[i]) break;
            inner *= shape[i];
        }
    }

    [[nodiscard]] const Sizes& block() const { return block_; }

    /// Calls with the first point, the number of points, start and count along each axis.
    template <class Visit>
    void each(std::int64_t points, const Visit& visit) const {
        for (std::int64_t first = 0; first < points;) {
            Sizes start(shape_.size());
            std::int64_t rest = first;
            for (std::size_t i = shape_.size(); i-- > 0;) {
                start[i] = rest % shape_[i];
                rest /= shape_[i];
            }
            Sizes count = block_;
            count[split_] = std::min(block_[split_], shape_[split_] - start[split_]);
            std::int64_t size = 1;
            for (const std::int64_t along : count) size *= along;
            visit(first, size, start, count);
            first += size;
        }
    }

private:
    Sizes shape_;
    Sizes block_;
    std::size_t split_ = 0;  // the axis along which blocks are cut; those behind it are whole
};

// The variables on all axes.
struct Variables {
    std::vector<Hdf5Object> quantities;
    std::vector<Hdf5Object> others;  // verdict, obstacle
};

Hdf5Object verdict_variable(const Hdf5Object& file, const Sizes& shape, const Sizes& chunk) {
    Hdf5Object verdict = create_grid<std::uint8_t>(file, "verdict", shape, chunk);
    write_attribute(verdict, "long_name", "verdict on the reading");
    write_attribute(verdict, "units", "1");
    constexpr std::array levels{measure::Level::stable, measure::Level::marginal, measure::Level::unstable,
                                measure::Level::unreadable};
    std::vector<std::uint8_t> values;
    std::string meanings;
    for (const measure::Level level : levels) {
        values.push_back(static_cast<std::uint8_t>(level));
        meanings += fmt::format("{}{}", meanings.empty() ? "" : " ", measure::name_of(level));
    }
    write_attribute(verdict, "flag_values", std::span<const std::uint8_t>(values));
    write_attribute(verdict, "flag_meanings", meanings);
    return verdict;
}

Variables create_variables(const Hdf5Object& file, const Sizes& shape, const Sizes& chunk) {
    Variables variables;
    for (const measure::Quantity& each : measure::sweep_quantities()) {
        Hdf5Object variable = create_grid<double>(file, std::string(each.name), shape, chunk, absent);
        write_attribute(variable, "long_name", each.long_name);
        write_attribute(variable, "units", each.units);
        variables.quantities.push_back(std::move(variable));
    }
    variables.others.push_back(verdict_variable(file, shape, chunk));
    variables.others.push_back(create_grid<std::string>(file, "obstacle", shape, chunk));
    write_attribute(variables.others.back(), "long_name", "why there is no reading; empty where nothing hinders it");
    return variables;
}

void write_points(const Variables& variables, const Blocks& blocks, std::int64_t points, const GetPoint& get) {
    std::vector<std::vector<double>> columns(variables.quantities.size());
    std::vector<std::uint8_t> levels;
    std::vector<std::string> obstacles;
    blocks.each(points, [&](std::int64_t first, std::int64_t size, const Sizes& start, const Sizes& count) {
        for (std::vector<double>& column : columns) column.resize(static_cast<std::size_t>(size));
        levels.clear();
        obstacles.clear();
        for (std::int64_t i = 0; i < size; ++i) {
            const study::SweepPoint point = get(first + i);
            for (std::size_t q = 0; q < columns.size(); ++q) columns[q][static_cast<std::size_t>(i)] = point.values[q];
            levels.push_back(static_cast<std::uint8_t>(point.level));
            obstacles.push_back(one_line(point.obstacle));
        }
        for (std::size_t q = 0; q < columns.size(); ++q) {
            write_block(variables.quantities[q], start, count, std::span<const double>(columns[q]));
        }
        write_block(variables.others[0], start, count, std::span<const std::uint8_t>(levels));
        write_block(variables.others[1], start, count, std::span<const std::string>(obstacles));
    });
}

}  // namespace

void write_hdf5_sweep(const std::filesystem::path& path, const study::Sweep& sweep, const SeriesOrigin& origin,
                      const GetPoint& get) {
    AtomicFile part(path);  // stands first, so that HDF5 has closed the part before it is removed
    Hdf5Object file = create_hdf5_file(part.part(), path.string());
    write_sweep_origin(file, origin);
    Sizes shape;
    std::vector<Hdf5Object> axes;
    std::string beside;  // names of coordinates that are no dimension
    for (std::size_t i = 0; i < sweep.axes.size(); ++i) {
        const std::string& key = sweep.axes[i].key;
        const study::AxisLabels labels = study::labels_of(sweep, i);
        shape.push_back(static_cast<std::int64_t>(labels.words.size()));
        axes.push_back(write_axis(file, key, labels));
        for (std::size_t k = 0; k < labels.of.size(); ++k) {
            const std::string name = fmt::format("{}[{}]", key, k);
            const Hdf5Object place = column_of(file, name, labels.of[k], labels.meaning, labels.units);
            attach_dimension(place, axes.back());
            beside += (beside.empty() ? "" : " ") + name;
        }
    }
    constexpr std::int64_t most_in_block = 8192;
    const Blocks blocks(shape, most_in_block);
    const Variables variables = create_variables(file, shape, blocks.block());
    for (const std::vector<Hdf5Object>* group : {&variables.quantities, &variables.others}) {
        for (const Hdf5Object& variable : *group) {
            for (std::size_t i = 0; i < axes.size(); ++i) attach_dimension(variable, axes[i], static_cast<unsigned>(i));
            if (!beside.empty()) write_attribute(variable, "coordinates", beside);
        }
    }
    write_points(variables, blocks, sweep.points, get);
    close_hdf5_file(file);
    part.commit();
}

}  // namespace spotwright::record
