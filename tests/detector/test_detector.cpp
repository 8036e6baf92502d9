#include <hwy/highway.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/detector/array.hpp"
#include "sim/detector/exposure.hpp"
#include "sim/detector/frames.hpp"

using namespace spotwright;
using base::us;

namespace {

// A frame with dark and bright stretches, on an array whose length is no multiple of a block.
detector::ExpectedFrame uneven_frame(const scenario::Detector& d) {
    std::vector<float> rate(static_cast<std::size_t>(d.pixels));
    for (std::size_t k = 0; k < rate.size(); ++k) rate[k] = k % 97 < 20 ? 3e9F : 1e4F * static_cast<float>(k);
    return detector::expose(d, detector::make_fixed_pattern(d), rate, 1e5, 10.0 * us, 300.0);
}

scenario::Detector odd_array() {
    scenario::Detector d;
    d.pixels = 1000;
    return d;
}

// exp(-mean) as the kernel takes it, by S. L. Moshier's expf.
float probability_of_none(float mean) {
    const float x = -mean;
    const float power = std::floor(x * 1.44269504F + 0.5F);
    const float rest = (x - power * 0.693359375F) - power * -2.12194440e-4F;
    float y = 1.9875691500e-4F;
    for (const float c : {1.3981999507e-3F, 8.3334519073e-3F, 4.1665795894e-2F, 1.6666665459e-1F, 5.0000001201e-1F}) {
        y = y * rest + c;
    }
    return std::ldexp((rest * rest * y + rest) + 1.0F, static_cast<int>(power));
}

// The digit before rounding of one pixel, from its own random numbers and nothing else, in the order of the formula.
float value_apart(const detector::ExpectedFrame& frame, std::size_t k, std::uint32_t word, float shot, float read) {
    const float mean = frame.electrons[k];
    float count = 0.0F;
    if (mean < static_cast<float>(detector::exact_count_limit)) {
        const float high = static_cast<float>(word >> 16U) * 65536.0F;
        const float uniform = (high + static_cast<float>(word & 0xFFFFU) + 0.5F) * 0x1p-32F;
        float probability = probability_of_none(mean);
        for (float sum = probability; sum < uniform && count < 99.0F; sum += probability) {
            count += 1.0F;
            probability = probability * mean / count;
        }
    } else {
        const auto f = [](double value) { return static_cast<float>(value); };
        const float root = std::sqrt(mean);
        const float square = shot * shot;
        const float order0 = f(1.0 / 3.0) + square * f(1.0 / 6.0);
        const float order1 = shot * (f(1.0 / 36.0) + square * f(1.0 / 72.0));
        const float order2 = f(-8.0 / 405.0) + square * (f(7.0 / 810.0) + square * f(1.0 / 270.0));
        const float correction = (order0 - order1 * (1.0F / root)) + order2 * (1.0F / mean);
        count = std::max(std::floor(mean + (root * shot + correction)), 0.0F);
    }
    const float noise = read * static_cast<float>(frame.read_noise);
    const float value = ((count + frame.offset[k]) + noise) * static_cast<float>(frame.digitiser.gain);
    return value + static_cast<float>(frame.digitiser.black_level + 0.5);
}

// The same of shot and read noise together, by the expansion as it stands in the books, in double precision.
double value_joined(const detector::ExpectedFrame& frame, std::size_t k, double w) {
    const double mean = static_cast<double>(frame.electrons[k]);
    const double v = mean + frame.read_noise * frame.read_noise;
    const double r = std::sqrt(v);
    const double l3 = mean / (v * r);
    const double l4 = mean / (v * v);
    const double l5 = mean / (v * v * r);
    const double w2 = w * w;
    const double w3 = w2 * w;
    const double w4 = w2 * w2;
    const double standard = w + l3 * (w2 - 1.0) / 6.0 + l4 * (w3 - 3.0 * w) / 24.0 -
                            l3 * l3 * (2.0 * w3 - 5.0 * w) / 36.0 + l5 * (w4 - 6.0 * w2 + 3.0) / 120.0 -
                            l3 * l4 * (w4 - 5.0 * w2 + 2.0) / 24.0 +
                            l3 * l3 * l3 * (12.0 * w4 - 53.0 * w2 + 17.0) / 324.0;
    const double electrons = mean + r * standard + static_cast<double>(frame.offset[k]);
    return electrons * frame.digitiser.gain + frame.digitiser.black_level + 0.5;
}

// Electrons plus noise below a value, by the sum over all counts.
double exact_probability(double mean, double read_noise, double value) {
    const auto last = static_cast<int>(mean + 12.0 * std::sqrt(mean) + 20.0);
    double probability = std::exp(-mean);
    double sum = 0.0;
    for (int count = 0; count <= last; ++count) {
        sum += probability * 0.5 * std::erfc((count - value) / (read_noise * std::sqrt(2.0)));
        probability *= mean / (count + 1.0);
    }
    return sum;
}

// Words and normal numbers of one reading's pixels, by the counters that readings share.
struct PixelDraws {
    std::vector<std::uint32_t> words;
    std::vector<float> normals;
};

PixelDraws draws_of(base::Stream stream, std::int64_t reading, std::size_t pixels) {
    // A block of 64 words is that of 16 pixels in four readings.
    std::vector<std::uint32_t> words(4 * pixels);
    std::vector<float> normals(4 * pixels);
    base::fill_words({3, stream}, reading / 4, 0, words);
    base::fill_normals({3, stream}, reading / 4, 0, normals);
    PixelDraws draws;
    for (std::size_t k = 0; k < pixels; ++k) {
        const std::size_t at = 64 * (k / 16) + 16 * static_cast<std::size_t>(reading % 4) + k % 16;
        draws.words.push_back(words[at]);
        draws.normals.push_back(normals[at]);
    }
    return draws;
}

}  // namespace

