#include "bindings/web/engine/shelf.hpp"

#include <algorithm>

#include "sim/receiver/ray_model.hpp"
#include "sim/receiver/volume_light.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/temperature.hpp"

namespace spotwright::web {

namespace {

using scenario::Scenario;

// Four panes beside each other, and what was there before the last change.
constexpr std::size_t most_sensors = 8;
constexpr std::size_t most_poses = 8;

// What stands in front is kept longest.
template <class Entry>
void put_first(std::deque<Entry>& list, Entry entry, std::size_t most) {
    list.push_front(std::move(entry));
    if (list.size() > most) list.pop_back();
}

template <class Entry, class Is>
bool bring_first(std::deque<Entry>& list, const Is& is) {
    const auto found = std::find_if(list.begin(), list.end(), is);
    if (found == list.end()) return false;
    std::rotate(list.begin(), found, found + 1);
    return true;
}

// Poses do not depend on what is made of readings.
std::string name_of_pose(const Scenario& s) {
    Scenario plain = s;
    plain.title.clear();
    plain.requirement = {};
    plain.run.readings = scenario::Run{}.readings;
    plain.run.trials = scenario::Run{}.trials;
    plain.reading.average = 1;
    plain.reading.median = 1;
    return scenario::to_toml(plain);
}

AnyPose pose_with_speckle(const sensor::TriangulationSetup& setup, sensor::Pose smooth) {
    const double displacement = setup.scenario.target.displacement;
    ArrayPose pose{setup, std::move(smooth), std::nullopt, {}};
    pose.speckle = sensor::make_speckle(setup, displacement, pose.smooth.profile);
    if (!pose.speckle) {
        pose.still = pose.smooth;
        return pose;
    }
    pose.still = sensor::still_pose(setup, pose.smooth, *pose.speckle);
    const receiver::Profile light = pose.smooth.profile;
    pose.smooth = pose.still;
    pose.smooth.profile = light;
    sensor::expose_pose(setup, pose.smooth);
    return pose;
}

AnyPose pose_of(const sensor::TriangulationSetup& setup) {
    return pose_with_speckle(setup, sensor::make_pose(setup, setup.scenario.target.displacement, 1));
}

AnyPose pose_of(const sensor::FlightSetup& setup) {
    const Scenario& s = setup.scenario;
    TimedPose pose{setup, sensor::make_flight_pose(setup, s.target.displacement), false, {}};
    pose.speckles = s.run.speckle != scenario::SpeckleModel::off && pose.smooth.received.grains > 0.0;
    pose.still = pose.speckles ? sensor::under_patch(setup, pose.smooth, 0) : pose.smooth;
    return pose;
}

sensor::Instrument instrument_by_geometry(const Scenario& s) {
    const receiver::Receiver receiver = sensor::checked_receiver(s);
    constexpr int points = 33;
    const auto [near, far] = s.mount.range;
    const double beyond = sensor::calibration_overreach * (far - near);
    std::vector<reading::CalibrationPoint> found;
    for (int i = 0; i < points; ++i) {
        const double displacement = near - beyond + (far - near + 2.0 * beyond) * i / (points - 1);
        if (const auto u = receiver::image_position(receiver, displacement)) {
            found.push_back({displacement, receiver::pixel_of(receiver, *u)});
        }
    }
    return {scenario::sensor_keys(s),
            sensor::beam_of(s),
            receiver,
            receiver::EdgeSpread(receiver.aperture.shape),
            detector::make_fixed_pattern(s.detector),
            reading::Calibration(found)};
}

// How light goes through the scenario's part: the walk that is known, where it is of this part, or one of fewer
// scatters than readings take, which is a fifth of the work. None where no light goes in.
std::optional<target::CachedWalk> thin_walk(const std::optional<target::CachedWalk>& known,
                                            const sensor::TriangulationSetup& setup) {
    const Scenario& s = setup.scenario;
    const target::Surface surface = sensor::surface_of(s);
    if (!surface.volume) return std::nullopt;
    const auto geometry = receiver::walk_geometry(setup.instrument.beam, sensor::part_of(s, s.target.displacement),
                                                  setup.instrument.receiver);
    if (!geometry) return std::nullopt;
    if (known && target::matches(*known, *surface.volume, *geometry)) return known;
    target::WalkOptions options;
    options.photons = 4096;
    options.scatters = 4096;
    return target::cache_walk(*surface.volume, *geometry, options);
}

}  // namespace

sensor::Setup Shelf::set_up(const Scenario& s) {
    const auto is_its = [&s](const sensor::Sensor& each) { return sensor::fits(each, s); };
    if (!bring_first(sensors_, is_its)) put_first(sensors_, sensor::make_sensor(s, 1), most_sensors);
    return sensor::set_up(sensors_.front(), s);
}

std::shared_ptr<const AnyPose> Shelf::pose(const Scenario& s) {
    const std::string name = name_of_pose(s);
    if (!bring_first(poses_, [&name](const KnownPose& each) { return each.scenario == name; })) {
        const sensor::Setup setup = set_up(s);
        auto pose = std::make_shared<const AnyPose>(
            std::visit([](const auto& each) -> AnyPose { return pose_of(each); }, setup));
        put_first(poses_, KnownPose{name, std::move(pose)}, most_poses);
    }
    return poses_.front().pose;
}

GrowingPose Shelf::pose_so_far(const Scenario& s) {
    const std::string name = name_of_pose(s);
    const bool traced = s.run.model == scenario::LightModel::ray && scenario::abilities_of(s.principle).array;
    const bool known =
        std::any_of(poses_.begin(), poses_.end(), [&name](const KnownPose& each) { return each.scenario == name; });
    if (!traced || known) return {pose(s), 1.0};
    const auto setup = std::get<sensor::TriangulationSetup>(set_up(s));
    if (!rays_ || rays_->scenario != name) rays_ = TracedRays{name, {}};
    std::vector<receiver::Profile>& batches = rays_->batches;
    const double displacement = s.target.displacement;
    batches.push_back(sensor::trace_batch(setup, displacement, static_cast<std::int64_t>(batches.size())));
    auto grown =
        std::make_shared<const AnyPose>(pose_with_speckle(setup, sensor::pose_of_rays(setup, displacement, batches)));
    const auto share = static_cast<double>(batches.size()) / static_cast<double>(receiver::ray_batches);
    if (share == 1.0) {
        put_first(poses_, KnownPose{name, grown}, most_poses);
        rays_.reset();
    }
    return {std::move(grown), share};
}

sensor::TriangulationSetup Shelf::set_up_for_preview(const Scenario& s) {
    const auto known = std::find_if(sensors_.begin(), sensors_.end(),
                                    [&s](const sensor::Sensor& each) { return sensor::fits(each, s); });
    const sensor::Instrument instrument =
        known == sensors_.end() ? instrument_by_geometry(s) : std::get<sensor::Instrument>(*known);
    sensor::TriangulationSetup setup =
        sensor::at_temperature(sensor::TriangulationSetup{instrument, s}, s.surroundings.temperature);
    walk_ = thin_walk(walk_, setup);
    setup.walk = walk_;
    return setup;
}

}  // namespace spotwright::web
