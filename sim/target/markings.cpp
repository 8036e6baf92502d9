#include "sim/target/markings.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"

namespace spotwright::target {

namespace {

using base::pi, Eigen::Vector2d, Eigen::Vector3d;

// Coverage at a distance inside a border, negative outside.
double across_border(double inside, double softness) {
    if (softness > 0.0) return std::clamp(0.5 + inside / softness, 0.0, 1.0);
    return inside > 0.0 ? 1.0 : 0.0;
}

// From the nearest multiple of the period, in -+ half of it.
double from_nearest(double x, double period) {
    return x - period * std::round(x / period);
}

// How far inside a bar, negative outside.
double inside_bar(const Bars& bars, double x) {
    return 0.5 * bars.width - std::abs(from_nearest(x, bars.period));
}

// How far inside the covered squares of a chessboard of this period.
double inside_squares(double period, const Vector2d& p) {
    const double x = from_nearest(p.x(), period);
    const double y = from_nearest(p.y(), period);
    const double to_x = 0.25 * period - std::abs(x);  // positive in the middle half of a period
    const double to_y = 0.25 * period - std::abs(y);
    const double nearest = std::min(std::abs(to_x), std::abs(to_y));
    return (to_x > 0.0) == (to_y > 0.0) ? nearest : -nearest;
}

// Where a line of wood's grain goes that would run straight at x.
double wandered(double period, const Vector2d& p) {
    constexpr double swing = 0.15;
    return p.x() + swing * period *
                       (std::sin(2.0 * pi * p.y() / (12.0 * period)) + std::sin(2.0 * pi * p.x() / (3.7 * period)));
}

double covered_in(const Picture& picture, const Vector2d& p) {
    const scenario::CoverageMap& map = picture.map;
    const auto at = [](double place, std::int64_t count) {
        const double last = static_cast<double>(count - 1);
        return std::clamp(place + 0.5 * last, 0.0, last);
    };
    const double column = at(p.x() / picture.pixel, map.columns);
    const double row = at(-p.y() / picture.pixel, map.rows);
    const auto left = static_cast<std::int64_t>(column);
    const auto top = static_cast<std::int64_t>(row);
    const std::int64_t right = std::min(left + 1, map.columns - 1);
    const std::int64_t bottom = std::min(top + 1, map.rows - 1);
    const auto value = [&map](std::int64_t r, std::int64_t c) {
        return map.covered[static_cast<std::size_t>(r * map.columns + c)];
    };
    const double across = column - static_cast<double>(left);
    const double down = row - static_cast<double>(top);
    return std::lerp(std::lerp(value(top, left), value(top, right), across),
                     std::lerp(value(bottom, left), value(bottom, right), across), down);
}

Pattern pattern_of(const scenario::Pattern& p) {
    using Kind = scenario::PatternKind;
    const Vector2d half_size(0.5 * p.size[0], 0.5 * p.size[1]);
    switch (p.kind) {
        case Kind::none:
        case Kind::border:
            break;
        case Kind::bars:
            return Bars{p.period, p.share * p.period, p.softness};
        case Kind::dots:
            return Dots{p.period, p.period * std::sqrt(p.share / pi), p.softness};
        case Kind::hatching:  // what neither set covers is left bare
            return Hatching{{p.period, (1.0 - std::sqrt(1.0 - p.share)) * p.period, p.softness}};
        case Kind::weave:
            return Weave{p.period, p.softness};
        case Kind::grain:
            return Grain{p.period, p.share * p.period};
        case Kind::patch:
            return Patch{half_size, p.softness};
        case Kind::picture:
            return Picture{p.picture, p.pixel};
    }
    return Border{p.softness};
}

}  // namespace

double coverage(const Pattern& pattern, const Vector2d& p) {
    return std::visit(
        base::Cases{[&p](const Border& border) { return across_border(p.x(), border.softness); },
                    [&p](const Bars& bars) { return across_border(inside_bar(bars, p.x()), bars.softness); },
                    [&p](const Dots& dots) {
                        const Vector2d from(from_nearest(p.x(), dots.period), from_nearest(p.y(), dots.period));
                        return across_border(dots.radius - from.norm(), dots.softness);
                    },
                    [&p](const Hatching& hatching) {
                        const double inside =
                            std::max(inside_bar(hatching.bars, p.x()), inside_bar(hatching.bars, p.y()));
                        return across_border(inside, hatching.bars.softness);
                    },
                    [&p](const Weave& weave) { return across_border(inside_squares(weave.period, p), weave.softness); },
                    [&p](const Grain& grain) {
                        const double at = wandered(grain.period, p) / grain.period;
                        const double left = grain.width / grain.period;
                        return left > 0.0 ? std::max(0.0, (at - std::floor(at) - (1.0 - left)) / left) : 0.0;
                    },
                    [&p](const Patch& patch) {
                        const Vector2d inside = patch.half_size - p.cwiseAbs();
                        return across_border(inside.minCoeff(), patch.softness);
                    },
                    [&p](const Picture& picture) { return covered_in(picture, p); },
                    [&p](const AllBut& strip) {
                        const double x = p.x() - strip.run * std::floor((p.x() - strip.from) / strip.run);
                        return x < strip.to ? 0.0 : 1.0;
                    }},
        pattern);
}

Texture make_texture(double deviation, double length, std::uint64_t seed) {
    constexpr std::int64_t waves = 64;
    Texture texture;
    texture.deviation = deviation;
    base::RandomSequence random({seed, base::Stream::texture}, 0);
    for (std::int64_t i = 0; i < waves; ++i) {
        // Two normal numbers by the Box-Muller transform, of deviation sqrt(2) / length.
        const double size = std::sqrt(-std::log(random.uniform())) / (pi * length);
        const double angle = 2.0 * pi * random.uniform();
        texture.number_x.push_back(size * std::cos(angle));
        texture.number_y.push_back(size * std::sin(angle));
        texture.phase.push_back(random.uniform());
    }
    return texture;
}

// cos(2 pi t), |t| < 2^51, within 1e-11: the sine's series about a quarter turn. Without a branch, so that compilers
// work on several at a time.
inline double cosine_of_turns(double t) {
    constexpr double magic = 6755399441055744.0;  // 1.5 * 2^52: adding it rounds to a whole number
    const double x = 2.0 * pi * (0.25 - std::abs(t - ((t + magic) - magic)));
    const double x2 = x * x;
    double sum = -1.0 / 1307674368000.0;
    sum = sum * x2 + 1.0 / 6227020800.0;
    sum = sum * x2 - 1.0 / 39916800.0;
    sum = sum * x2 + 1.0 / 362880.0;
    sum = sum * x2 - 1.0 / 5040.0;
    sum = sum * x2 + 1.0 / 120.0;
    sum = sum * x2 - 1.0 / 6.0;
    return x * (sum * x2 + 1.0);
}

double brightness(const Texture& texture, const Vector2d& place) {
    // Four sums, so that none waits for the one before.
    std::array<double, 4> sums{};
    const std::size_t waves = texture.phase.size();
    for (std::size_t i = 0; i + sums.size() <= waves; i += sums.size()) {
        for (std::size_t k = 0; k < sums.size(); ++k) {
            sums[k] += cosine_of_turns(texture.number_x[i + k] * place.x() + texture.number_y[i + k] * place.y() +
                                       texture.phase[i + k]);
        }
    }
    const auto count = static_cast<double>(std::max<std::size_t>(waves, 1));
    const double sum = (sums[0] + sums[1]) + (sums[2] + sums[3]);
    return std::max(0.0, 1.0 + texture.deviation * std::sqrt(2.0 / count) * sum);
}

GrooveAt groove_at(const FeedMarks& marks, double x) {
    const double from = from_nearest(x, marks.spacing);
    return {from * from / (2.0 * marks.radius) - marks.spacing * marks.spacing / (24.0 * marks.radius),
            from / marks.radius};
}

Vector2d SurfaceAxes::into(const Vector2d& place) const {
    const Vector2d from = place - origin;
    const double c = std::cos(turn);
    const double s = std::sin(turn);
    return {c * from.x() + s * from.y(), c * from.y() - s * from.x()};
}

double share_at(const Markings& markings, Zone zone, const Vector3d& place) {
    if (!markings.cover) return zone == Zone::bare ? 1.0 : 0.0;
    const Vector2d on_part = (markings.axes.transpose() * (place - markings.origin)).head<2>();
    const double covered = coverage(markings.cover->pattern, markings.cover->axes.into(on_part));
    return zone == Zone::bare ? 1.0 - covered : covered;
}

double weight_at(const Markings& markings, Zone zone, const Vector3d& place) {
    const Vector2d on_part = (markings.axes.transpose() * (place - markings.origin)).head<2>();
    double weight = share_at(markings, zone, place);
    if (markings.texture && weight > 0.0) weight *= brightness(*markings.texture, on_part - markings.texture_origin);
    return weight;
}

GroovedPlace on_feed_marks(const Markings& markings, const Vector3d& place, const Vector3d& to_light,
                           const Vector3d& normal) {
    if (!markings.feed_marks) return {place, normal};
    const Vector2d on_part = (markings.axes.transpose() * (place - markings.origin)).head<2>();
    const GrooveAt groove = groove_at(*markings.feed_marks, markings.feed_axes.into(on_part).x());
    const Vector3d feed =
        markings.axes.leftCols<2>() * Vector2d(std::cos(markings.feed_axes.turn), std::sin(markings.feed_axes.turn));
    const Vector3d along = feed - feed.dot(normal) * normal;  // of a curved part, in its surface
    constexpr double grazing = 1e-3;
    const double rise = std::max(to_light.dot(normal), grazing);
    return {place + groove.height / rise * to_light, (normal - groove.slope * along).normalized()};
}

std::optional<Markings> make_markings(const scenario::Target& target, const Eigen::Matrix3d& axes, const Vector3d& lit,
                                      const Vector3d& lay, double wavelength, std::uint64_t seed) {
    const bool covers = target.pattern.kind != scenario::PatternKind::none && target.pattern.covered_with;
    if (!covers && target.texture.deviation <= 0.0 && target.feed_marks.spacing <= 0.0) return std::nullopt;
    Markings markings;
    markings.axes = axes;
    markings.origin = lit;
    if (covers) {
        const scenario::Pattern& p = target.pattern;
        Surface surface =
            make_opaque_surface(*p.covered_with, wavelength);  // thin: light from below it counts at its face
        surface.lay = lay;
        markings.cover = Cover{pattern_of(p), {p.turn, {p.position[0], p.position[1]}}, std::move(surface)};
    }
    if (target.texture.deviation > 0.0) {
        markings.texture = make_texture(target.texture.deviation, target.texture.length, seed);
        markings.texture_origin = {-target.patch[0], -target.patch[1]};
    }
    if (target.feed_marks.spacing > 0.0) {
        const scenario::FeedMarks& marks = target.feed_marks;
        markings.feed_marks = FeedMarks{marks.spacing, marks.tool_radius};
        markings.feed_axes = {marks.turn, marks.position * Vector2d(std::cos(marks.turn), std::sin(marks.turn))};
    }
    return markings;
}

}  // namespace spotwright::target
