// The light of a part wherever it goes: images at a grid of places, made once, and what lies between them.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <unordered_map>
#include <vector>

#include "sim/sensor/instrument.hpp"
#include "sim/measure/motion.hpp"
#include "sim/measure/moving_shares.hpp"
#include "sim/measure/moving_smear.hpp"

namespace spotwright::measure {

/// Where a part stands: displacement of its reference surface, and offset of its shape (see `MovedPart`).
struct PartPose {
    double along = 0.0;                ///< [m]
    Eigen::Vector2d offset{0.0, 0.0};  ///< [m]
};

/// Which image of a table: (along the array, x, y) on its grid.
struct LightNode {
    std::int64_t along = 0;
    std::int64_t x = 0;
    std::int64_t y = 0;
    auto operator<=>(const LightNode&) const = default;
};

/// A cell of the grid, by its lowest corner, and where in it a place lies.
struct LightCell {
    LightNode node;
    double along = 0.0;                ///< share of the way to the next image. [1]
    std::array<double, 2> position{};  ///< likewise for x and y. [1]
};

/// A part that runs evenly from place to place: where its image stands at first and at last, its light that of one
/// place between.
struct Glide {
    PartPose stand;
    double u_first = 0.0;           ///< of the image of the lit point, from the array's centre. [m]
    double u_last = 0.0;            ///< [m]
    std::optional<LightCell> cell;  ///< none where no light can come from
};

/// Shares of the spot on a material, by node along: tables of all its segments are made of the same.
using ShareTable = std::unordered_map<std::int64_t, ShareImages>;

/// Images of one material on one shape, by the spot model.
///
/// Images stand eight pixels apart along the array, from that of time 0 on, and for shapes at steps that their
/// structure asks for (an eighth of the beam's radius at edges). They are made on pixels finer by four and kept as
/// sums of four, aligned at the image of the lit point (of edges: of the reference surface). Between them they are
/// mixed in proportion, and shifted with a cubic through four samples. Readings differ from those of images made for
/// the place by less than a hundredth of a pixel, on edges by less than the grain of an image itself; a test holds them
/// to it. Made when first wanted, and the same whenever that is; where there are many, those that are not wanted now
/// are dropped.
///
/// Light of a part that glides over the array is integrated: with Q the running integral of an image along the array, a
/// pixel at x sees (Q(x - u0) - Q(x - u1)) / (u1 - u0). Light and centroid are kept exactly.
class LightTable {
public:
    /// @param part  Outlives the table, and so does the instrument.
    /// @param shares  Of a segment's table: those of its material; likewise. None: images of segments are made one by
    ///   one, as they always are where light goes inside the part.
    LightTable(const sensor::TriangulationSetup& setup, const MovedPart& part, ShareTable* shares = nullptr);

    using Node = LightNode;
    using Cell = LightCell;
    /// Images that a place needs, and their weights. None where no light can come from.
    struct Weighted {
        Node node;
        double weight = 0.0;
    };
    [[nodiscard]] std::vector<Weighted> nodes_of(const PartPose& stand) const;

    /// Where in the grid a place lies; none where no light can come from.
    [[nodiscard]] std::optional<Cell> cell_of(const PartPose& stand) const;

    [[nodiscard]] bool has(const Node& node) const { return images_.count(node) > 0; }

    /// Nodes of places, gathered place after place, some more than once.
    struct Wanted {
        std::vector<Node> nodes;
        std::optional<Node> cell;       ///< of the last place
        std::array<bool, 3> between{};  ///< its corners that are there: along, x, y
    };
    void want(const Cell& cell, Wanted& wanted) const;

    /// Makes those images that are not there yet. Changes the table: not beside other calls.
    void make(std::span<const Node> nodes, int threads);

    /// Images of the last place that was looked at by one thread, for the next is most often among them.
    struct Found;

    /// Adds the light of a place, times a weight. All of its nodes must be there.
    void add(const PartPose& stand, double weight, LightSum& sum) const;

    /// Adds the light of a part that glides. @param found  Of this table and thread.
    void add(const Glide& glide, double weight, Found& found, LightSum& sum) const;

    /// Widens a stretch of pixels, from the first to before the last, by those on which its light may come to a rate.
    void reach(const Glide& glide, double min_rate, Found& found, std::array<std::int64_t, 2>& pixels) const;

    /// Where the lit point is imaged, from the array's centre; none where no light comes from. [m]
    [[nodiscard]] std::optional<double> spot_of(const PartPose& stand) const;

