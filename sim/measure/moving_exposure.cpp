#include "sim/measure/moving_exposure.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace spotwright::measure {

namespace {

constexpr double longest_glide = 8.0;     // px
constexpr double longest_bend = 0.25;     // px, in the middle of a stretch
constexpr double still_image = 0.005;     // px: a vibration below it is not looked at
constexpr double min_weight = 1e-6;       // of a stretch that is halved
constexpr double border_step = 0.25;      // radii of the beam
constexpr double parts_of_period = 8.0;   // to begin with
constexpr double most_periods = 128.0;    // that are followed one by one
constexpr double periods_instead = 64.0;  // that stand for more

}  // namespace

PieceBorders::PieceBorders(const scenario::Segments& segments, double radius) {
    constexpr double reach = 2.6;  // 1/e^2 radii, beyond which lies less than 1e-6 of the power
    reach_ = reach * radius;
    shortest_ = std::numeric_limits<double>::infinity();
    double end = 0.0;
    for (const double length : segments.length) {
        end += length;
        end_.push_back(end);
        shortest_ = std::min(shortest_, length);
    }
}

std::optional<std::size_t> PieceBorders::alone(double way) const {
    if (end_.size() == 1) return 0;
    double place = std::fmod(way, end_.back());
    if (place < 0.0) place += end_.back();
    const auto after = std::upper_bound(end_.begin(), end_.end() - 1, place);
    const auto piece = static_cast<std::size_t>(after - end_.begin());
    const double begin = piece == 0 ? 0.0 : end_[piece - 1];
    if (place - begin < reach_ || *after - place < reach_) return std::nullopt;
    return piece;
}

ExposureDivider::ExposureDivider(const scenario::Scenario& scenario, const Trajectory& course, const MovedPart& part,
                                 const LightTable& table, const PieceBorders* borders, double radius,
                                 const Fineness& fineness)
    : scenario_(scenario),
      course_(course),
      part_(part),
      table_(table),
      borders_(borders),
      pitch_(scenario.detector.pitch),
      radius_(radius),
      fineness_(fineness),
      by_shape_(!std::holds_alternative<target::Flat>(part.prototype().shape) || part.prototype().markings) {}

ExposureDivider::Moment ExposureDivider::moment_at(double time, double cycles) const {
    Moment moment;
    moment.time = time;
    moment.cycles = cycles;
    moment.place = course_.at(time, cycles);
    if (by_shape_) {
        const PartPose stand{moment.place.along, part_.offset_at(moment.place)};
        moment.steps = table_.steps_of(stand.offset);
        moment.image = table_.image_or_end(stand);
    } else {
        moment.image = table_.sight_of(moment.place.along);
    }
    moment.u = moment.image / pitch_;
    if (borders_ != nullptr) moment.piece = borders_->alone(moment.place.way);
    return moment;
}

// How many times longer than it may be a stretch between two moments is, but for its bend.
double ExposureDivider::excess_of(const Moment& a, const Moment& b, double surface_step) const {
    double excess = std::abs(b.u - a.u) / longest_glide;
    for (std::size_t axis = 0; axis < 2; ++axis) excess = std::max(excess, std::abs(b.steps[axis] - a.steps[axis]));
    if (surface_step > 0.0) excess = std::max(excess, (b.place.passed - a.place.passed).norm() / surface_step);
    if (borders_ != nullptr) {
        const double way = std::abs(b.place.way - a.place.way);
        const bool alike = a.piece && a.piece == b.piece && way < borders_->shortest();
        if (!alike) excess = std::max(excess, way / (border_step * radius_));
    }
    return excess;
}

ExposureDivider::Part ExposureDivider::part_of(const Moment& begin, const Moment& end, double weight,
                                               double surface_step) const {
    Part part;
    part.weight = weight;
    part.begin = begin;
    part.middle = moment_at(0.5 * (begin.time + end.time), 0.5 * (begin.cycles + end.cycles));
    part.end = end;
    const double bend = std::abs(part.middle.u - 0.5 * (begin.u + end.u)) / longest_bend;
    // Either half may do more than both together.
    const double halves = excess_of(begin, part.middle, surface_step) + excess_of(part.middle, end, surface_step);
    if (weight > min_weight) part.excess = fineness_.factor * std::max(bend, halves);
    return part;
}

bool ExposureDivider::is_shaken(double along) const {
    const double amplitude = scenario_.motion.vibration;
    if (amplitude == 0.0) return false;
    const double middle = table_.sight_of(along);
    const double way = std::max(std::abs(table_.sight_of(along + amplitude) - middle),
                                std::abs(table_.sight_of(along - amplitude) - middle));
    return way > still_image * pitch_ || by_shape_;
}

