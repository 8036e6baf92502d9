#include "bindings/python/errors.hpp"

#include <exception>
#include <filesystem>

#include "bindings/python/values.hpp"
#include "sim/base/errors.hpp"

namespace spotwright::bindings {

namespace py = pybind11;

namespace {

py::object scenario_error_type() {
    return py::module_::import("spotwright._errors").attr("ScenarioError");
}

void raise(PyObject* type, const char* text) {
    PyErr_SetObject(type, to_python(text).ptr());
}

void raise_scenario_error(const char* text, const std::vector<base::Problem>& problems) {
    const py::object problem_type = py::module_::import("spotwright._errors").attr("Problem");
    py::list list;
    for (const base::Problem& problem : problems) {
        list.append(problem_type(to_python(problem.location.file), problem.location.line, problem.location.column,
                                 to_python(problem.location.key), to_python(problem.message),
                                 to_python(problem.allowed), to_python(problem.hint)));
    }
    const py::object type = scenario_error_type();
    PyErr_SetObject(type.ptr(), type(to_python(text), list).ptr());
}

void translate(std::exception_ptr pointer) {
    try {
        if (pointer) std::rethrow_exception(pointer);
    } catch (const base::ScenarioError& error) {
        raise_scenario_error(error.what(), error.problems());
    } catch (const base::DomainError& error) {
        raise_scenario_error(error.what(), {});
    } catch (const base::IoError& error) {
        raise(PyExc_OSError, error.what());
    } catch (const base::InternalError& error) {
        raise(PyExc_RuntimeError, error.what());
    } catch (const std::filesystem::filesystem_error& error) {
        raise(PyExc_OSError, error.what());
    }
}

}  // namespace

void register_errors() {
    py::register_exception_translator(&translate);
}

void bind_errors(py::module_& module) {
    module.attr("ScenarioError") = scenario_error_type();
}

}  // namespace spotwright::bindings
