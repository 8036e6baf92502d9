// From data sheets to sensors, and from jobs to the sensors that suit them.
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "bindings/python/bind.hpp"
#include "bindings/python/values.hpp"
#include "sim/bench/sheet_log.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/infer_json.hpp"
#include "sim/record/shortlist_json.hpp"
#include "sim/scenario/job.hpp"
#include "sim/scenario/sheet.hpp"
#include "sim/sensor/summary.hpp"
#include "sim/study/infer.hpp"
#include "sim/study/shortlist.hpp"

namespace spotwright::bindings {

namespace py = pybind11;
using nlohmann::ordered_json;

namespace {

// A text of TOML has lines or values; a path has neither.
bool is_text(const py::object& source) {
    if (!py::isinstance<py::str>(source)) return false;
    const auto text = source.cast<std::string>();
    return text.find('\n') != std::string::npos || text.find('=') != std::string::npos;
}

std::filesystem::path path_of(const py::object& source) {
    return py::module_::import("os").attr("fspath")(source).cast<std::string>();
}

scenario::Sheet sheet_from(const py::object& source) {
    if (is_text(source)) return scenario::parse_sheet(source.cast<std::string>(), "sheet");
    return scenario::load_sheet(path_of(source));
}

scenario::Job job_from(const py::object& source) {
    if (is_text(source)) return scenario::parse_job(source.cast<std::string>(), "job");
    return scenario::load_job(path_of(source));
}

// A measurement and its file each.
std::vector<study::BenchMeasured> measured_from(const std::map<std::string, py::object>& logs) {
    std::vector<study::BenchMeasured> measured;
    for (const auto& [measurement, file] : logs) {
        measured.push_back(bench::load_measured(measurement, path_of(file).string()));
    }
    return measured;
}

py::object infer(const py::object& sheet, std::int64_t sensors, std::uint64_t seed,
                 const std::optional<std::map<std::string, py::object>>& logs, const py::object& out, int threads,
                 const py::object& progress) {
    const scenario::Sheet stated = sheet_from(sheet);
    study::InferOptions options;
    options.seed = seed;
    options.members = sensors;
    if (logs) options.logs = measured_from(*logs);
    options.threads = checked_threads(threads);
    options.progress = progress_of(progress);
    std::optional<std::filesystem::path> file;
    if (!out.is_none()) file = path_of(out);
    ordered_json json;
    {
        const py::gil_scoped_release unlocked;
        const study::Inference inference = study::infer(stated, options);
        json = record::to_json(inference);
        json["sensor_toml"] = study::sensor_file_text(inference);
        if (file) record::write_text_file(file->string(), json["sensor_toml"].get<std::string>());
    }
    return record_of(json);
}

py::object shortlist(const py::object& job, const py::object& sensors, int threads, const py::object& progress) {
    const scenario::Job asked = job_from(job);
    const std::string folder = sensors.is_none() ? std::string() : path_of(sensors).string();
    study::ShortlistOptions options;
    options.threads = checked_threads(threads);
    options.progress = progress_of(progress);
    ordered_json json;
    {
        const py::gil_scoped_release unlocked;
        json = record::to_json(study::shortlist(asked, sensor::shelf(folder), options), asked);
    }
    return record_of(json);
}

}  // namespace

void bind_shelf(py::module_& module) {
    module.def("infer", &infer, py::arg("sheet"), py::kw_only(), py::arg("sensors") = study::InferOptions{}.members,
               py::arg("seed") = study::InferOptions{}.seed, py::arg("logs") = py::none(), py::arg("out") = py::none(),
               py::arg("threads") = 0, py::arg("progress") = py::none(), R"(Sensors that fit a data sheet.

Parameters
----------
sheet : str or os.PathLike
    A data sheet file, or its text: what has a line break or an equals sign.
sensors : int, optional
    How many to find, 2 to 256.
seed : int, optional
    Of what the sheet leaves open.
logs : dict of str to str or os.PathLike, optional
    Logs over time of the real sensor, by which to narrow: the file of each measurement, named as in
    ``measure_next``, such as ``{"tile-moved": "tile.csv"}``.
out : str or os.PathLike, optional
    Write the sensor file there.
threads : int, optional
    0: all cores.
progress : callable, optional
    Called as ``progress(done, all)``.

Returns
-------
Record
    What ``spotwright infer --json`` prints, and ``sensor_toml``, the sensor file as text.

Raises
------
ScenarioError
    The sheet is wrong or contradicts itself, no sensor fits, or none explains a log.
)");
    module.def("shortlist", &shortlist, py::arg("job"), py::kw_only(), py::arg("sensors") = py::none(),
               py::arg("threads") = 0, py::arg("progress") = py::none(),
               R"(Sensors of a shelf that suit a job, best first.

Parameters
----------
job : str or os.PathLike
    A job file, or its text: what has a line break or an equals sign.
sensors : str or os.PathLike, optional
    Folder of sensor files; without one, the library.
threads : int, optional
    0: all cores.
progress : callable, optional
    Called as ``progress(done, all)``.

Returns
-------
Record
    What ``spotwright shortlist --json`` prints.

Raises
------
ScenarioError
    The job or a sensor is wrong.
)");
}

}  // namespace spotwright::bindings
