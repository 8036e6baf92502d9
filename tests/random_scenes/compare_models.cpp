#include "random_scenes/compare_models.hpp"

#include <boost/math/distributions/students_t.hpp>
#include <fmt/format.h>

#include <cmath>
#include <ctime>
#include <limits>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/receiver/image.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::test {

namespace {

double processor_seconds() {
    return static_cast<double>(std::clock()) / CLOCKS_PER_SEC;
}

struct Sums {
    double light = 0.0;   // [1/s]
    double moment = 0.0;  // [px/s]
};

Sums sums_of(const receiver::Profile& profile) {
    Sums sums;
    for (std::size_t k = 0; k < profile.rate.size(); ++k) {
        sums.light += static_cast<double>(profile.rate[k]);
        sums.moment += static_cast<double>(profile.rate[k]) * static_cast<double>(k);
    }
    return sums;
}

// Mean light of the batches and its standard error. The centroid is that of all of them, its error by leaving out each
// in turn (the jackknife), so that batches without much light do not bias it.
void take_ray_image(const receiver::RayImage& image, Comparison& result) {
    const auto n = static_cast<double>(image.batches.size());
    Sums all;
    double light = 0.0;
    double squares = 0.0;
    std::vector<Sums> parts;
    for (const receiver::Profile& batch : image.batches) {
        parts.push_back(sums_of(batch));
        all.light += parts.back().light;
        all.moment += parts.back().moment;
        light += batch.received_power;
    }
    result.ray_light = light / n;
    for (const receiver::Profile& batch : image.batches) squares += std::pow(batch.received_power - light / n, 2);
    result.light_error = std::sqrt(squares / (n * (n - 1.0)));
    result.ray_centroid.reset();
    if (all.light <= 0.0) return;
    const double centroid = all.moment / all.light;
    result.ray_centroid = centroid;
    double spread = 0.0;
    for (const Sums& part : parts) {
        const double rest = all.light - part.light;
        // A single batch with all of the light tells nothing of the error.
        const double without = rest > 0.0 ? (all.moment - part.moment) / rest : 0.0;
        spread += std::pow(without - centroid, 2);
    }
    result.centroid_error = std::sqrt((n - 1.0) / n * spread);
}

void judge(const ComparePlan& plan, Comparison& result) {
    const double k = allowed_errors(plan);
    result.light_agrees = std::abs(result.spot_light - result.ray_light) <=
                          plan.light * result.ray_light + k * result.light_error + result.dark;
    if (result.is_dark()) {
        result.centroid_agrees = true;
        return;
    }
    // One model sees light and the other has none at all: the claim on light tells.
    if (!result.spot_centroid || !result.ray_centroid) {
        result.centroid_agrees = result.light_agrees;
        return;
    }
    result.centroid_agrees =
        std::abs(*result.spot_centroid - *result.ray_centroid) <= plan.centroid + k * result.centroid_error;
}

}  // namespace

double allowed_errors(const ComparePlan& plan) {
    const double each = -std::expm1(std::log1p(-plan.false_alarm) / (2.0 * plan.scenes));
    const boost::math::students_t batches(static_cast<double>(receiver::ray_batches - 1));
    return boost::math::quantile(boost::math::complement(batches, each / 2.0));
}

