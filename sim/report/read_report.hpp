// Reports: the results of a command and of further studies, written as one page.
#pragma once

#include <filesystem>
#include <string>

#include "sim/record/atomic_file.hpp"
#include "sim/report/report.hpp"
#include "sim/report/series_trace.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::report {

/// A report that is being made. Its file is open before the long work. It starts from what every report of a scenario
/// has: drawing of the mounting, laser class, date, version, checks.
class ReportFile {
public:
    /// @param when  Date of the report, ISO 8601.
    /// @throws ScenarioError  The name does not end in .html; as `sensor::make_layout`, `sensor::make_flight_layout`.
    /// @throws IoError  The file cannot be written.
    ReportFile(const std::filesystem::path& out, const scenario::Scenario& scenario, const std::string& when);

    /// Content, to be completed.
    [[nodiscard]] ReportContent& content() { return content_; }

    /// Writes the page and gives the file its name. Once, and last. @throws IoError
    void commit();

private:
    record::AtomicFile file_;
    ReportContent content_;
};

/// A report of a series of readings.
class ReadReport {
public:
    /// @throws As `ReportFile`.
    ReadReport(const std::filesystem::path& out, const scenario::Scenario& scenario, const std::string& when);

    /// Blocks of the series, in order.
    void add(const measure::SeriesBlock& block) { series_.add(block); }

    /// Runs the studies that belong to readings, and fills the report with them. A budget comes before: its verdict is
    /// the one that the picture of a reading shows.
    /// @param threads  0: all cores.
    void fill(const sensor::Setup& setup, const measure::ReadResult& result, int threads);

    /// Also reads the series, for a command that does not.
    void read_and_fill(const sensor::Setup& setup, int threads);

    /// Adds a budget; if it is impossible, the page says why.
    void add_budget(const sensor::Setup& setup, int threads);

    /// Content, to be completed.
    [[nodiscard]] ReportContent& content() { return file_.content(); }

    /// Writes the page and gives the file its name. Once, and last. @throws IoError
    void commit() { file_.commit(); }

private:
    ReportFile file_;
    SeriesCollector series_;
};

/// Effects that the models of a scenario leave out, in a few words; may be empty.
[[nodiscard]] std::string left_out(const scenario::Scenario& scenario);

}  // namespace spotwright::report
