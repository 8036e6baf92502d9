// The coherent model: light of a rough patch through the aperture onto the array, wave by wave.
#pragma once

#include <cstdint>
#include <vector>

#include <Eigen/Core>

#include "sim/receiver/speckle_plan.hpp"

namespace spotwright::receiver {

/// A pattern as pixels see it.
struct SpecklePattern {
    std::size_t first = 0;         ///< pixel of the first entry; pixels beyond the entries see no speckle
    std::vector<float> intensity;  ///< scattered light of a pixel over its mean over all patterns. [1]
    std::vector<float> field;      ///< the same of the field in step with light that the part mirrors. [1]
};

/// A pattern before the pixels.
struct SpeckleImage {
    Eigen::ArrayXXf intensity;  ///< (column along the array, row across it), over the brightest mean. [1]
    Eigen::ArrayXXf mean;       ///< over all patterns, likewise. [1]
    double u_first = 0.0;       ///< array coordinate of the first column in the middle row. [m]
    double u_step = 0.0;        ///< from column to column. [m]
    double u_per_row = 0.0;     ///< from row to row. [m]
    double v_first = 0.0;       ///< of the first row. [m]
    double v_step = 0.0;        ///< [m]
};

/// Buffers and tables of one thread.
struct SpeckleWorkspace {
    WaveGrid surface;
    WaveGrid image;
    WaveScratch scratch;
    WaveGrid moved_light;  ///< of a lattice that stands off the lit point
    WaveGrid moved_pupil;
    std::vector<float> normals;
};

[[nodiscard]] SpeckleWorkspace make_workspace(const SpecklePlan& plan);

/// The pattern of one place of a rough part.
///
/// The field that leaves the surface is the root of the irradiance times a circular complex Gaussian number for each
/// place of a lattice fixed to the part: the sum of many scatterers, not a phase alone, so that statistics are right at
/// any pitch. With the phases of beam and view, its Fourier transform is the field over the aperture; a second one
/// brings what passes, with its lack of focus, to the array. Intensity is added up over width and height of each pixel.
/// Two polarisations, and the independent patterns that stand for the wavelengths of the line, add as intensities.
/// Source of the recipe: J. W. Goodman, Speckle Phenomena in Optics, 2nd ed. (SPIE 2020), from
/// memory; checked against closed forms, see docs/validation.md.
/// @param seed  Of the part's surface.
/// @param place  Of the lit point on the part: the same place gives the same pattern, near ones similar patterns. [m]
/// @throws DomainError  A place too far away to be told.
[[nodiscard]] SpecklePattern speckle_pattern(const SpecklePlan& plan, std::uint64_t seed, const Eigen::Vector2d& place,
                                             SpeckleWorkspace& workspace);

/// The same before it is added up over pixels.
[[nodiscard]] SpeckleImage speckle_image(const SpecklePlan& plan, std::uint64_t seed, const Eigen::Vector2d& place,
                                         SpeckleWorkspace& workspace);

/// A place of the lattice whose patch has nothing in common with that of any other index, about the place zero. [m]
[[nodiscard]] Eigen::Vector2d separate_patch(const SpecklePlan& plan, std::int64_t index);

}  // namespace spotwright::receiver
