// Sweeps: points by the range, and the file that gathers them.
#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <fmt/format.h>

#include <filesystem>
#include <optional>
#include <stdexcept>
#include <utility>

#include "bindings/python/bind.hpp"
#include "bindings/python/ndarray.hpp"
#include "bindings/python/values.hpp"
#include "sim/base/printable.hpp"
#include "sim/measure/quantities.hpp"
#include "sim/measure/read.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/date.hpp"
#include "sim/record/sweep_file.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/study/sweep.hpp"

namespace spotwright::bindings {

namespace py = pybind11;
using scenario::Scenario;

namespace {

// Results of some points, as passed between processes.
struct SweepPoints {
    std::vector<std::int64_t> point;
    std::vector<study::SweepPoint> result;
};

study::Sweep make_sweep(const Scenario& scenario, const py::dict& over) {
    std::vector<study::SweepAxis> axes;
    for (const auto& [name, values] : over) {
        study::SweepAxis axis;
        axis.key = text_of("a key", name);
        if (py::isinstance<py::str>(values)) {
            axis.values.push_back(setting_text(axis.key, values));
        } else {
            if (!py::isinstance<py::iterable>(values)) {
                throw py::type_error(fmt::format("{}: takes a list of values", axis.key));
            }
            for (const py::handle value : py::iter(values)) {
                if (axis.values.size() == static_cast<std::size_t>(study::most_axis_values)) {
                    throw py::value_error(fmt::format("{}: more than {} values", axis.key, study::most_axis_values));
                }
                axis.values.push_back(setting_text(axis.key, value));
            }
        }
        axes.push_back(std::move(axis));
    }
    const py::gil_scoped_release unlocked;
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

// What is asked of a sweep's file as it is filled.
class FileInWork {
public:
    FileInWork(const py::object& path, const study::Sweep& sweep, const py::object& date)
        : sweep_(sweep), file_(opened(path, sweep, date)) {
        if (file_->set_aside().empty()) return;
        const std::string message = base::printable(
            fmt::format("the file of finished points is damaged: it is kept as {}, and the sweep begins anew",
                        file_->set_aside().string()));
        if (PyErr_WarnEx(PyExc_UserWarning, message.c_str(), 1) != 0) throw py::error_already_set();
    }

    [[nodiscard]] std::int64_t done() const { return file().done(); }

    // Whether a part of the grid, in the order in which points are worked off, has all its results.
    [[nodiscard]] bool has_all(std::int64_t first, std::int64_t last) const {
        bool all = true;
        study::SweepOptions options;
        options.wanted = [this, &all](std::int64_t point) {
            all = all && file().has(point);
            return false;
        };
        study::run_sweep(sweep_, first, last, options);
        return all;
    }

    void run(int threads, const py::object& progress) {
        study::SweepOptions options;
        options.threads = checked_threads(threads);
        options.progress = progress_of(progress);
        options.wanted = [this](std::int64_t point) { return !file().has(point); };
        options.sink = [this](std::int64_t point, const study::SweepPoint& result) { file().put(point, result); };
        const py::gil_scoped_release unlocked;
        study::run_sweep(sweep_, 0, sweep_.points, options);
    }

    void put(const SweepPoints& points) {
        for (std::size_t i = 0; i < points.point.size(); ++i) file().put(points.point[i], points.result[i]);
    }

    void commit() { file().commit(); }

    // Lets others have the file, whoever still holds this object.
    void close() { file_.reset(); }

private:
    [[nodiscard]] const record::SweepFile& file() const {
        if (!file_) throw std::invalid_argument("the file is closed");
        return *file_;
    }
    record::SweepFile& file() {
        if (!file_) throw std::invalid_argument("the file is closed");
        return *file_;
    }

    static record::SweepFile opened(const py::object& path, const study::Sweep& sweep, const py::object& date) {
        const std::filesystem::path target = path_of(path);
        const std::string when = date.is_none() ? record::current_date() : text_of("date", date);
        const py::gil_scoped_release unlocked;
        static_cast<void>(record::checked_extension(target, {".h5"}));  // what xarray opens
        return {target, sweep, when};
    }

    study::Sweep sweep_;
    std::optional<record::SweepFile> file_;
};

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
                                 static_cast<measure::Level>(fields[2].cast<int>()), fields[3].cast<std::string>()});
    }
    return points;
}

// Names of the quantities that the principle of a sweep never has; none where the principle is an axis itself.
std::vector<std::string> quantities_of_others(const study::Sweep& sweep) {
    std::vector<std::string> names;
    for (const study::SweepAxis& axis : sweep.axes) {
        if (axis.key == "principle") return names;
    }
    for (const measure::Quantity& quantity : measure::sweep_quantities()) {
        if (!measure::may_exist(quantity, sweep.scenario.principle)) names.emplace_back(quantity.name);
    }
    return names;
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
        .def_property_readonly("quantities_of_others", &quantities_of_others,
                               "Quantities that the principle of the scenario never has.")
        .def("settings_of", &study::settings_of, py::arg("point"), "The settings of a point, by its number.")
        .def("run", &run, py::arg("first"), py::arg("last"), py::kw_only(),
             py::arg("threads") = study::SweepOptions{}.threads,
             "Results of a part of the grid, in the order in which points are worked off.")
        .def(py::pickle(
            [](const study::Sweep& sweep) {
                const scenario::WrittenScenario written = scenario::as_written(sweep.scenario);
                return py::make_tuple(written.toml, sweep.scenario.file, axes_of(sweep), written.settings,
                                      sweep.scenario.reach == scenario::FileReach::beside_or_below);
            },
            [](const py::tuple& state) {
                std::vector<study::SweepAxis> axes;
                for (const py::handle entry : state[2]) {
                    const auto axis = entry.cast<std::pair<std::string, std::vector<std::string>>>();
                    axes.push_back({axis.first, axis.second});
                }
                return study::make_sweep(scenario::parse(state[0].cast<std::string>(), state[1].cast<std::string>(),
                                                         state[3].cast<std::vector<std::string>>(),
                                                         state[4].cast<bool>() ? scenario::FileReach::beside_or_below
                                                                               : scenario::FileReach::anywhere),
                                         std::move(axes));
            }));
    py::class_<SweepPoints>(module, "SweepPoints", "Results of some points of a sweep.")
        .def("__len__", [](const SweepPoints& points) { return points.point.size(); })
        .def(py::pickle(&state_of, &points_of));
    using Unlocked = py::call_guard<py::gil_scoped_release>;
    py::class_<FileInWork>(module, "SweepFile", "The results of a sweep on disk, point by point.")
        .def(py::init<const py::object&, const study::Sweep&, const py::object&>(), py::arg("path"), py::arg("sweep"),
             py::kw_only(), py::arg("date") = py::none())
        .def_property_readonly("done", &FileInWork::done, "Number of points that are there.")
        .def("has_all", &FileInWork::has_all, py::arg("first"), py::arg("last"), Unlocked(),
             "Whether all points are there that ``Sweep.run`` would read.")
        .def("run", &FileInWork::run, py::kw_only(), py::arg("threads") = study::SweepOptions{}.threads,
             py::arg("progress") = py::none(), "Reads the points that are missing.")
        .def("put", &FileInWork::put, py::arg("points"), Unlocked(), "Takes results over.")
        .def("commit", &FileInWork::commit, Unlocked(), "Gives the file its name: once, and last.")
        .def("close", &FileInWork::close, Unlocked(), "Leaves the points to whoever goes on with them.");
}

}  // namespace spotwright::bindings
