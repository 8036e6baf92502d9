#include "sim/measure/raw_frames.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <string>

#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/measure/motion.hpp"
#include "sim/scenario/principle.hpp"

namespace spotwright::measure {

namespace {

[[noreturn]] void reject(const std::string& message, const std::string& allowed) {
    base::SourceLocation place;
    place.file = "raw frames";
    throw base::ScenarioError({{place, message, allowed, ""}});
}

}  // namespace

void require_raw_frames(const scenario::Scenario& s, std::int64_t count) {
    if (!scenario::abilities_of(s.principle).array) {
        reject("a time-of-flight sensor has no frames", "principle = \"triangulation\"");
    }
    if (is_moving_series(s)) reject("frames of a part that moves are not kept", "a part that stands still");
    constexpr std::int64_t most_bytes = std::int64_t{1} << 31U;
    const auto bytes = static_cast<std::int64_t>(sizeof(std::uint16_t));
    const std::int64_t most = std::min(s.run.readings, most_bytes / bytes / s.detector.pixels);
    if (count < 1 || count > most) {
        reject(fmt::format("{} frames of {} pixels", count, s.detector.pixels),
               fmt::format("1 to {}: run.readings, and 2 GiB", most));
    }
}

RawFrames raw_frames(const sensor::Setup& setup, const ReadResult& result, std::int64_t count, int threads) {
    const auto& on_array = std::get<sensor::TriangulationSetup>(setup);
    require_raw_frames(on_array.scenario, count);
    const sensor::Pose& pose = std::get<TriangulationDetails>(result.details).pose;
    RawFrames frames;
    frames.pixels = on_array.scenario.detector.pixels;
    frames.digitiser = detector::make_digitiser(on_array.scenario.detector);
    frames.digits.resize(static_cast<std::size_t>(count * frames.pixels));
    base::parallel_for(count, threads, [&](std::int64_t i) {
        const std::vector<float> frame = sensor::frame_of(on_array, pose, i);
        std::transform(frame.begin(), frame.begin() + frames.pixels, frames.digits.begin() + i * frames.pixels,
                       [](float digit) { return static_cast<std::uint16_t>(digit); });
    });
    return frames;
}

}  // namespace spotwright::measure