    /// The same, where the place at which its image is aligned is known. [m]
    [[nodiscard]] std::optional<double> spot_at(const PartPose& stand, double image) const {
        return follows_lit_ || is_flat_ ? image : spot_of(stand);
    }

    /// The place on the array at which images of a stand are aligned; none where no light comes from. [m]
    [[nodiscard]] std::optional<double> image_of(const PartPose& stand) const;

    /// The same; where none comes from, that of the reference surface, or the end of what can be seen that lies nearer.
    [[nodiscard]] double image_or_end(const PartPose& stand) const;

    /// Where the reference surface is imaged, or the end of what can be seen that lies nearer. [m]
    [[nodiscard]] double sight_of(double along) const;

    /// The same of many. @param image  Of as many entries. [m]
    void sights_of(std::span<const double> along, std::span<double> image) const;

    /// A place of the shape in steps of the grid, 0 along an axis that makes no difference, within its structure; and
    /// in what number of steps it repeats, 0 where it does not.
    [[nodiscard]] std::array<double, 2> steps_of(const Eigen::Vector2d& offset) const;
    [[nodiscard]] std::array<double, 2> rounds() const;

    [[nodiscard]] std::size_t size() const { return images_.size(); }

    /// Whether any image so far has mirrored light.
    [[nodiscard]] bool mirrors() const { return mirrors_; }

private:
    struct Image {
        std::optional<double> u;  // [m]
        LightSamples all;
        LightSamples mirrored;
        LightExtents extents;  // of all
    };
    // What positions of the shape along one of its axes are looked at.
    struct Grid {
        double step = 0.0;       // 0: light is the same for all. [m]
        double first = 0.0;      // beyond first and last the shape is level. [m]
        double last = 0.0;       // [m]
        std::int64_t round = 0;  // positions after which the shape repeats; 0: never
    };
    struct NodeHash {
        std::size_t operator()(const Node& node) const;
    };
    template <class Take>
    void for_each_corner(const Cell& cell, const Take& take) const;
    [[nodiscard]] PartPose stand_of(const Node& node) const;
    [[nodiscard]] Image make_image(const Node& node) const;
    [[nodiscard]] receiver::Profile profile_of(const PartPose& stand) const;
    void make_shares(std::span<const Node> nodes, int threads);
    [[nodiscard]] ShareImages shares_at(std::int64_t along) const;
    [[nodiscard]] receiver::Profile segment_profile(const Node& node) const;
    [[nodiscard]] std::optional<double> image_of_point(const std::optional<Eigen::Vector3d>& point) const;
    struct Sight {
        double u = 0.0;     // [m]
        bool seen = false;  // else u says nothing
    };
    [[nodiscard]] Sight sight_at(double along) const;
    [[nodiscard]] Sight sight_through_glass(double along, double axial, double transverse) const;
    [[nodiscard]] std::optional<double> image_of_reference(double along) const;
    void find_visible_range();
    void drop_but(std::span<const Node> nodes);
    void turn_to(const Cell& cell, Found& found) const;
    [[nodiscard]] const Image& image_at(const Node& node, std::size_t corner, Found& found) const;

    const sensor::TriangulationSetup& setup_;
    const MovedPart& part_;
    ShareTable* shares_ = nullptr;
    target::Surface surface_;
    receiver::Receiver fine_;
    double origin_ = 0.0;   // place on the array that images count from: that of the part at time 0. [m]
    double spacing_ = 0.0;  // of images along the array. [m]
    double near_ = 0.0;     // nearest z of a lit point: beyond it the part would touch the sensor. [m]
    // The lit point of the reference surface, which runs along a straight line, as the sensor and as the lens see it.
    struct LitPlace {
        double z = 0.0;
        double axial = 0.0;
        double transverse = 0.0;
    };
    [[nodiscard]] LitPlace lit_place(double along) const;
    LitPlace lit_at_zero_;                  // [m]
    LitPlace lit_per_along_;                // [1]
    double widest_ = 0.0;                   // largest |u| from which light can come. [m]
    std::array<double, 2> seen_{0.0, 0.0};  // places along between which the reference surface is seen. [m]
    bool follows_lit_ = true;
    bool is_flat_ = true;
    bool glides_ = true;        // images may go along the array within an exposure
    std::int64_t dropped_ = 0;  // how often images were
    std::size_t kept_ = 0;      // samples of images
    bool mirrors_ = false;
    std::array<Grid, 2> grid_;
    std::unordered_map<Node, Image, NodeHash> images_;
};

struct LightTable::Found {
    std::int64_t dropped = 0;
    std::optional<Node> cell;
    std::array<const Image*, 32> images{};
    SmearIntegrals integrals;
};

}  // namespace spotwright::measure
