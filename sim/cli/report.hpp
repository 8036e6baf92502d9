// Reports: what a command's results and the studies beside them give is gathered here, and written as one page.
#pragma once

#include <optional>
#include <string>

#include "sim/record/atomic_file.hpp"
#include "sim/record/report.hpp"
#include "sim/record/series_trace.hpp"
#include "sim/study/sensor.hpp"

namespace spotwright::cli {

/// A report under way, its file open before the long work. It starts from what every report of a scenario has: drawing
/// of the mounting, laser class, date, version, checks.
class ReportFile {
public:
    /// @throws ScenarioError  The name does not end in .html; as `study::make_layout`, `study::make_flight_layout`.
    /// @throws IoError  The file cannot be written.
    ReportFile(const std::string& out, const scenario::Scenario& scenario);

    /// To be filled.
    [[nodiscard]] record::ReportContent& content() { return content_; }

    /// Writes the page and gives the file its name. Once, and last. @throws IoError
    void commit();

private:
    record::AtomicFile file_;
    record::ReportContent content_;
};

/// None where no file is asked for. @throws As `ReportFile`.
[[nodiscard]] std::optional<ReportFile> open_report(const std::string& out, const scenario::Scenario& scenario);

/// A report of a series of readings.
class ReadReport {
public:
    /// @throws As `ReportFile`.
    ReadReport(const std::string& out, const scenario::Scenario& scenario);

    /// Blocks of the series, in order.
    void take(const study::SeriesBlock& block) { series_.take(block); }

    /// Runs the studies that belong to the report, and gives the file its name. Once, and last.
    /// @param threads  0: all cores.  @throws IoError
    void write(const study::Sensor& sensor, const study::ReadResult& result, int threads);

private:
    ReportFile file_;
    record::SeriesCollector series_;
};

}  // namespace spotwright::cli
