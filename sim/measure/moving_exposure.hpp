// How an exposure is divided into stretches in which a part runs evenly.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "sim/measure/motion.hpp"
#include "sim/measure/moving_light.hpp"

namespace spotwright::measure {

/// Whereabouts of the borders of pieces, for places that are asked for often.
class PieceBorders {
public:
    /// @param radius  Of the beam, 1/e^2, along the motion. [m]
    PieceBorders(const scenario::Segments& segments, double radius);

    /// The piece that gets all of the beam, but for a millionth; none next to a border.
    [[nodiscard]] std::optional<std::size_t> alone(double way) const;

    /// Length of the shortest piece. [m]
    [[nodiscard]] double shortest() const { return shortest_; }

private:
    std::vector<double> end_;  // of each piece. [m]
    double reach_ = 0.0;       // of the beam. [m]
    double shortest_ = 0.0;
};

/// Part of an exposure: where the part is when it begins, in its middle and when it ends.
struct Interval {
    double weight = 0.0;  ///< share of the exposure. [1]
    PartState begin;
    PartState middle;
    PartState end;
    /// Where the image of the first material is aligned then: see `LightTable::image_or_end`. [m]
    std::array<double, 3> image{};
};

/// What asks for shorter stretches.
struct Fineness {
    /// Of all limits below: 2 makes stretches about half as long.
    double factor = 1.0;
    std::int64_t most = 0;       ///< stretches of one exposure
    double surface_step = 0.0;   ///< way of the surface that makes a difference; 0: it makes none. [m]
    std::int64_t surfaces = 32;  ///< so many steps of it are looked at, further apart where more surface passes
};

/// Divides exposures so that the light of each stretch can be integrated as that of a part that glides evenly.
///
/// A stretch is halved while the image goes more than eight pixels (a spacing of the table) or differs from an even
/// run by more than a quarter of a pixel in its middle, the shape goes more than one step of the table's grid, or a
/// border between pieces passes by more than a quarter of the beam's radius. The mean place of a stretch is Simpson's,
/// so that the centroid is much nearer than that quarter. Ways beyond what is seen do not count, nor does what lasts
/// less than a millionth of the exposure. Vibration (of more than 1/200 pixel) and eccentric rotation begin with eight
/// stretches a period, a path that goes to and fro with one for each of its rows. Of a vibration of more than 128
/// periods, 64 stand for the whole ones. The stretches that need it most are halved first; where `most` do not suffice,
/// the exposure is not followed, and its light is not reliable.
class ExposureDivider {
public:
    /// @param scenario, course, part, table  Outlive the divider.
    /// @param borders  None: of one piece.
    ExposureDivider(const scenario::Scenario& scenario, const Trajectory& course, const MovedPart& part,
                    const LightTable& table, const PieceBorders* borders, double radius, const Fineness& fineness);

    /// Buffers of one thread, and what was divided last.
    struct Division {
        std::vector<Interval> stretches;  ///< in the order of time
        bool followed = true;             ///< none of them would have to be shorter

        struct Moment {
            double time = 0.0;
            double cycles = 0.0;
            PartState place;
            double u = 0.0;      // [px]
            double image = 0.0;  // the same. [m]
            std::array<double, 2> steps{};
            std::optional<std::size_t> piece;
        };
        struct Part {
            std::int64_t order = 0;
            double weight = 0.0;
            double excess = 0.0;
            Moment begin;
            Moment middle;
            Moment end;
        };
        std::vector<Part> parts;
        std::vector<double> times;
        std::optional<double> along;  // for which it is known whether a vibration can be seen
        bool shaken = false;
    };
    void divide(double begin, double exposure, Division& division) const;

    /// Exposures that are looked at together, at most so many.
    struct Together {
        static constexpr std::size_t most = 32;
        std::array<Interval, most> stretch;
        std::array<bool, most> whole{};  ///< the stretch is the whole exposure, as `divide` would have it; else none is
        // Of begin, middle and end.
        std::array<std::array<double, most>, 3> time{};
        std::array<std::array<double, most>, 3> along{};
        std::array<std::array<double, most>, 3> image{};
    };

    /// Exposures of one length, of a plane part of one piece that runs steadily or vibrates slowly. Costs less than to
    /// divide one after the other.
    /// @return Whether the part and this length are such; else nothing is done.
    bool take_whole(std::span<const double> begins, double exposure, Together& together) const;

private:
    using Moment = Division::Moment;
    using Part = Division::Part;
    // Time and phase that run evenly together.
    struct Stroke {
        double begin, duration, cycles_begin, cycles, weight;
        bool shaken;
    };

    [[nodiscard]] Moment moment_at(double time, double cycles) const;
    [[nodiscard]] Part part_of(const Moment& begin, const Moment& end, double weight, double surface_step) const;
    [[nodiscard]] bool goes_plainly(double exposure) const;
    [[nodiscard]] double surface_step_of(double passed) const;
    [[nodiscard]] bool is_whole(const Interval& stretch, const std::array<double, 3>& u) const;
    [[nodiscard]] double excess_of(const Moment& a, const Moment& b, double surface_step) const;
    [[nodiscard]] bool is_shaken(double along) const;
    [[nodiscard]] bool is_shaken(double along, Division& division) const;
    [[nodiscard]] bool path_turns(double begin, double end, Division& division) const;
    void begin_with(const Stroke& stroke, Division& division) const;
    void halve(Division& division, double surface_step) const;

    const scenario::Scenario& scenario_;
    const Trajectory& course_;
    const MovedPart& part_;
    const LightTable& table_;
    const PieceBorders* borders_;
    double pitch_ = 0.0;
    double radius_ = 0.0;
    Fineness fineness_;
    bool by_shape_ = false;  // positions of the shape make a difference
};

}  // namespace spotwright::measure
