#include "sim/sensor/speckle.hpp"

#include "sim/sensor/stations.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Geometry>

#include "sim/base/parallel.hpp"
#include "sim/base/random.hpp"
#include "sim/receiver/coherence.hpp"
#include "sim/receiver/spectral_patterns.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::sensor {

namespace {

using Eigen::Vector2d, Eigen::Vector3d;

std::uint64_t surface_seed(const scenario::Scenario& s) {
    return static_cast<std::uint64_t>(s.seed);
}

// What scatters: the part, or of a plate what lies behind it.
const scenario::Material& scattering_material(const scenario::Scenario& s) {
    return s.target.plate.backing_made_of ? *s.target.plate.backing_made_of : s.target.made_of;
}

// Of a volume, what leaves within the strip that the row of pixels sees, the footprint's half-width included.
std::vector<target::WeighedPath> paths_seen(const TriangulationSetup& setup, const receiver::SpeckleView& view) {
    if (!setup.walk) return {};
    const double per_place = std::max(std::abs(view.dv_dy), 1e-12);
    const double footprint = 0.5 * std::sqrt(view.irradiance.inverse()(1, 1));
    const double half_height = std::hypot(0.5 * setup.instrument.receiver.height / per_place, footprint);
    return target::paths_in_strip(setup.walk->volume, setup.walk->geometry, setup.walk->scatters, half_height);
}

receiver::Coherence coherence_seen(const TriangulationSetup& setup, const receiver::SpeckleView& view) {
    const scenario::Scenario& s = setup.scenario;
    const emitter::Beam& beam = setup.instrument.beam;
    const receiver::Receiver& receiver = setup.instrument.receiver;
    const scenario::Material& material = scattering_material(s);
    target::Surface surface = surface_of(s);
    if (s.target.plate.backing_made_of) surface = target::make_opaque_surface(material, beam.wavelength);
    surface.lay = target::lay_direction(s.target, s.mount);
    const Vector3d normal = view.axes.col(0).cross(view.axes.col(1));
    const Vector3d to_view = (receiver::aperture_point(receiver, 0.0, 0.0) - view.lit).normalized();
    return receiver::coherence_of(material, surface, {-beam.direction, to_view, normal, beam.polarisation},
                                  beam.wavelength, s.emitter.linewidth, paths_seen(setup, view));
}

// Light of a volume leaves about a mean free path beside where it went in.
void widen_by_volume(const scenario::Scenario& s, receiver::SpeckleView& view) {
    const target::Surface surface = surface_of(s);
    if (!surface.volume) return;
    const double free_path = 1.0 / target::extinction(*surface.volume);
    const Eigen::Matrix2d spread =
        Eigen::Matrix2d(view.irradiance.inverse()) + 4.0 * free_path * free_path * Eigen::Matrix2d::Identity();
    view.irradiance = spread.inverse();
}

// The brightest scattered light, where that is not about the lit point: what the part shows by a second reflection, or
// behind a plate.
void follow_light(const receiver::Profile& light, receiver::SpeckleView& view) {
    std::vector<float> scattered = light.rate;
    for (std::size_t k = 0; k < light.mirrored.size(); ++k) scattered[k] -= light.mirrored[k];
    const auto brightest = std::max_element(scattered.begin(), scattered.end()) - scattered.begin();
    const double middle = 0.5 * (static_cast<double>(view.row.pixels) - 1.0);
    const double place = (static_cast<double>(brightest) - middle) * view.row.pitch;
    const double radius = std::abs(view.du_dx) * std::sqrt(view.irradiance.inverse()(0, 0));
    if (std::abs(place - view.row.u0) > 2.0 * (radius + view.row.pitch)) view.row.u0 = place;
}

// One lattice for a part whatever its pose: fine enough for the nearest place of the range, and for the beam's waist.
double lattice_pitch(const TriangulationSetup& setup, const receiver::SpeckleView& view) {
    const receiver::Receiver& r = setup.instrument.receiver;
    const double near = setup.scenario.mount.range[0];
    const Vector3d nearest(-near * std::tan(r.emitter_angle), 0.0, -near);
    const double distance = (receiver::aperture_point(r, 0.0, 0.0) - nearest).norm();
    const double reach = std::max(view.aperture.half_in_plane, view.aperture.half_out_of_plane) / distance;
    constexpr double spare = 1.02;
    const double waist = std::min(setup.scenario.emitter.waist_radius[0], setup.scenario.emitter.waist_radius[1]);
    return std::min(receiver::coarsest_pitch(view.wavelength, spare * reach, waist), receiver::coarsest_pitch(view));
}

// Scattered light is what speckles.
bool scatters(const receiver::Profile& profile) {
    constexpr float seen = 1e-6F;
    for (std::size_t k = 0; k < profile.rate.size(); ++k) {
        const float mirrored = profile.mirrored.empty() ? 0.0F : profile.mirrored[k];
        if (profile.rate[k] - mirrored > seen * profile.rate[k]) return true;
    }
    return false;
}

// Work of one pattern: places, times patterns that add up to it.
double cost_of(const receiver::SpeckleView& view, const receiver::SpeckleSampling& sampling) {
    const receiver::SpeckleGrid grid = receiver::speckle_grid(view, sampling);
    const auto patterns = static_cast<double>(receiver::spectral_patterns(view).size());
    const double polarisations = view.coherence.polarisation_degree < 1.0 ? 2.0 : 1.0;
    return static_cast<double>(grid.columns) * static_cast<double>(grid.rows) * patterns * polarisations;
}

}  // namespace