TEST_CASE("every digit is made of its own pixel's random numbers, to the last bit", "[unit]") {
    detector::ExpectedFrame frame = uneven_frame(odd_array());
    frame.read_noise = 2.0;  // shot and read noise are drawn apart
    for (std::int64_t reading = 0; reading < 40; ++reading) {
        const PixelDraws shot = draws_of(base::Stream::photon_shot, reading, 1024);
        const PixelDraws read = draws_of(base::Stream::read_noise, reading, 1024);
        std::vector<float> digits(1024);
        detector::draw_frame(frame, {3}, reading, 0, digits);
        std::size_t same = 0;
        for (std::size_t k = 0; k < 1000; ++k) {
            const float value = std::floor(value_apart(frame, k, shot.words[k], shot.normals[k], read.normals[k]));
            same += digits[k] == std::min(std::max(value, 0.0F), static_cast<float>(frame.digitiser.top_digit));
        }
        CHECK(same == 1000);
    }
}

namespace {

// A float tells digits below 4096 apart to 2.4e-4, and its polynomial of four steps errs by a few of them. A digit is
// rounded the other way, to its neighbour, where its value lies so near to a step: fewer than one in 500.
void check_joined_digits(const detector::ExpectedFrame& frame) {
    std::size_t different = 0;
    for (std::int64_t reading = 0; reading < 40; ++reading) {
        const PixelDraws shot = draws_of(base::Stream::photon_shot, reading, 1024);
        std::vector<float> digits(1024);
        detector::draw_frame(frame, {3}, reading, 0, digits);
        for (std::size_t k = 0; k < 1000; ++k) {
            const double value = value_joined(frame, k, static_cast<double>(shot.normals[k]));
            const double digit = std::min(std::max(std::floor(value), 0.0), frame.digitiser.top_digit);
            if (static_cast<double>(digits[k]) == digit) continue;
            ++different;
            CHECK(std::abs(static_cast<double>(digits[k]) - digit) == 1.0);
            CHECK(std::abs(value - std::round(value)) < 2e-3);
        }
    }
    CHECK(different < 40 * 1000 / 500);
}

}  // namespace

