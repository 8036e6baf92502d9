#include "sim/scenario/design_rule.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/border.hpp"
#include "sim/scenario/checks.hpp"

namespace spotwright::scenario {

namespace {

bool is_written(const Scenario& s, const std::string& key) {
    return s.locations.contains(key);
}

// Angles of beam and receiver from the mounting normal, and the lens. [rad], [m]
struct Placing {
    double beam = 0.0;
    double receiver = 0.0;
    double lens_distance = 0.0;
};

// In a mount whose beam is tilted the receiver stands at the opposite angle, where a mirror sends the beam. Otherwise
// the lens stands a baseline beside the beam, at the height of the emitter face.
double angle_by_rule(const Mount& mount, double beam) {
    const double height = mount.reference_distance * std::cos(beam);
    const double foot = mount.reference_distance * std::sin(beam);  // of the emitter face
    if (mount.baseline) return std::atan((foot + *mount.baseline) / height);
    if (beam != 0.0) return -beam;
    return std::min(designed_angle, std::atan(longest_designed_baseline / height));
}

// Ends of the range in the receiver's axes: in front of the lens, and square to its axis towards nearer targets. [m]
struct Seen {
    double axial = 0.0;
    double transverse = 0.0;
};

// The spot of the beam on a square plane at a displacement s lies at x = -s tan(beam), z = -s. Equation (receiver.3).
Seen spot_seen(const Placing& p, double displacement) {
    const double x = -displacement * std::tan(p.beam);
    const double z = -displacement;
    return {p.lens_distance - z * std::cos(p.receiver) - x * std::sin(p.receiver),
            z * std::sin(p.receiver) - x * std::cos(p.receiver)};
}

// Magnification at which the farther imaged end lies at `wanted` from the middle of the array; none: at none.
// Equation (sensor.1): u = m a t / (s sin(beta) - t cos(beta)), beta = 90 deg - tilt, tan(tilt) = m / tan(theta).
std::optional<double> magnification_for(const Placing& p, const Pair& range, double wanted,
                                        std::optional<double> tilt) {
    // In a symmetric mount the normal is in focus, else the beam (receiver::focused_line_angle).
    constexpr double same = 1e-9;
    const double theta = p.receiver - (std::abs(p.beam + p.receiver) < same ? 0.0 : p.beam);
    const auto is_within = [&](double m) {
        const double array_tilt = tilt.value_or(std::atan(m / std::tan(theta)));
        return std::all_of(range.begin(), range.end(), [&](double displacement) {
            const auto [s, t] = spot_seen(p, displacement);
            const double denominator = s * std::cos(array_tilt) - t * std::sin(array_tilt);
            return denominator > 0.0 && std::abs(m * p.lens_distance * t) <= wanted * denominator;
        });
    };
    constexpr double least = 1e-6;
    constexpr double most = 1e3;  // as the check of the focal length has it
    if (!is_within(least) || is_within(most)) return std::nullopt;
    constexpr int halvings = 80;
    return base::border_between(least, most, is_within, halvings).holds;
}

}  // namespace

bool design_rule_applies(const Scenario& s) {
    return std::holds_alternative<Triangulation>(s.principle) &&
           (is_written(s, "mount.reference_distance_mm") || s.mount.baseline);
}

void apply_design_rule(Scenario& s, std::vector<base::Problem>& problems) {
    if (!design_rule_applies(s)) return;
    const bool sound =
        are_sound(problems, {"mount.reference_distance_mm", "mount.range_mm", "mount.baseline_mm", "emitter.angle_deg",
                             "receiver.angle_deg", "receiver.distance_mm", "receiver.focal_length_mm",
                             "detector.pixels", "detector.pitch_um", "receiver.detector_tilt_deg"});
    if (!sound) return;
    const auto complain = [&](const char* key, std::string message, std::string allowed) {
        problems.push_back({location_of(s, key), std::move(message), std::move(allowed), {}});
    };
    if (s.mount.baseline && is_written(s, "receiver.angle_deg")) {
        complain("mount.baseline_mm", "baseline and receiver.angle_deg are both written, and each gives the other",
                 "one of the two");
        return;
    }
    const double beam = s.emitter.angle;
    if (!is_written(s, "receiver.angle_deg")) s.receiver.angle = angle_by_rule(s.mount, beam);
    if (!is_written(s, "receiver.distance_mm")) {
        s.receiver.distance = s.mount.reference_distance * std::cos(beam) / std::cos(s.receiver.angle);
    }
    if (is_written(s, "receiver.focal_length_mm")) return;
    const Placing placing{beam, s.receiver.angle, s.receiver.distance};
    const double half_array = static_cast<double>(s.detector.pixels) * s.detector.pitch / 2.0;
    const std::optional<double> m =
        s.receiver.angle > beam
            ? magnification_for(placing, s.mount.range, filled_share * half_array, s.receiver.detector_tilt)
            : std::nullopt;
    if (!m) {
        complain("mount.range_mm",
                 fmt::format("no lens at {:g} mm and {:.4g} deg images this range on {:g} % of the array",
                             s.receiver.distance / base::mm, s.receiver.angle / base::degree, 100.0 * filled_share),
                 "a range in front of the lens, or receiver.angle_deg, receiver.distance_mm and "
                 "receiver.focal_length_mm written");
        return;
    }
    s.receiver.focal_length = s.receiver.distance * *m / (1.0 + *m);
}

}  // namespace spotwright::scenario