std::optional<Speckle> make_speckle(const TriangulationSetup& setup, double displacement,
                                    const receiver::Profile& light) {
    const scenario::Scenario& s = setup.scenario;
    if (s.run.speckle == scenario::SpeckleModel::off || !scatters(light)) return std::nullopt;
    const target::Part part = part_of(s, displacement);
    auto view = receiver::make_speckle_view(setup.instrument.beam, part, setup.instrument.receiver, {});
    if (!view) return std::nullopt;
    view->coherence = coherence_seen(setup, *view);
    widen_by_volume(s, *view);
    follow_light(light, *view);
    const bool has_grain = setup.walk && s.target.made_of.grain && s.target.made_of.grain->variation > 0.0;

    Speckle speckle;
    speckle.model = s.run.speckle;
    speckle.view = *view;
    speckle.field = receiver::make_speckle_field(*view);
    if (has_grain) speckle.grain = receiver::grain_view(*s.target.made_of.grain, *view);
    const Vector3d origin(0.0, 0.0, -displacement);
    speckle.place = Vector2d(s.target.patch[0], s.target.patch[1]) + view->axes.transpose() * (view->lit - origin);
    if (speckle.model == scenario::SpeckleModel::statistical) return speckle;
    const receiver::SpeckleSampling sampling{lattice_pitch(setup, *view), 1.0};
    constexpr double affordable = 524288.0;
    if (cost_of(*view, sampling) > affordable) {
        speckle.model = scenario::SpeckleModel::statistical;
        speckle.why_statistical = "the footprint, its glow or the linewidth asks for too large a grid of waves";
        return speckle;
    }
    speckle.plan = receiver::plan_speckle(*view, sampling);
    return speckle;
}

std::vector<float> under_pattern(const receiver::Profile& profile, const receiver::SpecklePattern& pattern) {
    std::vector<float> rate = profile.rate;
    const std::size_t end = std::min(rate.size(), pattern.first + pattern.intensity.size());
    for (std::size_t k = pattern.first; k < end; ++k) {
        const float relative = pattern.intensity[k - pattern.first];
        const float mirrored = profile.mirrored.empty() ? 0.0F : profile.mirrored[k];
        const float scattered = profile.rate[k] - mirrored;
        if (mirrored <= 0.0F) {
            rate[k] = scattered * relative;
        } else if (pattern.field.empty()) {
            // Without a field, its share of the variance: 1 - (m / (m + d))^2 of the pattern's.
            const float share = mirrored / profile.rate[k];
            rate[k] = std::max(0.0F, profile.rate[k] * (1.0F + std::sqrt(1.0F - share * share) * (relative - 1.0F)));
        } else {
            const float interference = 2.0F * std::sqrt(mirrored * scattered) * pattern.field[k - pattern.first];
            rate[k] = std::max(0.0F, mirrored + scattered * relative + interference);
        }
    }
    return rate;
}

