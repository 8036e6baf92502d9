// Results as JSON, for other programs. Names end in their units; a value that does not exist is null.
#pragma once

#include <span>

#include <nlohmann/json.hpp>

#include "sim/scenario/material.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/study/averaging.hpp"
#include "sim/study/crossover.hpp"
#include "sim/sensor/flight_layout.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::record {

/// Statistics, signal, speckle and verdict of a series. `speckle` is null if it is off or nothing scatters; then
/// `replaced_sd_um` is `still_sd_um`. `..._sd_interval_um` is [low, high], 95 %.
[[nodiscard]] nlohmann::ordered_json to_json(const measure::ReadResult& result, const scenario::Scenario& scenario);

/// Level, reasons, and the contributions to the uncertainty.
[[nodiscard]] nlohmann::ordered_json to_json(const measure::Verdict& verdict, const scenario::Scenario& scenario);

/// One entry for each average.
[[nodiscard]] nlohmann::ordered_json to_json(std::span<const study::AveragedError> errors);

/// Errors of both sensors at every distance; an error is null where its sensor does not read, with the reason beside
/// it.
[[nodiscard]] nlohmann::ordered_json to_json(const study::CrossoverStudy& study);

/// The geometry in numbers. Arrays run near end of the range, reference point, far end.
[[nodiscard]] nlohmann::ordered_json to_json(const sensor::Layout& layout, const scenario::Scenario& scenario);

/// Time of flight in numbers. Arrays run likewise; `frequencies` is empty for pulsed light.
[[nodiscard]] nlohmann::ordered_json to_json(const sensor::FlightLayout& layout, const scenario::Scenario& scenario);

/// One entry of a list of materials.
/// @param wavelength  Of the reflectance; null outside the material's table. [m]
[[nodiscard]] nlohmann::ordered_json to_json(const scenario::Material& material, double wavelength);

/// The whole library. @param wavelength  As above. [m]
[[nodiscard]] nlohmann::ordered_json materials_json(double wavelength);

}  // namespace spotwright::record
