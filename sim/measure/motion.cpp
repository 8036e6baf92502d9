#include "sim/measure/motion.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "sim/base/constants.hpp"
#include "sim/scenario/paths.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::measure {

namespace {

using base::pi, Eigen::Vector2d, Eigen::Vector3d;

bool path_runs_across(const scenario::Scenario& s) {
    const std::vector<double>& across = s.motion.places.across;
    return std::any_of(across.begin(), across.end(), [&](double x) { return x != across.front(); });
}

// Direction in which the surface of a turning cylinder is carried.
Vector2d carried(const scenario::Scenario& s) {
    return s.target.cylinder.axis == scenario::Direction::across ? Vector2d(1.0, 0.0) : Vector2d(0.0, 1.0);
}

// Unit: where the surface passes to. `PartState::way` grows along it.
Vector2d direction_of(const scenario::Scenario& s) {
    if (s.motion.rotation != 0.0) return carried(s);
    const Vector2d across(s.motion.across[0], s.motion.across[1]);
    return across.norm() > 0.0 ? Vector2d(across.normalized()) : Vector2d(Vector2d::UnitX());
}

// The scenario's part as a plane without tilt or shape: its reference surface, or what it is mounted to.
scenario::Scenario bare(scenario::Scenario s, bool tilted) {
    s.target.shape = scenario::ShapeKind::plane;
    if (!tilted) s.target.tilt = {0.0, 0.0};
    return s;
}

double length_of_all(const scenario::Segments& segments) {
    return std::accumulate(segments.length.begin(), segments.length.end(), 0.0);
}

// Place within one run of the segments.
double within_run(double way, double run) {
    const double place = std::fmod(way, run);
    return place < 0.0 ? place + run : place;
}

}  // namespace

bool moves(const scenario::Scenario& s) {
    const scenario::Motion& m = s.motion;
    const bool path = !s.motion.places.time.empty();
    return m.along != 0.0 || m.across != scenario::Pair{0.0, 0.0} || m.vibration != 0.0 || m.rotation != 0.0 || path;
}

bool is_moving_series(const scenario::Scenario& s) {
    return moves(s) || !s.target.segments.made_of.empty() || s.motion.eccentricity != 0.0;
}

bool surface_passes(const scenario::Scenario& s) {
    return s.motion.across != scenario::Pair{0.0, 0.0} || s.motion.rotation != 0.0 || path_runs_across(s);
}

PartState part_state_at(const scenario::Scenario& s, double time) {
    return Trajectory(s).at(time);
}

Trajectory::Trajectory(const scenario::Scenario& s)
    : scenario_(s),
      across_(s.motion.across[0], s.motion.across[1]),
      speed_(std::hypot(across_.x(), across_.y())),
      carried_(carried(s)),
      circumference_(2.0 * pi * s.target.cylinder.radius) {
    if (speed_ > 0.0) path_share_ = across_.stableNormalized().x();
}

PartState Trajectory::at(double time) const {
    return at(time, scenario_.motion.vibration_frequency * time);
}

PartState Trajectory::at(double time, double cycles) const {
    const scenario::Scenario& s = scenario_;
    const scenario::Motion& m = s.motion;
    PartState place;
    place.along = s.target.displacement + m.along * time;
    if (m.vibration != 0.0) place.along += m.vibration * std::sin(2.0 * pi * std::fmod(cycles, 1.0));
    place.across = time * across_;
    place.way = s.target.segments.start + speed_ * time;
    if (!s.motion.places.time.empty()) {
        place.along += scenario::value_at(s.motion.places.time, s.motion.places.along, time);
        const double x = scenario::value_at(s.motion.places.time, s.motion.places.across, time);
        place.across.x() += x;
        place.way += path_share_ * x;
    }
    place.passed = place.across;
    if (m.rotation != 0.0) {
        const double turned_way = m.rotation * time * circumference_;
        place.passed += turned_way * carried_;
        place.way += turned_way;
        place.turned = 2.0 * pi * m.rotation * time;
    }
    if (m.eccentricity > 0.0) {
        const double phi = 2.0 * pi * std::fmod(m.rotation * time, 1.0) + m.eccentricity_angle;
        place.along -= m.eccentricity * std::cos(phi);
        place.across += m.eccentricity * std::sin(phi) * carried_;
    }
    return place;
}

