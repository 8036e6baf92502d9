#include "sim/sensor/calibrate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <utility>

#include "sim/base/linear.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/receiver/volume_light.hpp"
#include "sim/sensor/instrument.hpp"

namespace spotwright::sensor {

namespace {

using base::mm;

constexpr std::int64_t calibration_points = 65;

// Share of full well to which the exposure at calibration brings the brightest pixel.
constexpr double calibration_level = 0.6;

// By how much light from inside a reference moves its spot, along the range. [px]
class ReferenceDepth {
public:
    // @param position  Of the spot of a surface at a displacement, with the walk of a volume.
    using Position = std::function<reading::Spot(double, const target::Surface&, const target::CachedWalk*)>;

    ReferenceDepth(const target::Surface& tile, const target::Surface& opaque, const target::CachedWalk& walk,
                   double from, double to, int threads, const Position& position) {
        // The depth changes smoothly over the range. Where the faint rim of the glow crosses the threshold it jumps by
        // some um from image to image, which a cubic through many places evens out.
        constexpr std::int64_t places = 17;
        std::vector<double> at(places);
        std::vector<double> shift(places);
        std::vector<reading::Validity> found(places);
        base::parallel_for(places, threads, [&](std::int64_t i) {
            const auto n = static_cast<std::size_t>(i);
            at[n] = std::lerp(from, to, static_cast<double>(i) / static_cast<double>(places - 1));
            const reading::Spot inside = position(at[n], tile, &walk);
            shift[n] = inside.position - position(at[n], opaque, nullptr).position;
            found[n] = inside.validity;
        });
        for (std::size_t i = 0; i < found.size(); ++i) {
            if (found[i] != reading::Validity::valid && !lost_) lost_ = {at[i], found[i]};
        }
        if (lost_) return;
        middle_ = 0.5 * (from + to);
        half_ = 0.5 * (to - from);
        Eigen::MatrixXd powers(places, powers_);
        for (Eigen::Index i = 0; i < places; ++i) powers.row(i) = powers_at(at[static_cast<std::size_t>(i)]);
        cubic_ = base::fit_linear(powers, Eigen::Map<const Eigen::VectorXd>(shift.data(), places)).parameters;
    }

    [[nodiscard]] double at(double displacement) const { return powers_at(displacement).dot(cubic_); }

    // Where the reference gives no spot, and why.
    [[nodiscard]] const std::optional<std::pair<double, reading::Validity>>& lost() const { return lost_; }

private:
    static constexpr Eigen::Index powers_ = 4;

    [[nodiscard]] Eigen::RowVector4d powers_at(double displacement) const {
        const double x = (displacement - middle_) / half_;
        return {1.0, x, x * x, x * x * x};
    }

