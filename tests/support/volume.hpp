// Translucent parts before a receiver, by the spot model and by rays.
#pragma once

#include <cmath>
#include <functional>
#include <string>
#include <vector>

#include "sim/receiver/image.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/receiver/volume_light.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/target/surface.hpp"
#include "tests/support/stations.hpp"

namespace spotwright::support {

using receiver::Profile;

/// A scene whose part has no gloss, so that all of its light comes from inside.
struct VolumeScene {
    VolumeScene(const std::string& material, const std::vector<std::string>& settings)
        : s(scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "t", settings)),
          beam(support::beam_of(s)),
          part(support::part_of(s, s.target.displacement)),
          surface(target::make_surface(s.target.made_of, s.emitter.wavelength)),
          receiver(support::receiver_of(s)),
          edge_spread(receiver.aperture.shape) {
        surface.gloss.reset();
        surface.reflectance = 0.0;
    }
    [[nodiscard]] Profile spot(const target::CachedWalk* walk = nullptr) const {
        return receiver::image(beam, part, surface, receiver, edge_spread, 0.35, {}, walk);
    }
    [[nodiscard]] receiver::RayImage rays(std::int64_t count) const {
        return receiver::trace_rays(beam, part, surface, receiver, edge_spread, 0.35, {count, 1, 2});
    }

    scenario::Scenario s;
    emitter::Beam beam;
    target::Part part;
    target::Surface surface;
    receiver::Receiver receiver;
    receiver::EdgeSpread edge_spread;
};

/// Pixels about the brightest that a sensor would take for the spot: down to a thirtieth of the peak, which is the
/// default threshold at the default level.
struct SpotWindow {
    explicit SpotWindow(const Profile& profile) {
        std::size_t peak = 0;
        for (std::size_t k = 0; k < profile.rate.size(); ++k) {
            if (profile.rate[k] > profile.rate[peak]) peak = k;
        }
        level = profile.rate[peak] / 30.0F;
        first = last = peak;
        while (first > 0 && profile.rate[first - 1] > level) --first;
        while (last + 1 < profile.rate.size() && profile.rate[last + 1] > level) ++last;
    }
    /// Centroid above the level, over the same pixels for every profile, so that noise does not shift it. [px]
    [[nodiscard]] double centroid(const Profile& profile) const {
        double sum = 0.0;
        double moment = 0.0;
        for (std::size_t k = first; k <= last; ++k) {
            const auto light = static_cast<double>(profile.rate[k] - level);
            sum += light;
            moment += light * static_cast<double>(k);
        }
        return moment / sum;
    }

    float level = 0.0F;
    std::size_t first = 0;
    std::size_t last = 0;
};

struct MeanOfRays {
    double mean = 0.0;
    double error = 0.0;
};

inline MeanOfRays mean_of(const receiver::RayImage& image, const std::function<double(const Profile&)>& value) {
    double sum = 0.0;
    double squares = 0.0;
    for (const Profile& batch : image.batches) {
        sum += value(batch);
        squares += value(batch) * value(batch);
    }
    const auto n = static_cast<double>(image.batches.size());
    return {sum / n, std::sqrt(std::max(squares / n - sum / n * (sum / n), 0.0) / (n - 1.0))};
}

}  // namespace spotwright::support
