// The module `spotwright._core`.
#include "bindings/python/bind.hpp"
#include "bindings/python/errors.hpp"
#include "sim/base/version.hpp"
#include "sim/measure/read.hpp"

PYBIND11_MODULE(_core, module) {
    using namespace spotwright;
    module.doc() = "The simulator behind the package `spotwright`.";
    module.attr("__version__") = std::string(base::version());
    bindings::register_errors();
    bindings::bind_errors(module);
    bindings::bind_scenario(module);
    bindings::bind_readings(module);
    bindings::bind_studies(module);
    bindings::bind_shelf(module);
    bindings::bind_drawings(module);
    bindings::bind_bench(module);
    bindings::bind_sweep(module);
}