receiver::SpecklePattern pattern_of_patch(const Speckle& speckle, const scenario::Scenario& s, std::int64_t index,
                                          const Vector2d& place, receiver::SpeckleWorkspace& workspace) {
    receiver::SpecklePattern pattern;
    const auto pixels = static_cast<std::size_t>(s.detector.pixels);
    constexpr std::size_t block = base::block_pixels;
    pattern.intensity.resize((pixels + block - 1) / block * block);
    receiver::draw_speckle(speckle.field, surface_seed(s), index, 0, pattern.intensity);
    pattern.intensity.resize(pixels);
    const auto with_grain = [&](receiver::SpecklePattern of) {
        if (!speckle.grain) return of;
        const std::vector<float> grains = receiver::grain_pattern(*speckle.grain, surface_seed(s), place);
        for (std::size_t k = 0; k < pixels; ++k) of.intensity[k] *= grains[k];
        return of;
    };
    if (!speckle.plan) return with_grain(std::move(pattern));
    const receiver::SpecklePattern coherent =
        receiver::speckle_pattern(*speckle.plan, surface_seed(s), place, workspace);
    pattern.field.assign(pixels, 0.0F);
    const auto first = static_cast<std::ptrdiff_t>(coherent.first);
    std::copy(coherent.intensity.begin(), coherent.intensity.end(), pattern.intensity.begin() + first);
    std::copy(coherent.field.begin(), coherent.field.end(), pattern.field.begin() + first);
    return with_grain(std::move(pattern));
}

namespace {

// The other patches lie on a strip of their own, well away from where the part stands.
Vector2d place_of_patch(const Speckle& speckle, std::int64_t patch) {
    if (patch == 0) return speckle.place;
    if (speckle.plan) {
        const receiver::SpecklePlan& plan = *speckle.plan;
        Vector2d place = receiver::separate_patch(plan, patch) + Vector2d(0.0, 16.0 * plan.grid.rows * plan.grid.pitch);
        // Their grains must be others, too.
        if (speckle.grain)
            place.x() *= std::max(1.0, std::ceil(10.0 * speckle.grain->length / plan.grid.pitch /
                                                 static_cast<double>(plan.grid.columns)));
        return place;
    }
    if (!speckle.grain) return speckle.place;
    return speckle.place +
           Vector2d(0.0, 16.0 * (speckle.grain->length + speckle.grain->across) * static_cast<double>(patch));
}

}  // namespace

std::vector<float> grains_at(const Speckle& speckle, const scenario::Scenario& s, std::int64_t patch) {
    if (!speckle.grain) return {};
    return receiver::grain_pattern(*speckle.grain, surface_seed(s), place_of_patch(speckle, patch));
}

receiver::SpecklePattern pattern_at(const Speckle& speckle, const scenario::Scenario& s, std::int64_t patch,
                                    receiver::SpeckleWorkspace& workspace) {
    return pattern_of_patch(speckle, s, patch, place_of_patch(speckle, patch), workspace);
}

double work_of_pattern(const Speckle& speckle) {
    if (!speckle.plan) return 0.0;
    const receiver::SpecklePlan& plan = *speckle.plan;
    const double polarisations = plan.polarisation[1] > 0.0 ? 2.0 : 1.0;
    return static_cast<double>(plan.columns() * plan.rows() * plan.patterns.size()) * polarisations;
}

std::optional<receiver::SpeckleImage> image_of_patch(const Speckle& speckle, const scenario::Scenario& s) {
    if (!speckle.plan) return std::nullopt;
    receiver::SpeckleWorkspace workspace = receiver::make_workspace(*speckle.plan);
    return receiver::speckle_image(*speckle.plan, surface_seed(s), speckle.place, workspace);
}

