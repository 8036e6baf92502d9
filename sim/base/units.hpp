// Unit suffixes of names that people see, and their conversion to SI: the only table of its kind.
#pragma once

#include <array>
#include <optional>
#include <string_view>

#include "sim/base/constants.hpp"

namespace spotwright::base {

// Multipliers to SI for literals in code: `50.0 * mm` is 0.05 m.
inline constexpr double mm = 1e-3;
inline constexpr double um = 1e-6;
inline constexpr double nm = 1e-9;
inline constexpr double mW = 1e-3;
inline constexpr double uW = 1e-6;
inline constexpr double nW = 1e-9;
inline constexpr double aJ = 1e-18;
inline constexpr double us = 1e-6;
inline constexpr double ns = 1e-9;
inline constexpr double ps = 1e-12;
inline constexpr double ms = 1e-3;
inline constexpr double minute = 60.0;
inline constexpr double kHz = 1e3;
inline constexpr double MHz = 1e6;
inline constexpr double kPa = 1e3;
inline constexpr double degree = pi / 180.0;
inline constexpr double zero_celsius = 273.15;                   ///< [K]
inline constexpr double room_temperature = 20.0 + zero_celsius;  ///< at which sensors are calibrated. [K]

/// A unit as written at the end of a name: SI value = factor * (written value + offset).
struct Unit {
    std::string_view suffix;
    double factor;
    double offset;
    std::string_view symbol;  ///< as printed beside a value
};

/// Every suffix a scenario key may end in. Longer suffixes stand before those they end with.
inline constexpr std::array units{
    Unit{"_per_mm", 1.0 / mm, 0.0, "1/mm"},
    Unit{"_e_per_s", 1.0, 0.0, "e/s"},
    Unit{"_ps_per_K", ps, 0.0, "ps/K"},
    Unit{"_ppm_per_K", 1e-6, 0.0, "ppm/K"},
    Unit{"_um_per_K", um, 0.0, "um/K"},
    Unit{"_nm_per_K", nm, 0.0, "nm/K"},
    Unit{"_urad_per_K", 1e-6, 0.0, "urad/K"},
    Unit{"_mm_per_s", mm, 0.0, "mm/s"},
    Unit{"_urad", 1e-6, 0.0, "urad"},
    Unit{"_mm", mm, 0.0, "mm"},
    Unit{"_um", um, 0.0, "um"},
    Unit{"_nm", nm, 0.0, "nm"},
    Unit{"_mW", mW, 0.0, "mW"},
    Unit{"_nW", nW, 0.0, "nW"},
    Unit{"_aJ", aJ, 0.0, "aJ"},
    Unit{"_ps", ps, 0.0, "ps"},
    Unit{"_ns", ns, 0.0, "ns"},
    Unit{"_us", us, 0.0, "us"},
    Unit{"_ms", ms, 0.0, "ms"},
    Unit{"_kHz", kHz, 0.0, "kHz"},
    Unit{"_MHz", MHz, 0.0, "MHz"},
    Unit{"_Hz", 1.0, 0.0, "Hz"},
    Unit{"_min", minute, 0.0, "min"},
    Unit{"_rpm", 1.0 / 60.0, 0.0, "rpm"},
    Unit{"_kPa", kPa, 0.0, "kPa"},
    Unit{"_ppm", 1e-6, 0.0, "ppm"},
    Unit{"_deg", degree, 0.0, "deg"},
    Unit{"_C", 1.0, zero_celsius, "C"},
    Unit{"_K", 1.0, 0.0, "K"},
    Unit{"_lx", 1.0, 0.0, "lx"},
    Unit{"_e", 1.0, 0.0, "e"},
    Unit{"_s", 1.0, 0.0, "s"},
};

/// The unit in which a key of this name is written; factor 1 and no symbol for a pure number.
[[nodiscard]] constexpr Unit unit_of(std::string_view key) {
    for (const Unit& unit : units) {
        if (key.ends_with(unit.suffix)) return unit;
    }
    return Unit{"", 1.0, 0.0, ""};
}

[[nodiscard]] constexpr double to_si(const Unit& unit, double written) {
    return unit.factor * (written + unit.offset);
}

[[nodiscard]] constexpr double from_si(const Unit& unit, double si) {
    return si / unit.factor - unit.offset;
}

}  // namespace spotwright::base
