// What all coherent patterns of one view share: the lit patch, the aperture, and the pixels, each on its grid.
#pragma once

#include <array>
#include <cstddef>
#include <vector>

#include <Eigen/Core>

#include "sim/receiver/speckle_view.hpp"
#include "sim/receiver/waves.hpp"

namespace spotwright::receiver {

/// How the patch is sampled. The defaults suit every use but tests of convergence.
struct SpeckleSampling {
    double pitch = 0.0;   ///< of places on the surface; 0: the coarsest that tells every pattern exactly. [m]
    double window = 1.0;  ///< multiplies the size of patch and image
};

/// The grid over the patch, which is also that of its image.
struct SpeckleGrid {
    int columns = 0;     ///< along x
    int rows = 0;        ///< along y
    double pitch = 0.0;  ///< [m]
};

/// The grid that a view asks for: wide footprints seen through wide apertures ask for large ones.
[[nodiscard]] SpeckleGrid speckle_grid(const SpeckleView& view, const SpeckleSampling& sampling = {});

/// Columns of a row that light reaches, from whole `wave_columns` on; none where both are equal.
struct LitStretch {
    std::size_t begin = 0;
    std::size_t end = 0;
};

/// Arrays over the patch and its image are stored row by row, x fastest.
struct SpecklePlan {
    SpeckleView view;
    SpeckleGrid grid;
    std::vector<double> patterns;                  ///< shares of the light in independent ones: see `spectral_patterns`
    std::array<double, 2> polarisation{1.0, 0.0};  ///< share of the light in each. [1]
    WaveGrid illumination;                         ///< with the lattice at the lit point
    std::vector<LitStretch> lit;                   ///< of each row of the patch
    WaveTrain train;                               ///< through the aperture
    float brightest = 1.0F;                        ///< mean intensity that counts as 1 below
    std::vector<float> mean;                       ///< of the image over all patterns. [1]
    std::vector<float> root_of_mean;               ///< [1]
    std::vector<float> row_weight;                 ///< of an image row within the pixels' height
    std::vector<float> pixel_weights;              ///< of every column in every pixel, column by column
    std::size_t first_pixel = 0;
    std::vector<float> mean_on_pixels;

    [[nodiscard]] std::size_t columns() const { return static_cast<std::size_t>(grid.columns); }
    [[nodiscard]] std::size_t rows() const { return static_cast<std::size_t>(grid.rows); }
    [[nodiscard]] double x(int column) const { return grid.pitch * (column - middle(grid.columns)); }
    [[nodiscard]] double y(int row) const { return grid.pitch * (row - middle(grid.rows)); }

    /// Index that stands at the lit point.
    [[nodiscard]] static int middle(int size) { return size / 2; }
};

[[nodiscard]] SpecklePlan plan_speckle(const SpeckleView& view, const SpeckleSampling& sampling = {});

/// Strehl's ratio of the plan's lens: |sum of the pupil|^2 over (sum of its amplitude)^2, the peak of a point's image
/// over that of an ideal lens. [1]
[[nodiscard]] double strehl_ratio(const SpecklePlan& plan);

/// Field that leaves the surface, but for the surface's own randomness: root of the irradiance and the phases of beam
/// and view. @param shift  Of the lit point from the nearest place of the lattice. [m]
[[nodiscard]] WaveGrid illuminate(const SpecklePlan& plan, const Eigen::Vector2d& shift);

/// The same from the plan's own light: the shift turns and weakens it by a factor for each column and one for each row.
void illuminate_moved(const SpecklePlan& plan, const Eigen::Vector2d& shift, WaveGrid& light);

/// The pupil for a lattice that stands off the lit point: the image is asked for where the plan has its own places.
void move_pupil(const SpecklePlan& plan, const Eigen::Vector2d& shift, WaveGrid& pupil);

/// Adds a row of the image to sums over its columns, moved by as much as the array sees the row moved.
void add_row(const SpecklePlan& plan, std::size_t row, float weight, const float* values, std::vector<float>& sums);

/// Sums over the columns, added up over each pixel's width, exactly for intensity whose bandwidth the columns tell.
[[nodiscard]] std::vector<float> over_pixels(const SpecklePlan& plan, const std::vector<float>& sums);

}  // namespace spotwright::receiver
