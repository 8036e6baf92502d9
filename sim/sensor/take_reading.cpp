// Readings of poses: frames drawn, peaks located, displacements looked up.
#include <algorithm>
#include <array>

#include "sim/base/random.hpp"
#include "sim/detector/frames.hpp"
#include "sim/receiver/ambient.hpp"
#include "sim/sensor/instrument.hpp"
#include "sim/sensor/neighbour.hpp"
#include "sim/target/plate.hpp"

namespace spotwright::sensor {

namespace {

// Thickness between the two nearest peaks as the sensor works it out: squarely mounted, of the refractive index in its
// settings.
std::optional<double> thickness_between(const TriangulationSetup& setup, const std::vector<reading::LocatedPeak>& peaks,
                                        std::size_t begin) {
    if (peaks.size() < 2) return std::nullopt;
    std::array<double, 2> faces{};
    for (std::size_t i = 0; i < faces.size(); ++i) {
        const reading::Spot& spot = peaks[i].spot;
        if (spot.validity != reading::Validity::valid) return std::nullopt;
        const auto place = setup.instrument.calibration.displacement(static_cast<double>(begin) + spot.position);
        if (!place) return std::nullopt;
        faces[i] = *place;
    }
    const scenario::Scenario& s = setup.scenario;
    return target::thickness_from(faces[1] - faces[0], *s.reading.thickness_index, -s.emitter.angle, s.receiver.angle);
}

std::uint64_t noise_seed(const TriangulationSetup& setup) {
    return static_cast<std::uint64_t>(setup.scenario.seed);
}

bool is_flickering(const TriangulationSetup& setup, const Pose& pose) {
    return pose.flickers && setup.scenario.surroundings.flicker_depth > 0.0 && pose.ambient_rate > pose.glow_rate;
}

// Whether a second sensor with a clock of its own lights some of the readings.
bool has_neighbour(const TriangulationSetup& setup, const Pose& pose) {
    return !pose.neighbour.empty() && setup.scenario.neighbour.timing == scenario::NeighbourTiming::free;
}

bool changes(const TriangulationSetup& setup, const Pose& pose) {
    return is_flickering(setup, pose) || has_neighbour(setup, pose);
}

// Adds what one reading meets of a second sensor.
void add_neighbour(const TriangulationSetup& setup, const Pose& pose, double begin, detector::ExpectedFrame& frame) {
    const auto met = static_cast<float>(met_light(setup.scenario.neighbour, begin, pose.timing.exposure));
    if (met == 0.0F) return;
    for (std::size_t k = 0; k < frame.electrons.size(); ++k) {
        frame.electrons[k] += met * pose.neighbour[k] * setup.instrument.pattern.response[k];
    }
}

// Sets the electrons of a frame to those of one reading under lamps that flicker, or beside a second sensor.
void expose_flickering(const TriangulationSetup& setup, const Pose& pose, std::int64_t index,
                       detector::ExpectedFrame& frame) {
    const double begin = static_cast<double>(index) * pose.timing.period;
    if (!is_flickering(setup, pose)) {
        frame.electrons = pose.expected.electrons;
        add_neighbour(setup, pose, begin, frame);
        return;
    }
    const double change = receiver::flicker_factor(setup.scenario.surroundings, begin, pose.timing.exposure) - 1.0;
    const auto more = static_cast<float>((pose.ambient_rate - pose.glow_rate) * pose.timing.exposure * change);
    for (std::size_t k = 0; k < frame.electrons.size(); ++k) {
        const float electrons = pose.expected.electrons[k] + more * setup.instrument.pattern.response[k];
        frame.electrons[k] = std::max(0.0F, electrons);
    }
    if (has_neighbour(setup, pose)) add_neighbour(setup, pose, begin, frame);
}

// Frames of successive readings within the window of the pose.
void draw_digits(const TriangulationSetup& setup, const Pose& pose, std::int64_t first, std::size_t drawn,
                 Scratch& scratch) {
    const std::uint64_t seed = noise_seed(setup);
    const bool flickers = changes(setup, pose);
    if (!pose.fresh && !flickers) {
        detector::draw_frames(pose.expected, {seed}, first, pose.first_unit, pose.unit_count, scratch.digits);
        return;
    }
    if (flickers) scratch.flickered = pose.expected;
    const detector::ExpectedFrame& frame = flickers ? scratch.flickered : pose.expected;
    // Speckle is drawn in whole blocks.
    constexpr std::int64_t units = base::block_pixels / base::unit_pixels;
    const std::int64_t first_block = pose.first_unit / units;
    const std::int64_t end_block = (pose.first_unit + pose.unit_count + units - 1) / units;
    scratch.relative.resize(static_cast<std::size_t>((end_block - first_block) * base::block_pixels));
    const auto skipped =
        static_cast<std::size_t>(pose.first_unit * base::unit_pixels - first_block * base::block_pixels);
    for (std::size_t at = 0; at < scratch.digits.size(); at += drawn, ++first) {
        const std::span<float> digits = std::span(scratch.digits).subspan(at, drawn);
        if (flickers) expose_flickering(setup, pose, first, scratch.flickered);
        if (!pose.fresh) {
            detector::draw_frame(frame, {seed}, first, pose.first_unit, digits);
            continue;
        }
        receiver::draw_speckle(pose.fresh->field, seed, first, first_block, scratch.relative);
        const std::span<const float> relative = std::span(scratch.relative).subspan(skipped, drawn);
        detector::draw_frame(frame, {pose.fresh->light, relative}, {seed}, first, pose.first_unit, digits);
    }
}

// What the net signal of a frame, which begins at this pixel, shows; displacement is still to be looked up.
RawReading located(const TriangulationSetup& setup, const Pose& pose, std::span<const float> net, std::size_t begin) {
    const reading::Spot spot = reading::locate(net, pose.locate);
    RawReading result{spot.validity, static_cast<double>(begin) + spot.position, 0.0, spot.peak, {}};
    if (setup.scenario.reading.thickness_index) {
        result.thickness = thickness_between(setup, reading::locate_all(net, pose.locate), begin);
    }
    return result;
}

// Pixels of the array that the frames of a pose hold.
struct FramePixels {
    std::size_t begin = 0;
    std::size_t drawn = 0;    // whole units
    std::size_t present = 0;  // of them, before the array's end