MovedPart::MovedPart(const scenario::Scenario& s, const emitter::Beam& beam)
    : prototype_(sensor::part_of(s, 0.0)), beam_(beam) {
    const target::Part reference = sensor::part_of(bare(s, true), 0.0);
    lit_at_zero_ = reference.origin;
    // The lit point runs along the beam, evenly with the displacement.
    constexpr double far = 1.0;  // m
    lit_per_along_ = (sensor::part_of(bare(s, true), far).origin - lit_at_zero_) / far;
    mounting_normal_ = sensor::part_of(bare(s, false), 0.0).normal();
    into_shape_ = (prototype_.axes.transpose() * reference.axes).topLeftCorner<2, 2>();
    position_ = (prototype_.axes.transpose() * (prototype_.origin - lit_at_zero_)).head<2>();
    const Vector2d passes = direction_of(s);
    motion_ = reference.axes * Vector3d(passes.x(), passes.y(), 0.0);
}

// Segments follow each other against the motion: places that come later lie behind.
MovedPart MovedPart::only(const scenario::Segments& segments, std::size_t segment) const {
    MovedPart part = *this;
    part.is_segment_ = true;
    double from = 0.0;
    for (std::size_t i = 0; i < segment; ++i) from += segments.length[i];
    target::Markings markings;
    markings.axes.col(0) = -motion_;
    markings.axes.col(2) = prototype_.normal();
    markings.axes.col(1) = markings.axes.col(2).cross(markings.axes.col(0));
    markings.cover =
        target::Cover{target::AllBut{from, from + segments.length[segment], length_of_all(segments)}, {}, std::nullopt};
    part.prototype_.markings = markings;
    return part;
}

Vector2d MovedPart::offset_at(const PartState& place) const {
    return position_ + into_shape_ * place.across;
}

target::Part MovedPart::at(double along, const Vector2d& offset) const {
    target::Part part = prototype_;
    if (is_segment_) {
        part.origin = lit(along) + part.axes * Vector3d(position_.x(), position_.y(), 0.0);
        part.markings->origin = lit(along) + offset.x() * motion_;
        return part;
    }
    part.origin = lit(along) + part.axes * Vector3d(offset.x(), offset.y(), 0.0);
    if (part.markings) {
        const Vector2d gone = offset - position_;
        part.markings->origin = lit(along) + part.axes * Vector3d(gone.x(), gone.y(), 0.0);
    }
    return part;
}

std::optional<double> MovedPart::lit_displacement(double along, const Vector2d& offset) const {
    if (std::holds_alternative<target::Flat>(prototype_.shape)) {  // it turns about the lit point
        const Vector3d normal = prototype_.normal();
        const double fall = -normal.dot(beam_.direction);
        if (fall > 0.0 && normal.dot(beam_.face - lit(along)) > 0.0) return along;
        return std::nullopt;
    }
    const target::Part part = at(along, offset);
    const auto hit = target::meet(part, {beam_.face, beam_.direction});
    if (!hit) return std::nullopt;
    return -mounting_normal_.dot(beam_.face + hit->distance * beam_.direction);
}

std::size_t piece_at(const scenario::Segments& segments, double way) {
    double left = within_run(way, length_of_all(segments));
    for (std::size_t i = 0; i + 1 < segments.length.size(); ++i) {
        if (left < segments.length[i]) return i;
        left -= segments.length[i];
    }
    return segments.length.size() - 1;
}

std::vector<PieceShare> lit_segments(const scenario::Segments& segments, double way, double radius) {
    const double run = length_of_all(segments);
    const std::size_t count = segments.length.size();
    constexpr double reach = 2.6;  // 1/e^2 radii, beyond which lies less than 1e-6 of the power
    std::vector<double> shares(count, 0.0);
    if (reach * radius >= run) {
        for (std::size_t i = 0; i < count; ++i) shares[i] = segments.length[i] / run;
    } else {
        const auto passed = [&](double at) { return 0.5 * std::erf(std::sqrt(2.0) * at / radius); };
        // From one run before the lit one to one after it.
        double begin = -run - within_run(way, run);
        for (std::size_t i = 0; i < 3 * count; ++i) {
            const double end = begin + segments.length[i % count];
            if (begin < reach * radius && end > -reach * radius) shares[i % count] += passed(end) - passed(begin);
            begin = end;
        }
    }
    std::vector<PieceShare> lit;
    constexpr double seen = 1e-6;
    double all = 0.0;
    for (const double share : shares) all += share > seen ? share : 0.0;
    for (std::size_t i = 0; i < count; ++i) {
        if (shares[i] > seen) lit.push_back({i, shares[i] / all});
    }
    return lit;
}

}  // namespace spotwright::measure
