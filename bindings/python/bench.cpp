// Logs of the bench beside the prediction.
#include <pybind11/pybind11.h>

#include <filesystem>
#include <optional>

#include "bindings/python/bind.hpp"
#include "bindings/python/values.hpp"
#include "sim/measure/read.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/bench_json.hpp"
#include "sim/bench/fit.hpp"
#include "sim/bench/model.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::bindings {

namespace py = pybind11;
using scenario::Scenario;

namespace {

template <class Statistics>
nlohmann::ordered_json held_against(const bench::BenchLog& log, const Statistics& statistics, const Scenario* s,
                                    int threads) {
    std::optional<bench::Bench> bench;
    if (s != nullptr) {
        bench::require_within_range(log, *s);
        bench = bench::compare_with_model(log, statistics, sensor::set_up(*s, threads), threads);
    }
    return record::bench_json(log, statistics, bench);
}

py::object bench(const std::filesystem::path& path, const Scenario* scenario, const bench::LogNames& names,
                 int threads) {
    static_cast<void>(checked_threads(threads));
    nlohmann::ordered_json json;
    {
        const py::gil_scoped_release unlocked;
        const bench::BenchLog log = bench::load_log(path.string(), names);
        json = log.reference.empty() ? held_against(log, bench::time_statistics(log), scenario, threads)
                                     : held_against(log, bench::linearity_statistics(log), scenario, threads);
    }
    return record_of(json);
}

void simulate_log(const Scenario& s, const py::object& target, int places, int threads) {
    static_cast<void>(checked_threads(threads));
    const std::filesystem::path path = path_of(target);
    const py::gil_scoped_release unlocked;
    static_cast<void>(record::checked_extension(path, {".csv"}));
    record::AtomicFile file(path);
    const sensor::Setup setup = sensor::set_up(s, threads);
    const bench::BenchLog log = places != 0 ? bench::simulated_linearity_log(setup, places, threads)
                                            : bench::simulated_time_log(setup, threads);
    file.write(record::log_text(log, record::simulated_remark));
    file.commit();
}

}  // namespace

void bind_bench(py::module_& module) {
    const auto threads = py::arg("threads") = measure::ReadOptions{}.threads;
    module.def(
        "bench",
        [](const py::object& path, const Scenario* scenario, const std::string& time, const std::string& time_unit,
           const std::string& reading, const std::string& reading_unit, const std::string& reference,
           const std::string& reference_unit, const std::string& decimal, int cores) {
            return bench(path_of(path), scenario,
                         {time, time_unit, reading, reading_unit, reference, reference_unit, decimal}, cores);
        },
        py::arg("log"), py::arg("scenario") = py::none(), py::kw_only(), py::arg("time") = "",
        py::arg("time_unit") = "", py::arg("reading") = "", py::arg("reading_unit") = "", py::arg("reference") = "",
        py::arg("reference_unit") = "", py::arg("decimal") = "", threads,
        R"(A log recorded on the bench: its statistics, and beside the prediction.

Parameters
----------
log : str or os.PathLike
    CSV file: columns ``time_ms,reading_mm[,signal_share]`` or ``reference_mm,reading_mm``, separated by commas,
    semicolons or tabs.
scenario : Scenario, optional
    Held against the log, and fitted to it.
time, reading, reference : str, optional
    Names of columns that the log calls otherwise.
time_unit, reading_unit, reference_unit : str, optional
    Their units: s, ms or us; mm, um or nm.
decimal : str, optional
    The decimal mark, ``point`` or ``comma``; without it, found where the log leaves no doubt.
threads : int, optional
    0: all cores.

Returns
-------
Record
    What ``spotwright bench --json`` prints.

Raises
------
ScenarioError
    With the line of the log.
OSError
    The log cannot be read.
)");
    module.def("simulate_log", &simulate_log, py::arg("scenario"), py::arg("path"), py::kw_only(),
               py::arg("places") = 0, threads, R"(Writes a log as the scenario's setup would record it.

Parameters
----------
scenario : Scenario
path : str or os.PathLike
    Ends in .csv.
places : int, optional
    Places of the range, passed up and down, for a linearity log; 0: a log over time.
threads : int, optional
    0: all cores.

Raises
------
ScenarioError
    The setup cannot be built, or the file has another extension.
OSError
    The file cannot be written.
)");
}

}  // namespace spotwright::bindings
