// One sensor that may stand behind a data sheet: drawn, solved and judged.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/scenario/sheet.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::study {

/// Figures of a sheet that the model itself gives of a sensor.
enum class SheetFigure { repeatability, linearity, temperature, white_exposure };
inline constexpr std::size_t sheet_figures = 4;

/// The key of the sheet that states a figure, in the unit in which it is written.
[[nodiscard]] std::string_view key_of(const scenario::Sheet& sheet, SheetFigure figure);

/// What the sheet states of a figure; none: nothing. [SI]
[[nodiscard]] std::optional<scenario::Stated> stated_of(const scenario::Sheet& sheet, SheetFigure figure);

/// In the order of `SheetFigure`. SI; none: not stated, or the sensor does not give it.
using Figures = std::array<std::optional<double>, sheet_figures>;

/// Stated figures that sensors need not reproduce, in the order of `SheetFigure`: they are given up where no sensor
/// does.
using GivenUp = std::array<bool, sheet_figures>;

/// Why a drawn sensor does not fit.
enum class Misfit {
    none,
    geometry,     ///< no such receiver, or it cannot be calibrated
    light,        ///< its tile needs longer than the sampling period, or less than the shortest exposure
    full_well,    ///< the scatter asks for a larger full well than any array has
    quiet,        ///< the scatter asks for less noise than any amplifier of pulses has
    noise,        ///< the scatter is larger than the noise of a sensor that still reads
    aperture,     ///< the exposure asks for an aperture or an efficiency beyond what the sheet and the lens allow
    temperature,  ///< the drift cannot be solved for
    figures       ///< a figure is not reproduced
};

struct Candidate {
    scenario::Scenario scenario;  ///< sensor before a white tile, speckle off
    Misfit misfit = Misfit::none;
    double miss = 1.0;  ///< by which factor it misses, > 1; of `figures`: as stated over reproduced or the reverse
    std::optional<SheetFigure> missed;  ///< the stated figure that it does not reproduce
    std::optional<double> nearest;      ///< what it comes to of that figure. [SI]
    std::string obstacle;               ///< of `geometry`, in words
    bool too_bright = false;            ///< of `light`: else too dark
    Figures figures;
    std::optional<sensor::Setup> setup;  ///< none with a misfit of geometry
};

/// The part of a scenario that the sheet says outright.
/// @throws ScenarioError  An unknown material of the repeatability.
[[nodiscard]] scenario::Scenario stated_scenario(const scenario::Sheet& sheet);

/// Draws what the sheet leaves open, solves the rest, and has the model judge it.
/// @param stated  See `stated_scenario`.  @param index  Of the candidate, >= 0: a result depends on it and the seed.
/// Equations (sheet.1) to (sheet.15).
[[nodiscard]] Candidate make_candidate(const scenario::Sheet& sheet, const scenario::Scenario& stated,
                                       const GivenUp& given_up, std::uint64_t seed, std::int64_t index);

/// The figures that the sheet states, or all of them, as the model has them of a sensor.
/// @param setup  Of a scenario with speckle off before the material of the repeatability at the reference distance.
[[nodiscard]] Figures figures_of(const sensor::Setup& setup, const scenario::SheetRepeatability& conditions,
                                 bool with_linearity);

/// The exposure that suits the part of a setup at the reference distance, whatever the sampling period; none where a
/// sensor has no exposure. Of several frequencies: of each. [s]
[[nodiscard]] std::optional<double> suiting_exposure(sensor::Setup setup);

/// Standard deviation of single readings of the part at its displacement; none where readings are lost. [m]
[[nodiscard]] std::optional<double> single_scatter(const sensor::Setup& setup);

/// Relative sampling error of `single_scatter`. [1]
[[nodiscard]] double single_scatter_error();

/// Change of a reading at the reference point per kelvin, signed, over 5 K to either side of 20 C. [m/K]
[[nodiscard]] std::optional<double> drift_per_kelvin(const sensor::Setup& setup);

/// Largest error over the range from a least-squares line, as a share of the span. [1]
[[nodiscard]] std::optional<double> linearity_share(const sensor::Setup& setup);

}  // namespace spotwright::study