Comparison compare_models(const scenario::Scenario& s, const ComparePlan& plan) {
    const emitter::Beam beam = sensor::beam_of(s);
    const receiver::Receiver receiver = sensor::receiver_of(s);
    const receiver::EdgeSpread edge_spread(receiver.aperture.shape);
    const target::Part part = sensor::part_of(s, s.target.displacement);
    const target::Surface surface = sensor::surface_of(s);

    Comparison result;
    constexpr double white = 0.9;
    result.dark = 1e-9 * white * beam.power * receiver.transmission *
                  receiver::configuration_factor(receiver.aperture, receiver.object_distance);
    double start = processor_seconds();
    const receiver::Profile spot =
        receiver::image(beam, part, surface, receiver, edge_spread, s.detector.quantum_efficiency);
    result.spot_seconds = processor_seconds() - start;
    result.spot_light = spot.received_power;
    result.spot_centroid = receiver::centroid_of(spot);

    const auto errors_within = [&](double times) {
        return result.is_dark() || (result.light_error <= times * plan.light_error * result.ray_light &&
                                    result.centroid_error <= times * plan.centroid_error);
    };
    bool done = false;
    start = processor_seconds();
    const std::int64_t most_rays = surface.volume ? std::min(plan.most_rays, plan.most_rays_inside) : plan.most_rays;
    // Four times as many rays halve the errors: more than the most are traced where this makes the judgement sharp.
    const auto worth_more = [&](std::int64_t rays) {
        return rays == 4 * most_rays && !errors_within(plan.blunt) && errors_within(2.0 * plan.blunt);
    };
    for (std::int64_t rays = plan.first_rays; !done && (rays <= most_rays || worth_more(rays)); rays *= 4) {
        receiver::RayOptions options{rays, plan.seed, plan.threads};
        // Of a plate before a backing the spot model follows light that goes to and fro.
        options.interreflection = !target::hides_itself(part.shape);
        take_ray_image(
            receiver::trace_rays(beam, part, surface, receiver, edge_spread, s.detector.quantum_efficiency, options),
            result);
        result.rays = rays;
        done = errors_within(1.0);
    }
    result.sharp = errors_within(plan.blunt);
    result.ray_seconds = processor_seconds() - start;

    judge(plan, result);
    if (plan.measures_left_out && target::hides_itself(part.shape) && !result.is_dark() && result.ray_light > 0.0) {
        const auto all = receiver::trace_rays(beam, part, surface, receiver, edge_spread, s.detector.quantum_efficiency,
                                              {result.rays, plan.seed, plan.threads});
        result.left_out = all.profile.received_power / result.ray_light - 1.0;
    }
    return result;
}

std::string comparison_heading() {
    return "| scene | light, spot/ray - 1 | its error | centroid, spot - ray [px] | its error | left out | rays | spot "
           "[s] | "
           "rays [s] | verdict | part |\n|---|---|---|---|---|---|---|---|---|---|---|";
}

std::string describe(int index, const scenario::Scenario& s, const Comparison& c) {
    using base::mm, base::um, base::nm, base::degree;
    constexpr double nan = std::numeric_limits<double>::quiet_NaN();
    const auto relative = [&c](double power) { return c.ray_light > 0.0 ? power / c.ray_light : nan; };
    const double shift = c.spot_centroid && c.ray_centroid ? *c.spot_centroid - *c.ray_centroid : nan;
    std::string verdict = "agrees";
    if (!c.agrees()) verdict = fmt::format("{}{}", c.light_agrees ? "" : "LIGHT ", c.centroid_agrees ? "" : "PLACE");
    if (c.is_dark()) verdict = "dark";
    if (!c.sharp) verdict += " (blunt)";
    const std::string left_out = c.left_out ? fmt::format("{:+.3f}", *c.left_out) : "";
    const std::string backing = s.target.shape == scenario::ShapeKind::plate ? " on " + s.target.plate.backing : "";
    static const char* const shapes[] = {"plane", "step", "cylinder", "sphere", "groove", "wave", "relief", "plate"};
    return fmt::format(
        "| {} | {:+.4f} | {:.4f} | {:+.3f} | {:.3f} | {} | {} | {:.2f} | {:.2f} | {} | {} {}{}, {} at {:.0f} deg, "
        "waist "
        "{:.0f} "
        "x {:.0f} um, pixel {:.1f} x {:.0f} um, aperture {}{:.1f} x {:.1f} mm, tilt {:.1f}, {:.1f} deg |",
        index, relative(c.spot_light) - 1.0, relative(c.light_error), shift, c.centroid_error, left_out, c.rays,
        c.spot_seconds, c.ray_seconds, verdict, s.target.material, shapes[static_cast<int>(s.target.shape)], backing,
        s.emitter.angle == 0.0 ? "diffuse" : "specular", s.receiver.angle / degree, s.emitter.waist_radius[0] / um,
        s.emitter.waist_radius[1] / um, s.detector.pitch / um, s.detector.height / um,
        s.receiver.aperture.shape == scenario::ApertureShape::round ? "round " : "", s.receiver.aperture.in_plane / mm,
        s.receiver.aperture.out_of_plane / mm, s.target.tilt[0] / degree, s.target.tilt[1] / degree);
}

}  // namespace spotwright::test