Pose still_pose(const TriangulationSetup& setup, const Pose& pose, const Speckle& speckle) {
    receiver::SpeckleWorkspace workspace =
        speckle.plan ? receiver::make_workspace(*speckle.plan) : receiver::SpeckleWorkspace{};
    Pose frozen = pose;
    frozen.profile.rate = under_pattern(pose.profile, pattern_at(speckle, setup.scenario, 0, workspace));
    // A fixed exposure is the same under any light, and so is the background measured with it.
    if (setup.scenario.exposure.mode == scenario::ExposureMode::automatic) settle_exposure(setup, frozen);
    expose_pose(setup, frozen);
    return frozen;
}

Pose pose_under_speckle(const TriangulationSetup& setup, double displacement, int threads) {
    const Pose smooth = make_pose(setup, displacement, threads);
    const auto speckle = make_speckle(setup, displacement, smooth.profile);
    return speckle ? still_pose(setup, smooth, *speckle) : smooth;
}

Pose moving_pose(const TriangulationSetup& setup, const Pose& still, const receiver::Profile& smooth,
                 const Speckle& speckle) {
    Pose pose = still;
    pose.profile = smooth;
    FreshSpeckle fresh{speckle.field, smooth.rate};
    for (std::size_t k = 0; k < fresh.light.size(); ++k) {
        const float mirrored = smooth.mirrored.empty() ? 0.0F : smooth.mirrored[k];
        const float share = smooth.rate[k] > 0.0F ? mirrored / smooth.rate[k] : 0.0F;
        fresh.light[k] *= static_cast<float>(pose.timing.exposure) * setup.instrument.pattern.response[k] *
                          std::sqrt(1.0F - share * share);
    }
    pose.fresh = std::move(fresh);
    expose_pose(setup, pose);
    return pose;
}

namespace {

// The light of another patch of a part without speckle: with a texture each is lit and dark at other places.
receiver::Profile light_of_patch(const TriangulationSetup& setup, const receiver::Profile& here, double displacement,
                                 std::int64_t patch) {
    scenario::Scenario s = setup.scenario;
    if (s.target.texture.deviation <= 0.0) return here;
    // Far enough apart to have nothing in common.
    constexpr double lengths = 1000.0;
    s.target.patch[0] += static_cast<double>(patch) * lengths * s.target.texture.length;
    return receiver::image(setup.instrument.beam, part_of(s, displacement), surface_of(s), setup.instrument.receiver,
                           setup.instrument.edge_spread, s.detector.quantum_efficiency);
}

}  // namespace

std::vector<Pose> poses_of_patches(const TriangulationSetup& setup, const Pose& still, const receiver::Profile& smooth,
                                   const Speckle& speckle, int threads) {
    const scenario::Scenario& s = setup.scenario;
    // Wide arrays make large poses: their number is bounded by memory.
    constexpr std::int64_t most_pixels = 1 << 22;
    constexpr std::int64_t fewest = 32;
    const std::int64_t count = std::min(s.run.patches, std::max(fewest, most_pixels / s.detector.pixels));
    std::vector<Pose> poses(static_cast<std::size_t>(count));
    constexpr std::int64_t chunk = 16;
    base::parallel_for((count + chunk - 1) / chunk, threads, [&](std::int64_t part) {
        receiver::SpeckleWorkspace workspace =
            speckle.plan ? receiver::make_workspace(*speckle.plan) : receiver::SpeckleWorkspace{};
        for (std::int64_t i = part * chunk; i < std::min(count, (part + 1) * chunk); ++i) {
            Pose& other = poses[static_cast<std::size_t>(i)];
            other = still;
            other.profile.rate = under_pattern(light_of_patch(setup, smooth, still.displacement, i + 1),
                                               pattern_at(speckle, s, i + 1, workspace));
            if (s.exposure.mode == scenario::ExposureMode::automatic) settle_exposure(setup, other);
            expose_pose(setup, other);
        }
    });
    return poses;
}

}  // namespace spotwright::sensor
