#include "sim/receiver/spot_shares.hpp"

#include <algorithm>
#include <utility>

#include "sim/base/errors.hpp"
#include "sim/receiver/sources.hpp"

namespace spotwright::receiver {

namespace {

// Gathers rays strip by strip between lines; they wait until a batch of them is there.
class StripGatherer {
public:
    StripGatherer(const LinesAcross& lines, const Gatherer& empty)
        : lines_(lines), before_(lines.origin.dot(lines.direction)), strips_(lines.place.size(), Strip{empty, {}}) {}

    void add(const CollectedBatch& rays) {
        for (std::size_t i = 0; i < rays.count; ++i) {
            if (rays.power[i] == 0.0) continue;
            const auto next = std::upper_bound(lines_.place.begin(), lines_.place.end(), rays.across[i] - before_);
            if (next == lines_.place.end()) continue;
            Strip& strip = strips_[static_cast<std::size_t>(next - lines_.place.begin())];
            CollectedBatch& waiting = strip.waiting;
            if (waiting.count == batch_rays || waiting.mirrored != rays.mirrored) hand_on(strip);
            waiting.mirrored = rays.mirrored;
            waiting.u[waiting.count] = rays.u[i];
            waiting.v[waiting.count] = rays.v[i];
            waiting.power[waiting.count++] = rays.power[i];
        }
    }

    // Light before each line.
    [[nodiscard]] std::vector<Profile> images(double wavelength, double quantum_efficiency) {
        std::vector<Profile> images;
        for (Strip& strip : strips_) {
            hand_on(strip);
            Profile image = strip.gatherer.profile(wavelength, quantum_efficiency);
            image.mirrored.resize(image.rate.size(), 0.0F);
            if (!images.empty()) add_to(images.back(), image);
            images.push_back(std::move(image));
        }
        return images;
    }

private:
    struct Strip {
        Gatherer gatherer;
        CollectedBatch waiting;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled ray by ray
    };

    static void hand_on(Strip& strip) {
        strip.gatherer.add(strip.waiting);
        strip.waiting.count = 0;
    }

    static void add_to(const Profile& before, Profile& image) {
        for (std::size_t k = 0; k < image.rate.size(); ++k) {
            image.rate[k] += before.rate[k];
            image.mirrored[k] += before.mirrored[k];
        }
        image.collected_power += before.collected_power;
        image.received_power += before.received_power;
    }

    const LinesAcross& lines_;
    double before_;
    std::vector<Strip> strips_;
};

}  // namespace

std::vector<Profile> images_before(const emitter::Beam& beam, target::Part part, const target::Surface& surface,
                                   const Receiver& receiver, const EdgeSpread& edge_spread, double quantum_efficiency,
                                   const LinesAcross& lines) {
    if (surface.volume || part.slab) throw base::InternalError("shares of a spot whose light goes inside the part");
    part.markings.reset();
    Profile dark;
    dark.rate.assign(static_cast<std::size_t>(receiver.pixels), 0.0F);
    dark.mirrored = dark.rate;
    const std::vector<Profile> none(lines.place.size(), dark);
    auto scene = LitScene::of(beam, part, surface, receiver);
    if (!scene) return none;
    scene->across = lines.direction;
    const auto centre = trace(receiver, to_receiver(receiver, scene->tangent.place), 0.0, 0.0);
    if (!centre) return none;
    StripGatherer strips(lines,
                         Gatherer(receiver, edge_spread, diffraction_scale(receiver, beam.wavelength, centre->u)));
    constexpr std::int64_t least = std::int64_t{1} << 16U;
    for (const LightSource& source : light_sources(*scene)) {
        const Lattice lattice = lattice_of(std::min(std::max(2 * source.rays, least), source.most_rays));
        for (std::int64_t i = 0; i < lattice_parts; ++i) {
            source.follow(lattice, i, [&strips](const CollectedBatch& batch) { strips.add(batch); });
        }
    }
    return strips.images(beam.wavelength, quantum_efficiency);
}

}  // namespace spotwright::receiver
