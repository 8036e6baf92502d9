// The light of a part wherever it goes: images at a grid of places, made once, and what lies between them.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <vector>

#include "sim/study/instrument.hpp"
#include "sim/study/motion.hpp"

namespace spotwright::study {

/// Where a part stands: displacement of its reference surface, and offset of its shape (see `MovedPart`).
struct Stand {
    double along = 0.0;                ///< [m]
    Eigen::Vector2d offset{0.0, 0.0};  ///< [m]
};

/// Light on the pixels, summed over moments.
struct LightSum {
    std::vector<float> rate;      ///< [1/s]
    std::vector<float> mirrored;  ///< of it, light that was only mirrored; empty until there is some. [1/s]
};

/// Images of one material on one shape, by the spot model.
///
/// Images stand eight pixels apart along the array, from that of time 0 on, and for shapes at steps that their
/// structure asks for (a sixteenth of the beam's radius at edges). They are made on pixels finer by four and kept as
/// sums of four, aligned at the image of the lit point (of edges: of the reference surface). Between them they are
/// mixed in proportion, and shifted with a cubic through four samples. Readings differ from those of images made for
/// the place by less than a hundredth of a pixel, on edges by less than the grain of an image itself; a test holds them
/// to it. Made when first wanted, and the same whenever that is.
class LightTable {
public:
    /// @param part  Outlives the table, and so does the instrument.
    LightTable(const Instrument& instrument, const MovedPart& part);

    /// Images that a place needs: (along the array, x, y) on the grid. None where no light can come from.
    struct Node {
        std::int64_t along = 0;
        std::int64_t x = 0;
        std::int64_t y = 0;
        auto operator<=>(const Node&) const = default;
    };
    struct Weighted {
        Node node;
        double weight = 0.0;
    };
    [[nodiscard]] std::vector<Weighted> nodes_of(const Stand& stand) const;

    [[nodiscard]] bool has(const Node& node) const { return images_.count(node) > 0; }

    /// Makes those images that are not there yet. Changes the table: not beside other calls.
    void make(std::span<const Node> nodes, int threads);

    /// Adds the light of a place, times a weight. All of its nodes must be there.
    void add(const Stand& stand, double weight, LightSum& sum) const;

    /// Where the lit point is imaged, from the array's centre; none where no light comes from. [m]
    [[nodiscard]] std::optional<double> spot_of(const Stand& stand) const;

    [[nodiscard]] std::size_t size() const { return images_.size(); }

private:
    // Sums of four finer pixels from each of them on, where they are not dark.
    struct Samples {
        std::ptrdiff_t first = 0;
        std::vector<float> sum;
    };
    struct Image {
        std::optional<double> u;  // [m]
        Samples all;
        Samples mirrored;
    };
    // What positions of the shape along one of its axes are looked at.
    struct Grid {
        double step = 0.0;       // 0: light is the same for all. [m]
        double first = 0.0;      // beyond first and last the shape is level. [m]
        double last = 0.0;       // [m]
        std::int64_t round = 0;  // positions after which the shape repeats; 0: never
    };

    [[nodiscard]] Stand stand_of(const Node& node) const;
    [[nodiscard]] Image make_image(const Node& node) const;
    [[nodiscard]] std::optional<double> image_of_point(const std::optional<Eigen::Vector3d>& point) const;
    [[nodiscard]] std::optional<double> image_of(const Stand& stand) const;
    static void add_samples(const Samples& samples, double shift, double weight, std::vector<float>& rate);

    const Instrument& instrument_;
    const MovedPart& part_;
    target::Surface surface_;
    receiver::Receiver fine_;
    double origin_ = 0.0;   // place on the array that images count from: that of the part at time 0. [m]
    double spacing_ = 0.0;  // of images along the array. [m]
    double near_ = 0.0;     // nearest z of a lit point: beyond it the part would touch the sensor. [m]
    double widest_ = 0.0;   // largest |u| from which light can come. [m]
    bool follows_lit_ = true;
    std::array<Grid, 2> grid_;
    std::map<Node, Image> images_;
};

}  // namespace spotwright::study