// Most often a part vibrates about the same place.
bool ExposureDivider::is_shaken(double along, Division& division) const {
    if (division.along != along) {
        division.along = along;
        division.shaken = is_shaken(along);
    }
    return division.shaken;
}

// Whether a path goes to and fro within a time; its rows then are among the times.
bool ExposureDivider::path_turns(double begin, double end, Division& division) const {
    const scenario::MotionPath& path = scenario_.motion.places;
    if (path.time.empty()) return false;
    const auto first = std::upper_bound(path.time.begin(), path.time.end(), begin);
    const auto last = std::lower_bound(first, path.time.end(), end);
    if (first == last) return false;
    PartState before = course_.at(begin);
    const PartState start = before;
    double along = 0.0;
    double across = 0.0;
    const auto go_to = [&](double time) {
        const PartState place = course_.at(time);
        along += std::abs(place.along - before.along);
        across += (place.passed - before.passed).norm();
        before = place;
    };
    for (auto row = first; row != last; ++row) go_to(*row);
    go_to(end);
    const double more_along = along - std::abs(before.along - start.along);
    const double more_across = across - (before.passed - start.passed).norm();
    const double on_array =
        std::abs(table_.sight_of(start.along + more_along) - table_.sight_of(start.along - more_along));
    if (on_array < still_image * pitch_ && more_across < border_step * radius_) return false;
    if (last - first >= fineness_.most) {
        division.followed = false;
        return false;
    }
    division.times.insert(division.times.end(), first, last);
    return true;
}

// Parts of a stroke before any of them is halved.
void ExposureDivider::begin_with(const Stroke& stroke, Division& division) const {
    const double end = stroke.begin + stroke.duration;
    double parts = stroke.shaken ? std::ceil(parts_of_period * stroke.cycles) : 1.0;
    if (scenario_.motion.eccentricity > 0.0) {
        parts = std::max(parts, std::ceil(parts_of_period * std::abs(scenario_.motion.rotation) * stroke.duration));
    }
    const auto most = static_cast<double>(fineness_.most);
    if (parts > most) division.followed = false;
    parts = std::clamp(parts, 1.0, most);
    division.times.clear();
    const bool turns = path_turns(stroke.begin, end, division);
    for (double k = 0.0; k <= parts; k += 1.0) {
        division.times.push_back(k < parts ? stroke.begin + k / parts * stroke.duration : end);
    }
    if (turns) {
        std::sort(division.times.begin(), division.times.end());
        division.times.erase(std::unique(division.times.begin(), division.times.end()), division.times.end());
    }
    const auto moment = [&](double time) {
        const double share = stroke.duration > 0.0 ? (time - stroke.begin) / stroke.duration : 0.0;
        return moment_at(time, stroke.cycles_begin + share * stroke.cycles);
    };
    Moment before = moment(stroke.begin);
    for (std::size_t i = 1; i < division.times.size(); ++i) {
        const Moment after = moment(division.times[i]);
        const double weight = stroke.weight * (after.time - before.time) / stroke.duration;
        division.parts.push_back(part_of(before, after, weight, 0.0));
        before = after;
    }
}

// Halves the parts that need it most, as long as one does and there may be more.
void ExposureDivider::halve(Division& division, double surface_step) const {
    std::vector<Part>& parts = division.parts;
    const auto needs_less = [](const Part& a, const Part& b) {
        return a.excess != b.excess ? a.excess < b.excess : a.begin.time > b.begin.time;
    };
    std::make_heap(parts.begin(), parts.end(), needs_less);
    while (parts.front().excess > 1.0 && static_cast<std::int64_t>(parts.size()) < fineness_.most) {
        std::pop_heap(parts.begin(), parts.end(), needs_less);
        const Part whole = parts.back();
        parts.back() = part_of(whole.begin, whole.middle, 0.5 * whole.weight, surface_step);
        std::push_heap(parts.begin(), parts.end(), needs_less);
        parts.push_back(part_of(whole.middle, whole.end, 0.5 * whole.weight, surface_step));
        std::push_heap(parts.begin(), parts.end(), needs_less);
    }
    if (parts.front().excess > 1.0) division.followed = false;
    std::sort(parts.begin(), parts.end(), [](const Part& a, const Part& b) { return a.begin.time < b.begin.time; });
}

double ExposureDivider::surface_step_of(double passed) const {
    if (!(fineness_.surface_step > 0.0)) return 0.0;
    return std::max(fineness_.surface_step, passed / static_cast<double>(fineness_.surfaces));
}

