#include "sim/study/shortlist.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/measure/motion.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/sensor/turned.hpp"
#include "sim/sensor/speckle.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/study/shortlist_conclude.hpp"

namespace spotwright::study {

namespace {

using base::degree;
using scenario::Scenario;

std::string problem_text(const base::ScenarioError& error) {
    if (error.problems().empty()) return error.what();
    const base::Problem& problem = error.problems().front();
    return problem.location.key.empty() ? problem.message
                                        : fmt::format("{}: {}", problem.location.key, problem.message);
}

// What the image alone says of a setup at all poses.
struct Survey {
    SensorSetup setup;
    std::vector<NoiselessReading> readings;  // one for each pose
    std::size_t readable = 0;
    double largest_error = 0.0;   // of those that can be read, scale of the tilted sensor taken off. [m]
    double longest_period = 0.0;  // [s]
    std::optional<Shortcoming> hopeless;
};

class Judge {
public:
    Judge(const scenario::Job& job, const Scenario& sensor, const ShortlistOptions& options)
        : job_(job), sensor_(sensor), options_(options) {
        ranked_.sensor = sensor::summary_of(sensor);
        ranked_.reference = sensor_reference(sensor);
    }

    RankedSensor judge();

private:
    [[nodiscard]] std::vector<SensorSetup> placed_mounts();
    [[nodiscard]] std::vector<JobPose> poses_of(const SensorSetup& setup) const;
    [[nodiscard]] Scenario scenario_at(const SensorSetup& setup, const JobPose& pose) const;
    [[nodiscard]] sensor::Setup set_up(const Scenario& scenario);
    [[nodiscard]] double known_scale_error(const SensorSetup& setup, double displacement) const;
    [[nodiscard]] std::vector<SensorSetup> candidates();
    [[nodiscard]] Survey survey(SensorSetup setup);
    [[nodiscard]] std::optional<Shortcoming> hopeless_image(const Scenario& s, const NoiselessReading& reading,
                                                            std::size_t part) const;
    [[nodiscard]] std::optional<Shortcoming> speckle_short(const sensor::Setup& setup, std::size_t part) const;
    [[nodiscard]] Outcome outcome_at(const SensorSetup& setup, const JobPose& pose);
    [[nodiscard]] SensorSetup best_of(const std::vector<Survey>& surveys);
    [[nodiscard]] std::vector<SensorSetup> averaged(const Survey& survey) const;
    [[nodiscard]] double error_in_middle(const SensorSetup& setup, double least);
    [[nodiscard]] Outcome known_outcome_at(const SensorSetup& setup, const JobPose& pose);
    void compute();

