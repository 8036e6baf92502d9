#include "random_scenes/compare_models.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <iterator>
#include <limits>
#include <vector>

#include "random_scenes/judging.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/receiver/image.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::test {

namespace {

struct Sums {
    double light = 0.0;   // [1/s]
    double moment = 0.0;  // [px/s]
};

// Pixels of a peak, the end not included.
struct Window {
    std::size_t first = 0;
    std::size_t end = 0;
};

Window whole(const receiver::Profile& profile) {
    return {0, profile.rate.size()};
}

Window peak_of(const receiver::Profile& profile) {
    const auto highest = std::max_element(profile.rate.begin(), profile.rate.end());
    if (highest == profile.rate.end()) return {};
    const float least = *highest / 30.0F;
    const auto is_below = [least](float rate) { return rate < least; };
    const auto end = std::find_if(highest, profile.rate.end(), is_below);
    const auto before = std::find_if(std::make_reverse_iterator(highest), profile.rate.rend(), is_below);
    return {static_cast<std::size_t>(before.base() - profile.rate.begin()),
            static_cast<std::size_t>(end - profile.rate.begin())};
}

Sums sums_of(const receiver::Profile& profile, const Window& window) {
    Sums sums;
    for (std::size_t k = window.first; k < window.end; ++k) {
        sums.light += static_cast<double>(profile.rate[k]);
        sums.moment += static_cast<double>(profile.rate[k]) * static_cast<double>(k);
    }
    return sums;
}

std::optional<double> centroid_of(const Sums& sums) {
    return sums.light > 0.0 ? std::optional(sums.moment / sums.light) : std::nullopt;
}

struct Place {
    std::optional<double> centroid;  // [px]
    double error = 0.0;              // [px]
};

// The centroid is that of all batches, its error by leaving out each in turn (the jackknife), so that batches without
// much light do not bias it.
Place place_of(const receiver::RayImage& image, const Window& window) {
    Sums all;
    std::vector<Sums> parts;
    for (const receiver::Profile& batch : image.batches) {
        parts.push_back(sums_of(batch, window));
        all.light += parts.back().light;
        all.moment += parts.back().moment;
    }
    Place place{centroid_of(all)};
    if (!place.centroid) return place;
    double spread = 0.0;
    for (const Sums& part : parts) {
        const double rest = all.light - part.light;
        // A single batch with all of the light tells nothing of the error.
        const double without = rest > 0.0 ? (all.moment - part.moment) / rest : 0.0;
        spread += std::pow(without - *place.centroid, 2);
    }
    const auto n = static_cast<double>(image.batches.size());
    place.error = std::sqrt((n - 1.0) / n * spread);
    return place;
}

// Mean light of the batches and its standard error, and the places of all of it and of its peak.
void take_ray_image(const receiver::RayImage& image, const Window& peak, Comparison& result) {
    const auto n = static_cast<double>(image.batches.size());
    double light = 0.0;
    double squares = 0.0;
    for (const receiver::Profile& batch : image.batches) light += batch.received_power;
    result.ray_light = light / n;
    for (const receiver::Profile& batch : image.batches) squares += std::pow(batch.received_power - light / n, 2);
    result.light_error = std::sqrt(squares / (n * (n - 1.0)));
    const Place all = place_of(image, whole(image.profile));
    result.ray_centroid = all.centroid;
    result.centroid_error = all.error;
    const Place highest = place_of(image, peak);
    result.ray_peak = highest.centroid;
    result.peak_error = highest.error;
}

void judge(const ComparePlan& plan, Comparison& result) {
    const double k = allowed_errors(plan);
    result.light_agrees = std::abs(result.spot_light - result.ray_light) <=
                          plan.light * result.ray_light + k * result.light_error + result.dark;
    // Where one model sees light and the other has none at all, the claim on light tells.
    const auto same = [&](const std::optional<double>& spot, const std::optional<double>& ray, double error) {
        if (result.is_dark()) return true;
        if (!spot || !ray) return result.light_agrees;
        return std::abs(*spot - *ray) <= plan.centroid + k * error;
    };
    result.centroid_agrees = same(result.spot_centroid, result.ray_centroid, result.centroid_error);
    result.peak_agrees = same(result.spot_peak, result.ray_peak, result.peak_error);
}

}  // namespace

double allowed_errors(const ComparePlan& plan) {
    return allowed_errors(plan.false_alarm, 3 * plan.scenes);
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
    const Window peak = peak_of(spot);
    result.spot_peak = centroid_of(sums_of(spot, peak));

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
            peak, result);
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
    return "| scene | light, spot/ray - 1 | its error | centroid, spot - ray [px] | its error | peak, spot - ray [px] "
           "| its error | left out | rays | spot "
           "[s] | "
           "rays [s] | verdict | part |\n|---|---|---|---|---|---|---|---|---|---|---|---|---|";
}

std::string describe(int index, const scenario::Scenario& s, const Comparison& c) {
    using base::mm, base::um, base::nm, base::degree;
    constexpr double nan = std::numeric_limits<double>::quiet_NaN();
    const auto relative = [&c](double power) { return c.ray_light > 0.0 ? power / c.ray_light : nan; };
    const auto shift = [](const std::optional<double>& spot, const std::optional<double>& ray) {
        return spot && ray ? *spot - *ray : nan;
    };
    std::string verdict = "agrees";
    if (!c.agrees())
        verdict = fmt::format("{}{}{}", c.light_agrees ? "" : "LIGHT ", c.centroid_agrees ? "" : "PLACE ",
                              c.peak_agrees ? "" : "PEAK");
    if (c.is_dark()) verdict = "dark";
    if (!c.sharp) verdict += " (blunt)";
    const std::string left_out = c.left_out ? fmt::format("{:+.3f}", *c.left_out) : "";
    const std::string backing = s.target.shape == scenario::ShapeKind::plate ? " on " + s.target.plate.backing : "";
    static const char* const shapes[] = {"plane", "step", "cylinder", "sphere", "groove", "wave", "relief", "plate"};
    return fmt::format(
        "| {} | {:+.4f} | {:.4f} | {:+.3f} | {:.3f} | {:+.3f} | {:.3f} | {} | {} | {:.2f} | {:.2f} | {} | {} {}{}, {} "
        "at {:.0f} deg, "
        "waist "
        "{:.0f} "
        "x {:.0f} um, pixel {:.1f} x {:.0f} um, aperture {}{:.1f} x {:.1f} mm, tilt {:.1f}, {:.1f} deg |",
        index, relative(c.spot_light) - 1.0, relative(c.light_error), shift(c.spot_centroid, c.ray_centroid),
        c.centroid_error, shift(c.spot_peak, c.ray_peak), c.peak_error, left_out, c.rays, c.spot_seconds, c.ray_seconds,
        verdict, s.target.material, shapes[static_cast<int>(s.target.shape)], backing,
        s.emitter.angle == 0.0 ? "diffuse" : "specular", s.receiver.angle / degree, s.emitter.waist_radius[0] / um,
        s.emitter.waist_radius[1] / um, s.detector.pitch / um, s.detector.height / um,
        s.receiver.aperture.shape == scenario::ApertureShape::round ? "round " : "", s.receiver.aperture.in_plane / mm,
        s.receiver.aperture.out_of_plane / mm, s.target.tilt[0] / degree, s.target.tilt[1] / degree);
}

}  // namespace spotwright::test
