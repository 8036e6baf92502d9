// Reports: what a command's results and the studies beside them give is gathered here, and written as one page.
#pragma once

#include <string>

#include "sim/record/atomic_file.hpp"
#include "sim/record/report.hpp"
#include "sim/record/series_trace.hpp"
#include "sim/study/sensor.hpp"

namespace spotwright::cli {

/// What every report of a scenario starts from: drawing of the mounting, laser class, date, version, checks.
/// @throws ScenarioError  As `study::make_layout` and `study::make_flight_layout`.
[[nodiscard]] record::ReportContent begin_report(const scenario::Scenario& scenario);

/// A report of a series of readings, its file open before the long work.
class ReadReport {
public:
    /// @throws IoError  The file cannot be written.
    ReadReport(const std::string& out, const scenario::Scenario& scenario);

    /// Blocks of the series, in order.
    void take(const study::SeriesBlock& block) { series_.take(block); }

    /// Runs the studies that belong to the report, and gives the file its name. Once, and last.
    /// @param threads  0: all cores.  @throws IoError
    void write(const study::Sensor& sensor, const study::ReadResult& result, int threads);

private:
    record::AtomicFile file_;
    record::ReportContent content_;
    record::SeriesCollector series_;
};

}  // namespace spotwright::cli
