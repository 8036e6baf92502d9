#include "sim/drawing/speckle_strip.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/drawing/part_detail.hpp"
#include "sim/drawing/profile_axes.hpp"

namespace spotwright::drawing {

namespace {

using base::um;

// Weights of four neighbours for a place between the second and the third.
std::array<double, 4> cubic_weights(double t) {
    return {((-0.5 * t + 1.0) * t - 0.5) * t, (1.5 * t - 2.5) * t * t + 1.0, ((-1.5 * t + 2.0) * t + 0.5) * t,
            (0.5 * t - 0.5) * t * t};
}

double row_of(const receiver::SpeckleImage& image, double v) {
    return (v - image.v_first) / image.v_step;
}

double column_of(const receiver::SpeckleImage& image, double u, double row) {
    return (u - image.u_first - row * image.u_per_row) / image.u_step;
}

// Colours from ink, where it is dark, to paper, evenly apart.
std::string grey_of(int level) {
    const std::array<double, 3> ink{28.0, 36.0, 48.0};  // palette::ink
    const double share = static_cast<double>(level) / (grey_levels - 1);
    std::array<int, 3> mixed{};
    for (std::size_t i = 0; i < ink.size(); ++i) {
        mixed[i] = static_cast<int>(std::lround(std::lerp(ink[i], 255.0, share)));
    }
    return fmt::format("#{:02x}{:02x}{:02x}", mixed[0], mixed[1], mixed[2]);
}

int level_of(double light) {
    const int level = static_cast<int>(std::lround(light / brightest_grey * (grey_levels - 1)));
    return std::clamp(level, 0, grey_levels - 1);
}

// Levels on cells of the page, row by row.
struct Raster {
    Box box;
    int columns = 0;
    int rows = 0;
    std::vector<int> levels;

