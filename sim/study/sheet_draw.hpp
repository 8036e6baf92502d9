// What a data sheet leaves open of a sensor, drawn from the ranges of common practice.
#pragma once

#include <array>
#include <cstdint>
#include <string>

#include "sim/scenario/sheet.hpp"
#include "sim/study/sheet_ranges.hpp"

namespace spotwright::study {

/// Values that a sheet states with a range, from which one is drawn.
enum class StatedNumber {
    windows,
    in_plane,
    out_of_plane,
    at_ends,
    wavelength,
    power,
    white_exposure,
    repeatability,
    temperature,
    divergence,
    pulse,
    pulse_rate
};

/// The random numbers of one sensor.
class SheetDraws {
public:
    /// @param index  Of the sensor, >= 0: the draws depend on it and the seed alone.
    SheetDraws(std::uint64_t seed, std::int64_t index);

    /// Of what the sheet leaves open, in the unit of its name.
    [[nodiscard]] double operator()(Open open) const;
    /// Of a value that the sheet states. [SI]
    [[nodiscard]] double of(const scenario::Stated& stated, StatedNumber number) const;
    /// Of a drift, +1 or -1.
    [[nodiscard]] double sign() const { return sign_; }

private:
    std::array<double, 39> shares_{};
    std::array<double, 12> stated_{};
    double sign_ = 1.0;
};

/// A spot's full width, as the sheet measures it, as 1/e^2 radius. [m]
[[nodiscard]] double radius_of(const scenario::Sheet& sheet, double width);

/// Wavelength, waists and beam quality, by triangulation.
void set_beam(const scenario::Sheet& sheet, const SheetDraws& draw, scenario::Scenario& s);

/// Of the class that is stated or, where nothing is, of class 2 (in the infrared class 1). [W]
[[nodiscard]] double power_of(const scenario::Sheet& sheet, const SheetDraws& draw, double wavelength);

/// The receiver by the design rule, with an array filled as drawn. @return Why there is none; else empty.
[[nodiscard]] std::string set_receiver(const scenario::Sheet& sheet, const SheetDraws& draw, scenario::Scenario& s);

/// The array, and what stands before it.
void set_array(const SheetDraws& draw, scenario::Scenario& s);

/// Diameters of the aperture that window, lens and beam allow. [m]
[[nodiscard]] scenario::Pair aperture_bounds(const scenario::Sheet& sheet, const scenario::Scenario& s);

/// An aperture drawn between these limits. [m]
[[nodiscard]] double drawn_aperture(const scenario::Sheet& sheet, const SheetDraws& draw, const scenario::Pair& bounds);

/// Where the waist of a beam lies, and what it is, in the plane of the mounting.
struct TimedBeam {
    double waist = 0.0;         ///< 1/e^2 radius. [m]
    double displacement = 0.0;  ///< of the waist from the reference point. [m]
    double quality = 1.0;       ///< M^2
};

/// The beam of a spot and a divergence: it comes from a waist at the emitter's face or, where diffraction would spread
/// such a beam more, from one at the reference point. Equation (sheet.11).
/// @param radius  1/e^2 at the reference point. [m]  @param half_angle  Far from the waist. [rad]  @param distance  [m]
[[nodiscard]] TimedBeam beam_of_divergence(double radius, double half_angle, double distance, double wavelength);

/// Time of flight: wavelength, waists and beam quality.
void set_timed_beam(const scenario::Sheet& sheet, const SheetDraws& draw, scenario::Scenario& s);

/// Lens, detector and what lies before it.
void set_timed_receiver(const scenario::Sheet& sheet, const SheetDraws& draw, scenario::Scenario& s);

/// Diameters of a lens behind its window, or of common practice. [m]
[[nodiscard]] scenario::Pair lens_diameters(const scenario::Sheet& sheet);

/// Frequencies and buckets of a phase measurement. Equation (sheet.12).
void set_buckets(const scenario::Sheet& sheet, const SheetDraws& draw, scenario::Scenario& s);

/// Pulses, their power, and the electronics that time them.
void set_pulses(const scenario::Sheet& sheet, const SheetDraws& draw, scenario::Scenario& s);

}  // namespace spotwright::study
