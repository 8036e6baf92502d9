// Light of one image on the pixels of the array: shifted by any way, and smeared along it.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

namespace spotwright::measure {

/// Images are made on pixels finer by so many.
inline constexpr std::int64_t finer_pixels = 4;

/// Pixels beyond the array's ends, from which a shift brings light in: two spacings of images, and the reach of the
/// cubic.
inline constexpr std::int64_t margin_pixels = 20;

/// Shares of four neighbours, the first before the two that a place lies between: Lagrange's cubic.
/// @param f  Share of the way from the second to the third.
[[nodiscard]] inline std::array<double, 4> cubic_shares(double f) {
    return {-f * (f - 1.0) * (f - 2.0) / 6.0, (f + 1.0) * (f - 1.0) * (f - 2.0) / 2.0, -(f + 1.0) * f * (f - 2.0) / 2.0,
            (f + 1.0) * f * (f - 1.0) / 6.0};
}

/// Light on the pixels, summed over moments. What lies outside the window is zero.
struct LightSum {
    std::vector<float> rate;                        ///< [1/s]
    std::vector<float> mirrored;                    ///< of it, only mirrored light; empty until there is some. [1/s]
    std::size_t from = 0;                           ///< pixels that are asked for: from here
    std::size_t to = static_cast<std::size_t>(-1);  ///< to before here
    std::size_t first = 0;                          ///< pixel of the window
    std::size_t last = 0;                           ///< one past its last; not more than `first`: there is no light

    /// Makes room for a number of pixels, without light.
    void clear(std::size_t pixels);

    /// Widens the window.
    void cover(std::size_t begin, std::size_t end);
};

/// Sums of four finer pixels from each of them on, where they are not dark, between zeros; and their running integral,
/// in finer pixels, which goes on with its last value. Every fourth lies in a row, so that the pixels of an array do.
struct LightSamples {
    template <class Value>
    using Rows = std::array<std::vector<Value>, 4>;
    std::ptrdiff_t first = 0;
    std::ptrdiff_t count = 0;
    Rows<float> sum;        ///< [1/s]
    Rows<double> integral;  ///< empty where nothing glides
};

/// @param rate  Of finer pixels. [1/s]
[[nodiscard]] LightSamples make_samples(const std::vector<float>& rate, bool with_integral);

/// Which samples are how bright.
struct LightExtents {
    static constexpr std::size_t levels = 24;
    double brightest = 0.0;  ///< [1/s]
    std::array<std::array<std::int32_t, 2>, levels>
        of{};  ///< first and one past the last above brightest / 2^(level + 1)
};

[[nodiscard]] LightExtents extents_of(const LightSamples& samples);

/// By how many finer pixels an image is shifted at first and at last, in the order of size.
struct Smear {
    double first = 0.0;
    double last = 0.0;
};

/// Buffers of one thread.
struct SmearIntegrals {
    std::vector<double> ahead;
    std::vector<double> behind;
};

/// Adds an image that runs evenly over the array, times a weight.
///
/// With Q the running integral of the image, a pixel at x sees (Q(x - first) - Q(x - last)) / (last - first). Light and
/// centroid are kept exactly.
/// @param rate  That of `sum`, or its mirrored one.
void add_samples(const LightSamples& samples, const Smear& smear, double weight, SmearIntegrals& integral,
                 std::vector<float>& rate, LightSum& sum);

/// Widens a stretch of pixels, from the first to before the last, by those on which such an image may come to a rate.
void widen(const LightSamples& samples, const LightExtents& extents, const Smear& smear, double min_rate,
           std::array<std::int64_t, 2>& pixels);

}  // namespace spotwright::measure
