#include "sim/bench/sheet_log.hpp"

#include "sim/base/errors.hpp"
#include "sim/bench/log.hpp"

namespace spotwright::bench {

study::BenchMeasured load_measured(const std::string& measurement, const std::string& path) {
    const study::BenchTask task = study::bench_task(measurement);
    const BenchLog log = load_log(path);
    if (!log.reference.empty()) {
        base::SourceLocation place;
        place.file = log.file;
        throw base::ScenarioError({{place, "a log over the displacements of a reference", "a log over time", ""}});
    }
    const TimeStatistics statistics = time_statistics(log);
    return {task, {statistics.deviation, statistics.signal}, log.file};
}

}  // namespace spotwright::bench