TEST_CASE("a digit of joined noise is the expansion of its own pixel's normal number", "[unit]") {
    detector::ExpectedFrame frame = uneven_frame(odd_array());
    frame.read_noise = GENERATE(2.5, 20.0, 300.0);
    check_joined_digits(frame);
}

// Where a digit is a fortieth of an electron, every coefficient of the expansion shows: the smallest of them, off by a
// twentieth, moves digits by up to a third of one.
TEST_CASE("digits of a fortieth of an electron show the whole expansion", "[unit]") {
    detector::ExpectedFrame frame = uneven_frame(odd_array());
    frame.read_noise = 2.5;
    frame.digitiser = {40.0, 1000.0, 4095.0};
    for (std::size_t k = 0; k < frame.electrons.size(); ++k) frame.electrons[k] = 0.05F * static_cast<float>(k);
    std::fill(frame.offset.begin(), frame.offset.end(), 0.0F);
    check_joined_digits(frame);
}

TEST_CASE("joined noise is distributed as counts and normal noise within the stated error", "[unit]") {
    detector::ExpectedFrame frame;
    frame.offset = {0.0F};
    double largest = 0.0;
    double largest_at_4 = 0.0;
    for (const double read_noise : {2.5, 3.0, 4.0, 20.0}) {
        frame.read_noise = read_noise;
        for (double mean = 0.01; mean < 400.0; mean *= 1.4) {
            frame.electrons = {static_cast<float>(mean)};
            double before = -1e9;
            for (double w = -6.7; w <= 6.7; w += 0.05) {
                const double value = value_joined(frame, 0, w) - 0.5;  // electrons: a digit each
                CHECK(value > before);
                before = value;
                const double error =
                    std::abs(exact_probability(static_cast<double>(frame.electrons[0]), read_noise, value) -
                             0.5 * std::erfc(-w / std::sqrt(2.0)));
                largest = std::max(largest, error);
                if (read_noise >= 4.0) largest_at_4 = std::max(largest_at_4, error);
            }
        }
    }
    CHECK(largest < 7e-6);
    CHECK(largest_at_4 < 1e-6);
}

TEST_CASE("frames have the same bits on every instruction set", "[unit]") {
    detector::ExpectedFrame expected = uneven_frame(odd_array());
    expected.read_noise = GENERATE(2.0, 20.0);  // noise drawn apart and together
    std::vector<float> relative(112);
    for (std::size_t k = 0; k < relative.size(); ++k) relative[k] = static_cast<float>(k % 5) / 2.0F;
    const auto draw = [&] {
        std::vector<float> digits(112 * 11);
        detector::draw_frames(expected, {3}, 5, 3, 7, digits);
        std::vector<float> changed(112);
        detector::draw_frame(expected, {expected.electrons, relative}, {3}, 9, 3, changed);
        digits.insert(digits.end(), changed.begin(), changed.end());
        return digits;
    };
    const auto chosen = draw();
    hwy::SetSupportedTargetsForTest(0);
    const auto offered = static_cast<std::uint64_t>(hwy::SupportedTargets());
    int compared = 0;
    for (std::uint64_t bit = 1; bit != 0; bit <<= 1U) {
        if ((offered & bit) == 0) continue;
        hwy::SetSupportedTargetsForTest(static_cast<std::int64_t>(bit));
        hwy::GetChosenTarget().Update(hwy::SupportedTargets());
        CHECK(draw() == chosen);
        ++compared;
    }
    hwy::SetSupportedTargetsForTest(0);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
    CHECK(compared > 0);
}

