// Sweeps: points by the range, and the file that gathers them.
#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <memory>
#include <optional>

#include "bindings/bind.hpp"
#include "bindings/ndarray.hpp"
#include "bindings/values.hpp"
#include "sim/record/date.hpp"
#include "sim/record/sweep_file.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/study/sweep.hpp"

namespace spotwright::bindings {

namespace py = pybind11;
using scenario::Scenario;

namespace {

// Results of some points on their way between processes.
struct SweepPoints {
    std::vector<std::int64_t> point;
    std::vector<study::SweepPoint> result;
};

// Words stand bare, as on the command line; so do they in the file.
std::string axis_value(const std::string& key, const py::handle& value) {
    return py::isinstance<py::str>(value) ? text_of(key, value) : setting_text(key, value);
}

study::Sweep make_sweep(const Scenario& scenario, const py::dict& over) {
    std::vector<study::SweepAxis> axes;
    for (const auto& [name, values] : over) {
        study::SweepAxis axis;
        axis.key = text_of("a key", name);
        if (py::isinstance<py::str>(values)) {
            axis.values.push_back(axis_value(axis.key, values));
        } else {
            for (const py::handle value : py::iter(values)) axis.values.push_back(axis_value(axis.key, value));
        }
        axes.push_back(std::move(axis));
    }
    return study::make_sweep(scenario, std::move(axes));
}

SweepPoints run(const study::Sweep& sweep, std::int64_t first, std::int64_t last, int threads) {
    SweepPoints points;
    study::SweepOptions options;
    options.threads = checked_threads(threads);
    options.progress = progress_of(py::none());
    options.sink = [&points](std::int64_t point, const study::SweepPoint& result) {
        points.point.push_back(point);
        points.result.push_back(result);
    };
    const py::gil_scoped_release unlocked;
    study::run_sweep(sweep, first, last, options);
    return points;
}

void run_into(const study::Sweep& sweep, record::SweepFile& file, int threads, const py::object& progress) {
    study::SweepOptions options;
    options.threads = checked_threads(threads);
    options.progress = progress_of(progress);
    options.wanted = [&file](std::int64_t point) { return !file.has(point); };
    options.sink = [&file](std::int64_t point, const study::SweepPoint& result) { file.put(point, result); };
    const py::gil_scoped_release unlocked;
    study::run_sweep(sweep, 0, sweep.points, options);
}

py::tuple state_of(const SweepPoints& points) {
    py::list results;
    for (std::size_t i = 0; i < points.point.size(); ++i) {
        const study::SweepPoint& result = points.result[i];
        results.append(py::make_tuple(points.point[i], moved_to_numpy(std::vector<double>(result.values)),
                                      static_cast<int>(result.level), result.obstacle));
    }
    return py::make_tuple(results);
}

SweepPoints points_of(const py::tuple& state) {
    SweepPoints points;
    for (const py::handle entry : state[0]) {
        const auto fields = entry.cast<py::tuple>();
        points.point.push_back(fields[0].cast<std::int64_t>());
        points.result.push_back({fields[1].cast<std::vector<double>>(),
                                 static_cast<study::Level>(fields[2].cast<int>()), fields[3].cast<std::string>()});
    }
    return points;
}

py::list axes_of(const study::Sweep& sweep) {
    py::list axes;
    for (const study::SweepAxis& axis : sweep.axes) axes.append(py::make_tuple(axis.key, axis.values));
    return axes;
}

}  // namespace

void bind_sweep(py::module_& module) {
    py::class_<study::Sweep>(module, "Sweep", "A checked grid of scenario keys, and the scenario it varies.")
        .def(py::init(&make_sweep), py::arg("scenario"), py::arg("over"))
        .def_readonly("points", &study::Sweep::points, "Number of points.")
        .def_property_readonly("axes", &axes_of, "Keys and their values, as settings have them.")
        .def("settings_of", &study::settings_of, py::arg("point"), "The settings of a point, by its number.")
        .def("run", &run, py::arg("first"), py::arg("last"), py::kw_only(),
             py::arg("threads") = study::SweepOptions{}.threads,
             "Results of a part of the grid, in the order in which points are worked off.")
        .def(py::pickle(
            [](const study::Sweep& sweep) {
                return py::make_tuple(scenario::to_toml(sweep.scenario), sweep.scenario.file, axes_of(sweep));
            },
            [](const py::tuple& state) {
                std::vector<study::SweepAxis> axes;
                for (const py::handle entry : state[2]) {
                    const auto axis = entry.cast<std::pair<std::string, std::vector<std::string>>>();
                    axes.push_back({axis.first, axis.second});
                }
                return study::make_sweep(scenario::parse(state[0].cast<std::string>(), state[1].cast<std::string>()),
                                         std::move(axes));
            }));
    py::class_<SweepPoints>(module, "SweepPoints", "Results of some points of a sweep.")
        .def("__len__", [](const SweepPoints& points) { return points.point.size(); })
        .def(py::pickle(&state_of, &points_of));
    py::class_<record::SweepFile>(module, "SweepFile", "The results of a sweep on disk, point by point.")
        .def(py::init([](const py::object& path, const study::Sweep& sweep, const py::object& date) {
                 return record::SweepFile(path_of(path), sweep,
                                          date.is_none() ? record::current_date() : text_of("date", date));
             }),
             py::arg("path"), py::arg("sweep"), py::kw_only(), py::arg("date") = py::none())
        .def_property_readonly("done", &record::SweepFile::done, "Number of points that are there.")
        .def("has", &record::SweepFile::has, py::arg("point"), "Whether a point is there.")
        .def(
            "run",
            [](record::SweepFile& file, const study::Sweep& sweep, int threads, const py::object& progress) {
                run_into(sweep, file, threads, progress);
            },
            py::arg("sweep"), py::kw_only(), py::arg("threads") = study::SweepOptions{}.threads,
            py::arg("progress") = py::none(), "Reads the points that are missing.")
        .def(
            "put",
            [](record::SweepFile& file, const SweepPoints& points) {
                for (std::size_t i = 0; i < points.point.size(); ++i) file.put(points.point[i], points.result[i]);
            },
            py::arg("points"), "Takes results over.")
        .def("commit", &record::SweepFile::commit, "Gives the file its name: once, and last.");
}

}  // namespace spotwright::bindings
