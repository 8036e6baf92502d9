// Random numbers: the vector kernel against Random123 word by word, its normals against double precision and against
// the normal distribution, and the same bits on every instruction set.

#include <algorithm>
#include <cmath>
#include <cstring>
#include <vector>

#include <Random123/philox.h>
#include <hwy/highway.h>

#include <catch2/catch.hpp>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"

using namespace spotwright::base;

namespace {

std::vector<std::uint32_t> words_of(RandomKey key, std::int64_t reading, std::int64_t first_block, std::size_t blocks) {
    std::vector<std::uint32_t> words(blocks * static_cast<std::size_t>(block_pixels));
    fill_words(key, reading, first_block, words);
    return words;
}

std::vector<float> normals_of(RandomKey key, std::int64_t reading, std::int64_t first_block, std::size_t blocks) {
    std::vector<float> normals(blocks * static_cast<std::size_t>(block_pixels));
    fill_normals(key, reading, first_block, normals);
    return normals;
}

struct PartPose {
    RandomKey key;
    std::int64_t reading;
    std::int64_t first_block;
};

// Where carries between the 32-bit halves of seed and reading could go wrong.
std::vector<PartPose> stands() {
    constexpr std::int64_t beyond = 0x100000000;
    return {{{1, Stream::photon_shot}, 0, 0},
            {{1, Stream::photon_shot}, 1, 0},
            {{1, Stream::read_noise}, 0, 3},
            {{0, Stream::offset_pattern}, beyond - 1, 0},
            {{0, Stream::offset_pattern}, beyond, 0},
            {{0xFFFFFFFFU, Stream::laser_off_read}, 7 * beyond + 5, 1000},
            {{0x100000000U, Stream::laser_off_shot}, 9, 1},
            {{0xFEDCBA9876543210U, Stream::response_pattern}, 0x123456789ABCDEF, 1023},
            {{0xFFFFFFFFFFFFFFFFU, Stream::photon_shot}, 0x7FFFFFFFFFFFFFFF, 4}};
}

/// One pair of normals by Box and Muller in double precision, from the words that the kernel starts from.
struct Pair {
    double first;
    double second;
    double radius;
};

Pair box_muller(double uniform, std::uint32_t angle_word) {
    // The kernel's angle: quarter turns by the two top bits, and from -45 to 45 degrees within the quarter.
    const double turn = static_cast<double>(angle_word & 0x3FFFFFFFU) / 0x40000000 - 0.5;
    const double angle = (turn + static_cast<double>(angle_word >> 30U)) * pi / 2.0;
    const double radius = std::sqrt(-2.0 * std::log(uniform));
    return {radius * std::cos(angle), radius * std::sin(angle), radius};
}

double open_uniform(std::uint32_t word) {
    return (static_cast<double>(word) + 0.5) / 4294967296.0;
}

// Two million normals of one stream.
std::vector<float> sample() {
    return normals_of({20240229, Stream::read_noise}, 11, 0, 1U << 15U);
}

}  // namespace

TEST_CASE("Random123 on this machine gives the authors' known answers", "[base][published]") {
    // Philox4x32-10 in kat_vectors of Random123 1.14: zeros, ones, and digits of pi.
    using Words = r123::Philox4x32::ctr_type;
    const auto philox = [](Words counter, r123::Philox4x32::key_type key) { return r123::Philox4x32{}(counter, key); };
    CHECK(philox({{0, 0, 0, 0}}, {{0, 0}}) == Words{{0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8}});
    CHECK(philox({{0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff}}, {{0xffffffff, 0xffffffff}}) ==
          Words{{0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd}});
    CHECK(philox({{0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344}}, {{0xa4093822, 0x299f31d0}}) ==
          Words{{0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1}});
}

TEST_CASE("a pixel's word is the documented word of Philox", "[base][unit]") {
    // Pixel 1000 = block 15, place 40 = row 2, lane 8: counter 16 * 15 + 8.
    const RandomKey key{0x0123456789ABCDEFU, Stream::laser_off_shot};
    const auto words =
        r123::Philox4x32{}({{248, 0x55667788, 0x11223344, 5}}, r123::Philox4x32::key_type{{0x89ABCDEF, 0x01234567}});
    CHECK(random_word(key, 0x1122334455667788, 1000) == words[2]);
}

TEST_CASE("bulk words equal Random123 word for word", "[base][unit]") {
    for (const PartPose& stand : stands()) {
        const auto words = words_of(stand.key, stand.reading, stand.first_block, 5);
        for (std::size_t i = 0; i < words.size(); ++i) {
            const auto pixel = stand.first_block * block_pixels + static_cast<std::int64_t>(i);
            INFO("seed " << stand.key.seed << " reading " << stand.reading << " pixel " << pixel);
            REQUIRE(words[i] == random_word(stand.key, stand.reading, pixel));
        }
    }
}

