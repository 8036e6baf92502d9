// Fields of waves on grids, and the transforms that take them from a rough patch through an aperture to its image.
#pragma once

#include <cstddef>
#include <new>
#include <span>
#include <vector>

namespace spotwright::receiver {

/// Memory that begins with a cache line, for vectors of any width.
template <class T>
struct CacheLineAllocator {
    using value_type = T;
    CacheLineAllocator() = default;
    template <class U>
    // NOLINTNEXTLINE(google-explicit-constructor): containers turn one into another
    CacheLineAllocator(const CacheLineAllocator<U>& /*other*/) {}
    [[nodiscard]] T* allocate(std::size_t count) { return static_cast<T*>(::operator new(count * sizeof(T), line)); }
    void deallocate(T* place, std::size_t /*count*/) { ::operator delete(place, line); }
    bool operator==(const CacheLineAllocator& /*other*/) const { return true; }

private:
    static constexpr std::align_val_t line{64};
};

/// Complex numbers on a grid, real and imaginary parts apart, row by row. Rows are as long as `stride`, a multiple of
/// `wave_columns`; what lies beyond the columns is zero or does not matter.
struct WaveGrid {
    std::size_t stride = 0;
    std::vector<float, CacheLineAllocator<float>> re;
    std::vector<float, CacheLineAllocator<float>> im;

    [[nodiscard]] bool empty() const { return re.empty(); }
};

/// So many columns are transformed at a time, whatever the instruction set.
inline constexpr std::size_t wave_columns = 16;

/// All zeros.
[[nodiscard]] WaveGrid make_wave_grid(std::size_t rows, std::size_t columns);

/// Discrete Fourier transform of one size, whose only factors are 2, 3 and 5: Stockham's passes, that leave the result
/// in order. Source: C. Van Loan, Computational Frameworks for the Fast Fourier Transform (SIAM 1992), from memory;
/// checked against the sum that defines it.
struct WaveTransform {
    struct Pass {
        std::size_t radix = 2;
        std::size_t count = 1;          ///< of butterflies with factors of their own
        std::size_t stride = 1;         ///< of butterflies that share them
        std::size_t first_twiddle = 0;  ///< of `count` times (radix - 1) pairs
    };
    std::size_t size = 1;
    std::vector<Pass> passes;
    std::vector<float> twiddles;  ///< real and imaginary parts by turns
};

[[nodiscard]] WaveTransform make_wave_transform(std::size_t size);

/// sum over k of x_k exp(-+2 pi i k n / size), - forward, + back, of each column; not scaled. Rounding error below 1e-6
/// of the root mean square result. The same bits on every instruction set.
/// @param grid  `transform.size` rows; replaced by the result.
void transform_columns(const WaveTransform& transform, bool back, WaveGrid& grid);

/// From a patch through an aperture to its image.
struct WaveTrain {
    WaveTransform along;                     ///< over the columns of a grid
    WaveTransform across;                    ///< over its rows
    std::vector<std::size_t> pupil_columns;  ///< frequencies along that the aperture takes part of
    std::vector<std::size_t> pupil_rows;     ///< frequencies across that it takes part of
    WaveGrid pupil;                          ///< amplitude and phase at (column, row) of those
};

/// Buffers of one thread.
struct WaveScratch {
    WaveGrid between;
    WaveGrid work;
};

[[nodiscard]] WaveScratch make_wave_scratch(const WaveTrain& train);

/// Transforms a field, multiplies by the pupil, and transforms back, not scaled. Frequencies beyond the pupil are never
/// worked out. @param pupil  As the train's.
void pass_pupil(const WaveTrain& train, const WaveGrid& pupil, const WaveGrid& field, WaveScratch& scratch,
                WaveGrid& image);

/// A stretch of a row of the grid: places of the surface times their light.
/// @param begin, end  Columns; `begin` a multiple of `wave_columns`. What follows up to the next multiple is filled
/// too.
/// @param surface  Real and imaginary parts by turns, for all columns that are filled.
void light_row(const WaveGrid& light, std::size_t row, std::size_t begin, std::size_t end, const float* surface,
               WaveGrid& field);

/// |field|^2 along a row. @param intensity  Filled up to the stride.
void row_intensity(const WaveGrid& field, std::size_t row, float* intensity);

/// Adds |field|^2 of all rows, each times its weight. @param sums  One for each column up to the stride.
void add_weighted_rows(const WaveGrid& field, std::span<const float> weights, float* sums);

}  // namespace spotwright::receiver
