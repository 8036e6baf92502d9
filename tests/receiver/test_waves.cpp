// Transforms of the coherent speckle model, against the sums that define them.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <complex>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/receiver/waves.hpp"

using namespace spotwright;
using receiver::WaveGrid;
using Wave = std::complex<double>;

namespace {

WaveGrid random_field(std::size_t rows, std::size_t columns) {
    WaveGrid grid = receiver::make_wave_grid(rows, columns);
    std::int64_t draw = 0;
    for (std::size_t row = 0; row < rows; ++row) {
        for (std::size_t i = 0; i < columns; ++i) {
            const auto uniform = [&] {
                return static_cast<float>(base::random_word({7, base::Stream::surface}, 0, draw++)) * 0x1p-31F - 1.0F;
            };
            grid.re[row * grid.stride + i] = uniform();
            grid.im[row * grid.stride + i] = uniform();
        }
    }
    return grid;
}

Wave at(const WaveGrid& grid, std::size_t row, std::size_t column) {
    const std::size_t i = row * grid.stride + column;
    return {static_cast<double>(grid.re[i]), static_cast<double>(grid.im[i])};
}

Wave turned(double cycles) {
    return {std::cos(2.0 * base::pi * cycles), std::sin(2.0 * base::pi * cycles)};
}

// What defines the transform of one column.
std::vector<Wave> sums_of(const WaveGrid& grid, std::size_t size, std::size_t column, double sign) {
    std::vector<Wave> sums(size);
    for (std::size_t n = 0; n < size; ++n) {
        for (std::size_t k = 0; k < size; ++k) {
            sums[n] +=
                at(grid, k, column) * turned(sign * static_cast<double>(k * n % size) / static_cast<double>(size));
        }
    }
    return sums;
}

}  // namespace

TEST_CASE("columns are transformed as the sum that defines it, forward and back", "[speckle][unit]") {
    // Every factor alone and together; 1 leaves a column as it is.
    for (const std::size_t size :
         {1U, 2U, 3U, 4U, 5U, 6U, 8U, 10U, 12U, 15U, 16U, 27U, 30U, 50U, 72U, 80U, 90U, 125U, 250U}) {
        const receiver::WaveTransform transform = receiver::make_wave_transform(size);
        for (const bool back : {false, true}) {
            const WaveGrid before = random_field(size, 19);  // no whole number of stretches
            WaveGrid after = before;
            receiver::transform_columns(transform, back, after);
            for (const std::size_t column : {0U, 15U, 16U, 18U}) {
                INFO("size " << size << ", column " << column << (back ? ", back" : ", forward"));
                const std::vector<Wave> expected = sums_of(before, size, column, back ? 1.0 : -1.0);
                for (std::size_t n = 0; n < size; ++n) {
                    // Single precision: 6e-8 of numbers of the order of sqrt(2 size / 3), a few roundings a pass.
                    CHECK(std::abs(at(after, n, column) - expected[n]) < 1e-6 * std::sqrt(static_cast<double>(size)));
                }
            }
        }
    }
}

TEST_CASE("a field passes a pupil as in the sums over all frequencies", "[speckle][unit]") {
    constexpr std::size_t rows = 12;
    constexpr std::size_t columns = 18;
    receiver::WaveTrain train;
    train.along = receiver::make_wave_transform(columns);
    train.across = receiver::make_wave_transform(rows);
    train.pupil_columns = {0, 1, 2, 16, 17};
    train.pupil_rows = {0, 1, 11};
    train.pupil = random_field(train.pupil_columns.size(), train.pupil_rows.size());
    const WaveGrid field = random_field(rows, columns);
    WaveGrid image = receiver::make_wave_grid(rows, columns);
    receiver::WaveScratch scratch = receiver::make_wave_scratch(train);
    receiver::pass_pupil(train, train.pupil, field, scratch, image);

    const auto cycles = [](std::size_t frequency, std::size_t place, std::size_t size) {
        return static_cast<double>(frequency * place % size) / static_cast<double>(size);
    };
    std::vector<float> intensity(image.stride);
    for (const std::size_t y : {0U, 5U, 11U}) {
        receiver::row_intensity(image, y, intensity.data());
        for (const std::size_t x : {0U, 7U, 15U, 16U, 17U}) {
            Wave expected;
            for (std::size_t m = 0; m < train.pupil_columns.size(); ++m) {
                for (std::size_t n = 0; n < train.pupil_rows.size(); ++n) {
                    Wave spectrum;
                    for (std::size_t j = 0; j < rows; ++j) {
                        for (std::size_t i = 0; i < columns; ++i) {
                            spectrum += at(field, j, i) * turned(-cycles(train.pupil_columns[m], i, columns) -
                                                                 cycles(train.pupil_rows[n], j, rows));
                        }
                    }
                    expected +=
                        spectrum * at(train.pupil, m, n) *
                        turned(cycles(train.pupil_columns[m], x, columns) + cycles(train.pupil_rows[n], y, rows));
                }
            }
            // Single precision of sums of some 200 by 15 numbers of order one.
            CHECK(std::abs(at(image, y, x) - expected) < 1e-4);
            CHECK(std::abs(static_cast<double>(intensity[x]) - std::norm(at(image, y, x))) <
                  1e-6 * std::norm(expected) + 1e-9);
        }
    }
}

TEST_CASE("rows add up as they are weighed", "[speckle][unit]") {
    const WaveGrid field = random_field(6, 21);
    const std::vector<float> weights{0.5F, 0.0F, 1.0F, -0.25F, 2.0F, 0.125F};
    std::vector<float> sums(field.stride, 1.0F);
    receiver::add_weighted_rows(field, weights, sums.data());
    for (std::size_t i = 0; i < 21; ++i) {
        double expected = 1.0;
        for (std::size_t row = 0; row < weights.size(); ++row) {
            expected += static_cast<double>(weights[row]) * std::norm(at(field, row, i));
        }
        CHECK(static_cast<double>(sums[i]) == Approx(expected).epsilon(1e-6));  // rounding of six sums
    }
}
