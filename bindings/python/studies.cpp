// Layout, budget, advice, and the studies beside readings.
#include <pybind11/pybind11.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <string>

#include "bindings/python/bind.hpp"
#include "bindings/python/values.hpp"
#include "sim/measure/read.hpp"
#include "sim/record/date.hpp"
#include "sim/record/infer_json.hpp"
#include "sim/record/json.hpp"
#include "sim/report/read_report.hpp"
#include "sim/record/statistics_json.hpp"
#include "sim/record/studies_json.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/study/ensemble.hpp"
#include "sim/study/averaging.hpp"
#include "sim/study/crossover.hpp"
#include "sim/study/linearity.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::bindings {

namespace py = pybind11;
using nlohmann::ordered_json;
using scenario::Scenario;

namespace {

// The record of what `work` gives, run without the interpreter's lock.
template <class Work>
py::object unlocked_record(const Work& work) {
    ordered_json json;
    {
        const py::gil_scoped_release unlocked;
        json = work();
    }
    return record_of(json);
}

// The part before all sensors that fit the sheet; none without an ensemble.
std::optional<study::EnsembleSpread> ensemble_of(const Scenario& s, study::EnsembleJudgement judgement, int threads) {
    if (s.sensor_file.ensemble.empty()) return std::nullopt;
    study::EnsembleOptions options;
    options.judgement = judgement;
    options.threads = threads;
    return study::spread_over(study::read_ensemble(s, options));
}

py::object layout(const Scenario& s) {
    return unlocked_record([&] {
        return std::visit([&s](const auto& layout) { return record::to_json(layout, s); }, sensor::layout_of(s));
    });
}

py::object budget(const Scenario& s, int threads, const py::object& progress) {
    const study::BudgetOptions options{checked_threads(threads), progress_of(progress)};
    return unlocked_record([&] {
        const study::Budget found = study::budget(sensor::set_up(s, threads), options);
        ordered_json json = record::to_json(found, s);
        if (const auto spread = ensemble_of(s, study::EnsembleJudgement::budget, threads)) {
            json["ensemble"] = record::to_json(*spread, found.verdict.level);
        }
        return json;
    });
}

py::object advise(const Scenario& s, int threads, const py::object& progress) {
    const study::AdviceOptions options{checked_threads(threads), progress_of(progress)};
    return unlocked_record([&] { return record::to_json(study::advise(s, options), s); });
}

// The commands whose reports there are.
enum class ReportOf { read, budget, advise };

ReportOf report_of(const std::string& word) {
    constexpr std::array words{"read", "budget", "advise"};
    const auto found = std::find(words.begin(), words.end(), word);
    if (found == words.end()) throw py::value_error("of must be read, budget or advise, got " + word);
    return static_cast<ReportOf>(found - words.begin());
}

void report(const Scenario& s, const py::object& path, const std::string& of, const py::object& date, int threads,
            const py::object& progress) {
    const std::filesystem::path file = path_of(path);
    const ReportOf kind = report_of(of);
    const std::string when = date.is_none() ? record::current_date() : text_of("date", date);
    const Progress call = progress_of(progress);
    static_cast<void>(checked_threads(threads));
    const py::gil_scoped_release unlocked;
    report::ReadReport report(file, s, when);
    const sensor::Setup setup = sensor::set_up(s, threads);
    if (kind == ReportOf::budget) report.content().budget = study::budget(setup, {threads, call});
    if (kind == ReportOf::advise) {
        report.add_budget(setup, threads);
        report.content().advice = study::advise(s, {threads, call});
    }
    const bool by_budget = report.content().budget.has_value();
    report.content().ensemble =
        ensemble_of(s, by_budget ? study::EnsembleJudgement::budget : study::EnsembleJudgement::reading, threads);
    report.read_and_fill(setup, threads);
    report.commit();
}

py::object drift(const Scenario& s, int threads) {
    static_cast<void>(checked_threads(threads));
    return unlocked_record([&] { return record::to_json(study::drift_study(sensor::set_up(s, threads), threads), s); });
}

py::object linearity(const Scenario& s, int threads, const py::object& progress) {
    static_cast<void>(checked_threads(threads));
    const Progress call = progress_of(progress);
    return unlocked_record([&] {
        const auto curves = study::linearity_study(sensor::set_up(s, threads), study::materials_compared(),
                                                   study::places_over_range, threads, call);
        return record::to_json(curves, s.mount.range[1] - s.mount.range[0]);
    });
}

py::object allan(const Scenario& s, int threads, const py::object& progress) {
    study::OutputSeries outputs(s.reading);
    measure::ReadOptions options;
    options.threads = checked_threads(threads);
    options.progress = progress_of(progress);
    options.sink = [&outputs](const measure::SeriesBlock& block) { outputs.append(block); };
    return unlocked_record([&] {
        const measure::ReadResult result = measure::read(sensor::set_up(s, threads), options);
        return record::to_json(study::allan_study(outputs.outputs(), result.timing.period));
    });
}

py::object averaging(const Scenario& s, int threads) {
    static_cast<void>(checked_threads(threads));
    return unlocked_record([&] {
        if (!scenario::abilities_of(s.principle).array) {
            scenario::reject(s, "principle", "the study of averages needs the frozen speckle of triangulation",
                             "triangulation");
        }
        study::AveragingOptions options;
        options.threads = threads;
        return record::to_json(study::averaging_study(sensor::set_up_triangulation(s, threads), options));
    });
}

py::object crossover(const Scenario& s, int threads, const py::object& progress) {
    study::CrossoverOptions options;
    options.threads = checked_threads(threads);
    options.progress = progress_of(progress);
    return unlocked_record([&] { return record::to_json(study::crossover_study(s, options)); });
}

// The wavelength is a scenario's, as everywhere: without one, that of a scenario that says nothing.
py::object materials(const Scenario* scenario) {
    const double wavelength = scenario == nullptr ? Scenario{}.emitter.wavelength : scenario->emitter.wavelength;
    return unlocked_record([&] { return record::materials_json(wavelength); });
}

}  // namespace

