// A log of a real sensor as a measurement by which the sensors of a data sheet are narrowed.
#pragma once

#include <string>

#include "sim/study/sheet_bench.hpp"

namespace spotwright::bench {

/// @param measurement  Name of what was measured: see `study::bench_task`.  @param path  Log over time, as `load_log`.
/// @throws ScenarioError  No such measurement; what `load_log` refuses; a log over the displacements of a reference.
/// @throws IoError  It cannot be read.
[[nodiscard]] study::BenchMeasured load_measured(const std::string& measurement, const std::string& path);

}  // namespace spotwright::bench
