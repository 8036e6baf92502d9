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

/// A report of a series of readings.
class ReadReport {
public:
    /// @throws As `ReportFile`.
    ReadReport(const std::string& out, const scenario::Scenario& scenario);

    /// Blocks of the series, in order.
    void take(const study::SeriesBlock& block) { series_.take(block); }

    /// Runs the studies that belong to readings, and fills the report with them.
    /// @param threads  0: all cores.
    void fill(const study::Sensor& sensor, const study::ReadResult& result, int threads);

    /// Takes the readings too, for a command that takes none of its own.
    void read_and_fill(const study::Sensor& sensor, int threads);

    /// Adds a budget; where there can be none, the page says why.
    void add_budget(const study::Sensor& sensor, int threads);

    /// To be filled further.
    [[nodiscard]] record::ReportContent& content() { return file_.content(); }

    /// Writes the page and gives the file its name. Once, and last. @throws IoError
    void commit() { file_.commit(); }

private:
    ReportFile file_;
    record::SeriesCollector series_;
};

/// None where no file is asked for. @throws As `ReportFile`.
[[nodiscard]] std::optional<ReadReport> open_report(const std::string& out, const scenario::Scenario& scenario);

}  // namespace spotwright::cli
