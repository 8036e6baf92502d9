#include "sim/measure/moving.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <span>
#include <vector>

#include "sim/base/parallel.hpp"
#include "sim/detector/exposure_control.hpp"
#include "sim/measure/disturbance.hpp"
#include "sim/measure/moving_response.hpp"
#include "sim/measure/moving_scene.hpp"
#include "sim/measure/series_gatherer.hpp"

namespace spotwright::measure {

namespace {

using reading::Validity;

// Of a fixed size, so that blocks are the same on every machine; small, since each reading has a pose of its own.
constexpr std::int64_t moving_block = 512;

// Counts what is lost after each change of the piece under the beam.
class ChangeCounter {
public:
    void add(const Moment& moment, Validity validity) {
        if (known_ && moment.piece != piece_) {
            close();
            ++changes_;
            waits_ = true;
            lost_ = 0;
            changed_at_ = moment.way;
        }
        known_ = true;
        piece_ = moment.piece;
        way_ = moment.way;
        if (changes_ > 0 && (validity == Validity::too_dark || validity == Validity::no_peak)) ++dark_;
        if (changes_ > 0 && validity == Validity::saturated) ++saturated_;
        if (!waits_) return;
        if (validity == Validity::valid) {
            close();
        } else {
            ++lost_;
        }
    }

    void report(ExposureUse& use) {
        close();
        use.changes = changes_;
        if (changes_ == 0) return;
        const auto count = static_cast<double>(changes_);
        use.dark_per_change = static_cast<double>(dark_) / count;
        use.saturated_per_change = static_cast<double>(saturated_) / count;
        use.late = static_cast<double>(late_) / count;
        use.blind_length = blind_ / count;
    }

private:
    void close() {
        if (!waits_) return;
        waits_ = false;
        late_ += lost_;
        if (lost_ > 0) blind_ += std::abs(way_ - changed_at_);
    }

    bool known_ = false;
    bool waits_ = false;
    std::int64_t piece_ = 0;
    std::int64_t changes_ = 0;
    std::int64_t lost_ = 0;
    std::int64_t late_ = 0;
    std::int64_t dark_ = 0;
    std::int64_t saturated_ = 0;
    double way_ = 0.0;
    double changed_at_ = 0.0;
    double blind_ = 0.0;
};

// Readings of a scan, up to a number that bounds memory.
class ScanKeeper {
public:
    explicit ScanKeeper(const scenario::Scenario& s) {
        const bool cylinder = s.target.shape == scenario::ShapeKind::cylinder;
        const bool step = s.target.shape == scenario::ShapeKind::step;
        const scenario::Direction axis = cylinder ? s.target.cylinder.axis : s.target.step.edge;
        const double across = axis == scenario::Direction::across ? s.motion.across[0] : s.motion.across[1];
        const bool along_path = !s.motion.places.time.empty() && axis == scenario::Direction::across;
        if (cylinder && s.motion.rotation != 0.0) {
            kind_ = Kind::turns;
        } else if ((cylinder || step) && (across != 0.0 || along_path)) {
            kind_ = cylinder ? Kind::roll : Kind::step;
        }
    }

    void add(const SeriesBlock& block) {
        constexpr std::size_t most = 1U << 20U;
        if (kind_ == Kind::none) return;
        for (std::size_t i = 0; i < block.validity.size() && place_.size() < most; ++i) {
            if (block.validity[i] != Validity::valid) continue;
            const Moment& moment = block.moment[i];
            // The place on the part that is lit runs against its motion.
            place_.push_back(kind_ == Kind::turns ? moment.turned : -moment.across);
            displacement_.push_back(block.displacement[i]);
        }
    }

    [[nodiscard]] std::optional<Scan> scan() const {
        if (kind_ == Kind::none) return std::nullopt;
        Scan scan;
        if (kind_ == Kind::turns) scan.run_out = run_out(place_, displacement_);
        if (kind_ == Kind::roll) scan.roll = fit_circle(place_, displacement_);
        if (kind_ == Kind::step) scan.step = step_height(place_, displacement_);
        return scan;
    }

private:
    enum class Kind { none, turns, roll, step };
    Kind kind_ = Kind::none;
    std::vector<double> place_;
    std::vector<double> displacement_;
};

// Sums over all readings of a series.
struct Sums {
    double readings = 0.0;
    double period = 0.0;
    double exposure = 0.0;
    double smear_squares = 0.0;
    double speed_squares = 0.0;
    double outside = 0.0;
    double not_followed = 0.0;
    double shortest = std::numeric_limits<double>::infinity();
    double longest = 0.0;
    double longest_period = 0.0;

