#include "sim/study/shortlist_setup.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/reading/smoothing.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::study {

namespace {

using base::degree, base::mm, base::us;
using scenario::Scenario;

// Numbers that a user may set a key to, ascending; bounds give both ends; nothing offered, what the sensor has.
std::vector<double> offered_numbers(const Scenario& sensor, std::string_view key, double as_delivered) {
    const scenario::Offer* offer = scenario::offer_of(sensor, key);
    if (offer == nullptr) return {as_delivered};
    std::vector<double> numbers = offer->values;
    if (offer->bounds) numbers.assign(offer->bounds->begin(), offer->bounds->end());
    if (numbers.empty()) return {as_delivered};
    std::sort(numbers.begin(), numbers.end());
    return numbers;
}

bool offers_word(const Scenario& sensor, std::string_view key, std::string_view word) {
    const scenario::Offer* offer = scenario::offer_of(sensor, key);
    return offer != nullptr && std::find(offer->words.begin(), offer->words.end(), word) != offer->words.end();
}

std::int64_t fewest_readings(const Scenario& sensor) {
    const auto fewest = [&sensor](std::string_view key, std::int64_t as_delivered) {
        return static_cast<std::int64_t>(offered_numbers(sensor, key, static_cast<double>(as_delivered)).front());
    };
    scenario::Reading reading = sensor.reading;
    reading.average = fewest("reading.average", reading.average);
    reading.median = fewest("reading.median", reading.median);
    return reading::step_response_readings(reading);
}

// Shortest and longest period that a user may set, the longest within the response. [us]
scenario::Pair periods_in_time(const scenario::Job& job, const Scenario& sensor) {
    const std::vector<double> offered = offered_numbers(sensor, "exposure.period_us", sensor.exposure.period[1] / us);
    const scenario::Offer* offer = scenario::offer_of(sensor, "exposure.period_us");
    const double shortest = offer == nullptr ? sensor.exposure.period[0] / us : offered.front();
    constexpr double rounding = 1.0 + 1e-9;
    const double most = required_response(job) / static_cast<double>(fewest_readings(sensor)) / us * rounding;
    double longest = shortest;
    for (const double period : offered) {
        if (period <= most) longest = std::max(longest, period);
    }
    if (offer != nullptr && offer->bounds && offered.back() > most) longest = std::max(longest, std::floor(most));
    return {shortest, longest};
}

bool may_shine(const scenario::Job& job) {
    return std::any_of(job.parts.begin(), job.parts.end(),
                       [](const scenario::JobPart& part) { return part.scenario.target.made_of.index.has_value(); });
}

std::string mm_text(double length) {
    return fmt::format("{:.5g}", length / mm);
}

}  // namespace

std::string_view name_of(Shortfall shortfall) {
    switch (shortfall) {
        case Shortfall::distance:
            return "distance";
        case Shortfall::span:
            return "span";
        case Shortfall::response:
            return "response";
        case Shortfall::light:
            return "light";
        case Shortfall::spot:
            return "spot";
        case Shortfall::speckle:
            return "speckle";
        case Shortfall::error:
            return "error";
        case Shortfall::readings:
            return "readings";
        case Shortfall::other:
            return "other";
    }
    return "other";
}

std::string sensor_reference(const Scenario& sensor) {
    if (!sensor.sensor.ends_with(".toml")) return sensor.sensor;
    const std::filesystem::path beside = std::filesystem::path(sensor.file).parent_path() / sensor.sensor;
    return std::filesystem::absolute(beside).lexically_normal().string();
}

std::vector<SensorSetup> possible_mounts(const scenario::Job& job, const Scenario& sensor) {
    const bool array = scenario::abilities_of(sensor.principle).array;
    // Half way between beam and receiver: there a mirror sends one into the other.
    const double between = 0.5 * (sensor.emitter.angle + sensor.receiver.angle);
    constexpr double same = 1e-6;
    SensorSetup delivered;
    delivered.specular = array && std::abs(between) < same;
    std::vector<SensorSetup> mounts{delivered};
    if (array && !delivered.specular && may_shine(job)) {
        SensorSetup tilted;
        tilted.tilt = -between;
        tilted.specular = true;
        mounts.push_back(tilted);
    }
    return mounts;
}

double front_clearance(const Scenario& s, double tilt) {
    const double face = s.mount.reference_distance * std::sin(s.emitter.angle);
    const double height = s.mount.reference_distance * std::cos(s.emitter.angle);
    const double start = face - s.housing.beam_position;
    scenario::Pair ends{start, start + s.housing.width};
    if (s.housing.width <= 0.0) {
        const double lens = s.receiver.distance * std::sin(s.receiver.angle);
        ends = {face, std::max(face, lens + 0.5 * s.receiver.aperture.in_plane)};
    }
    const auto above = [&](double x) { return height * std::cos(tilt) - x * std::sin(tilt); };
    return std::min(above(ends[0]), above(ends[1]));
}