TEST_CASE("a draw depends on seed, stream, reading and pixel, and not on where filling began", "[base][determinism]") {
    const RandomKey key{5, Stream::photon_shot};
    const auto whole = normals_of(key, 3, 0, 8);
    for (std::size_t first = 0; first < 8; ++first) {
        const auto part = normals_of(key, 3, static_cast<std::int64_t>(first), 8 - first);
        CHECK(std::memcmp(part.data(), whole.data() + first * 64, part.size() * sizeof(float)) == 0);
    }
    CHECK(normals_of({6, Stream::photon_shot}, 3, 0, 8) != whole);
    CHECK(normals_of({5 + (std::uint64_t{1} << 32U), Stream::photon_shot}, 3, 0, 8) != whole);
    CHECK(normals_of({5, Stream::read_noise}, 3, 0, 8) != whole);
    CHECK(normals_of(key, 4, 0, 8) != whole);
    CHECK(normals_of(key, 3 + (std::int64_t{1} << 32U), 0, 8) != whole);
}

TEST_CASE("normals equal Box-Muller in double precision from the same words", "[base][unit]") {
    // rounding, relative to the radius: half of the logarithm's 2e-7 (the root halves it), 2^-24 each for the root and
    // the last product, 2^-23 for sine or cosine (its polynomial errs by less than 2^-24). Together 3.4e-7; with the
    // radius of at most 6.8 every number is within 2.3e-6, and those within 2.9 standard deviations within 1e-6.
    // Catches any wrong coefficient, quadrant or sign.
    constexpr double per_radius = 1e-7 + 2.0 * 0x1p-24 + 0x1p-23;
    // The uniform number is a float, (word + 0.5) / 2^32 rounded. The reference is given that same number: near 1 the
    // float's steps of 2^-24 move the radius by far more than the arithmetic does (next test).
    double worst = 0.0;
    for (const PartPose& stand : stands()) {
        constexpr std::size_t blocks = 256;
        const auto words = words_of(stand.key, stand.reading, stand.first_block, blocks);
        const auto normals = normals_of(stand.key, stand.reading, stand.first_block, blocks);
        for (std::size_t i = 0; i < words.size(); i += i % 64 == 15 || i % 64 == 47 ? 17 : 1) {
            const auto uniform = static_cast<double>((static_cast<float>(words[i]) + 0.5F) * 0x1p-32F);
            const Pair expected = box_muller(uniform, words[i + 16]);
            const double tolerance = per_radius * expected.radius;
            REQUIRE(std::abs(static_cast<double>(normals[i]) - expected.first) <= tolerance);
            REQUIRE(std::abs(static_cast<double>(normals[i + 16]) - expected.second) <= tolerance);
            if (expected.radius < 2.9) {
                worst = std::max({worst, std::abs(static_cast<double>(normals[i]) - expected.first),
                                  std::abs(static_cast<double>(normals[i + 16]) - expected.second)});
            }
        }
    }
    CHECK(worst < 1e-6);
}

TEST_CASE("rounding the uniform number to a float moves no normal by more than its step allows", "[base][unit]") {
    // truncation: r^2 = -2 ln u, so a change of u by at most 2^-25 (half a step below 1) changes r^2 by at most
    // 2^-24 / u, and r by less than the root of that: 2.5e-4 at u = 1, where the radius itself is that small.
    const RandomKey key{77, Stream::photon_shot};
    const auto words = words_of(key, 1, 0, 4096);
    const auto normals = normals_of(key, 1, 0, 4096);
    double worst = 0.0;
    for (std::size_t i = 0; i < words.size(); i += i % 64 == 15 || i % 64 == 47 ? 17 : 1) {
        const Pair exact = box_muller(open_uniform(words[i]), words[i + 16]);
        worst = std::max(worst, std::abs(static_cast<double>(normals[i]) - exact.first));
    }
    CHECK(worst < 2.5e-4);
}

TEST_CASE("every instruction set of this machine gives the same bits", "[base][determinism]") {
    const std::vector<PartPose> where = stands();
    const auto draw = [&where] {
        std::vector<float> all;
        for (const PartPose& stand : where) {
            const auto normals = normals_of(stand.key, stand.reading, stand.first_block, 64);
            all.insert(all.end(), normals.begin(), normals.end());
            for (const std::uint32_t word : words_of(stand.key, stand.reading, stand.first_block, 2)) {
                all.push_back(static_cast<float>(word >> 8U));
            }
        }
        return all;
    };
    hwy::SetSupportedTargetsForTest(0);
    const auto offered = static_cast<std::uint64_t>(hwy::SupportedTargets());
    const std::vector<float> usual = draw();
    int tried = 0;
    for (std::uint64_t bit = 1; bit != 0 && bit <= offered; bit <<= 1U) {
        if ((offered & bit) == 0) continue;
        hwy::SetSupportedTargetsForTest(static_cast<std::int64_t>(bit));
        hwy::GetChosenTarget().Update(hwy::SupportedTargets());
        const std::vector<float> forced = draw();
        INFO(hwy::TargetName(static_cast<std::int64_t>(bit)));
        CHECK(std::memcmp(forced.data(), usual.data(), usual.size() * sizeof(float)) == 0);
        ++tried;
    }
    hwy::SetSupportedTargetsForTest(0);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
    CHECK(tried >= 1);
}

