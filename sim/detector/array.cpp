#include "sim/detector/array.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/detector/expose.hpp"

namespace spotwright::detector {

namespace {

// One standard normal number for each pixel of the specimen.
std::vector<float> pattern_normals(const scenario::Detector& detector, base::Stream stream) {
    const auto pixels = static_cast<std::size_t>(detector.pixels);
    constexpr std::size_t block = base::block_pixels;
    std::vector<float> normals((pixels + block - 1) / block * block);
    base::fill_normals({static_cast<std::uint64_t>(detector.device_seed), stream}, 0, 0, normals);
    normals.resize(pixels);
    return normals;
}

}  // namespace

Digitiser make_digitiser(const scenario::Detector& detector) {
    const double top = std::ldexp(1.0, static_cast<int>(detector.bits)) - 1.0;
    const double black = std::floor((top + 1.0) / 64.0);
    return {(top - black) / detector.full_well, black, top};
}

FixedPattern make_fixed_pattern(const scenario::Detector& detector) {
    FixedPattern pattern{pattern_normals(detector, base::Stream::response_pattern),
                         pattern_normals(detector, base::Stream::offset_pattern)};
    const auto response_deviation = static_cast<float>(detector.response_nonuniformity);
    const auto offset_deviation = static_cast<float>(detector.offset_nonuniformity);
    for (float& r : pattern.response) r = std::max(0.0F, 1.0F + response_deviation * r);
    for (float& o : pattern.offset) o *= offset_deviation;
    return pattern;
}

double dark_current_at(const scenario::Detector& detector, double temperature) {
    constexpr double doubling = 8.0;
    return detector.dark_current * std::exp2((temperature - base::room_temperature) / doubling);
}

PixelExposure make_pixel_exposure(const scenario::Detector& detector, double ambient_rate, double exposure,
                                  double temperature) {
    constexpr double wells = 100.0;
    return {ambient_rate, exposure, dark_current_at(detector, temperature) * exposure, wells * detector.full_well};
}

void expose_pixels(const scenario::Detector& detector, const FixedPattern& pattern, std::span<const float> signal_rate,
                   double ambient_rate, double exposure, double temperature, std::size_t first, std::size_t last,
                   ExpectedFrame& frame) {
    const std::size_t count = last - first;
    expose_pixels(make_pixel_exposure(detector, ambient_rate, exposure, temperature),
                  signal_rate.empty() ? signal_rate : signal_rate.subspan(first, count),
                  std::span(pattern.response).subspan(first), std::span(frame.electrons).subspan(first, count));
}

ExpectedFrame expose(const scenario::Detector& detector, const FixedPattern& pattern,
                     std::span<const float> signal_rate, double ambient_rate, double exposure, double temperature) {
    const std::size_t pixels = pattern.response.size();
    ExpectedFrame frame;
    frame.electrons.resize(pixels);
    frame.offset = pattern.offset;
    frame.read_noise = detector.read_noise;
    frame.digitiser = make_digitiser(detector);
    expose_pixels(detector, pattern, signal_rate, ambient_rate, exposure, temperature, 0, pixels, frame);
    return frame;
}

}  // namespace spotwright::detector