TEST_CASE("any part of a frame, drawn alone, comes out as in the whole frame", "[unit]") {
    detector::ExpectedFrame expected = uneven_frame(odd_array());
    expected.read_noise = GENERATE(2.0, 20.0);
    std::vector<float> whole(1024);
    detector::draw_frame(expected, {3}, 12345678901, 0, whole);
    for (std::int64_t first = 0; first < 64; ++first) {
        for (std::size_t units = 1; units + static_cast<std::size_t>(first) <= 64; units += 3) {
            std::vector<float> part(16 * units);
            detector::draw_frame(expected, {3}, 12345678901, first, part);
            CHECK(std::equal(part.begin(), part.end(), whole.begin() + 16 * first));
        }
    }
    CHECK(std::all_of(whole.begin() + 1000, whole.end(), [](float v) { return v == 0.0F; }));
}

TEST_CASE("units beyond the array's end are empty", "[unit]") {
    std::vector<float> part(64, 7.0F);
    detector::draw_frame(uneven_frame(odd_array()), {3}, 0, 160, part);
    CHECK(part == std::vector<float>(64, 0.0F));
}

TEST_CASE("frames drawn together are those drawn one by one", "[unit]") {
    detector::ExpectedFrame expected = uneven_frame(odd_array());
    expected.read_noise = GENERATE(2.0, 20.0);
    for (const std::int64_t first : {0, 3, 30, 58}) {
        for (const std::int64_t units : {1, 2, 5, 7}) {
            constexpr std::int64_t readings = 9;
            const auto size = static_cast<std::size_t>(16 * units);
            std::vector<float> together(readings * size);
            constexpr std::int64_t first_reading = 4294967290;  // in the midst of those that share counters
            detector::draw_frames(expected, {3}, first_reading, first, units, together);
            for (std::int64_t i = 0; i < readings; ++i) {
                std::vector<float> alone(size);
                detector::draw_frame(expected, {3}, first_reading + i, first, alone);
                CHECK(std::equal(alone.begin(), alone.end(), together.begin() + i * 16 * units));
            }
        }
    }
}

TEST_CASE("digits are whole numbers between zero and the top digit", "[unit]") {
    const scenario::Detector d = odd_array();
    std::vector<float> digits(1024);
    detector::draw_frame(uneven_frame(d), {3}, 1, 0, digits);
    for (const float digit : digits) {
        CHECK((digit >= 0.0F && digit <= 4095.0F && digit == std::floor(digit)));
    }
}

TEST_CASE("without read noise the photon counts stay the same to the last electron", "[unit]") {
    scenario::Detector d = odd_array();
    d.bits = 16;
    d.full_well = 65535.0 - 1024.0;  // one digit per electron
    d.offset_nonuniformity = 0.0;
    d.read_noise = 0.0;
    const detector::ExpectedFrame quiet = uneven_frame(d);
    std::vector<float> digits(1024);
    std::vector<float> counts(1024);
    detector::draw_frame(quiet, {3}, 5, 0, digits);
    detector::draw_counts(quiet, {3}, 5, 0, counts);
    for (std::size_t k = 0; k < 1000; ++k) CHECK(digits[k] == std::min(counts[k] + 1024.0F, 65535.0F));
}

TEST_CASE("light that does not change leaves every digit as it was", "[unit]") {
    detector::ExpectedFrame expected = uneven_frame(odd_array());
    expected.read_noise = GENERATE(2.0, 20.0);
    std::vector<float> plain(1024);
    std::vector<float> changed(1024);
    const std::vector<float> ones(1024, 1.0F);
    for (std::int64_t reading = 0; reading < 50; ++reading) {
        detector::draw_frame(expected, {3}, reading, 0, plain);
        detector::draw_frame(expected, {expected.electrons, ones}, {3}, reading, 0, changed);
        CHECK(changed == plain);
    }
}

