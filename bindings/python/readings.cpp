// Readings of a part: statistics, series, frames and the light on the array.
#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <limits>
#include <memory>
#include <optional>

#include "bindings/python/bind.hpp"
#include "bindings/python/ndarray.hpp"
#include "bindings/python/values.hpp"
#include "sim/measure/read.hpp"
#include "sim/base/parallel.hpp"
#include "sim/record/date.hpp"
#include "sim/record/infer_json.hpp"
#include "sim/record/json.hpp"
#include "sim/record/series_columns.hpp"
#include "sim/record/series_file.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/speckle.hpp"

namespace spotwright::bindings {

namespace py = pybind11;
using scenario::Scenario;

namespace {

const int all_cores = measure::ReadOptions{}.threads;

// The scenario with another number of readings, if one is given.
Scenario with_readings(const Scenario& scenario, const py::object& readings) {
    if (readings.is_none()) return scenario;
    const std::vector<std::string> settings{"run.readings=" + setting_text("run.readings", readings)};
    return scenario::with_settings(scenario, settings);
}

sensor::TriangulationSetup triangulating(const Scenario& scenario, int threads) {
    if (!scenario::abilities_of(scenario.principle).array) {
        scenario::reject(scenario, "principle", "there is no array to look at", "triangulation");
    }
    return sensor::set_up_triangulation(scenario, threads);
}

py::object read(const Scenario& scenario, const py::object& readings, const py::object& out, const py::object& date,
                int threads, const py::object& progress) {
    const Scenario s = with_readings(scenario, readings);
    const std::filesystem::path file = out.is_none() ? std::filesystem::path() : path_of(out);
    const std::string when = date.is_none() ? record::current_date() : text_of("date", date);
    measure::ReadOptions options;
    options.threads = checked_threads(threads);
    options.progress = progress_of(progress);
    nlohmann::ordered_json json;
    {
        const py::gil_scoped_release unlocked;
        std::optional<record::SeriesFile> series;
        if (!out.is_none()) {
            series.emplace(record::open_series_file(file, s, when));
            options.sink = [&series](const measure::SeriesBlock& block) { series->append(block); };
        }
        const measure::ReadResult result = measure::read(sensor::set_up(s, threads), options);
        if (series) series->commit(result);
        json = record::to_json(result, s);
        study::EnsembleOptions each;
        each.threads = options.threads;
        if (!s.sensor_file.ensemble.empty()) {
            json["ensemble"] = record::to_json(study::spread_over(study::read_ensemble(s, each)), result.verdict.level);
        }
        if (const auto specimens = study::read_specimens(s, each)) {
            json["specimens"] = record::to_json(*specimens, result.verdict.level);
        }
    }
    return record_of(json);
}

template <class T>
void add_to(std::vector<T>& all, const std::vector<T>& more) {
    all.insert(all.end(), more.begin(), more.end());
}

void add_rows(const record::SeriesRows& more, record::SeriesRows& rows) {
    add_to(rows.reading, more.reading);
    add_to(rows.time_ms, more.time_ms);
    add_to(rows.position, more.position);
    add_to(rows.displacement_mm, more.displacement_mm);
    add_to(rows.output_mm, more.output_mm);
    add_to(rows.strength, more.strength);
    add_to(rows.validity, more.validity);
    add_to(rows.true_mm, more.true_mm);
    add_to(rows.exposure_us, more.exposure_us);
}

// One column for `Series`: name, units and long_name of the file, and the values.
template <class T>
py::tuple column(const record::ColumnLabel& label, std::vector<T>&& values) {
    return py::make_tuple(label.name, label.units, label.long_name, moved_to_numpy(std::move(values)));
}

py::object series(const Scenario& scenario, const py::object& readings, int threads, const py::object& progress) {
    const Scenario s = with_readings(scenario, readings);
    constexpr std::int64_t most = std::int64_t{1} << 28U;  // some 16 GiB
    if (s.run.readings > most) {
        throw py::value_error(
            fmt::format("a series of {} readings does not fit into memory: up to {}; read(out=...) "
                        "writes longer ones to a file",
                        s.run.readings, most));
    }
    const record::SeriesColumns columns = record::columns_of(s);
    record::SeriesRows rows;
    measure::ReadOptions options;
    options.threads = checked_threads(threads);
    options.progress = progress_of(progress);
    options.sink = [&](const measure::SeriesBlock& block) { add_rows(record::rows_of(block, columns), rows); };
    nlohmann::ordered_json json;
    {
        const py::gil_scoped_release unlocked;
        json = record::to_json(measure::read(sensor::set_up(s, threads), options), s);
    }
    py::list list;
    list.append(column(columns.reading, std::move(rows.reading)));
    list.append(column(columns.time, std::move(rows.time_ms)));
    list.append(column(columns.position, std::move(rows.position)));
    list.append(column(columns.displacement, std::move(rows.displacement_mm)));
    list.append(column(columns.output, std::move(rows.output_mm)));
    list.append(column(columns.strength, std::move(rows.strength)));
    list.append(column(columns.validity, std::move(rows.validity)));
    if (columns.moves) {
        list.append(column(columns.truth, std::move(rows.true_mm)));
        list.append(column(columns.exposure, std::move(rows.exposure_us)));
    }
    py::list words;
    for (std::size_t i = 0; i < reading::validity_count; ++i) {
        words.append(reading::name_of(static_cast<reading::Validity>(i)));
    }
    return py::module_::import("spotwright._series").attr("Series")(list, words, record_of(json), scenario::to_toml(s));
}

py::array_t<float> profile(const Scenario& scenario, int threads) {
    static_cast<void>(checked_threads(threads));
    std::vector<float> rate;
    {
        const py::gil_scoped_release unlocked;
        const sensor::TriangulationSetup setup = triangulating(scenario, threads);
        rate = sensor::pose_under_speckle(setup, scenario.target.displacement, threads).profile.rate;
    }
    return moved_to_numpy(std::move(rate));
}

py::array_t<float> frames(const Scenario& scenario, std::int64_t count, std::int64_t first, int threads) {
    static_cast<void>(checked_threads(threads));
    constexpr std::int64_t most_bytes = std::int64_t{1} << 34U;
    const std::int64_t pixels = scenario.detector.pixels;
    const std::int64_t most_frames = most_bytes / static_cast<std::int64_t>(sizeof(float)) / pixels;
    const std::int64_t last_first = std::numeric_limits<std::int64_t>::max() - most_frames;
    if (count < 0 || count > most_frames || first < 0 || first > last_first) {
        throw py::value_error(
            fmt::format("count must be 0 to {} (16 GiB of frames of {} pixels), first 0 to {}; got "
                        "{} and {}",
                        most_frames, pixels, last_first, count, first));
    }
    // Memory that nobody has touched yet: the keyboard would have to wait while gigabytes of zeros are written.
    py::array_t<float> digits({static_cast<py::ssize_t>(count), static_cast<py::ssize_t>(pixels)});
    float* const first_digit = digits.mutable_data();
    const Progress check_keyboard = progress_of(py::none());
    {
        const py::gil_scoped_release unlocked;
        const sensor::TriangulationSetup setup = triangulating(scenario, threads);
        const sensor::Pose pose = sensor::pose_under_speckle(setup, scenario.target.displacement, threads);
        constexpr std::int64_t block = 4096;
        for (std::int64_t begin = 0; begin < count; begin += block) {
            base::parallel_for(std::min(block, count - begin), threads, [&](std::int64_t i) {
                const std::vector<float> frame = sensor::frame_of(setup, pose, first + begin + i);
                std::copy(frame.begin(), frame.end(), first_digit + (begin + i) * pixels);
            });
            check_keyboard(begin, count);
        }
    }
    return digits;
}

}  // namespace

void bind_readings(py::module_& module) {
    module.attr("all_cores") = all_cores;
    module.def("read", &read, py::arg("scenario"), py::kw_only(), py::arg("readings") = py::none(),
               py::arg("out") = py::none(), py::arg("date") = py::none(), py::arg("threads") = all_cores,
               py::arg("progress") = py::none(), R"(Reads the part: statistics, reasons, verdict.

Parameters
----------
scenario : Scenario
readings : int, optional
    In place of the scenario's ``run.readings``.
out : str or os.PathLike, optional
    Writes the series to this file (.h5 or .csv).
date : str, optional
    Date to write into it, ISO 8601; without one, now.
threads : int, optional
    0: all cores.
progress : callable, optional
    Called as ``progress(done, all)``.

Returns
-------
Record
    What ``spotwright read --json`` prints.

Raises
------
ScenarioError
    The sensor cannot be built, or the file has another extension.
OSError
    The file cannot be written.
)");
    module.def("series", &series, py::arg("scenario"), py::kw_only(), py::arg("readings") = py::none(),
               py::arg("threads") = all_cores, py::arg("progress") = py::none(),
               R"(Reads the part, and keeps every reading.

Parameters
----------
scenario : Scenario
readings : int, optional
    In place of the scenario's ``run.readings``.
threads : int, optional
    0: all cores.
progress : callable, optional
    Called as ``progress(done, all)``.

Returns
-------
Series
    One array for each column of a series file, and the result.

Raises
------
ScenarioError
    The sensor cannot be built.
)");
    module.def("profile", &profile, py::arg("scenario"), py::kw_only(), py::arg("threads") = all_cores,
               R"(The light on the array, before any noise: with its speckle where the part stands.

Parameters
----------
scenario : Scenario
threads : int, optional
    0: all cores.

Returns
-------
numpy.ndarray
    float32, one value for each pixel: photoelectrons per second from the laser. [1/s]

Raises
------
ScenarioError
    The sensor cannot be built, or is one of time of flight.
)");
    module.def("frames", &frames, py::arg("scenario"), py::arg("count"), py::kw_only(), py::arg("first") = 0,
               py::arg("threads") = all_cores, R"(Digits of whole frames, as readings see them.

Parameters
----------
scenario : Scenario
count : int
    Number of frames.
first : int, optional
    Reading whose frame comes first.
threads : int, optional
    0: all cores.

Returns
-------
numpy.ndarray
    float32, (count, pixels). [DN]

Raises
------
ScenarioError
    The sensor cannot be built, or is one of time of flight.
ValueError
    A negative count or first, or more than 16 GiB of frames.
)");
}

}  // namespace spotwright::bindings
