// Closed forms between a data sheet and the sensor behind it. Docs: docs/theory/data-sheet.md.
#pragma once

#include <cstdint>
#include <string>

#include "sim/scenario/sheet.hpp"

namespace spotwright::study {

/// Angle of the receiver axis from the beam (diffuse mount), or of the beam from the normal (specular), from the
/// distance of the windows' middles; both windows lie in the plane of the emitter face. [rad]
/// @param windows_distance  [m]  @param reference_distance  [m]
/// @throws DomainError  Specular: a distance of twice the reference distance or more.
/// Equation (sheet.1).
[[nodiscard]] double receiver_angle_of(scenario::SheetMount mount, double windows_distance, double reference_distance);

/// M^2 of a beam with its waist at the reference point. [1]
/// @param waist, at_ends  1/e^2 radii at the reference point, and at both ends of the range. [m]
/// @param range  Displacements of the ends. [m]
/// @return 0 where the beam does not widen.
/// Equation (sheet.2). Source: ISO 11146-1, w(z).
[[nodiscard]] double beam_quality_of(double waist, double at_ends, const scenario::Pair& range, double wavelength);

/// Photoelectrons of one reading whose shot noise alone gives a scatter. [e]
/// @param radius  1/e^2 in the plane of the mounting. [m]  @param angle  Between beam and receiver axis. [rad]
/// @param scatter  Standard deviation of single readings, as displacement. [m]
/// Equation (sheet.3). Source: centroid of N photons of a Gaussian image, s / sqrt(N): R. E. Thompson, D. R. Larson,
/// W. W. Webb, Biophys. J. 82, 2775 (2002), eq. 1.
[[nodiscard]] double electrons_for(double radius, double angle, double scatter);

/// Full well at which a Gaussian image of so many electrons peaks at `level` of it. [e]
/// @param width  Standard deviation of the image. [px]
/// Equation (sheet.4).
[[nodiscard]] double full_well_for(double electrons, double width, double level);

/// Mean range of n values of a normal distribution in units of its standard deviation, d2 of control charts. [1]
/// @param n  2 to 1 000 000.  @throws DomainError  Outside.
/// Equation (sheet.5). Source: L. H. C. Tippett, Biometrika 17, 364 (1925); constants of ISO 7870-2.
[[nodiscard]] double mean_range(std::int64_t n);

/// Standard deviation of single readings that a figure of repeatability stands for. [m]
/// @param figure  As stated. [m]
[[nodiscard]] double single_scatter_of(const scenario::SheetRepeatability& repeatability, double figure);

/// The figure that readings of such a standard deviation have; inverse of `single_scatter_of`. [m]
[[nodiscard]] double figure_of(const scenario::SheetRepeatability& repeatability, double single_scatter);

/// Light of a matt part of reflectance 1 that becomes photoelectrons in a receiver. [e/s]
struct ReceivedLight {
    double power = 0.0;       ///< of the beam. [W]
    double wavelength = 0.0;  ///< [m]
    double aperture = 0.0;    ///< diameter. [m]
    double distance = 0.0;    ///< of the lens. [m]
    double angle = 0.0;       ///< between normal and receiver axis. [rad]
    double transmission = 1.0;
    double efficiency = 1.0;  ///< electrons per photon
};

/// Equation (sheet.6). Source: Lambert's law; the share through a round aperture is sin^2 of its half-angle times the
/// cosine of the part's normal.
[[nodiscard]] double photoelectron_rate(const ReceivedLight& light);

/// Photoelectrons whose shot noise alone gives a scatter of distances by the phase of fully modulated light. [e]
/// @param frequency  [Hz]  @param scatter  Standard deviation of single readings. [m]
/// Equation (sheet.15). Source: shot noise of buckets, R. Lange, P. Seitz, IEEE J. Quantum Electron. 37, 390 (2001),
/// from memory, with a contrast of 1.
[[nodiscard]] double electrons_for_phase(double frequency, double scatter);

/// The same by the time of Gaussian pulses. @param pulse  Full width at half maximum. [s]
/// Equation (sheet.16). Source: mean of N arrivals of a normal distribution, s / sqrt(N), which no estimate undercuts.
[[nodiscard]] double electrons_for_pulse(double pulse, double scatter);

/// Most power of a class, continuous light: see emitter/eye_safety.hpp, also for its caution. Below 500 nm, where the
/// estimate does not reach, that of 500 nm. [W]
/// @param laser_class  "1", "2", "3R", "3B"; empty: the highest without special care, 2, beyond 700 nm 1.
/// @return 0 for class 2 beyond 700 nm, which does not exist.
[[nodiscard]] double class_limit(const std::string& laser_class, double wavelength);

/// Most peak power of pulses of a class, as `class_limit`: limits of the energy of each over the duration of a Gaussian
/// pulse. See emitter/eye_safety.hpp, also for its caution. [W]
/// @param pulse  Full width at half maximum. [s]  @param rate  [1/s]
[[nodiscard]] double pulse_class_limit(const std::string& laser_class, double wavelength, double pulse, double rate);

/// Of a scenario by its principle: of continuous light, or of its pulses. [W]
[[nodiscard]] double class_limit_of(const std::string& laser_class, const scenario::Scenario& scenario);

}  // namespace spotwright::study