// The tests below are statistical: fixed seed, z = 5.3 standard errors (1.2e-7 two-sided, this suite's share of 1e-6).

TEST_CASE("normals have mean 0, variance 1, no skew and kurtosis 3", "[base][statistical]") {
    const auto normals = sample();
    const auto n = static_cast<double>(normals.size());
    double sum[5] = {};
    for (const float value : normals) {
        double power = 1.0;
        for (double& moment : sum) {
            moment += power;
            power *= static_cast<double>(value);
        }
    }
    // Standard errors of raw moments of a normal sample: sqrt((m_2k - m_k^2) / n), m_2k = 1, 3, 15, 105 for k = 1..4.
    // n = 2^21: catches a mean of 0.004, a variance off by 0.5 %, a fourth moment off by 1.2 %.
    CHECK(std::abs(sum[1] / n) < 5.3 * std::sqrt(1.0 / n));
    CHECK(std::abs(sum[2] / n - 1.0) < 5.3 * std::sqrt(2.0 / n));
    CHECK(std::abs(sum[3] / n) < 5.3 * std::sqrt(15.0 / n));
    CHECK(std::abs(sum[4] / n - 3.0) < 5.3 * std::sqrt(96.0 / n));
}

TEST_CASE("normals fill the bins of equal probability evenly", "[base][statistical]") {
    constexpr std::size_t bins = 256;
    std::vector<double> count(bins, 0.0);
    const auto normals = sample();
    for (const float value : normals) {
        const double probability = 0.5 * std::erfc(-static_cast<double>(value) / std::sqrt(2.0));
        ++count[std::min(bins - 1, static_cast<std::size_t>(probability * static_cast<double>(bins)))];
    }
    const double expected = static_cast<double>(normals.size()) / static_cast<double>(bins);
    double chi_square = 0.0;
    for (const double each : count) chi_square += (each - expected) * (each - expected) / expected;
    // Chi-square of 255 degrees of freedom by its normal limit: mean 255, standard deviation sqrt(510).
    // Both sides: too even a filling is as suspicious as an uneven one.
    CHECK(std::abs(chi_square - 255.0) < 5.3 * std::sqrt(510.0));
}

TEST_CASE("the tails hold as many normals as they should, out to 5 standard deviations", "[base][statistical]") {
    const auto normals = sample();
    const auto n = static_cast<double>(normals.size());
    for (const double limit : {1.0, 2.0, 3.0, 4.0}) {
        for (const double side : {-1.0, 1.0}) {
            const double p = 0.5 * std::erfc(limit / std::sqrt(2.0));
            const auto beyond = static_cast<double>(std::count_if(normals.begin(), normals.end(), [&](float value) {
                return side * static_cast<double>(value) > limit;
            }));
            INFO("beyond " << side * limit << ": " << beyond << " of " << p * n << " expected");
            CHECK(std::abs(beyond - n * p) < 5.3 * std::sqrt(n * p * (1.0 - p)));
        }
    }
    // Beyond 5 some 1.2 are expected; a count above 12 has a Poisson probability of 1e-9.
    const auto far = std::count_if(normals.begin(), normals.end(), [](float value) { return std::abs(value) > 5.0F; });
    CHECK(far <= 12);
}

TEST_CASE("no normal is infinite, and the reach is 6.7 standard deviations", "[base][unit]") {
    // The smallest uniform number is 2^-33: sqrt(-2 ln 2^-33) = 6.76.
    for (const float value : sample()) {
        REQUIRE(std::isfinite(value));
        REQUIRE(std::abs(value) < 6.77F);
    }
}

TEST_CASE("the partners of a Box-Muller pair, and neighbouring pixels, readings and streams, are uncorrelated",
          "[base][statistical]") {
    const auto correlation = [](const std::vector<float>& a, const std::vector<float>& b, std::size_t shift) {
        double sum = 0.0;
        for (std::size_t i = 0; i + shift < a.size(); ++i) {
            sum += static_cast<double>(a[i]) * static_cast<double>(b[i + shift]);
        }
        return sum / static_cast<double>(a.size() - shift);
    };
    const auto normals = normals_of({1, Stream::photon_shot}, 1, 0, 8192);
    // Standard error of a mean product of independent unit normals: 1 / sqrt(n).
    const double tolerance = 5.3 / std::sqrt(static_cast<double>(normals.size() - 64));
    for (const std::size_t shift : {1U, 16U, 32U, 48U, 64U}) {
        INFO(shift);
        CHECK(std::abs(correlation(normals, normals, shift)) < tolerance);
    }
    CHECK(std::abs(correlation(normals, normals_of({1, Stream::photon_shot}, 2, 0, 8192), 0)) < tolerance);
    CHECK(std::abs(correlation(normals, normals_of({1, Stream::read_noise}, 1, 0, 8192), 0)) < tolerance);
    CHECK(std::abs(correlation(normals, normals_of({2, Stream::photon_shot}, 1, 0, 8192), 0)) < tolerance);
}