    void add(const Moment& moment, const scenario::Pair& range) {
        readings += 1.0;
        period += moment.period;
        exposure += moment.exposure;
        smear_squares += moment.smear * moment.smear;
        const double speed = moment.smear / moment.exposure;
        speed_squares += speed * speed;
        shortest = std::min(shortest, moment.exposure);
        longest = std::max(longest, moment.exposure);
        longest_period = std::max(longest_period, moment.period);
        // A part that the beam misses has no truth, and is in no range.
        if (!(moment.truth >= range[0] && moment.truth <= range[1])) outside += 1.0;
        if (!moment.followed) not_followed += 1.0;
    }
};

TrackingResult tracking_of(const scenario::Scenario& s, const Sums& sums, const ErrorStatistics& errors) {
    TrackingResult tracking;
    const Moments& error = errors.error;
    tracking.outputs = static_cast<std::int64_t>(error.count);
    if (error.count > 0.0) {
        tracking.mean_truth = errors.truth.mean;
        tracking.mean_error = error.mean;
        tracking.rms_error = std::sqrt(error.mean * error.mean + error.squares / error.count);
        tracking.largest_error = errors.largest;
    }
    tracking.error_deviation = error.deviation();
    const double period = sums.period / sums.readings;
    const double exposure = sums.exposure / sums.readings;
    tracking.delay = smoothing_delay(s.reading, period);
    tracking.age = tracking.delay + 0.5 * exposure;
    tracking.bandwidth = bandwidth(exposure, s.reading.average, period);
    tracking.speed = std::sqrt(sums.speed_squares / sums.readings);
    tracking.smear = std::sqrt(sums.smear_squares / sums.readings);
    tracking.outside_share = sums.outside / sums.readings;
    tracking.unresolved_share = sums.not_followed / sums.readings;
    tracking.surface_passes = surface_passes(s);
    return tracking;
}

}  // namespace

MovingSeries take_moving_series(const scenario::Scenario& s, const TakeBlock& take, const SeriesOptions& options) {
    SeriesGatherer gatherer(s.reading);
    ChangeCounter changes;
    ScanKeeper keeper(s);
    Sums sums;
    SeriesBlock block;
    for (std::int64_t first = 0; first < options.readings; first += moving_block) {
        const std::int64_t count = std::min(moving_block, options.readings - first);
        resize_block(block, first, count, s.reading.thickness_index.has_value());
        block.moment.resize(static_cast<std::size_t>(count));
        take(block);
        block.period = block.moment.front().period;
        gatherer.add(block);
        for (std::size_t i = 0; i < block.moment.size(); ++i) {
            changes.add(block.moment[i], block.validity[i]);
            sums.add(block.moment[i], s.mount.range);
        }
        keeper.add(block);
        if (options.sink) options.sink(block);
        if (options.progress) options.progress(first + count, options.readings);
    }
    MovingSeries series;
    series.statistics = gatherer.statistics();
    series.tracking = tracking_of(s, sums, gatherer.errors());
    changes.report(series.exposure);
    series.mean_period = sums.period / sums.readings;
    series.mean_exposure = sums.exposure / sums.readings;
    series.exposure.mean_rate = 1.0 / series.mean_period;
    series.exposure.min_rate = 1.0 / sums.longest_period;
    series.exposure.shortest_exposure = sums.shortest;
    series.exposure.longest_exposure = sums.longest;
    series.scan = keeper.scan();
    return series;
}

namespace {

// Readings whose exposures are known beforehand: threads share them.
class FixedReadings {
public:
    FixedReadings(const sensor::TriangulationSetup& setup, MovingScene& scene, int threads)
        : setup_(setup),
          scene_(scene),
          threads_(threads),
          timing_{setup.scenario.exposure.exposure, setup.scenario.exposure.period[0]},
          disturbance_(setup),
          buffers_(lots),
          looks_(lots) {}

    void take(SeriesBlock& block) {
        const auto count = static_cast<std::int64_t>(block.moment.size());
        const auto used = static_cast<std::size_t>((count + readings_at_once - 1) / readings_at_once);
        base::parallel_for(static_cast<std::int64_t>(used), threads_, [&](std::int64_t lot) {
            const std::int64_t first = lot * readings_at_once;
            look_at_some(first, std::min(count - first, readings_at_once), static_cast<std::size_t>(lot), block);
        });
        scene_.prepare(std::span(looks_).first(used), timing_.exposure, threads_);
        base::parallel_for(static_cast<std::int64_t>(used), threads_, [&](std::int64_t lot) {
            const std::int64_t end = std::min((lot + 1) * readings_at_once, count);
            for (std::int64_t i = lot * readings_at_once; i < end; i += MovingScene::frames_at_once) {
                take_some(i, std::min(end - i, MovingScene::frames_at_once), static_cast<std::size_t>(lot), block);
            }
        });
    }

private:
    static constexpr auto readings_at_once = static_cast<std::int64_t>(ExposureDivider::Together::most);
    static constexpr std::size_t lots = moving_block / readings_at_once;

