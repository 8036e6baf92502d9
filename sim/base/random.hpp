// Counter-based random numbers: every draw is a function of (seed, stream, reading, pixel) and of nothing else.
//
// Generator: Philox4x32-10. Source: J. K. Salmon, M. A. Moraes, R. O. Dror, D. E. Shaw, "Parallel random numbers:
// as easy as 1, 2, 3", SC11 (2011). Key = the two halves of the seed; counter = (lane group, reading low, reading
// high, stream). Pixels are served in blocks of 64: pixel p takes word (p % 64) / 16 of counter 16 (p / 64) + p % 16,
// whatever the width of the machine's vectors, so any draw can be recomputed alone. Frames take blocks of 16 pixels in
// four readings (see `detector::readings_of_counter`): there the "reading" of a counter is four of them.
#pragma once

#include <array>
#include <cstdint>
#include <span>

namespace spotwright::base {

/// One stream per source of randomness, so that switching a source off leaves all other draws as they were.
/// Values are frozen: a new source takes a new number.
enum class Stream : std::uint32_t {
    photon_shot = 1,
    read_noise = 2,
    response_pattern = 3,
    offset_pattern = 4,
    laser_off_shot = 5,
    laser_off_read = 6,
    ray = 7,
    surface = 8,          ///< of a rough part, by place: scattered light of one polarisation
    surface_crossed = 9,  ///< of the other
    speckle_field = 10,
    speckle_choice = 11,
    bucket_shot = 12,  ///< of a phase measurement
    bucket_read = 13,
    pulse_noise = 14,  ///< at the comparator
    photon_arrival = 15,
    returned_light = 16,    ///< speckle of light that is timed
    volume_walk = 17,       ///< of light in a translucent volume, for the spot model
    grain = 18,             ///< of a translucent part, by place
    texture = 19,           ///< random brightness of a surface
    budget_trial = 20,      ///< what is not known, drawn for a trial of a budget
    sheet_sensor = 21,      ///< what a data sheet leaves open, drawn for a sensor that fits it
    hot_air = 25,           ///< eddies that make the spot wander
    specimen = 50,          ///< what the making of a sensor leaves open, drawn by its device seed
    pointing = 51,          ///< of the beam, from reading to reading
    neighbour_photon = 61,  ///< first photons of a second sensor's pulses
};

struct RandomKey {
    std::uint64_t seed = 0;
    Stream stream = Stream::photon_shot;
};

inline constexpr std::int64_t block_pixels = 64;

/// The fewest pixels that are drawn together: one row of a block, one word of each of its counters.
inline constexpr std::int64_t unit_pixels = 16;

/// The 32 random bits that belong to one pixel of one reading, computed by Random123: the reference.
[[nodiscard]] std::uint32_t random_word(RandomKey key, std::int64_t reading, std::int64_t pixel);

/// The words of whole blocks of pixels; equal to `random_word` pixel by pixel.
/// @param first_block  Block of 64 pixels with which `words` begins, >= 0.
/// @param words  Filled; its size is a multiple of 64.
void fill_words(RandomKey key, std::int64_t reading, std::int64_t first_block, std::span<std::uint32_t> words);

/// Standard normal numbers for whole blocks of pixels, by the Box-Muller transform of the pixel's word and its
/// partner's 16 pixels on (words 0 with 1 and 2 with 3). Reach: 6.7 standard deviations. The same bits on every
/// instruction set. Source: G. E. P. Box, M. E. Muller, Ann. Math. Statist. 29, 610 (1958).
/// @param normals  Filled; its size is a multiple of 64.
void fill_normals(RandomKey key, std::int64_t reading, std::int64_t first_block, std::span<float> normals);

/// One draw after another for a task whose number of draws is not known beforehand, such as a ray. Draw n is
/// word n % 4 of counter n / 4.
class RandomSequence {
public:
    /// @param index  Of the task; its sequence depends on key and index alone.
    RandomSequence(RandomKey key, std::int64_t index) : key_(key), index_(index) {}

    /// Uniform in (0, 1), to 32 bits.
    [[nodiscard]] double uniform();

private:
    RandomKey key_;
    std::int64_t index_;
    std::uint32_t drawn_ = 0;
    std::array<std::uint32_t, 4> words_{};
};

}  // namespace spotwright::base