    [[nodiscard]] double x(int column) const { return box.left + (box.right - box.left) * column / columns; }
    [[nodiscard]] double y(int row) const { return box.top + (box.bottom - box.top) * row / rows; }
    [[nodiscard]] int level(int column, int row) const {
        return levels[static_cast<std::size_t>(row) * static_cast<std::size_t>(columns) +
                      static_cast<std::size_t>(column)];
    }
};

Raster rasterise(const SpeckleStrip& strip, const receiver::SpeckleImage& image) {
    constexpr double cell = 1.5;
    Raster raster{strip.box, 0, 0, {}};
    raster.columns = static_cast<int>(std::ceil((strip.box.right - strip.box.left) / cell));
    raster.rows = static_cast<int>(std::ceil((strip.box.bottom - strip.box.top) / cell));
    raster.levels.reserve(static_cast<std::size_t>(raster.columns) * static_cast<std::size_t>(raster.rows));
    for (int row = 0; row < raster.rows; ++row) {
        const double v = std::lerp(strip.high, strip.low, (row + 0.5) / raster.rows);
        for (int column = 0; column < raster.columns; ++column) {
            const double u = strip.u_of(std::lerp(strip.left, strip.right, (column + 0.5) / raster.columns));
            raster.levels.push_back(level_of(light_at(image, image.intensity, u, v)));
        }
    }
    return raster;
}

// Runs of cells of a level or above it: each level covers part of the one below, so that no seams show between.
std::vector<Box> runs_from(const Raster& raster, int level) {
    std::vector<Box> runs;
    for (int row = 0; row < raster.rows; ++row) {
        for (int column = 0; column < raster.columns;) {
            if (raster.level(column, row) < level) {
                ++column;
                continue;
            }
            int end = column;
            while (end < raster.columns && raster.level(end, row) >= level) ++end;
            runs.push_back({raster.x(column), raster.y(row), raster.x(end), raster.y(row + 1)});
            column = end;
        }
    }
    return runs;
}

// Pixels higher than the strip reach from side to side.
void draw_pixels(Canvas& canvas, const SpeckleStrip& strip, const scenario::Detector& detector) {
    const double half = 0.5 * detector.height;
    const double top = strip.y(std::min(half, strip.high));
    const double bottom = strip.y(std::max(-half, strip.low));
    const Pen pen{palette::faint, 0.6};
    canvas.open_group("pixels-" + strip.name);
    for (double pixel = strip.left; pixel < strip.right + 0.5; pixel += 1.0) {
        canvas.line({strip.x(pixel), top}, {strip.x(pixel), bottom}, pen);
    }
    if (half < strip.high) canvas.line({strip.box.left, top}, {strip.box.right, top}, pen);
    if (-half > strip.low) canvas.line({strip.box.left, bottom}, {strip.box.right, bottom}, pen);
    canvas.close_group();
}

// Pixels [first, last) on which there is light between the strip's sides.
std::array<double, 2> lit_pixels(const SpeckleStrip& strip, const receiver::SpeckleImage& image) {
    constexpr double dark = 0.02;
    const auto is_lit = [&](double pixel) {
        constexpr int places = 16;
        for (int i = 0; i <= places; ++i) {
            const double v = std::lerp(strip.low, strip.high, static_cast<double>(i) / places);
            if (light_at(image, image.mean, strip.u_of(pixel), v) > dark) return true;
        }
        return false;
    };
    double first = strip.left;
    while (first < strip.right && !is_lit(first + 0.5)) first += 1.0;
    double last = strip.right;
    while (last > first && !is_lit(last - 0.5)) last -= 1.0;
    return {first, last};
}

void draw_outline(Canvas& canvas, const SpeckleStrip& strip, const receiver::SpeckleImage& image) {
    std::vector<Vector2> points;
    for (const Vector2& place : half_maximum(image)) {
        const double pixel = std::clamp(strip.pixel_of(place.x()), strip.left, strip.right);
        points.emplace_back(strip.x(pixel), strip.y(std::clamp(place.y(), strip.low, strip.high)));
    }
    if (points.empty()) return;
    points.push_back(points.front());
    canvas.polyline(points, {palette::ink, 3.4});
    canvas.polyline(points, {palette::beam, 1.5}, "mean-" + strip.name);
}

}  // namespace

double light_at(const receiver::SpeckleImage& image, const Eigen::ArrayXXf& values, double u, double v) {
    const double row = row_of(image, v);
    const auto whole_row = static_cast<Eigen::Index>(std::floor(row));
    const std::array<double, 4> across = cubic_weights(row - std::floor(row));
    double sum = 0.0;
    for (Eigen::Index j = 0; j < 4; ++j) {
        const Eigen::Index at_row = whole_row + j - 1;
        if (at_row < 0 || at_row >= values.cols()) continue;
        // Rows may stand askew: each has its own place of the same u.
        const double column = column_of(image, u, static_cast<double>(at_row));
        const auto whole = static_cast<Eigen::Index>(std::floor(column));
        const std::array<double, 4> along = cubic_weights(column - std::floor(column));
        for (Eigen::Index i = 0; i < 4; ++i) {
            const Eigen::Index at = whole + i - 1;
            if (at < 0 || at >= values.rows()) continue;
            sum += across[static_cast<std::size_t>(j)] * along[static_cast<std::size_t>(i)] *
                   static_cast<double>(values(at, at_row));
        }
    }
    return std::max(0.0, sum);
}

std::array<double, 2> lit_height(const receiver::SpeckleImage& image, const scenario::Detector& detector) {
    constexpr float dark = 0.1F;
    double low = 0.0;
    double high = 0.0;
    bool any = false;
    for (Eigen::Index j = 0; j < image.mean.cols(); ++j) {
        if (image.mean.col(j).maxCoeff() < dark) continue;
        const double v = image.v_first + static_cast<double>(j) * image.v_step;
        low = any ? std::min(low, v) : v;
        high = any ? std::max(high, v) : v;
        any = true;
    }
    constexpr double not_far = 1.25;
    const double half = 0.5 * detector.height;
    if (half < not_far * std::max(std::abs(low), std::abs(high))) {
        low = std::min(low, -half);
        high = std::max(high, half);
    }
    const double margin = 0.03 * (high - low);
    return {low - margin, high + margin};
}

namespace {

// From a value above the half to one below it, the share of the way to the half.
double way_to_half(float half, float above, float below) {
    return static_cast<double>((above - half) / (above - below));
}

// Past the last row that reaches the half: where the maximum of the rows would, on its way to the next one.
std::optional<Vector2> tip(const receiver::SpeckleImage& image, float half, Eigen::Index row, Eigen::Index outside) {
    if (outside < 0 || outside >= image.mean.cols()) return std::nullopt;
    Eigen::Index column = 0;
    const float above = image.mean.col(row).maxCoeff(&column);
    const double share = way_to_half(half, above, image.mean.col(outside).maxCoeff());
    const double place = static_cast<double>(row) + share * static_cast<double>(outside - row);
    return Vector2(image.u_first + static_cast<double>(column) * image.u_step + place * image.u_per_row,
                   image.v_first + place * image.v_step);
}

}  // namespace

std::vector<Vector2> half_maximum(const receiver::SpeckleImage& image) {
    const float half = 0.5F * image.mean.maxCoeff();
    std::vector<Vector2> left;
    std::vector<Vector2> right;
    Eigen::Index first_row = -1;
    Eigen::Index last_row = -1;
    for (Eigen::Index j = 0; j < image.mean.cols(); ++j) {
        const auto row = image.mean.col(j);
        Eigen::Index first = 0;
        while (first < row.size() && row(first) < half) ++first;
        if (first == row.size()) continue;
        Eigen::Index last = row.size() - 1;
        while (row(last) < half) --last;
        const auto crossing = [&](Eigen::Index inside, Eigen::Index outside) {
            const bool on_grid = outside >= 0 && outside < row.size();
            const double share = on_grid ? way_to_half(half, row(inside), row(outside)) : 0.0;
            const double column = static_cast<double>(inside) + share * static_cast<double>(outside - inside);
            return Vector2(image.u_first + column * image.u_step + static_cast<double>(j) * image.u_per_row,
                           image.v_first + static_cast<double>(j) * image.v_step);
        };
        left.push_back(crossing(first, first - 1));
        right.push_back(crossing(last, last + 1));
        if (first_row < 0) first_row = j;
        last_row = j;
    }
    if (left.empty()) return {};
    if (const auto end = tip(image, half, last_row, last_row + 1)) left.push_back(*end);
    left.insert(left.end(), right.rbegin(), right.rend());
    if (const auto end = tip(image, half, first_row, first_row - 1)) left.push_back(*end);
    return left;
}

std::optional<SpeckleStrip> make_strip(const receiver::SpeckleImage& image, double grain,
                                       const scenario::Detector& detector, const Panel& panel, double top,
                                       double bottom) {
    SpeckleStrip strip{{panel.box.left, top, panel.box.right, bottom},     panel.left,     panel.right, 0.0, 0.0,
                       0.5 * (static_cast<double>(detector.pixels) - 1.0), detector.pitch, panel.name};
    const std::array<double, 2> height = lit_height(image, detector);
    strip.low = height[0];
    strip.high = height[1];
    constexpr double visible = 3.0;
    if (!(strip.high > strip.low) || grain / detector.pitch * panel.units_per_pixel() < visible) return std::nullopt;
    const std::array<double, 2> lit = lit_pixels(strip, image);
    if (!(lit[1] > lit[0])) return std::nullopt;
    strip.left = lit[0];
    strip.right = lit[1];
    strip.box.left = panel.x(strip.left);
    strip.box.right = panel.x(strip.right);
    return strip;
}

void draw_light(Canvas& canvas, const SpeckleStrip& strip, const receiver::SpeckleImage& image,
                const scenario::Detector& detector) {
    const Raster raster = rasterise(strip, image);
    canvas.open_group("light-" + strip.name, "shape-rendering=\"crispEdges\"");
    canvas.rectangles(std::array{strip.box}, grey_of(0).c_str());
    for (int level = 1; level < grey_levels; ++level) {
        canvas.rectangles(runs_from(raster, level), grey_of(level).c_str());
    }
    canvas.close_group();
    draw_pixels(canvas, strip, detector);
    draw_outline(canvas, strip, image);
    const Box& box = strip.box;
    const std::array frame{Vector2(box.left, box.top), Vector2(box.left, box.bottom), Vector2(box.right, box.bottom),
                           Vector2(box.right, box.top), Vector2(box.left, box.top)};
    canvas.polyline(frame, {palette::ink, 0.9}, "light-frame-" + strip.name);
}

namespace {

void draw_scale_across(Canvas& canvas, const SpeckleStrip& strip) {
    constexpr double spacing = 22.0;
    const Box& box = strip.box;
    canvas.open_group("across-axis-" + strip.name);
    for (const double value : round_values(strip.low / um, strip.high / um, (box.bottom - box.top) / spacing)) {
        const double y = strip.y(value * um);
        canvas.line({box.left - 4.0, y}, {box.left, y}, {palette::grey, 0.9});
        canvas.text({box.left - 7.0, y + 3.8}, number(value) + "\u00A0µm", {small_size, Anchor::end});
    }
    canvas.close_group();
}

void draw_scale_along(Canvas& canvas, const SpeckleStrip& strip, const Vector2& at, double room) {
    const double per_um = um / strip.pitch * (strip.box.right - strip.box.left) / (strip.right - strip.left);
    const double length = round_length(room / per_um);
    const Vector2 end = at + Vector2(length * per_um, 0.0);
    const Vector2 tick(0.0, 3.0);
    canvas.open_group("along-bar-" + strip.name);
    canvas.line(at, end, {palette::ink, 1.6});
    canvas.line(at - tick, at + tick, {palette::ink, 1.1});
    canvas.line(end - tick, end + tick, {palette::ink, 1.1});
    canvas.close_group();
    canvas.text(at + Vector2(0.0, 14.0), fmt::format("{} µm along", number(length)), {small_size});
}

// A bar of all greys.
void draw_greys(Canvas& canvas, const Vector2& at, double width) {
    constexpr double height = 8.0;
    const double step = width / grey_levels;
    canvas.open_group("greys", "shape-rendering=\"crispEdges\"");
    for (int level = 0; level < grey_levels; ++level) {
        const double left = at.x() + level * step;
        const std::array cell{Box{left, at.y(), left + step, at.y() + height}};
        canvas.rectangles(cell, grey_of(level).c_str());
    }
    canvas.close_group();
    const std::array outline{at, Vector2(at + Vector2(width, 0.0)), Vector2(at + Vector2(width, height)),
                             Vector2(at + Vector2(0.0, height)), at};
    canvas.polyline(outline, {palette::grey, 0.7});
    const double below = at.y() + height + 11.0;
    canvas.text({at.x(), below}, "no light", {small_size});
    canvas.text({at.x() + width, below}, fmt::format("{}× mean", number(brightest_grey)), {small_size, Anchor::end});
}

}  // namespace

void draw_scales(Canvas& canvas, const SpeckleStrip& strip, double left, double right) {
    draw_scale_across(canvas, strip);
    draw_greys(canvas, {left, strip.box.top + 4.0}, right - left);
    draw_scale_along(canvas, strip, {left, strip.box.bottom - 26.0}, right - left);
}

std::string speckle_caption(const sensor::SpeckleStatistics& speckle, const scenario::Detector& detector) {
    std::string words = fmt::format(
        "Scattered light on the pixels (boxes, {}\u00A0×\u00A0{}\u00A0µm): grains {}\u00A0µm ({}\u00A0px) wide, "
        "contrast {}; "
        "added "
        "up by the pixels, {}. Outline: half maximum of the mean over all patches.",
        number(detector.pitch / um), number(detector.height / um), number(speckle.size / um, 2),
        number(speckle.size / detector.pitch, 2), number(speckle.pattern_contrast, 2), number(speckle.contrast, 2));
    if (speckle.offset) {
        words += fmt::format(" This patch moves the reading by {}\u00A0µm.", signed_number(*speckle.offset / um, 2));
    }
    return words;
}

}  // namespace spotwright::drawing