    std::optional<std::pair<double, reading::Validity>> lost_;
    double middle_ = 0.0;
    double half_ = 1.0;
    Eigen::Vector4d cubic_ = Eigen::Vector4d::Zero();
};

[[noreturn]] void reject_calibration(const scenario::Scenario& scenario, double displacement,
                                     reading::Validity validity) {
    scenario::reject(scenario, "mount.range_mm",
                     fmt::format("calibration on {} fails at {:.4g} mm: {}", scenario.reading.calibrated_on,
                                 displacement / mm, reading::name_of(validity)),
                     "a range over which the reference's spot lies wholly on the array and above the threshold");
}

// Of what images the reference.
struct Imaging {
    const emitter::Beam& beam;
    const receiver::Receiver& receiver;
    const receiver::EdgeSpread& edge_spread;
    const detector::FixedPattern& pattern;
};

// @param walk  Of a reference with a volume.
reading::Spot reference_spot(const scenario::Scenario& scenario, const Imaging& by, double displacement,
                             const target::Surface& surface, const target::CachedWalk* walk) {
    reading::LocateOptions options = locate_options(scenario);
    options.choose = {};
    const receiver::Profile profile = receiver::image(by.beam, target::square_plane(displacement), surface, by.receiver,
                                                      by.edge_spread, scenario.detector.quantum_efficiency, {}, walk);
    return reading::locate(level_signal(calibration_level, scenario.detector.full_well, by.pattern, profile.rate),
                           options);
}

}  // namespace

reading::LocateOptions locate_options(const scenario::Scenario& scenario) {
    reading::LocateOptions options;
    options.method = scenario.reading.peak;
    options.choose = scenario.reading.choose;
    options.threshold = static_cast<float>(scenario.reading.threshold * scenario.detector.full_well);
    options.saturation = static_cast<float>(scenario.detector.full_well);
    options.dark_variance = dark_variance(scenario.detector);
    return options;
}

std::vector<float> level_signal(double level, double full_well, const detector::FixedPattern& pattern,
                                const std::vector<float>& rate) {
    std::vector<float> net = rate;
    for (std::size_t k = 0; k < net.size(); ++k) net[k] *= pattern.response[k];
    const float brightest = *std::max_element(net.begin(), net.end());
    if (brightest <= 0.0F) return net;
    const double wanted = level * full_well;
    const auto scale = static_cast<float>(wanted / static_cast<double>(brightest));
    for (float& value : net) value *= scale;
    return net;
}

std::optional<target::CachedWalk> walk_through(const target::Surface& surface, const emitter::Beam& beam,
                                               const target::Part& part, const receiver::Receiver& receiver) {
    if (!surface.volume) return std::nullopt;
    const auto geometry = receiver::walk_geometry(beam, part, receiver);
    if (!geometry) return std::nullopt;
    target::WalkOptions options;
    options.photons *= 2;
    // Light that scatters forwards leaves by fewer, stronger scatters. With so many of them the bias of marble and of
    // milk scatters by 3 % from seed to seed (7 % with the default), that of the polymer by 1.5 % without. Dense
    // materials have less of a bias that could scatter.
    constexpr double dense = 0.1 * mm;
    if (surface.volume->anisotropy != 0.0) {
        const bool is_dense = 1.0 / target::extinction(*surface.volume) < dense;
        options.photons *= is_dense ? 1 : 2;
        options.scatters *= is_dense ? 2 : 6;
    }
    return target::cache_walk(*surface.volume, *geometry, options);
}

reading::Calibration calibrate(const scenario::Scenario& scenario, const emitter::Beam& beam,
                               const receiver::Receiver& receiver, const receiver::EdgeSpread& edge_spread,
                               const detector::FixedPattern& pattern, int threads) {
    const target::Surface tile = target::make_surface(scenario.reading.reference, scenario.emitter.wavelength);
    const double near = scenario.mount.range[0];
    const double far = scenario.mount.range[1];
    const double overreach = calibration_overreach * (far - near);
    const auto position = [&](double displacement, const target::Surface& surface, const target::CachedWalk* walk) {
        return reference_spot(scenario, {beam, receiver, edge_spread, pattern}, displacement, surface, walk);
    };
    // A reference that lets light in moves its own spot; a part like it then reads right.
    target::Surface opaque = tile;
    std::optional<ReferenceDepth> depth;
    if (const auto walk = walk_through(tile, beam, target::square_plane(0.0), receiver)) {
        opaque.volume.reset();
        constexpr double white = 0.8;
        opaque.reflectance = white;
        depth.emplace(tile, opaque, *walk, near - overreach, far + overreach, threads, position);
        if (depth->lost()) reject_calibration(scenario, depth->lost()->first, depth->lost()->second);
    }
    std::vector<reading::CalibrationPoint> points(calibration_points);
    std::vector<reading::Validity> found(calibration_points);
    base::parallel_for(calibration_points, threads, [&](std::int64_t i) {
        const double share = static_cast<double>(i) / static_cast<double>(calibration_points - 1);
        const double displacement = std::lerp(near - overreach, far + overreach, share);
        const reading::Spot spot = position(displacement, opaque, nullptr);
        points[static_cast<std::size_t>(i)] = {displacement, spot.position + (depth ? depth->at(displacement) : 0.0)};
        found[static_cast<std::size_t>(i)] = spot.validity;
    });
    for (std::size_t i = 0; i < points.size(); ++i) {
        if (found[i] != reading::Validity::valid) reject_calibration(scenario, points[i].displacement, found[i]);
    }
    try {
        return reading::Calibration(points);
    } catch (const base::DomainError& error) {
        scenario::reject(scenario, "mount.range_mm", error.what(), "");
    }
}

bool calibrates_at_ends(const scenario::Scenario& scenario, const emitter::Beam& beam,
                        const receiver::Receiver& receiver, const receiver::EdgeSpread& edge_spread,
                        const detector::FixedPattern& pattern) {
    const target::Surface tile = target::make_surface(scenario.reading.reference, scenario.emitter.wavelength);
    const auto [near, far] = scenario.mount.range;
    const double overreach = calibration_overreach * (far - near);
    const auto is_read = [&](double displacement) {
        return reference_spot(scenario, {beam, receiver, edge_spread, pattern}, displacement, tile, nullptr).validity ==
               reading::Validity::valid;
    };
    return is_read(near - overreach) && is_read(far + overreach);
}

double calibration_spacing(double near, double far) {
    return (far - near) * (1.0 + 2.0 * calibration_overreach) / static_cast<double>(calibration_points - 1);
}

}  // namespace spotwright::sensor
