#include "random_scenes/compare_timed.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <limits>

#include "random_scenes/judging.hpp"
#include "sim/base/units.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::test {

namespace {

bool errors_within(const TimedPlan& plan, const TimedComparison& c, double times) {
    const TimedLight& rays = c.rays;
    const double path = times * (plan.path_error + 1e-3 * rays.deviation.value);
    return c.is_dark() || (rays.lit && rays.received.error <= times * plan.light_error * rays.received.value &&
                           rays.path.error <= path && rays.deviation.error <= path && rays.phase_path.error <= path);
}

void judge(const TimedPlan& plan, TimedComparison& c) {
    const double k = allowed_errors(plan);
    const TimedLight& spot = c.spot;
    const TimedLight& rays = c.rays;
    c.light_agrees = std::abs(spot.received.value - rays.received.value) <=
                     plan.light * rays.received.value + k * rays.received.error + c.dark;
    // Where one of them sees light and the other has none at all, the claim on light tells.
    const auto same = [&](const Measured& a, const Measured& b, double allowed) {
        if (c.is_dark()) return true;
        if (!spot.lit || !rays.lit) return c.light_agrees;
        return std::abs(a.value - b.value) <= allowed + plan.share * rays.deviation.value + k * b.error;
    };
    c.path_agrees = same(spot.path, rays.path, plan.path);
    c.deviation_agrees = same(spot.deviation, rays.deviation, plan.deviation);
    c.phase_agrees = same(spot.phase_path, rays.phase_path, plan.path);
}

}  // namespace

double allowed_errors(const TimedPlan& plan) {
    return allowed_errors(plan.false_alarm, 4 * plan.scenes);
}

TimedComparison compare_timed(const scenario::Scenario& s, const TimedPlan& plan) {
    const flight::TimedOptics optics = sensor::timed_optics_of(s);
    const target::Part part = sensor::part_of(s, s.target.displacement);
    const target::Surface surface = sensor::surface_of(s);
    const double frequency = s.flight.modulation.front();

    TimedComparison result;
    constexpr double white = 0.9;
    const receiver::Receiver& r = optics.receiver;
    result.dark = 1e-9 * white * optics.beam.power * r.transmission *
                  receiver::configuration_factor(r.aperture, r.object_distance);
    double start = processor_seconds();
    result.spot = timed_light(optics, flight::receive(optics, part, surface, s.target.made_of), frequency);
    result.spot_seconds = processor_seconds() - start;

    start = processor_seconds();
    // Four times as many rays halve the errors: more than the most are followed where this makes the judgement sharp.
    const auto worth_more = [&](std::int64_t rays) {
        return rays == 4 * plan.most_rays && !errors_within(plan, result, plan.blunt) &&
               errors_within(plan, result, 2.0 * plan.blunt);
    };
    // Of a plate before a backing the spot model follows light that goes to and fro.
    const bool to_and_fro = !target::hides_itself(part.shape);
    bool done = false;
    for (std::int64_t rays = plan.first_rays; !done && (rays <= plan.most_rays || worth_more(rays)); rays *= 4) {
        result.rays = follow_timed_rays(optics, part, surface, {rays, plan.seed, plan.threads, frequency, to_and_fro});
        result.ray_count = rays;
        done = errors_within(plan, result, 1.0);
    }
    result.sharp = errors_within(plan, result, plan.blunt);
    result.ray_seconds = processor_seconds() - start;
    judge(plan, result);
    return result;
}

std::string timed_heading() {
    return "| scene | light, spot/ray - 1 | its error | mean way, spot - ray [mm] | its error | spread [mm] | spot - "
           "ray "
           "[mm] | its error | phase [mm] | its error | rays | spot [s] | rays [s] | verdict | part |\n"
           "|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|";
}

std::string describe(int index, const scenario::Scenario& s, const TimedComparison& c) {
    using base::mm, base::um, base::nm, base::degree;
    constexpr double nan = std::numeric_limits<double>::quiet_NaN();
    const double light = c.rays.received.value;
    const bool both = c.spot.lit && c.rays.lit;
    const auto difference = [&](const Measured& spot, const Measured& rays) {
        return both ? (spot.value - rays.value) / mm : nan;
    };
    std::string verdict = "agrees";
    if (!c.agrees()) {
        verdict = fmt::format("{}{}{}{}", c.light_agrees ? "" : "LIGHT ", c.path_agrees ? "" : "MEAN ",
                              c.deviation_agrees ? "" : "SPREAD ", c.phase_agrees ? "" : "PHASE");
    }
    if (c.is_dark()) verdict = "dark";
    if (!c.sharp) verdict += " (blunt)";
    const std::string backing = s.target.shape == scenario::ShapeKind::plate ? " on " + s.target.plate.backing : "";
    static const char* const shapes[] = {"plane", "step", "cylinder", "sphere", "groove", "wave", "relief", "plate"};
    return fmt::format(
        "| {} | {:+.4f} | {:.4f} | {:+.4f} | {:.4f} | {:.3f} | {:+.4f} | {:.4f} | {:+.4f} | {:.4f} | {} | {:.3f} | "
        "{:.2f} | {} | {} {}{} at {:.0f} mm, lens of {:.0f} mm, aperture {:.1f} x {:.1f} mm, {:.0f} mm beside, "
        "detector "
        "{:.2f} mm, tilt {:.1f}, {:.1f} deg{} |",
        index, light > 0.0 ? c.spot.received.value / light - 1.0 : nan,
        light > 0.0 ? c.rays.received.error / light : nan, difference(c.spot.path, c.rays.path), c.rays.path.error / mm,
        c.rays.deviation.value / mm, difference(c.spot.deviation, c.rays.deviation), c.rays.deviation.error / mm,
        difference(c.spot.phase_path, c.rays.phase_path), c.rays.phase_path.error / mm, c.ray_count, c.spot_seconds,
        c.ray_seconds, verdict, s.target.material, shapes[static_cast<int>(s.target.shape)], backing,
        (s.mount.reference_distance + s.target.displacement) / mm, s.receiver.focal_length / mm,
        s.receiver.aperture.in_plane / mm, s.receiver.aperture.out_of_plane / mm, s.flight.baseline / mm,
        s.flight.detector_diameter / mm, s.target.tilt[0] / degree, s.target.tilt[1] / degree,
        scenario::has_markings(s.target) ? ", marked" : "");
}

}  // namespace spotwright::test
