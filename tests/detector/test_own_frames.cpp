// Frames of a moving part, each of its own light, against those drawn one by one.
#include <catch2/catch.hpp>

#include <cstddef>
#include <cstdint>
#include <vector>

#include "sim/base/random.hpp"
#include "sim/detector/array.hpp"
#include "sim/detector/frames.hpp"

using namespace spotwright;

namespace {

struct Window {
    std::int64_t first_unit;
    std::size_t units;
};

// A spot of its own for each reading, that goes up the array.
std::vector<detector::ExpectedFrame> moving_frames(const scenario::Detector& d, std::size_t count) {
    std::vector<detector::ExpectedFrame> frames;
    for (std::size_t i = 0; i < count; ++i) {
        std::vector<float> rate(static_cast<std::size_t>(d.pixels), 1e5F);
        for (std::size_t k = 0; k < 20; ++k) rate[(i * 37 + k) % rate.size()] = 2e9F;
        frames.push_back(detector::expose(d, detector::make_fixed_pattern(d), rate, 1e5, 10e-6, 300.0));
    }
    return frames;
}

}  // namespace

TEST_CASE("frames of their own are those drawn one by one, to the last bit", "[unit]") {
    // 1000 pixels: the last unit, the 62nd, is cut off. Windows that agree, overlap, lie apart, are longer than what is
    // drawn at once, and stand at either end of the array.
    const std::vector<Window> windows{{3, 4}, {3, 4}, {4, 3}, {50, 2}, {0, 63}, {60, 3}, {2, 1}, {30, 9}, {10, 5}};
    for (const double read_noise : {20.0, 1.0}) {  // joined, and a draw each
        scenario::Detector d;
        d.pixels = 1000;
        d.read_noise = read_noise;
        const auto expected = moving_frames(d, windows.size());
        REQUIRE(detector::is_joined(expected.front()) == (read_noise > 2.5));
        for (const std::int64_t first_reading : {0, 3, 5}) {  // groups of readings begin at multiples of four
            std::vector<std::vector<float>> digits;
            std::vector<detector::OwnFrame> frames;
            for (const Window& window : windows)
                digits.emplace_back(window.units * static_cast<std::size_t>(base::unit_pixels), -1.0F);
            for (std::size_t i = 0; i < windows.size(); ++i)
                frames.push_back({&expected[i], windows[i].first_unit, digits[i]});
            detector::draw_own_frames(frames, {7}, first_reading);
            for (std::size_t i = 0; i < windows.size(); ++i) {
                INFO("read noise " << read_noise << ", first reading " << first_reading << ", frame " << i);
                std::vector<float> alone(digits[i].size());
                detector::draw_frame(expected[i], {7}, first_reading + static_cast<std::int64_t>(i),
                                     windows[i].first_unit, alone);
                CHECK(digits[i] == alone);
            }
        }
    }
}