std::optional<Shortcoming> place_sensor(const scenario::Job& job, const Scenario& s, SensorSetup& setup) {
    const double scale = std::cos(setup.tilt);  // the part's way is longer along the tilted beam
    const auto [near, far] = s.mount.range;
    const double span = (far - near) * scale;
    if (job.span > span) {
        return Shortcoming{Shortfall::span, job.span / span,
                           fmt::format("a span of {} mm where {} mm are asked for", mm_text(span), mm_text(job.span))};
    }
    const double half = 0.5 * job.span;
    const double front = front_clearance(s, setup.tilt);
    const double least = std::max(near * scale + half, job.clearance[0] + half - front);
    const double most = std::min(far * scale - half, job.clearance[1] - half - front);
    if (least > most) {
        const scenario::Pair reach{front + near * scale, front + far * scale};
        const bool too_near = reach[1] - half < job.clearance[0] + half;
        const double factor =
            too_near ? (job.clearance[0] + job.span) / reach[1] : (reach[0] + job.span) / job.clearance[1];
        return Shortcoming{
            Shortfall::distance, std::max(1.0, factor),
            fmt::format("reads {} to {} mm in front of it, the machine allows {} to {} mm", mm_text(reach[0]),
                        mm_text(reach[1]), mm_text(job.clearance[0]), mm_text(job.clearance[1]))};
    }
    setup.displacement = std::clamp(0.0, least, most);
    setup.clearance = front + setup.displacement;
    return std::nullopt;
}

double required_response(const scenario::Job& job) {
    double response = job.parts.front().scenario.requirement.response;
    for (const scenario::JobPart& part : job.parts) response = std::min(response, part.scenario.requirement.response);
    return response;
}

double shortest_response(const Scenario& s) {
    const double period = offered_numbers(s, "exposure.period_us", s.exposure.period[0] / us).front() * us;
    return static_cast<double>(fewest_readings(s)) * period;
}

std::optional<Shortcoming> response_short(const scenario::Job& job, const Scenario& sensor) {
    const double shortest = shortest_response(sensor);
    const double required = required_response(job);
    constexpr double rounding = 1.0 + 1e-9;
    if (shortest <= required * rounding) return std::nullopt;
    return Shortcoming{Shortfall::response, shortest / required,
                       fmt::format("answers after {:.4g} ms at best, {:.4g} ms are asked for", shortest / base::ms,
                                   required / base::ms)};
}

std::optional<double> brightest_share_bound(const Scenario& s, double displacement, double longest_exposure) {
    const scenario::Target& t = s.target;
    const bool matt = !t.made_of.index && !t.made_of.volume && !t.made_of.layer &&
                      t.shape == scenario::ShapeKind::plane && !scenario::has_markings(t) &&
                      t.segments.made_of.empty() && t.tilt == scenario::Pair{0.0, 0.0};
    if (!matt || !scenario::abilities_of(s.principle).array) return std::nullopt;
    const receiver::Receiver r = sensor::receiver_of(s);
    const emitter::Beam beam = sensor::beam_of(s);
    const target::Surface surface = sensor::surface_of(s);
    const target::Part part = sensor::part_of(s, displacement);
    const auto hit = target::meet(part, {beam.face, beam.direction});
    if (!hit) return std::nullopt;
    const Eigen::Vector3d lit = beam.face + hit->distance * beam.direction;
    const Eigen::Vector3d way = receiver::aperture_point(r, 0.0, 0.0) - lit;
    const Eigen::Vector3d to_view = way.normalized();
    const double facing = std::max(0.0, hit->normal.dot(to_view));
    const double opening = receiver::area_of(r.aperture) / way.squaredNorm();
    const double power = s.emitter.power * r.transmission *
                         target::scatter(surface, -beam.direction, to_view, hit->normal) * facing * opening;
    const double rate = power * s.detector.quantum_efficiency / base::photon_energy(s.emitter.wavelength);
    // Width of the imaged beam, from the image of a step to its side.
    const double radius = emitter::radius_at(beam, 0, hit->distance);
    const auto image = [&](double side) {
        return receiver::trace(r, receiver::to_receiver(r, lit + Eigen::Vector3d(side, 0.0, 0.0)), 0.0, 0.0);
    };
    const auto here = image(0.0);
    const auto beside = image(radius);
    if (!here || !beside) return std::nullopt;
    const double width = std::abs(beside->u - here->u);
    const double on_a_pixel = std::min(1.0, r.pitch * std::sqrt(2.0 / base::pi) / width);
    return rate * on_a_pixel * longest_exposure / s.detector.full_well;
}