TEST_CASE("any part of a frame whose light changes comes out as in the whole frame", "[unit]") {
    detector::ExpectedFrame expected = uneven_frame(odd_array());
    expected.read_noise = GENERATE(2.0, 20.0);
    std::vector<float> relative(1024);
    for (std::size_t k = 0; k < relative.size(); ++k) relative[k] = static_cast<float>(k % 7) / 3.0F;
    std::vector<float> whole(1024);
    detector::draw_frame(expected, {expected.electrons, relative}, {3}, 9, 0, whole);
    for (std::size_t first = 0; first < 64; ++first) {
        std::vector<float> part(std::min<std::size_t>(48, 1024 - 16 * first));
        detector::draw_frame(expected, {expected.electrons, std::span(relative).subspan(16 * first, part.size())}, {3},
                             9, static_cast<std::int64_t>(first), part);
        CHECK(std::equal(part.begin(), part.end(), whole.begin() + static_cast<std::ptrdiff_t>(16 * first)));
    }
    CHECK(std::all_of(whole.begin() + 1000, whole.end(), [](float v) { return v == 0.0F; }));
}

TEST_CASE("seed, reading and stream each change the draw", "[unit]") {
    detector::ExpectedFrame expected = uneven_frame(odd_array());
    expected.read_noise = GENERATE(2.0, 20.0);
    const auto draw = [&expected](const detector::FrameNoise& noise, std::int64_t reading) {
        std::vector<float> digits(1024);
        detector::draw_frame(expected, noise, reading, 0, digits);
        return digits;
    };
    const auto first = draw({3}, 0);
    CHECK(draw({3}, 0) == first);
    CHECK(draw({4}, 0) != first);
    CHECK(draw({3}, 1) != first);
    CHECK(draw({3, base::Stream::laser_off_shot, base::Stream::read_noise}, 0) != first);
    for (std::int64_t reading = 1; reading < 8; ++reading) CHECK(draw({3}, reading) != draw({3}, reading - 1));
}

TEST_CASE("light scales the mean by each pixel's response, and dark current does not", "[unit]") {
    scenario::Detector d;
    d.response_nonuniformity = 0.1;
    const detector::FixedPattern pattern = detector::make_fixed_pattern(d);
    const std::vector<float> rate(1024, 1e9F);
    const auto lit = detector::expose(d, pattern, rate, 0.0, 10.0 * us, 293.15);
    const auto dark = detector::expose(d, pattern, {}, 0.0, 10.0 * us, 293.15);
    for (std::size_t k = 0; k < 1024; ++k) {
        CHECK(dark.electrons[k] == Approx(2000.0 * 1e-5).epsilon(1e-6));
        // float arithmetic: a few units of 6e-8
        CHECK(lit.electrons[k] == Approx(1e4 * static_cast<double>(pattern.response[k]) + 0.02).epsilon(1e-6));
    }
}

TEST_CASE("automatic exposure settles at the wanted level, within its bounds", "[unit]") {
    scenario::Exposure e;
    e.mode = scenario::ExposureMode::automatic;
    e.exposure = 2.0 * us;
    e.period = {100.0 * us, 400.0 * us};
    e.level = 0.5;
    const double full_well = 1e5;
    const auto timing = [&](double rate) { return detector::settled_timing(e, full_well, rate); };
    CHECK(timing(1e9).exposure == Approx(50.0 * us).epsilon(1e-12));
    CHECK(timing(1e9).period == 100.0 * us);
    CHECK(timing(2.5e8).exposure == Approx(200.0 * us).epsilon(1e-12));
    CHECK(timing(2.5e8).period == timing(2.5e8).exposure);
    CHECK(timing(1e12).exposure == 2.0 * us);
    CHECK(timing(1.0).exposure == 400.0 * us);
    CHECK(timing(0.0).exposure == 400.0 * us);
    e.mode = scenario::ExposureMode::fixed;
    CHECK(timing(1e9).exposure == 2.0 * us);
}