    explicit FramePixels(const Pose& pose)
        : begin(static_cast<std::size_t>(pose.first_unit * base::unit_pixels)),
          drawn(static_cast<std::size_t>(pose.unit_count * base::unit_pixels)),
          present(std::min(drawn, pose.expected.electrons.size() - begin)) {}
};

// How far the beam points beside its mean at one reading, in standard deviations.
double pointing_at(const TriangulationSetup& setup, std::int64_t index) {
    std::array<float, base::block_pixels> normals{};
    const auto block = static_cast<std::int64_t>(normals.size());
    base::fill_normals({noise_seed(setup), base::Stream::pointing}, index / block, 0, normals);
    return static_cast<double>(normals[static_cast<std::size_t>(index % block)]);
}

RawReading located(const TriangulationSetup& setup, const Pose& pose, std::int64_t index, const FramePixels& pixels,
                   std::span<const float> digits, Scratch& scratch) {
    const detector::Digitiser& digitiser = pose.expected.digitiser;
    scratch.net.resize(pixels.present);
    reading::net_signal(digits.first(pixels.present), std::span(pose.background).subspan(pixels.begin, pixels.present),
                        static_cast<float>(digitiser.gain), static_cast<float>(digitiser.top_digit), scratch.net);
    RawReading reading = located(setup, pose, scratch.net, pixels.begin);
    if (pose.jitter > 0.0) reading.position += pose.jitter * pointing_at(setup, index);
    return reading;
}

// After all are located: each look-up takes long, and the next begins before it ends.
void look_up(const TriangulationSetup& setup, std::span<RawReading> readings) {
    for (RawReading& reading : readings) {
        if (reading.validity != reading::Validity::valid) continue;
        const auto displacement = setup.instrument.calibration.displacement(reading.position);
        reading.displacement = displacement.value_or(0.0);
        if (!displacement) reading.validity = reading::Validity::out_of_range;
    }
}

}  // namespace

void take_readings(const TriangulationSetup& setup, const Pose& pose, std::int64_t first, Scratch& scratch,
                   std::span<RawReading> readings) {
    const FramePixels pixels(pose);
    scratch.digits.resize(pixels.drawn * readings.size());
    draw_digits(setup, pose, first, pixels.drawn, scratch);
    for (std::size_t i = 0; i < readings.size(); ++i) {
        readings[i] = located(setup, pose, first + static_cast<std::int64_t>(i), pixels,
                              std::span(scratch.digits).subspan(i * pixels.drawn), scratch);
    }
    look_up(setup, readings);
}

void take_own_readings(const TriangulationSetup& setup, std::span<const Pose* const> poses, std::int64_t first,
                       Scratch& scratch, std::span<RawReading> readings) {
    std::size_t drawn = 0;
    for (const Pose* pose : poses) drawn += FramePixels(*pose).drawn;
    scratch.digits.resize(drawn);
    scratch.frames.clear();
    std::span<float> rest = scratch.digits;
    for (const Pose* pose : poses) {
        const std::size_t own = FramePixels(*pose).drawn;
        scratch.frames.push_back({&pose->expected, pose->first_unit, rest.first(own)});
        rest = rest.subspan(own);
    }
    detector::draw_own_frames(scratch.frames, {noise_seed(setup)}, first);
    for (std::size_t i = 0; i < readings.size(); ++i) {
        const Pose& pose = *poses[i];
        readings[i] = located(setup, pose, first + static_cast<std::int64_t>(i), FramePixels(pose),
                              scratch.frames[i].digits, scratch);
    }
    look_up(setup, readings);
}

RawReading take_reading(const TriangulationSetup& setup, const Pose& pose, std::int64_t index, Scratch& scratch) {
    RawReading reading;
    take_readings(setup, pose, index, scratch, std::span(&reading, 1));
    return reading;
}

std::vector<float> frame_of(const TriangulationSetup& setup, const Pose& pose, std::int64_t index) {
    const std::size_t pixels = pose.expected.electrons.size();
    std::vector<float> digits(pose.background.size());
    detector::ExpectedFrame frame = pose.expected;
    if (changes(setup, pose)) expose_flickering(setup, pose, index, frame);
    detector::draw_frame(frame, {noise_seed(setup)}, index, 0, digits);
    digits.resize(pixels);
    return digits;
}

}  // namespace spotwright::sensor