std::optional<Shortcoming> light_short(const scenario::Job& job, const Scenario& sensor, const SensorSetup& setup) {
    // Speckle and the uncertainty of pose may make single readings brighter than the smooth image.
    constexpr double room = 2.0;
    const double longest = periods_in_time(job, sensor)[1] * us;
    for (const scenario::JobPart& part : job.parts) {
        const Scenario s = before_part(part, sensor, setup);
        const auto share = brightest_share_bound(s, setup.displacement, longest);
        if (!share || room * *share >= s.reading.threshold) continue;
        return Shortcoming{Shortfall::light, s.reading.threshold / *share,
                           fmt::format("too dark by a factor of {:.2g} on {}", s.reading.threshold / *share,
                                       base::printable(part.title))};
    }
    return std::nullopt;
}

std::vector<std::string> open_settings(const scenario::Job& job, const Scenario& sensor) {
    std::vector<std::string> settings;
    if (scenario::abilities_of(sensor.principle).exposure) {
        if (offers_word(sensor, "exposure.mode", "automatic")) settings.emplace_back("exposure.mode=automatic");
        if (scenario::offer_of(sensor, "exposure.exposure_us") != nullptr) {
            const double shortest = offered_numbers(sensor, "exposure.exposure_us", 0.0).front();
            settings.push_back(fmt::format("exposure.exposure_us={:.6g}", shortest));
        }
    }
    if (scenario::offer_of(sensor, "exposure.period_us") != nullptr) {
        const scenario::Pair periods = periods_in_time(job, sensor);
        settings.push_back(fmt::format("exposure.period_us=[{:.6g}, {:.6g}]", periods[0], periods[1]));
    }
    return settings;
}

std::vector<std::int64_t> averages_in_time(const scenario::Job& job, const Scenario& sensor, double period) {
    // Noise of so many readings is below a tenth of that of one; more would only make everything else show.
    constexpr std::int64_t enough = 128;
    constexpr double rounding = 1.0 + 1e-9;
    const scenario::Offer* offer = scenario::offer_of(sensor, "reading.average");
    std::vector<std::int64_t> averages;
    const auto consider = [&](std::int64_t count) {
        scenario::Reading reading = sensor.reading;
        reading.average = count;
        const double response = static_cast<double>(reading::step_response_readings(reading)) * period;
        if (count <= enough && response <= required_response(job) * rounding) averages.push_back(count);
    };
    if (offer == nullptr) {
        consider(sensor.reading.average);
    } else if (offer->bounds) {
        for (std::int64_t count = enough; count >= 1; count /= 2) {
            const auto number = static_cast<double>(count);
            if (number >= (*offer->bounds)[0] && number <= (*offer->bounds)[1]) consider(count);
        }
    } else {
        for (const double value : offer->values) consider(static_cast<std::int64_t>(value));
    }
    std::sort(averages.rbegin(), averages.rend());
    return averages;
}

Scenario before_part(const scenario::JobPart& part, const Scenario& sensor, const SensorSetup& setup) {
    std::vector<std::string> settings{"sensor=" + scenario::toml_string(sensor_reference(sensor)),
                                      fmt::format("mount.tilt_deg=[{:.9g}, 0]", setup.tilt / degree)};
    settings.insert(settings.end(), setup.settings.begin(), setup.settings.end());
    Scenario s = scenario::with_settings(part.scenario, settings);
    s.target.displacement = setup.displacement;
    return s;
}

std::optional<double> smallest_feature(const scenario::Target& t) {
    using scenario::ShapeKind;
    switch (t.shape) {
        case ShapeKind::post:
            return std::min(t.post.width[0], t.post.width[1]);
        case ShapeKind::cylinder:
            return 2.0 * t.cylinder.radius;
        case ShapeKind::sphere:
            return 2.0 * t.sphere.radius;
        case ShapeKind::groove:
            return 2.0 * t.groove.depth * std::tan(0.5 * t.groove.opening);
        case ShapeKind::wave:
            return 0.5 * t.wave.period;
        case ShapeKind::plane:
        case ShapeKind::step:
        case ShapeKind::relief:
        case ShapeKind::plate:
            break;
    }
    if (t.segments.length.empty()) return std::nullopt;
    return *std::min_element(t.segments.length.begin(), t.segments.length.end());
}

}  // namespace spotwright::study
