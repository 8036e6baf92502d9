// A part on the move before an instrument: what the sensor sees of it during one exposure.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <map>
#include <optional>
#include <span>
#include <vector>

#include "sim/detector/frames.hpp"
#include "sim/measure/moving_exposure.hpp"
#include "sim/measure/moving_frame.hpp"
#include "sim/measure/moving_light.hpp"
#include "sim/measure/moving_speckle.hpp"
#include "sim/measure/series.hpp"

namespace spotwright::measure {

/// What of the part one stretch of an exposure shows: one material, where it stands, and under what speckle.
struct ExposureSlice {
    std::size_t material = 0;            ///< of the scene's
    std::optional<std::size_t> segment;  ///< of which alone the image is, next to a border; none: all of the beam
    double weight = 0.0;                 ///< share of the exposure and of the beam: 1 together for a reading. [1]
    double image_weight = 0.0;           ///< of its image: the share of the exposure. [1]
    Glide glide;                         ///< how its image runs over the array, its mean place
    SpeckleAlong::Mix speckle;
    double speckle_share = 1.0;  ///< see `SpeckleAlong::unseen_share`
    std::int64_t pixels = 0;     ///< by which its spot has gone up the array since the start
};

/// Everything that readings of one moving part have in common. An exposure is looked at in stretches in which the part
/// runs evenly (see `ExposureDivider`), whose light is integrated and adds up. Where the beam lies on the border of
/// segments, each is imaged as the share of the spot that it gets.
class MovingScene {
public:
    /// @param duration  Of the run: its longest. [s]
    /// @param factor  Of fineness of the stretches: see `Fineness`.
    /// @throws ScenarioError  The ray model, which follows a still part only.
    MovingScene(const sensor::TriangulationSetup& setup, double duration, double factor = 1.0);
    MovingScene(const MovingScene&) = delete;
    MovingScene& operator=(const MovingScene&) = delete;

    /// Poses that buffers hold at once: those of readings that share counters of random numbers.
    static constexpr std::int64_t frames_at_once = static_cast<std::int64_t>(detector::readings_of_counter);

    /// Looks of some readings, one reading after the other.
    struct Looks {
        std::vector<ExposureSlice> all;
        std::vector<std::size_t> end;  ///< of each reading's looks

        void clear();
        [[nodiscard]] std::span<const ExposureSlice> of(std::size_t reading) const;
    };

    /// Buffers of one thread.
    struct Buffers {
        sensor::Scratch reading;
        ExposureDivider::Division division;
        ExposureDivider::Together together;
        std::vector<SpeckleAlong::Scratch> speckle;
        std::vector<LightTable::Found> found;
        LightSum all;
        LightSum one;
        receiver::SpecklePattern pattern;
        std::vector<double> share;  // of the materials
        std::vector<double> ramp;
        std::vector<BackgroundShare> backgrounds;
        DarkBound bound;         // of the last reading, and the light that comes up to it
        double min_light = 0.0;  // [e]
        std::array<MovingFrame, frames_at_once> frames;
        double flicker = 1.0;  ///< light of the lamps during the reading over its mean
        bool whole = false;    ///< the array is looked at from end to end
    };

    /// Adds the looks of one reading. Whether the exposure is followed, the division tells: see `ExposureDivider`.
    void look(double begin, double exposure, ExposureDivider::Division& division, Looks& looks) const;

    /// Looks and moments of some readings of one exposure, at most `ExposureDivider::Together::most`.
    /// @param begins  Of the exposures. [s]
    void look(std::span<const double> begins, const detector::Timing& timing, Buffers& buffers, Looks& looks,
              std::span<Moment> moments) const;

    /// What a reading meets, from the beginning of its exposure on. @param division  Of that exposure, by `look`.
    [[nodiscard]] Moment moment_of(double begin, const detector::Timing& timing,
                                   const ExposureDivider::Division& division) const;

