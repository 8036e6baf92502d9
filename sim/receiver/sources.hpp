// Where the light on the array comes from: each way that light takes by itself, to be followed ray by ray.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "sim/emitter/beam.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/receiver/lattice.hpp"
#include "sim/receiver/ray_batch.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::receiver {

/// What light meets on its way.
struct LitScene {
    emitter::Beam beam;
    target::Part part;
    target::Surface surface;
    Receiver receiver;
    double along = 0.0;  ///< of the lit point, along the beam's axis from the emitter's face. [m]
    /// To the part at the lit point: where the axis meets it, or the ray nearest to the axis that does.
    FlatTarget tangent;
    /// Of a part with markings: on which of its two materials light falls.
    target::Zone zone = target::Zone::bare;
    /// Scattered and mirrored rays tell their place on the part along this unit vector. None: they do not.
    std::optional<Eigen::Vector3d> across;
    bool timed = false;  ///< rays tell the length of their ways

    /// None where the beam misses the part. A flat part is missed where the axis misses it.
    [[nodiscard]] static std::optional<LitScene> of(const emitter::Beam& beam, const target::Part& part,
                                                    const target::Surface& surface, const Receiver& receiver);
};

/// One way that light takes: scattered at the surface, mirrored by it, from behind the back face of a plate.
struct LightSource {
    std::int64_t first_rays = 0;  ///< of the lattice to begin with, at most `rays`
    std::int64_t rays = 0;        ///< that suit it; darkness is believed from as many on
    std::int64_t most_rays = 0;   ///< beyond which nobody would wait
    /// Edges or a narrow lobe cut the light: parts of a lattice may err alike, so that another lattice must confirm.
    bool cut = false;
    /// Follows the rays of one part of a lattice; their powers add up to the light over all parts.
    std::function<void(const Lattice& lattice, std::int64_t part, const CollectBatch& collect)> follow;
};

/// The scene once for each material of its part: the other one's where a pattern covers some of it.
[[nodiscard]] std::vector<LitScene> scenes_of_zones(const LitScene& scene);

/// All ways, the brightest kind first. They refer to the scene.
[[nodiscard]] std::vector<LightSource> light_sources(const LitScene& scene);

/// Which part of the beam the row of pixels sees, out of plane: what lies farther off lights it by diffraction alone.
[[nodiscard]] BeamWindow seen_window(const LitScene& scene, bool mirrored);

/// Follows the beam's rays to the part.
class Illumination {
public:
    explicit Illumination(const LitScene& scene);

    void light(const SampleBatch& samples, LitBatch& lit) const;

private:
    void light_smooth(const SampleBatch& samples, LitBatch& lit) const;
    void mark(LitBatch& lit) const;

    const LitScene* scene_;
    bool flat_;
};

/// Calls `follow` for all batches of a part of the lattice, lit.
template <class Follow>
void for_each_batch(const LitScene& scene, const SamplePlan& plan, const Lattice& lattice, std::int64_t part,
                    const Follow& follow) {
    const Illumination illumination(scene);
    SampleBatch samples;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled batch by batch
    LitBatch lit;         // NOLINT(cppcoreguidelines-pro-type-member-init)
    const std::int64_t count = lattice.count / lattice_parts;
    for (std::int64_t first = 0; first < count; first += static_cast<std::int64_t>(batch_rays)) {
        draw_samples(plan, lattice, part, first, samples);
        illumination.light(samples, lit);
        follow(samples, lit);
    }
}

}  // namespace spotwright::receiver