void bind_studies(py::module_& module) {
    const int all_cores = measure::ReadOptions{}.threads;
    const auto threads = py::arg("threads") = all_cores;
    const auto progress = py::arg("progress") = py::none();

    module.def("layout", &layout, py::arg("scenario"), R"(The geometry of the mounting in numbers.

Parameters
----------
scenario : Scenario

Returns
-------
Record
    What ``spotwright layout --json`` prints. Lists run near end of the range, reference point, far end.

Raises
------
ScenarioError
    The range is outside what the geometry can measure.
)");
    module.def("budget", &budget, py::arg("scenario"), py::kw_only(), threads, progress,
               R"(What the error of a reading is made of, cause by cause.

Parameters
----------
scenario : Scenario
threads : int, optional
    0: all cores.
progress : callable, optional
    Called as ``progress(done, all)``.

Returns
-------
Record
    What ``spotwright budget --json`` prints.

Raises
------
ScenarioError
    The part cannot be read at all, or where it may stand, tilt or warm to.
)");
    module.def("advise", &advise, py::arg("scenario"), py::kw_only(), threads, progress,
               R"(Changes that would make the part read stably, tried and ranked.

Parameters
----------
scenario : Scenario
threads : int, optional
    0: all cores.
progress : callable, optional
    Called as ``progress(done, all)``.

Returns
-------
Record
    What ``spotwright advise --json`` prints. Power is never raised past the scenario's laser class.
)");
    module.def("report", &report, py::arg("scenario"), py::arg("path"), py::kw_only(), py::arg("of") = "read",
               py::arg("date") = py::none(), threads, progress, R"(Writes a report to hand on: one page with charts.

Parameters
----------
scenario : Scenario
path : str or os.PathLike
    Ends in .html.
of : str, optional
    ``read``, ``budget`` or ``advise``: what ``--out`` of that command writes. Each has the readings too.
date : str, optional
    Date to write into it, ISO 8601; without one, now.
threads : int, optional
    0: all cores.
progress : callable, optional
    Called as ``progress(done, all)`` by budget and advice.

Raises
------
ScenarioError
    The setup cannot be built, there can be no budget, or the file has another extension.
OSError
    The file cannot be written.
)");
    module.def("drift", &drift, py::arg("scenario"), py::kw_only(), threads,
               R"(What the setup's temperature does to a reading: per kelvin, and over the scenario's path.

Parameters
----------
scenario : Scenario
threads : int, optional
    0: all cores.

Returns
-------
Record
    The entry ``drift`` of ``spotwright read --drift --json``.

Raises
------
ScenarioError
    The reference cannot be read where it would have to be.
)");
    module.def("linearity", &linearity, py::arg("scenario"), py::kw_only(), threads, progress,
               R"(How far readings over the range stray from a straight line, by material.

Parameters
----------
scenario : Scenario
threads : int, optional
    0: all cores.
progress : callable, optional
    Called as ``progress(done, all)``.

Returns
-------
list of Record
    The entry ``linearity`` of ``spotwright read --linearity --json``: the part's own material first.
)");
    module.def("allan", &allan, py::arg("scenario"), py::kw_only(), threads, progress,
               R"(How outputs scatter with the time they are averaged over.

Parameters
----------
scenario : Scenario
    All of its ``run.readings`` are kept in memory.
threads : int, optional
    0: all cores.
progress : callable, optional
    Called as ``progress(done, all)``.

Returns
-------
Record
    The entry ``allan`` of ``spotwright read --allan --json``.
)");
    module.def("averaging", &averaging, py::arg("scenario"), py::kw_only(), threads,
               R"(Errors of averages of 1 to 256 readings, the part still and moved.

Parameters
----------
scenario : Scenario
threads : int, optional
    0: all cores.

Returns
-------
list of Record
    The entry ``averaging`` of ``spotwright read --averaging F.svg --json``.

Raises
------
ScenarioError
    The scenario is one of time of flight.
)");
    module.def("crossover", &crossover, py::arg("scenario"), py::kw_only(), threads, progress,
               R"(Error of triangulation and of time of flight against distance.

Parameters
----------
scenario : Scenario
threads : int, optional
    0: all cores.
progress : callable, optional
    Called as ``progress(done, all)``.

Returns
-------
Record
    The entry ``crossover`` of ``spotwright read --crossover F.svg --json``.
)");
    module.def("materials", &materials, py::arg("scenario").none(true) = py::none(),
               R"(The library of materials, with reflectances and sources.

Parameters
----------
scenario : Scenario, optional
    Whose wavelength counts.

Returns
-------
Record
    What ``spotwright materials --json`` prints.
)");
}

}  // namespace spotwright::bindings