    // Readings of a lot that share counters of random numbers.
    void take_some(std::int64_t first, std::int64_t count, std::size_t lot, SeriesBlock& block) {
        MovingScene::Buffers& buffers = buffers_[lot];
        const auto some = static_cast<std::size_t>(count);
        std::array<const sensor::Pose*, MovingScene::frames_at_once> poses{};
        std::array<sensor::RawReading, MovingScene::frames_at_once> readings;
        for (std::size_t k = 0; k < some; ++k) {
            const std::size_t of_lot = static_cast<std::size_t>(first % readings_at_once) + k;
            buffers.flicker = scene_.flicker_of(block.moment[static_cast<std::size_t>(first) + k]);
            poses[k] = &scene_.pose_of(looks_[lot].of(of_lot), timing_, buffers, k);
        }
        take_own_readings(setup_, std::span(poses).first(some), block.first + first, buffers.reading,
                          std::span(readings).first(some));
        for (std::size_t k = 0; k < some; ++k) {
            const Moment& moment = block.moment[static_cast<std::size_t>(first) + k];
            disturbance_.add_to(readings[k], moment.time - 0.5 * moment.exposure, moment.exposure);
            put_reading(readings[k], static_cast<std::size_t>(first) + k, block);
        }
    }

    void look_at_some(std::int64_t first, std::int64_t count, std::size_t lot, SeriesBlock& block) {
        std::array<double, readings_at_once> begins{};
        const auto some = static_cast<std::size_t>(count);
        for (std::size_t i = 0; i < some; ++i) {
            begins[i] = static_cast<double>(block.first + first + static_cast<std::int64_t>(i)) * timing_.period;
        }
        looks_[lot].clear();
        scene_.look(std::span(begins).first(some), timing_, buffers_[lot], looks_[lot],
                    std::span(block.moment).subspan(static_cast<std::size_t>(first), some));
    }

    const sensor::TriangulationSetup& setup_;
    MovingScene& scene_;
    int threads_;
    detector::Timing timing_;
    Disturbance disturbance_;
    std::vector<MovingScene::Buffers> buffers_;  // of lots, since threads come and go
    std::vector<MovingScene::Looks> looks_;
};

// Readings one by one: each sets the exposure of a later one.
class ControlledReadings {
public:
    ControlledReadings(const sensor::TriangulationSetup& setup, MovingScene& scene, int threads)
        : setup_(setup),
          scene_(scene),
          threads_(threads),
          controller_(setup.scenario.exposure, setup.scenario.detector.full_well,
                      scene.settled_timing(threads).exposure),
          disturbance_(setup) {}

    void take(SeriesBlock& block) {
        const double full_well = setup_.scenario.detector.full_well;
        std::vector<MovingScene::Looks> looks(1);
        for (std::size_t i = 0; i < block.moment.size(); ++i) {
            const detector::Timing timing = controller_.timing();
            looks.front().clear();
            scene_.look(begin_, timing.exposure, buffers_.division, looks.front());
            block.moment[i] = scene_.moment_of(begin_, timing, buffers_.division);
            scene_.prepare(looks, timing.exposure, threads_);
            buffers_.flicker = scene_.flicker_of(block.moment[i]);
            const sensor::Pose& pose = scene_.pose_of(looks.front().of(0), timing, buffers_);
            sensor::RawReading raw =
                take_reading(setup_, pose, block.first + static_cast<std::int64_t>(i), buffers_.reading);
            disturbance_.add_to(raw, begin_, timing.exposure);
            put_reading(raw, i, block);
            controller_.answer(raw.validity == Validity::saturated ? full_well : static_cast<double>(raw.peak));
            begin_ += timing.period;
        }
    }

private:
    const sensor::TriangulationSetup& setup_;
    MovingScene& scene_;
    int threads_;
    detector::ExposureController controller_;
    Disturbance disturbance_;
    MovingScene::Buffers buffers_;
    double begin_ = 0.0;  // of the next exposure. [s]
};

}  // namespace

MovingSeries take_moving_series(const sensor::TriangulationSetup& setup, const SeriesOptions& options) {
    const scenario::Scenario& s = setup.scenario;
    const bool fixed = s.exposure.mode == scenario::ExposureMode::fixed;
    const double longest = fixed ? s.exposure.period[0] : std::max(s.exposure.period[0], s.exposure.period[1]);
    MovingScene scene(setup, static_cast<double>(options.readings) * longest);
    if (fixed) {
        FixedReadings readings(setup, scene, options.threads);
        return take_moving_series(
            s, [&](SeriesBlock& block) { readings.take(block); }, options);
    }
    ControlledReadings readings(setup, scene, options.threads);
    return take_moving_series(
        s, [&](SeriesBlock& block) { readings.take(block); }, options);
}

}  // namespace spotwright::measure
