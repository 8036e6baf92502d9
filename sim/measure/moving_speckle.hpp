// Speckle of a surface that passes under the beam.
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "sim/measure/motion.hpp"
#include "sim/measure/moving_light_kernel.hpp"
#include "sim/sensor/speckle.hpp"

namespace spotwright::measure {

/// Patterns of one material along the way of a moving part. At the start it is that of the part where it stands.
///
/// Coherent model: patterns of places a quarter of the beam's radius apart along either axis, and between them
/// S = 1 + sum of c (S' - 1) over neighbours, c their shares in proportion over the root of what these leave of the
/// variance, by the correlation exp(-(d/w)^2): it agrees with the pattern of the place itself to a correlation of
/// 0.999. Where a run would ask for too many of them, and by the fast model: patterns of their own, 1.09 radii apart
/// along the way, and between two of them S = 1 + cos(a)(S1 - 1) + sin(a)(S2 - 1), a rising from 0 to pi/2, which keeps
/// the variance. The spacing makes an average over a long way vary as light of a Gaussian footprint w does that is
/// scanned across the measured direction, sqrt(pi) w / way (derived; along it averages faster). A shaft that only turns
/// comes round to the same patterns.
///
/// A pattern goes with the spot along the array by whole pixels. That it changes with the displacement as well, slowly,
/// is left out.
class SpeckleAlong {
public:
    /// @param duration  Of the run. [s]
    /// @param lookups  How many patterns it asks for at most.
    SpeckleAlong(const scenario::Scenario& scenario, sensor::Speckle speckle, double duration, std::int64_t lookups);

    using Node = std::pair<std::int64_t, std::int64_t>;

    /// Patterns that stand for a place, and their shares.
    struct Mix {
        std::array<Node, 4> node{};
        std::array<float, 4> share{};
        std::size_t count = 0;
    };
    [[nodiscard]] Mix mix_at(const PartState& place) const;

    /// Makes patterns of the coherent model, and drops those not asked for. The fast model's are drawn when wanted.
    void make(std::span<const Mix> mixes, int threads);

    /// Buffers of one thread.
    struct Scratch {
        /// A pattern of which some blocks of pixels are drawn so far.
        struct Drawn {
            receiver::SpecklePattern pattern;
            std::int64_t first_block = 0;
            std::int64_t last_block = 0;
        };
        std::map<Node, Drawn> drawn;
        receiver::SpeckleWorkspace workspace;
        receiver::SpecklePattern mixed;
    };

    /// The pattern on the array. @param pixels  By how many the spot has gone up the array since the start.
    [[nodiscard]] receiver::SpecklePattern pattern(const Mix& mix, std::int64_t pixels, Scratch& scratch) const;

    /// Adds the pattern times a weight, for some pixels of the array.
    /// @param first, last  Pixels from the first to before the last.
    /// @param sum  Of as many entries; its field stays empty where there is none.
    void add(const Mix& mix, std::int64_t pixels, float weight, std::size_t first, std::size_t last, Scratch& scratch,
             receiver::SpecklePattern& sum) const;

    /// Puts light, none of it mirrored, under the pattern, as `put_under` has it; false, and the light as it was, where
    /// the pattern ends within these pixels.
    /// @param first  Pixel of the array at which the light begins.
    [[nodiscard]] bool cover(const Mix& mix, std::int64_t pixels, float weight, float even, std::size_t first,
                             Scratch& scratch, std::span<float> rate) const;

    /// Way of the surface that a stretch of an exposure may go under one pattern. [m]
    [[nodiscard]] double surface_step() const {
        return speckle_.plan ? std::min({0.25 * radius_, 2.0 * step_[0], 2.0 * step_[1]}) : 0.25 * radius_;
    }

    /// By what deviations of a sum of patterns such ways apart shrink where more of them pass unseen between these: the
    /// variance over a way L is sqrt(pi) w / L of one pattern's, that of N patterns d = L / N apart (1 + 2
    /// exp(-d^2/w^2)) / N. 1 below d = w. Derived.
    [[nodiscard]] double unseen_share(double way) const;

    [[nodiscard]] const sensor::Speckle& speckle() const { return speckle_; }

private:
    [[nodiscard]] receiver::SpecklePattern draw(const Node& node, receiver::SpeckleWorkspace& workspace) const;
    using Pixels = std::array<std::int64_t, 2>;
    [[nodiscard]] const receiver::SpecklePattern& found(const Node& node, const Pixels& pixels, Scratch& scratch) const;

    static void make_room(const Mix& mix, Scratch& scratch);
    [[nodiscard]] std::optional<MixedPatterns> even_mix(const Mix& mix, std::int64_t pixels, std::size_t first,
                                                        std::size_t last, Scratch& scratch) const;
    void draw_blocks(const Node& node, const Pixels& pixels, Scratch::Drawn& drawn) const;

    const scenario::Scenario& scenario_;
    sensor::Speckle speckle_;
    double radius_ = 0.0;                  // of the footprint, the way that the surface passes. [m]
    double along_step_ = 0.0;              // between patterns of the fast model. [m]
    std::array<double, 2> step_{};         // between those of the coherent model. [m]
    std::array<double, 2> alike_{};        // correlation of two of these that are neighbours. [1]
    std::array<std::int64_t, 2> round_{};  // of these, after which a turning surface comes round; 0: never
    std::int64_t along_round_ = 0;         // likewise of the fast model's
    std::map<Node, receiver::SpecklePattern> patterns_;
};

}  // namespace spotwright::measure