    const scenario::Job& job_;
    const Scenario& sensor_;
    const ShortlistOptions& options_;
    RankedSensor ranked_;
    std::optional<sensor::Setup> built_;  // the last one, whose instrument is used again
    // Outcomes in the middle of the span, by which setups were compared.
    struct MiddleOutcome {
        SensorSetup setup;
        std::size_t part = 0;
        Outcome outcome;
    };
    std::vector<MiddleOutcome> middles_;
};

std::vector<JobPose> Judge::poses_of(const SensorSetup& setup) const {
    std::vector<JobPose> poses;
    const double half = 0.5 * job_.span;
    for (std::size_t part = 0; part < job_.parts.size(); ++part) {
        const scenario::Pair tilt = job_.parts[part].scenario.target.tilt;
        const double middle = setup.displacement;
        poses.push_back({part, "middle", middle, tilt, {}});
        poses.push_back({part, "near end", middle - half, tilt, {}});
        poses.push_back({part, "far end", middle + half, tilt, {}});
        for (std::size_t axis = 0; axis < 2; ++axis) {
            const double by = job_.parts[part].tilt_range.at(axis);
            for (const double side : {1.0, -1.0}) {
                if (by <= 0.0) continue;
                scenario::Pair tilted = tilt;
                tilted.at(axis) += side * by;
                poses.push_back({part,
                                 fmt::format("tilted by {:+.3g} deg {}", side * by / degree,
                                             axis == 0 ? "in plane" : "out of plane"),
                                 middle,
                                 tilted,
                                 {}});
            }
        }
    }
    return poses;
}

Scenario Judge::scenario_at(const SensorSetup& setup, const JobPose& pose) const {
    Scenario s = before_part(job_.parts[pose.part], sensor_, setup);
    s.target.displacement = pose.displacement;
    s.target.tilt = pose.tilt;
    return s;
}

sensor::Setup Judge::set_up(const Scenario& s) {
    built_ = built_ ? sensor::set_up(*built_, s, 1) : sensor::set_up(s, 1);
    return *built_;
}

// A tilted sensor measures along its beam: its readings are too long by this, which its user knows and divides out.
double Judge::known_scale_error(const SensorSetup& setup, double displacement) const {
    return sensor::excess_of_turned({setup.tilt, 0.0}, displacement);
}

std::vector<SensorSetup> Judge::placed_mounts() {
    std::vector<SensorSetup> mounts;
    for (SensorSetup& mount : possible_mounts(job_, sensor_)) {
        if (const auto shortcoming = place_sensor(job_, sensor_, mount)) {
            // Said of the mount as delivered, which comes first.
            if (ranked_.shortcomings.empty()) {
                ranked_.shortcomings = {*shortcoming};
                ranked_.setup = mount;
            }
            continue;
        }
        mounts.push_back(mount);
    }
    if (!mounts.empty()) ranked_.shortcomings.clear();
    return mounts;
}

// Mountings and choices of the peak, as far as closed forms leave them in.
std::vector<SensorSetup> Judge::candidates() {
    std::vector<SensorSetup> mounts = placed_mounts();
    if (mounts.empty()) return {};
    if (const auto slow = response_short(job_, sensor_)) {
        ranked_.shortcomings = {*slow};
        ranked_.setup = mounts.front();
        return {};
    }
    const auto has_faces = [](const scenario::JobPart& part) {
        return part.scenario.target.shape == scenario::ShapeKind::plate || part.scenario.target.made_of.volume;
    };
    const bool faces = std::any_of(job_.parts.begin(), job_.parts.end(), has_faces);
    const scenario::Offer* choose = scenario::offer_of(sensor_, "reading.choose");
    const auto can_choose_nearest = [&] {
        return choose != nullptr &&
               std::find(choose->words.begin(), choose->words.end(), "nearest") != choose->words.end();
    };
    std::vector<SensorSetup> all;
    for (SensorSetup& mount : mounts) {
        if (options_.closed_forms) {
            if (const auto dark = light_short(job_, sensor_, mount)) {
                ranked_.setup = mount;
                ranked_.shortcomings = {*dark};
                continue;
            }
        }
        mount.settings = open_settings(job_, sensor_);
        all.push_back(mount);
        if (!faces || !can_choose_nearest()) continue;
        all.push_back(mount);
        all.back().settings.emplace_back("reading.choose=nearest");
    }
    if (!all.empty()) ranked_.shortcomings.clear();
    return all;
}

// So dark or so bright that no patch of speckle and no uncertainty of the pose makes up for it.
std::optional<Shortcoming> Judge::hopeless_image(const Scenario& s, const NoiselessReading& reading,
                                                 std::size_t part) const {
    constexpr double room = 4.0;
    if (!scenario::abilities_of(s.principle).array || measure::is_moving_series(s)) return std::nullopt;
    const double dark = s.reading.threshold / std::max(reading.peak_share, 1e-12);
    const std::string title = base::printable(job_.parts[part].title);
    if (dark > room) {
        const std::string factor = dark > 1e6 ? "more than a million" : fmt::format("{:.2g}", dark);
        return Shortcoming{Shortfall::light, dark, fmt::format("too dark by a factor of {} on {}", factor, title)};
    }
    if (reading.peak_share > room) {
        return Shortcoming{Shortfall::light, reading.peak_share,
                           fmt::format("too bright on {}: the shortest exposure fills the pixels {:.2g} times", title,
                                       reading.peak_share)};
    }
    return std::nullopt;
}

// Half of the closed form, which holds for round spots with all of their light read, bounds matt parts from below.
std::optional<Shortcoming> Judge::speckle_short(const sensor::Setup& setup, std::size_t part) const {
    const auto* array = std::get_if<sensor::TriangulationSetup>(&setup);
    if (array == nullptr) return std::nullopt;
    const Scenario& s = array->scenario;
    const bool matt = !s.target.made_of.index && !s.target.made_of.volume && !measure::is_moving_series(s);
    const sensor::Pose pose = make_pose(*array, s.target.displacement, 1);
    if (!matt || s.run.speckle == scenario::SpeckleModel::off) return std::nullopt;
    const auto speckle = make_speckle(*array, s.target.displacement, pose.profile);
    if (!speckle) return std::nullopt;
    const auto [in_plane, out_of_plane] = s.emitter.waist_radius;
    const double slender = std::min(1.0, std::sqrt(in_plane / out_of_plane));
    const double limit = sensor::speckle_limit_at(array->instrument.receiver, s.emitter.wavelength,
                                                  s.target.displacement, speckle->field.pattern_contrast);
    constexpr double certain = 0.5;
    const double least = 2.0 * certain * slender * limit;
    if (least <= s.requirement.tolerance) return std::nullopt;
    return Shortcoming{Shortfall::speckle, least / s.requirement.tolerance,
                       fmt::format("speckle of {} alone leaves {} or more, and the tolerance is +-{}",
                                   base::printable(job_.parts[part].title), base::uncertainty_text(least),
                                   base::length_text(s.requirement.tolerance, 3))};
}

Survey Judge::survey(SensorSetup setup) {
    Survey result;
    result.setup = std::move(setup);
    for (const JobPose& pose : poses_of(result.setup)) {
        const sensor::Setup at_pose = set_up(scenario_at(result.setup, pose));
        const NoiselessReading reading = noiseless_reading_of(at_pose);
        result.readings.push_back(reading);
        result.longest_period = std::max(result.longest_period, reading.timing.period);
        if (reading.error) {
            ++result.readable;
            const double error = *reading.error - known_scale_error(result.setup, pose.displacement);
            result.largest_error = std::max(result.largest_error, std::abs(error));
        }
        if (result.hopeless || !options_.closed_forms) continue;
        result.hopeless = hopeless_image(scenario_of(at_pose), reading, pose.part);
        if (!result.hopeless && pose.words == "middle") result.hopeless = speckle_short(at_pose, pose.part);
    }
    return result;
}

Outcome Judge::outcome_at(const SensorSetup& setup, const JobPose& pose) {
    SensorSetup quick = setup;
    const std::vector<std::string> effort =
        effort_settings(before_part(job_.parts[pose.part], sensor_, setup), Effort::ranking);
    quick.settings.insert(quick.settings.end(), effort.begin(), effort.end());
    try {
        return outcome_of(set_up(scenario_at(quick, pose)), 1, known_scale_error(setup, pose.displacement));
    } catch (const base::ScenarioError& error) {
        Outcome outcome;
        outcome.obstacle = problem_text(error);
        outcome.largest = outcome.obstacle;
        return outcome;
    }
}

// The longest averages that answer in time; where the part moves, shorter ones too, which follow it sooner.
std::vector<SensorSetup> Judge::averaged(const Survey& survey) const {
    const std::vector<std::int64_t> averages = averages_in_time(job_, sensor_, survey.longest_period);
    const bool moves = std::any_of(job_.parts.begin(), job_.parts.end(), [](const scenario::JobPart& part) {
        return measure::is_moving_series(part.scenario);
    });
    std::vector<std::int64_t> tried;
    if (!averages.empty()) tried.push_back(averages.front());
    if (moves && averages.size() > 2) tried.push_back(averages[averages.size() / 2]);
    if (moves && averages.size() > 1) tried.push_back(averages.back());
    std::vector<SensorSetup> setups;
    for (const std::int64_t average : tried) {
        setups.push_back(survey.setup);
        if (scenario::offer_of(sensor_, "reading.average") != nullptr) {
            setups.back().settings.push_back(fmt::format("reading.average={}", average));
        }
        const std::int64_t windows = 8 * (average + sensor_.reading.median);
        const bool few = std::any_of(job_.parts.begin(), job_.parts.end(), [windows](const scenario::JobPart& part) {
            return part.scenario.run.readings < windows;
        });
        if (few) setups.back().settings.push_back(fmt::format("run.readings={}", windows));
    }
    if (setups.empty()) setups.push_back(survey.setup);
    return setups;
}

// The largest of error over allowed error in the middle of the span, over all parts; infinite where one is not read.
// @param least  Of the setups before: what reaches it is no better, and the rest of its parts do not matter.
double Judge::error_in_middle(const SensorSetup& setup, double least) {
    double worst = 0.0;
    for (const JobPose& pose : poses_of(setup)) {
        if (pose.words != "middle") continue;
        if (worst >= least) break;
        middles_.push_back({setup, pose.part, outcome_at(setup, pose)});
        const Outcome& outcome = middles_.back().outcome;
        if (!outcome.expanded_uncertainty) return std::numeric_limits<double>::infinity();
        const double allowed = allowed_error(job_.parts[pose.part].scenario.requirement);
        worst = std::max(worst, *outcome.expanded_uncertainty / allowed);
    }
    return worst;
}

// Most poses read first; where that does not decide, the smallest error in the middle of the span.
SensorSetup Judge::best_of(const std::vector<Survey>& surveys) {
    std::size_t most = 0;
    for (const Survey& each : surveys) most = std::max(most, each.readable);
    std::vector<SensorSetup> finalists;
    for (const Survey& each : surveys) {
        if (each.readable < most) continue;
        const std::vector<SensorSetup> setups = averaged(each);
        finalists.insert(finalists.end(), setups.begin(), setups.end());
    }
    std::size_t best = 0;
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; finalists.size() > 1 && i < finalists.size(); ++i) {
        const double error = error_in_middle(finalists[i], least);
        if (error < least) {
            least = error;
            best = i;
        }
    }
    return finalists[best];
}

Outcome Judge::known_outcome_at(const SensorSetup& setup, const JobPose& pose) {
    const auto known = std::find_if(middles_.begin(), middles_.end(), [&](const MiddleOutcome& each) {
        return pose.words == "middle" && each.part == pose.part && each.setup == setup;
    });
    return known != middles_.end() ? known->outcome : outcome_at(setup, pose);
}

void Judge::compute() {
    ranked_.computed = true;
    ranked_.poses = poses_of(ranked_.setup);
    for (JobPose& pose : ranked_.poses) {
        pose.outcome = known_outcome_at(ranked_.setup, pose);
        // A sensor that cannot read one pose at all is out; how well it reads the rest does not matter.
        if (!pose.outcome->expanded_uncertainty) break;
    }
    conclude(job_, sensor_, ranked_);
}

RankedSensor Judge::judge() {
    try {
        std::vector<Survey> surveys;
        std::optional<Shortcoming> hopeless;
        for (SensorSetup& setup : candidates()) {
            Survey each = survey(setup);
            if (each.hopeless && (!hopeless || each.hopeless->factor < hopeless->factor)) {
                hopeless = each.hopeless;
                ranked_.setup = each.setup;
            }
            if (!each.hopeless) surveys.push_back(std::move(each));
        }
        if (!surveys.empty()) {
            ranked_.shortcomings.clear();
            ranked_.setup = best_of(surveys);
            compute();
        } else if (hopeless) {
            ranked_.shortcomings = {*hopeless};
        }
    } catch (const base::ScenarioError& error) {
        ranked_.shortcomings = {{Shortfall::other, 0.0, problem_text(error)}};
    }
    return std::move(ranked_);
}

}  // namespace

RankedSensor judge_sensor(const scenario::Job& job, const Scenario& sensor, const ShortlistOptions& options) {
    return Judge(job, sensor, options).judge();
}

}  // namespace spotwright::study
