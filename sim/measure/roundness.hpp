// Results of a scan: run-out of a shaft, diameter of a roll, height of a step.
#pragma once

#include <cstdint>
#include <optional>
#include <span>

#include <Eigen/Core>

namespace spotwright::measure {

/// A value with its standard uncertainty from the scatter of the readings alone. Neighbours whose errors are alike
/// count as one (see `run_out`).
struct Estimate {
    double value = 0.0;
    double uncertainty = 0.0;
};

/// Of a turning part, from readings over whole turns.
struct RunOut {
    std::int64_t readings = 0;        ///< valid ones, in whole turns
    double per_revolution = 0.0;      ///< of them. [1]
    std::int64_t revolutions = 0;     ///< whole turns
    Estimate eccentricity;            ///< of the surface from the axis of rotation. [m]
    Estimate high_spot;               ///< where it is at time 0, from the beam, + with the rotation. [rad]
    double total = 0.0;               ///< total run-out: greatest less least reading. [m]
    double out_of_roundness = 0.0;    ///< the same of what the eccentricity leaves: least squares circle. [m]
    double residual_deviation = 0.0;  ///< standard deviation of that: roundness, noise and speckle. [m]
};

/// Fits d = c + C cos(angle) + S sin(angle) by least squares to the readings of the first whole turns. The surface
/// r(angle) = e cos(angle + high spot) comes nearer where it is high: C = -e cos(high spot), S = e sin(high spot).
/// u(e) = s sqrt(2/N) and u(high spot) = u(e) / e, s the standard deviation of what is left, N the readings whose
/// errors have nothing to do with each other: the number of all, divided by how many are alike one after the other (1 +
/// 2 sum of correlations) and from turn to turn. The circle of the fit is a limacon, off by e^2 / (4 R). Source: any
/// text of roundness measurement; the uncertainty is derived.
/// @param angle  Turned since time 0, rising or falling from 0. [rad]  @param displacement  [m]
/// @return none without a whole turn of at least four readings that are spread over it.
/// Equations (motion.13) and (motion.14).
[[nodiscard]] std::optional<RunOut> run_out(std::span<const double> angle, std::span<const double> displacement);

/// Circle through points.
struct Circle {
    Eigen::Vector2d centre{0.0, 0.0};  ///< [m]
    Estimate radius;                   ///< [m]
    std::int64_t points = 0;
};

/// Algebraic fit x^2 + z^2 = 2 a x + 2 b z + k by linear least squares, radius sqrt(k + a^2 + b^2). Exact for points on
/// a circle; of short noisy arcs a little too small. Source: I. Kasa, IEEE Trans. Instrum. Meas. 25, 8 (1976), from
/// memory.
/// @return none for fewer than four points, or points that no circle goes through.
/// Equation (motion.15).
[[nodiscard]] std::optional<Circle> fit_circle(std::span<const double> x, std::span<const double> z);

/// Of a step, from a scan over its edge.
struct StepScan {
    Estimate height;            ///< part beyond the edge over the part before it. [m]
    double edge = 0.0;          ///< place of the edge on the scan. [m]
    std::int64_t readings = 0;  ///< on both plateaus
};

/// Two parallel lines d = a + b x on either side of the edge, by least squares. The edge is where two levels fit the
/// scan best; the third of each side that lies next to it is left out, and so is what lies more than four standard
/// deviations (by the median) off. Source: the step height of ISO 5436-1, from memory.
/// @param x  Place on the part. [m]  @param displacement  [m]
/// @return none for fewer than six readings on either side.
/// Equation (motion.16).
[[nodiscard]] std::optional<StepScan> step_height(std::span<const double> x, std::span<const double> displacement);

}  // namespace spotwright::measure
