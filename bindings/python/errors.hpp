// Errors of the program as exceptions of Python.
#pragma once

#include <pybind11/pybind11.h>

namespace spotwright::bindings {

/// ScenarioError and DomainError become `spotwright.ScenarioError`, a file that cannot be read or written `OSError`, a
/// defect of the program `RuntimeError`.
void register_errors();

/// Adds `ScenarioError` to the module.
void bind_errors(pybind11::module_& module);

}  // namespace spotwright::bindings
