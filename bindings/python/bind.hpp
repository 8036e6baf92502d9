// What each file of the bindings adds to the module. They convert and check; physics, defaults and formulas stay below.
#pragma once

#include <pybind11/pybind11.h>

namespace spotwright::bindings {

void bind_scenario(pybind11::module_& module);
void bind_readings(pybind11::module_& module);
void bind_studies(pybind11::module_& module);
void bind_shelf(pybind11::module_& module);
void bind_drawings(pybind11::module_& module);
void bind_bench(pybind11::module_& module);
void bind_sweep(pybind11::module_& module);

}  // namespace spotwright::bindings
