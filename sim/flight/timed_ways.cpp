#include "sim/flight/timed_ways.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "sim/receiver/sources.hpp"
#include "sim/receiver/volume_light.hpp"

namespace spotwright::flight {

std::vector<Way> merged(std::vector<Way> ways, double step) {
    std::sort(ways.begin(), ways.end(), [](const Way& a, const Way& b) { return a.path < b.path; });
    std::vector<Way> result;
    double begin = 0.0;
    double moment = 0.0;
    for (const Way& way : ways) {
        if (result.empty() || way.path - begin > step) {
            begin = way.path;
            moment = 0.0;
            result.push_back({begin, 0.0});
        }
        Way& last = result.back();
        last.power += way.power;
        moment += way.power * (way.path - begin);
        last.path = begin + moment / last.power;
    }
    return result;
}

std::vector<Way> at_most(std::vector<Way> ways, std::size_t count) {
    if (ways.size() <= count) return ways;
    const double span = ways.back().path - ways.front().path;
    return merged(std::move(ways), span / static_cast<double>(count));
}

namespace {

constexpr auto parts = static_cast<std::size_t>(receiver::lattice_parts);

// Sums of light, with lengths from some length near all of them.
struct Sums {
    double power = 0.0;
    double first = 0.0;
    double second = 0.0;

    void add(double received, double beyond) {
        power += received;
        first += received * beyond;
        second += received * beyond * beyond;
    }
    Sums& operator+=(const Sums& other) {
        power += other.power;
        first += other.first;
        second += other.second;
        return *this;
    }
    [[nodiscard]] double mean() const { return power > 0.0 ? first / power : 0.0; }
    [[nodiscard]] double deviation() const {
        return power > 0.0 ? std::sqrt(std::max(0.0, second / power - mean() * mean())) : 0.0;
    }
};

// Takes the light of one source.
class Detector {
public:
    Detector(double radius, double near_all) : radius2_(radius * radius), near_all_(near_all) {}

    void take(const receiver::CollectedBatch& batch, std::size_t part) {
        for (std::size_t k = 0; k < batch.count; ++k) {
            const double power = batch.power[k];
            if (power == 0.0) continue;
            light_.collected_power += power;
            const double u = batch.u[k];
            const double v = batch.v[k];
            if (!(u * u + v * v <= radius2_) || power <= 0.0) continue;
            light_.received_power += power;
            if (batch.mirrored) light_.mirrored_power += power;
            sums_[part].add(power, batch.path[k] - near_all_);
            light_.ways.push_back({batch.path[k], power});
            constexpr std::size_t many = 1U << 16U;
            if (light_.ways.size() >= many) light_.ways = merged(std::move(light_.ways), path_step);
        }
    }

    [[nodiscard]] TimedWays& light() { return light_; }
    [[nodiscard]] Sums sums() const {
        Sums all;
        for (const Sums& each : sums_) all += each;
        return all;
    }
    // Standard errors of the sum of all parts, by what scatters between them.
    [[nodiscard]] double light_error() const {
        return error_of([](const Sums& part) { return part.power; });
    }
    [[nodiscard]] double moment_error() const {
        return error_of([about = sums().mean()](const Sums& part) { return part.first - about * part.power; });
    }
    // Whether the rim takes so much that its way through the light could matter.
    [[nodiscard]] bool cuts() const {
        constexpr double nearly_all = 0.99;
        return light_.received_power > 0.0 && light_.received_power < nearly_all * light_.collected_power;
    }

private:
    template <class Of>
    [[nodiscard]] double error_of(const Of& of) const {
        double mean = 0.0;
        for (const Sums& part : sums_) mean += of(part) / static_cast<double>(parts);
        double squares = 0.0;
        for (const Sums& part : sums_) squares += (of(part) - mean) * (of(part) - mean);
        return std::sqrt(squares * static_cast<double>(parts) / static_cast<double>(parts - 1));
    }

    double radius2_;
    double near_all_;
    TimedWays light_;
    std::array<Sums, parts> sums_{};
};

Detector with_rays(const receiver::LightSource& source, std::int64_t rays, const Detector& empty) {
    Detector detector = empty;
    const receiver::Lattice lattice = receiver::lattice_of(rays);
    for (std::size_t i = 0; i < parts; ++i) {
        source.follow(lattice, static_cast<std::int64_t>(i),
                      [&](const receiver::CollectedBatch& batch) { detector.take(batch, i); });
    }
    return detector;
}

// The light of one source, well enough beside the light there is. What is below darkness need not be exact.
Detector followed(const receiver::LightSource& source, const Detector& empty, const Sums& there_is, double darkness) {
    constexpr double light_tolerance = 3e-3;
    constexpr double path_tolerance = 0.01e-3;
    constexpr double share_of_spread = 3e-3;
    std::optional<Sums> before;  // by half the places
    std::int64_t rays = std::max(receiver::min_lattice, source.first_rays);
    for (;;) {
        Detector detector = with_rays(source, rays, empty);
        const Sums found = detector.sums();
        double light_error = detector.light_error();
        double moment_error = detector.moment_error();
        if (before) {
            light_error = std::max(light_error, std::abs(found.power - before->power));
            const double change = found.first - before->first - found.mean() * (found.power - before->power);
            moment_error = std::max(moment_error, std::abs(change));
        }
        Sums all = there_is;
        all += found;
        const double path = path_tolerance + share_of_spread * all.deviation();
        const bool bright = found.power > darkness || light_error > darkness;
        const bool exact = !bright || (light_error <= light_tolerance * all.power && moment_error <= path * all.power);
        // A narrow lobe may lie between few rays.
        const bool looked = bright ? before || !(source.cut || detector.cuts()) : rays >= source.rays;
        if ((exact && looked) || rays >= source.most_rays) return detector;
        before = found;
        rays = std::min(2 * rays, source.most_rays);
    }
}

void add(const TimedWays& more, TimedWays& all) {
    all.collected_power += more.collected_power;
    all.received_power += more.received_power;
    all.mirrored_power += more.mirrored_power;
    all.ways.insert(all.ways.end(), more.ways.begin(), more.ways.end());
    all.ways = merged(std::move(all.ways), path_step);
}

}  // namespace

TimedWays timed_ways(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                     const receiver::Receiver& receiver, double radius) {
    // Of the beam's power; it can be told from none by no detector.
    const double darkness = 1e-12 * beam.power;
    TimedWays all;
    auto scene = receiver::LitScene::of(beam, part, surface, receiver);
    if (!scene) return all;
    scene->timed = true;
    const Eigen::Vector3d lens = receiver::aperture_point(receiver, 0.0, 0.0);
    const Detector empty(radius, scene->along + (lens - scene->tangent.place).norm());
    Sums there_is;
    for (const receiver::LitScene& zone : receiver::scenes_of_zones(*scene)) {
        for (const receiver::LightSource& source : receiver::light_sources(zone)) {
            Detector detector = followed(source, empty, there_is, darkness);
            there_is += detector.sums();
            add(detector.light(), all);
        }
        if (!zone.surface.volume) continue;
        Detector detector = empty;
        receiver::gather_volume(
            beam, part, zone.surface, receiver, nullptr,
            [&](const receiver::CollectedBatch& batch) { detector.take(batch, 0); }, zone.zone, true);
        there_is += detector.sums();
        add(detector.light(), all);
    }
    return all;
}

}  // namespace spotwright::flight