bool ExposureDivider::goes_plainly(double exposure) const {
    const scenario::Motion& m = scenario_.motion;
    if (by_shape_ || borders_ != nullptr || m.rotation != 0.0 || m.eccentricity != 0.0 || !m.places.time.empty()) {
        return false;
    }
    return m.vibration == 0.0 || parts_of_period * m.vibration_frequency * exposure <= 1.0;
}

// By the same limits as `part_of` and `excess_of` have.
bool ExposureDivider::is_whole(const Interval& stretch, const std::array<double, 3>& u) const {
    const double bend = std::abs(u[1] - 0.5 * (u[0] + u[2])) / longest_bend;
    const double halves = std::abs(u[1] - u[0]) / longest_glide + std::abs(u[2] - u[1]) / longest_glide;
    double excess = std::max(bend, halves);
    if (fineness_.surface_step > 0.0) {
        const double passed = (stretch.end.passed - stretch.begin.passed).norm();
        excess = std::max({excess, std::abs(u[2] - u[0]) / longest_glide, passed / surface_step_of(passed)});
    }
    return fineness_.factor * excess <= 1.0;
}

bool ExposureDivider::take_whole(std::span<const double> begins, double exposure, Together& together) const {
    if (!goes_plainly(exposure)) return false;
    const std::size_t count = begins.size();
    const double cycles = scenario_.motion.vibration_frequency * exposure;
    for (std::size_t i = 0; i < count; ++i) {
        // Times and phases as `begin_with` has them.
        const double begin = begins[i];
        const double end = begin + exposure;
        const double share = exposure > 0.0 ? (end - begin) / exposure : 0.0;
        const double cycles_begin = scenario_.motion.vibration_frequency * begin;
        const double cycles_end = cycles_begin + share * cycles;
        Interval& stretch = together.stretch[i];
        stretch.weight = share;
        stretch.begin = course_.at(begin, cycles_begin);
        stretch.middle = course_.at(0.5 * (begin + end), 0.5 * (cycles_begin + cycles_end));
        stretch.end = course_.at(end, cycles_end);
        together.along[0][i] = stretch.begin.along;
        together.along[1][i] = stretch.middle.along;
        together.along[2][i] = stretch.end.along;
    }
    for (std::size_t k = 0; k < 3; ++k) {
        table_.sights_of(std::span(together.along[k]).first(count), std::span(together.image[k]).first(count));
    }
    for (std::size_t i = 0; i < count; ++i) {
        Interval& stretch = together.stretch[i];
        stretch.image = {together.image[0][i], together.image[1][i], together.image[2][i]};
        const std::array<double, 3> u{stretch.image[0] / pitch_, stretch.image[1] / pitch_, stretch.image[2] / pitch_};
        together.whole[i] = is_whole(stretch, u);
    }
    return true;
}

void ExposureDivider::divide(double begin, double exposure, Division& division) const {
    division.followed = true;
    division.parts.clear();
    division.stretches.clear();
    const double frequency = scenario_.motion.vibration_frequency;
    const double first_cycle = frequency * begin;
    const bool shaken = is_shaken(course_.at(begin + 0.5 * exposure, 0.0).along, division);
    const double cycles = frequency * exposure;
    if (!shaken || cycles <= most_periods) {
        // A vibration that cannot be seen is taken as it stands at both ends and in the middle.
        begin_with({begin, exposure, first_cycle, cycles, 1.0, shaken}, division);
    } else {
        const double whole = std::floor(cycles);
        const double share = whole / cycles;
        begin_with({begin, share * exposure, first_cycle, periods_instead, share, true}, division);
        if (share < 1.0) {
            begin_with({begin + share * exposure, (1.0 - share) * exposure, first_cycle + whole, cycles - whole,
                        1.0 - share, true},
                       division);
        }
    }
    double passed = 0.0;
    for (const Part& part : division.parts) passed += (part.end.place.passed - part.begin.place.passed).norm();
    const double surface_step = surface_step_of(passed);
    if (surface_step > 0.0) {
        for (Part& part : division.parts) {
            part.excess = std::max(part.excess, fineness_.factor * excess_of(part.begin, part.end, surface_step));
        }
    }
    halve(division, surface_step);
    for (const Part& part : division.parts) {
        division.stretches.push_back({part.weight,
                                      part.begin.place,
                                      part.middle.place,
                                      part.end.place,
                                      {part.begin.image, part.middle.image, part.end.image}});
    }
}

}  // namespace spotwright::measure
