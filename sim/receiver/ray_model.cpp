#include "sim/receiver/ray_model.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/random.hpp"
#include "sim/receiver/ray_draw.hpp"
#include "sim/receiver/ray_follow.hpp"

namespace spotwright::receiver {

namespace {

// What all batches have in common.
struct Bundle {
    double along = 0.0;  // of the lit point on the beam's axis, from the emitter's face. [m]
    DiffractionScale scale;
    RowOffsets offsets;
};

Bundle bundle_of(const emitter::Beam& beam, const target::Part& part, const Receiver& receiver) {
    const auto hit = target::meet(part, {beam.face, beam.direction});
    // Without a lit point on the axis the beam's rays are still defined where the reference point is.
    const double along = hit ? hit->distance : beam.face.norm();
    const auto centre = trace(receiver, to_receiver(receiver, beam.face + along * beam.direction), 0.0, 0.0);
    const DiffractionScale scale = diffraction_scale(receiver, beam.wavelength, centre ? centre->u : 0.0);
    return {along, scale, row_offsets(beam, along, hit, receiver, scale.across)};
}

Profile trace_batch(const Bundle& bundle, const emitter::Beam& beam, const target::Part& part,
                    const target::Surface& surface, const Receiver& receiver, const EdgeSpread& edge_spread,
                    double quantum_efficiency, const RayOptions& options, std::int64_t batch) {
    const std::int64_t rays = (options.rays + ray_batches - 1) / ray_batches;
    Gatherer gatherer(receiver, edge_spread, bundle.scale);
    const Collect collect = [&gatherer](const CollectedRay& ray) { gatherer.add(ray); };
    RayFollower follower({part, surface, receiver, bundle.scale.across, options.interreflection}, collect);
    RayPoints points(options.seed, batch);
    const double power = beam.power / static_cast<double>(rays);
    for (std::int64_t i = 0; i < rays; ++i) {
        const auto [in_plane, out_of_plane, turn, turn_across, first, second] = points.next();
        const Weighed offset = bundle.offsets.draw(out_of_plane);
        if (offset.weight <= 0.0) continue;
        base::RandomSequence random({options.seed, base::Stream::ray}, batch * rays + i);
        const emitter::BeamRay ray = emitter::ray_from_face(beam, bundle.along, {beam_offset(in_plane), offset.value},
                                                            {beam_offset(turn), beam_offset(turn_across)});
        follower.follow({ray, power * offset.weight, 0.0, beam.polarisation}, {first, second}, random);
    }
    return gatherer.profile(beam.wavelength, quantum_efficiency);
}

}  // namespace

RayImage combined(std::vector<Profile> batches) {
    RayImage image;
    const std::size_t pixels = batches.front().rate.size();
    const auto count = static_cast<double>(batches.size());
    image.profile.rate.resize(pixels);
    image.standard_error.resize(pixels);
    const auto mirrors = [](const Profile& batch) { return !batch.mirrored.empty(); };
    if (std::any_of(batches.begin(), batches.end(), mirrors)) image.profile.mirrored.assign(pixels, 0.0F);
    for (std::size_t k = 0; k < pixels; ++k) {
        double sum = 0.0;
        double squares = 0.0;
        for (const Profile& batch : batches) {
            const auto rate = static_cast<double>(batch.rate[k]);
            sum += rate;
            squares += rate * rate;
        }
        const double mean = sum / count;
        image.profile.rate[k] = static_cast<float>(mean);
        const double variance = std::max(squares / count - mean * mean, 0.0) / (count - 1.0);
        image.standard_error[k] = static_cast<float>(std::sqrt(variance));
    }
    for (const Profile& batch : batches) {
        for (std::size_t k = 0; k < batch.mirrored.size(); ++k) {
            image.profile.mirrored[k] += batch.mirrored[k] / static_cast<float>(count);
        }
        image.profile.collected_power += batch.collected_power / count;
        image.profile.received_power += batch.received_power / count;
    }
    image.batches = std::move(batches);
    return image;
}

Profile trace_batch(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                    const Receiver& receiver, const EdgeSpread& edge_spread, double quantum_efficiency,
                    const RayOptions& options, std::int64_t batch) {
    return trace_batch(bundle_of(beam, part, receiver), beam, part, surface, receiver, edge_spread, quantum_efficiency,
                       options, batch);
}

RayImage trace_rays(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                    const Receiver& receiver, const EdgeSpread& edge_spread, double quantum_efficiency,
                    const RayOptions& options) {
    std::vector<Profile> batches(static_cast<std::size_t>(ray_batches));
    const Bundle bundle = bundle_of(beam, part, receiver);
    base::parallel_for(ray_batches, options.threads, [&](std::int64_t batch) {
        batches[static_cast<std::size_t>(batch)] =
            trace_batch(bundle, beam, part, surface, receiver, edge_spread, quantum_efficiency, options, batch);
    });
    return combined(std::move(batches));
}

}  // namespace spotwright::receiver