    /// The same of an exposure that has not been divided.
    [[nodiscard]] Moment moment_of(double begin, const detector::Timing& timing) const;

    /// Of one reading alone.
    [[nodiscard]] Looks looks_of(double begin, double exposure) const;

    /// The exposure that suits the part at time 0.
    [[nodiscard]] detector::Timing settled_timing(int threads);

    /// Makes images, patterns and backgrounds that readings need. Changes the scene: not beside other calls.
    void prepare(std::span<const Looks> looks, double exposure, int threads);

    /// The pose of one reading, ready to be read; it stays in the buffers. Nothing beyond the pixels that are drawn is
    /// valid, but where buffers ask for the whole array.
    /// @param place  Among the poses that the buffers hold, below `frames_at_once`.
    const sensor::Pose& pose_of(std::span<const ExposureSlice> looks, const detector::Timing& timing, Buffers& buffers,
                                std::size_t place = 0) const;

    /// Light of the lamps during a reading over its mean. [1]
    [[nodiscard]] double flicker_of(const Moment& moment) const;

    [[nodiscard]] const MovedPart& part() const { return part_; }

    /// The speckle along the material of a piece.
    [[nodiscard]] const std::optional<SpeckleAlong>& speckle_of(std::size_t material) const {
        return materials_[material].speckle;
    }

private:
    struct Material {
        sensor::TriangulationSetup setup;
        LightTable light;
        std::optional<SpeckleAlong> speckle;
        ShareTable shares;                    // of segments
        std::optional<double> speckle_image;  // where the lit point was imaged for it. [m]
        double ambient_rate = 0.0;            // of lamps and glow. [1/s]
        double glow_rate = 0.0;               // what of it is glow. [1/s]
        double brightening = 1.0;             // by speckle, at most. [1]
        std::map<double, DarkFrame> dark;     // by exposure

        Material(const sensor::TriangulationSetup& of, const MovedPart& part);
    };

    [[nodiscard]] Moment moment_of(double begin, const detector::Timing& timing, std::span<const Interval> stretches,
                                   bool followed) const;
    void add_material(const scenario::Material& material, double duration);
    void look_at(const Interval& stretch, std::size_t material, double height, double share,
                 std::optional<std::size_t> segment, Looks& looks) const;
    [[nodiscard]] bool put_only_look(const ExposureSlice& look, Buffers& buffers) const;
    void add_look(const ExposureSlice& first, std::size_t alike, std::span<const ExposureSlice> looks,
                  Buffers& buffers) const;
    DarkBound add_background(const Material& material, double exposure, double share, Buffers& buffers) const;
    [[nodiscard]] std::array<std::size_t, 2> window_of(std::span<const ExposureSlice> looks, const DarkBound& bound,
                                                       double exposure, Buffers& buffers) const;
    [[nodiscard]] double brightening(std::size_t material) const;
    /// Which of the tables has the images of a slice: materials first, then segments.
    [[nodiscard]] std::size_t table_index(const ExposureSlice& slice) const;
    [[nodiscard]] const LightTable& light_of(const ExposureSlice& slice) const;
    [[nodiscard]] std::array<double, 2> background_exposures(double exposure) const;

    const sensor::TriangulationSetup& setup_;
    MovedPart part_;
    Trajectory course_;
    double radius_ = 0.0;                // of the beam on the part. [m]
    std::deque<Material> materials_;     // tables refer to their instruments: they stay where they are
    std::vector<std::size_t> of_piece_;  // material of each piece
    // Images of one segment next to its borders.
    struct SegmentLight {
        MovedPart part;
        LightTable light;
        SegmentLight(Material& material, MovedPart only)
            : part(std::move(only)), light(material.setup, part, &material.shares) {}
    };
    std::deque<SegmentLight> segments_;
    std::optional<PieceBorders> borders_;
    std::optional<ExposureDivider> divider_;
    double brightest_response_ = 1.0;  // of all pixels, over the mean. [1]
    bool moves_ = false;
};

}  // namespace spotwright::measure
