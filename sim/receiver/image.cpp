#include "sim/receiver/image.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "sim/receiver/inside.hpp"
#include "sim/receiver/sources.hpp"
#include "sim/receiver/volume_light.hpp"

namespace spotwright::receiver {

namespace {

constexpr auto parts = static_cast<std::size_t>(lattice_parts);
using LightOfParts = std::array<GatheredLight, parts>;

// Standard error of a sum of parts, by what scatters between them.
double error_of_sum(const std::array<double, parts>& values) {
    double mean = 0.0;
    for (const double value : values) mean += value / static_cast<double>(parts);
    double squares = 0.0;
    for (const double value : values) squares += (value - mean) * (value - mean);
    return std::sqrt(squares * static_cast<double>(parts) / static_cast<double>(parts - 1));
}

// Errors of the light on the row, and of its moment about a place.
struct SourceError {
    double light = 0.0;   // [W]
    double moment = 0.0;  // [W px]
};

SourceError error_of(const LightOfParts& light, double about) {
    std::array<double, parts> on_row{};
    std::array<double, parts> moment{};
    for (std::size_t i = 0; i < parts; ++i) {
        on_row[i] = light[i].on_row;
        moment[i] = light[i].moment - about * light[i].on_row;
    }
    return {error_of_sum(on_row), error_of_sum(moment)};
}

// One source of light with a number of rays.
SourceError gather_source(const LightSource& source, std::int64_t rays, Gatherer& gatherer) {
    const Lattice lattice = lattice_of(rays);
    LightOfParts light;
    GatheredLight before;
    for (std::size_t i = 0; i < parts; ++i) {
        source.follow(lattice, static_cast<std::int64_t>(i),
                      [&gatherer](const CollectedBatch& batch) { gatherer.add(batch); });
        const GatheredLight& now = gatherer.light();
        light[i] = {now.collected - before.collected, now.on_row - before.on_row, now.moment - before.moment};
        before = now;
    }
    const double centroid = before.on_row > 0.0 ? before.moment / before.on_row : 0.0;
    return error_of(light, centroid);
}

// By how much the number of rays must grow for an error that is so many times too large; where rims and edges cut the
// light it falls about as the number to the power 0.7.
std::int64_t growth(double excess) {
    std::int64_t factor = 2;
    while (factor < 64 && std::pow(static_cast<double>(factor), 0.7) < excess) factor *= 2;
    return factor;
}

// Light below this share of the beam's power can be told from darkness by no detector; it need not be exact.
constexpr double darkness = 1e-12;

// The light of all sources, before it is spread along the array.
struct Gathered {
    Gatherer gatherer;
    double light_error = 0.0;   // [W]
    double moment_error = 0.0;  // [W px]
};

// Of the tolerance, what fewer rays than suit a source must reach: an error told by few rays may be too small by
// chance.
constexpr double early_share = 0.25;

// A source fainter than this share of the light before it, as the haze about a mirrored beam, is followed with at most
// so many times the rays that suit it: spread over hundreds of pixels it asks for many where its centroid is to be
// right, and moves no reading of the peak that outshines it.
constexpr double faint_share = 0.02;
constexpr std::int64_t most_of_faint = 16;

// The light of some sources on the row, by as few rays as each of them begins with. [W]
double first_light(std::span<const LightSource> sources, const Gatherer& empty) {
    double light = 0.0;
    for (const LightSource& source : sources) {
        Gatherer gatherer = empty;
        gather_source(source, std::max(min_lattice, source.first_rays), gatherer);
        light += gatherer.light().on_row;
    }
    return light;
}

// Follows a source with more and more rays until it is known well enough beside the light there is.
// @param later  Sources whose light is still to come. It is looked for where a source asks for many rays: the rim of a
//   mirrored beam that passes the lens is known well enough where the haze of the part outshines it.
void add_source(const LightSource& source, std::span<const LightSource> later, const Gatherer& empty, double beam_power,
                const Tolerance& tolerance, Gathered& all) {
    std::optional<double> light_to_come;
    std::optional<GatheredLight> before;  // by the lattice of half the places
    const std::int64_t suitable = std::max(min_lattice, source.rays / tolerance.fewer_rays);
    for (std::int64_t rays = std::max(min_lattice, source.first_rays / tolerance.fewer_rays);;) {
        Gatherer gatherer = empty;
        SourceError error = gather_source(source, rays, gatherer);
        const GatheredLight& found = gatherer.light();
        constexpr std::int64_t many = 4;  // times those that suit the source
        if (!light_to_come && !later.empty() && rays >= many * suitable) light_to_come = first_light(later, empty);
        const double light = all.gatherer.light().on_row + found.on_row + light_to_come.value_or(0.0);
        const double centroid = found.on_row > 0.0 ? found.moment / found.on_row : 0.0;
        if (before) {
            const double change = found.on_row - before->on_row;
            error.light = std::max(error.light, std::abs(change));
            error.moment = std::max(error.moment, std::abs(found.moment - before->moment - centroid * change));
        }
        const double excess =
            std::max(error.light / (tolerance.light * light), error.moment / (tolerance.centroid * light));
        // A narrow lobe may lie between few rays.
        const bool bright =
            rays < suitable || found.on_row > darkness * beam_power || error.light > darkness * beam_power;
        const bool confirmed = !source.cut || before;
        const std::int64_t most = found.on_row < faint_share * all.gatherer.light().on_row
                                      ? std::min(source.most_rays, most_of_faint * suitable)
                                      : source.most_rays;
        if ((excess > 1.0 || !confirmed) && rays < most && bright) {
            before = found;
            rays = std::min(source.cut ? 2 * rays : rays * growth(excess), most);
            continue;
        }
        all.gatherer.add(gatherer);
        all.light_error = std::hypot(all.light_error, error.light);
        all.moment_error = std::hypot(all.moment_error, error.moment);
        return;
    }
}

// None where the beam misses the part or its spot has no image.
std::optional<Gathered> gather_light(const emitter::Beam& beam, const target::Part& part,
                                     const target::Surface& surface, const Receiver& receiver,
                                     const EdgeSpread& edge_spread, const Tolerance& tolerance,
                                     const target::CachedWalk* walk) {
    const auto scene = LitScene::of(beam, part, surface, receiver);
    if (!scene) return std::nullopt;
    const auto centre = trace(receiver, to_receiver(receiver, scene->tangent.place), 0.0, 0.0);
    if (!centre) return std::nullopt;
    const Gatherer empty(receiver, edge_spread, diffraction_scale(receiver, beam.wavelength, centre->u));
    Gathered all{empty, 0.0, 0.0};
    for (const LitScene& zone : scenes_of_zones(*scene)) {
        const std::vector<LightSource> sources = light_sources(zone);
        for (std::size_t i = 0; i < sources.size(); ++i) {
            add_source(sources[i], std::span(sources).subspan(i + 1), empty, beam.power, tolerance, all);
        }
        if (!zone.surface.volume) continue;
        gather_volume(
            beam, part, zone.surface, receiver, walk, [&all](const CollectedBatch& batch) { all.gatherer.add(batch); },
            zone.zone);
    }
    return all;
}

}  // namespace

std::vector<Profile> images_moved(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                                  const Receiver& receiver, const EdgeSpread& edge_spread, double quantum_efficiency,
                                  std::span<const double> shifts, const Tolerance& tolerance,
                                  const target::CachedWalk* walk) {
    Profile dark;
    dark.rate.assign(static_cast<std::size_t>(receiver.pixels), 0.0F);
    const auto gathered = gather_light(beam, part, surface, receiver, edge_spread, tolerance, walk);
    if (!gathered) return std::vector<Profile>(shifts.size(), dark);
    std::vector<Profile> profiles;
    const double on_row = gathered->gatherer.light().on_row;
    for (const double shift : shifts) {
        profiles.push_back(gathered->gatherer.profile(beam.wavelength, quantum_efficiency, shift));
        if (!(on_row > 0.0)) continue;
        profiles.back().light_error = gathered->light_error / on_row;
        profiles.back().centroid_error = gathered->moment_error / on_row;
    }
    return profiles;
}

Profile image(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
              const Receiver& receiver, const EdgeSpread& edge_spread, double quantum_efficiency,
              const Tolerance& tolerance, const target::CachedWalk* walk) {
    constexpr std::array<double, 1> unmoved{0.0};
    return std::move(
        images_moved(beam, part, surface, receiver, edge_spread, quantum_efficiency, unmoved, tolerance, walk).front());
}

}  // namespace spotwright::receiver
