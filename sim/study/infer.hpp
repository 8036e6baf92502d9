// From a data sheet to sensors that fit it.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "sim/scenario/sheet.hpp"
#include "sim/study/ensemble.hpp"
#include "sim/study/sheet_bench.hpp"
#include "sim/study/sheet_candidate.hpp"

namespace spotwright::study {

/// How a stated value fares.
enum class SheetOutcome {
    reproduced,      ///< by all sensors, within its stated precision
    taken_over,      ///< as it is: the model needs no more than the value itself
    not_reproduced,  ///< not by all sensors: see the remark
    not_explained,   ///< by no sensor of the model, so that none was asked to: see the remark
    not_determined   ///< the model has only a part of what the figure holds, or nothing: see the remark
};
[[nodiscard]] std::string_view name_of(SheetOutcome outcome);

/// A line of the table stated / reproduced / not determined. Numbers in the unit of the name.
struct SheetRow {
    std::string name;  ///< key of the sheet
    std::optional<scenario::Pair> stated;
    std::string stated_words;        ///< where it is no number
    std::optional<double> best;      ///< of the best sensor
    std::optional<Spread> ensemble;  ///< over all sensors
    std::string best_words;
    SheetOutcome outcome = SheetOutcome::reproduced;
    std::string remark;
};

/// A parameter of the sensor, as far as the sheet determines it. Numbers in the unit of the name.
struct SheetUnknown {
    std::string name;  ///< key of the scenario
    double best = 0.0;
    Spread ensemble;
    /// Standard deviation of its logarithm over the sensors less than 2 %: the sheet determines it.
    bool determined = false;
    /// That standard deviation over the one of the range it is drawn from; none: not drawn. Below 0.7 the sheet narrows
    /// it.
    std::optional<double> narrowed;
    std::string from;  ///< closed form, or the range and its reason
};

/// A stated figure that no sensor of the model reproduces. The sensors of an inference fit the rest of the sheet.
struct Unexplained {
    SheetFigure figure = SheetFigure::repeatability;
    Misfit misfit = Misfit::none;   ///< of the nearest sensor
    std::optional<double> nearest;  ///< what the nearest sensor comes to. [SI]
    double factor = 1.0;            ///< between that and the middle of what is stated, > 1
    std::int64_t tried = 0;         ///< sensors, none of which fitted
};

/// Why a figure is not explained, in a sentence without a full stop.
[[nodiscard]] std::string in_words(const Unexplained& unexplained, const scenario::Sheet& sheet);

struct Inference {
    scenario::Sheet sheet;
    std::vector<Candidate> members;
    std::size_t best = 0;                   ///< nearest to the middle of the others
    std::int64_t candidates = 0;            ///< looked at
    std::array<std::int64_t, 9> misfits{};  ///< of them, in the order of `Misfit`
    std::vector<Unexplained> unexplained;   ///< in the order in which they were found
    std::vector<SheetRow> rows;
    std::vector<SheetUnknown> unknowns;
    std::vector<BenchWorth> bench;   ///< the most telling measurement first
    std::vector<BenchVerdict> logs;  ///< what the given logs say, in their order
    std::int64_t before_logs = 0;    ///< sensors that fit the sheet before the logs; 0 without logs
};

struct InferOptions {
    std::uint64_t seed = 1;
    std::int64_t members = 32;  ///< 2 to 256
    int threads = 0;
    std::vector<BenchMeasured> logs;
    std::function<void(std::int64_t done, std::int64_t all)> progress;
};

/// Sensors that reproduce the sheet within its stated precision. A figure that no sensor reproduces is given up, and
/// sensors are sought for the rest. The result depends on sheet, seed, number of members and logs alone.
/// @throws ScenarioError  The sheet contradicts itself or what physics and the laser class allow, in words with
/// numbers;
///   no sensor fits; no sensor that fits the sheet explains a log.
[[nodiscard]] Inference infer(const scenario::Sheet& sheet, const InferOptions& options);

/// What closed forms say against the sheet. @throws ScenarioError  As `infer`.
void check_sheet(const scenario::Sheet& sheet);

/// Of them what belongs to time of flight: beam, frequencies, pulses, and shot noise against the light of the class.
/// Equations (sheet.11), (sheet.15) and (sheet.16).
[[nodiscard]] std::vector<base::Problem> timed_contradictions(const scenario::Sheet& sheet);

/// The table and the parameters of sensors that fit.
[[nodiscard]] std::vector<SheetRow> sheet_rows(const Inference& inference);
[[nodiscard]] std::vector<SheetUnknown> sheet_unknowns(const Inference& inference);

/// The sensor file: the best sensor, what the sheet offers of settings, and all sensors as its ensemble.
[[nodiscard]] std::string sensor_file_text(const Inference& inference);

/// The data sheet of a known sensor, as its owner would have it: distances, windows, spot, class, timing, and what the
/// model gives of repeatability, linearity and temperature, in few digits. Not what is inside: lens, aperture,
/// array, electrons, frequencies, pulses.
/// @param scenario  A sensor before a white tile. @throws ScenarioError  It cannot be built.
[[nodiscard]] scenario::Sheet sheet_of(const scenario::Scenario& scenario);

}  // namespace spotwright::study
