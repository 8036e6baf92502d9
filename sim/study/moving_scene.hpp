// A part on the move before an instrument: what the sensor sees of it during one exposure.
#pragma once

#include <cstdint>
#include <deque>
#include <map>
#include <optional>
#include <span>
#include <vector>

#include "sim/study/moving_light.hpp"
#include "sim/study/moving_speckle.hpp"
#include "sim/study/series.hpp"

namespace spotwright::study {

/// What of the part one moment of an exposure shows: one material, where it stands, and under what speckle.
struct Look {
    std::size_t material = 0;  ///< of the scene's
    double weight = 0.0;       ///< of all looks of a reading: 1 together. [1]
    Stand stand;
    SpeckleAlong::Mix speckle;
    std::int64_t pixels = 0;  ///< by which its spot has gone up the array since the start
};

/// Everything that readings of one moving part have in common. An exposure is looked at in the middles of
/// `motion.sub_exposures` equal parts, whose light adds up; in its own middle alone while the part goes less than 50 nm
/// along the beam and its surface less than a fiftieth of the beam's radius. Where the beam lies on the border of two
/// pieces, each counts by its share of the beam, as if it lit the piece with all of its spot: that the image of half a
/// spot lies to one side is left out.
class MovingScene {
public:
    /// @param duration  Of the run: its longest. [s]
    /// @throws ScenarioError  The ray model, which follows a still part only.
    MovingScene(const Instrument& instrument, double duration);
    MovingScene(const MovingScene&) = delete;
    MovingScene& operator=(const MovingScene&) = delete;

    /// What a reading meets, from the beginning of its exposure on.
    [[nodiscard]] Moment moment_of(double begin, const detector::Timing& timing) const;
    [[nodiscard]] std::vector<Look> looks_of(double begin, double exposure) const;

    /// The exposure that suits the part at time 0.
    [[nodiscard]] detector::Timing settled_timing(int threads);

    /// Makes images, patterns and backgrounds that readings need. Changes the scene: not beside other calls.
    void prepare(std::span<const std::vector<Look>> readings, double exposure, int threads);

    struct Buffers {
        Scratch reading;
        std::vector<SpeckleAlong::Scratch> speckle;
    };

    /// The pose of one reading, ready to be read.
    [[nodiscard]] Pose pose_of(const std::vector<Look>& looks, const detector::Timing& timing, Buffers& buffers) const;

    [[nodiscard]] const MovedPart& part() const { return part_; }

    /// The instrument with the material of a piece, and the speckle along it.
    [[nodiscard]] const Instrument& instrument_of(std::size_t material) const {
        return materials_[material].instrument;
    }
    [[nodiscard]] const std::optional<SpeckleAlong>& speckle_of(std::size_t material) const {
        return materials_[material].speckle;
    }
    [[nodiscard]] std::size_t material_at(double way) const;

private:
    struct Material {
        Instrument instrument;
        LightTable light;
        std::optional<SpeckleAlong> speckle;
        std::optional<double> speckle_image;              // where the lit point was imaged for it. [m]
        double ambient_rate = 0.0;                        // [1/s]
        std::map<double, std::vector<float>> background;  // by exposure. [DN]

        Material(const Instrument& of, const MovedPart& part);
    };

    void add_material(const scenario::Material& material, double duration);
    [[nodiscard]] std::vector<float> background_of(const Material& material, double exposure) const;
    [[nodiscard]] std::array<double, 2> background_exposures(double exposure) const;

    const Instrument& instrument_;
    MovedPart part_;
    double radius_ = 0.0;                // of the beam on the part. [m]
    std::deque<Material> materials_;     // tables refer to their instruments: they stay where they are
    std::vector<std::size_t> of_piece_;  // material of each piece
};

}  // namespace spotwright::study
