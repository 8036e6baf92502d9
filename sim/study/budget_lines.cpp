#include "sim/measure/inside_error.hpp"
#include "sim/study/budget_lines.hpp"

#include <boost/math/statistics/univariate_statistics.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/quadrature.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/measure/motion.hpp"
#include "sim/study/budget_around.hpp"
#include "sim/study/budget_motion.hpp"
#include "sim/study/line_maker.hpp"
#include "sim/study/specimens.hpp"

namespace spotwright::study {

namespace {

// A node between -1 and 1 of an unknown input, and its weight.
struct Weighted {
    double place;
    double share;
};

// Gauss-Legendre: moments of a smooth error over a uniform doubt.
std::vector<Weighted> smooth_places() {
    std::vector<base::QuadratureNode> nodes;
    base::add_gauss_nodes<5>(-1.0, 1.0, nodes);
    std::vector<Weighted> places;
    for (const base::QuadratureNode& node : nodes) places.push_back({node.at, 0.5 * node.weight});
    return places;
}

// Even steps: for an error that wriggles with the phase of the spot within a pixel.
std::vector<Weighted> even_places(int count) {
    std::vector<Weighted> places;
    for (int i = 0; i < count; ++i) {
        places.push_back({(2.0 * i + 1.0) / count - 1.0, 1.0 / count});
    }
    return places;
}

}  // namespace

// Mean and standard deviation of the error over weighted draws.
ErrorMoments LineMaker::over(const std::vector<std::pair<Draw, double>>& draws, const std::string& key,
                             const std::string& what) const {
    std::vector<std::optional<double>> errors(draws.size());
    base::parallel_for(static_cast<std::int64_t>(draws.size()), threads_, [&](std::int64_t i) {
        const auto k = static_cast<std::size_t>(i);
        errors[k] = model_.error_at(draws[k].first);
    });
    ErrorMoments moments;
    for (std::size_t i = 0; i < draws.size(); ++i) {
        if (!errors[i]) {
            scenario::reject(s_, key, fmt::format("within this doubt the part cannot be read: {}", what),
                             "a doubt within which the part gives valid readings, or another mounting",
                             "`spotwright read` of that pose says why");
        }
        moments.mean += draws[i].second * *errors[i];
    }
    double variance = 0.0;
    for (std::size_t i = 0; i < draws.size(); ++i) {
        variance += draws[i].second * (*errors[i] - moments.mean) * (*errors[i] - moments.mean);
    }
    moments.deviation = std::sqrt(variance);
    return moments;
}

void LineMaker::add_speckle() {
    if (!model_.speckles()) return;
    const std::int64_t patches = s_.run.patches;
    std::vector<double> errors(static_cast<std::size_t>(patches), std::numeric_limits<double>::quiet_NaN());
    constexpr std::int64_t chunk = 32;
    base::parallel_for((patches + chunk - 1) / chunk, threads_, [&](std::int64_t part) {
        std::vector<Realisation> chances;
        for (std::int64_t i = part * chunk; i < std::min(patches, (part + 1) * chunk); ++i) {
            chances.push_back({i + 1, std::nullopt});
        }
        const auto found = model_.errors_at(nominal_, chances);
        for (std::size_t k = 0; k < found.size(); ++k) {
            if (found[k]) errors[static_cast<std::size_t>(part * chunk) + k] = *found[k];
        }
    });
    errors.erase(std::remove_if(errors.begin(), errors.end(), [](double e) { return std::isnan(e); }), errors.end());
    if (errors.size() < 2) return;
    const auto [mean, variance] = boost::math::statistics::mean_and_sample_variance(errors);
    const auto count = static_cast<double>(errors.size());
    // A mean that the patches' own scatter explains is no bias.
    constexpr double standard_errors_of_chance = 3.0;
    const double shift = mean - base_;
    const bool is_bias = std::abs(shift) > standard_errors_of_chance * std::sqrt(variance / count);
    add(Cause::patches, Evaluation::a, {is_bias ? shift : 0.0, std::sqrt(variance)}, count - 1.0,
        fmt::format("{} patches of the surface", errors.size()));
}

void LineMaker::add_part() {
    constexpr int places = 17;
    std::vector<std::pair<Draw, double>> draws;
    for (const auto& [place, share] : even_places(s_.uncertainty.displacement > 0.0 ? places : 1)) {
        Draw draw = nominal_;
        draw.displacement += place * s_.uncertainty.displacement;
        draws.emplace_back(draw, share);
    }
    add(Cause::linearity, Evaluation::b,
        over(draws, "uncertainty.displacement_mm", "it leaves the range, or the light"), endless,
        fmt::format("error against the calibration at {} places within +-{}", draws.size(),
                    base::length_text(s_.uncertainty.displacement, 3)));
}

void LineMaker::add_tilt() {
    if (s_.uncertainty.tilt == 0.0) return;
    std::vector<std::pair<Draw, double>> draws;
    for (const auto& [in_plane, share] : smooth_places()) {
        for (const auto& [out_of_plane, other_share] : smooth_places()) {
            Draw draw = nominal_;
            draw.tilt[0] += in_plane * s_.uncertainty.tilt;
            draw.tilt[1] += out_of_plane * s_.uncertainty.tilt;
            draws.emplace_back(draw, share * other_share);
        }
    }
    ErrorMoments moments = over(draws, "uncertainty.tilt_deg", "its light passes beside the lens");
    moments.mean -= base_;
    add(Cause::tilt, Evaluation::b, moments, endless,
        fmt::format("rectangular, +-{:.3g} deg about each axis", s_.uncertainty.tilt / base::degree));
}

// Properties of the material differ independently of one another.
void LineMaker::add_material() {
    if (material_.empty()) return;
    ErrorMoments moments;
    double variance = 0.0;
    std::string names;
    for (const MaterialEffect& effect : material_) {
        moments.mean += effect.mean();
        variance += effect.variance();
        names += fmt::format("{}{}", names.empty() ? "" : ", ", effect.property);
    }
    moments.deviation = std::sqrt(variance);
    add(Cause::material, Evaluation::b, moments, endless,
        fmt::format("rectangular over the range of {} in the material's file", names));
}

void LineMaker::add_inside() {
    const double error = measure::inside_error_of(model_.setup());
    if (error == 0.0) return;
    add(Cause::inside, Evaluation::b, {error, 0.0}, endless,
        "reading of a plane of the material, with light inside less without; the model of this shape leaves it out");
}

// Borders leave no smooth error behind: places fill the square evenly instead, by multiples of the powers of 1 / x,
// x^3 = x + 1 (M. Roberts' generalisation of the golden ratio, from memory).
void LineMaker::add_markings() {
    if (s_.uncertainty.position == 0.0 || !scenario::has_markings(s_.target)) return;
    constexpr int places = 64;
    constexpr std::array<double, 2> steps{0.7548776662466927, 0.5698402909980532};
    std::vector<std::pair<Draw, double>> draws;
    for (int i = 0; i < places; ++i) {
        Draw draw = nominal_;
        for (std::size_t axis = 0; axis < 2; ++axis) {
            const double at = 0.5 + (i + 1) * steps[axis];
            draw.position[axis] = (2.0 * (at - std::floor(at)) - 1.0) * s_.uncertainty.position;
        }
        draws.emplace_back(draw, 1.0 / places);
    }
    ErrorMoments moments = over(draws, "uncertainty.position_mm", "its markings return too little light");
    moments.mean -= base_;
    add(Cause::markings, Evaluation::b, moments, endless,
        fmt::format("error at {} points of the surface within +-{}", places,
                    base::length_text(s_.uncertainty.position, 3)));
}

void LineMaker::add_doubt(double Draw::*what, double half_width, const Doubt& doubt) {
    if (half_width == 0.0) return;
    std::vector<std::pair<Draw, double>> draws;
    for (const auto& [place, share] : smooth_places()) {
        Draw draw = nominal_;
        draw.*what += place * half_width;
        draws.emplace_back(draw, share);
    }
    ErrorMoments moments = over(draws, doubt.key, doubt.obstacle);
    moments.mean -= base_;
    add(doubt.cause, Evaluation::b, moments, endless, doubt.basis);
}

// A reading meets the lamps at any phase of their flicker; the background was measured over many.
void LineMaker::add_flicker() {
    const double amplitude = std::abs(model_.flicker_amplitude());
    if (amplitude == 0.0) return;
    constexpr int phases = 8;
    std::vector<std::pair<Draw, double>> draws;
    for (const auto& [place, share] : even_places(phases)) {
        Draw draw = nominal_;
        draw.ambient *= 1.0 + amplitude * std::cos(0.5 * base::pi * (place + 1.0));
        draws.emplace_back(draw, share);
    }
    ErrorMoments moments = over(draws, "surroundings.flicker_depth", "the lamps fill the pixels");
    moments.mean -= base_;
    add(Cause::flicker, Evaluation::b, moments, endless,
        fmt::format("any phase of lamps that change by +-{:.3g} of their light", amplitude));
}

void LineMaker::add_surroundings() {
    const scenario::Uncertainty& u = s_.uncertainty;
    add_doubt(&Draw::ambient, u.illuminance_share,
              {Cause::ambient_change, "uncertainty.illuminance_share", "ambient light fills the pixels",
               fmt::format("rectangular, +-{:.3g} of it since the background was measured", u.illuminance_share)});
    add_flicker();
    add_doubt(&Draw::temperature, u.temperature,
              {Cause::temperature, "uncertainty.temperature_K", "the drift carries it out of the calibration",
               fmt::format("rectangular, +-{:.3g} K since zero was set", u.temperature)});
}

// Error of the outputs of a moving part, less the error of the still part. Speckle of a surface that passes has its
// line from the same series: averaging lowers it.
void LineMaker::add_motion() {
    if (!measure::is_moving_series(s_)) return;
    const MotionErrors smooth = motion_errors(model_.setup(), false, threads_);
    if (smooth.errors.empty()) {
        scenario::reject(s_, "motion", "the moving part gives no valid output: there is no error to break down",
                         "a motion within the range", "`spotwright read` says why");
    }
    const auto quiet = [](const sensor::TriangulationSetup&) { return 0.0; };
    // The series of a sensor that times light has the noise of a reading, which is the last line so far.
    const auto noisy = [this](const sensor::FlightSetup&) { return lines_.back().component.standard_uncertainty; };
    const double noise = std::visit(base::Cases{quiet, noisy}, model_.setup());
    const double variance = std::max(0.0, smooth.deviation * smooth.deviation - noise * noise);
    add(Cause::motion, Evaluation::b, {smooth.mean - base_, std::sqrt(variance)}, endless,
        fmt::format("{} outputs of a series without noise, against the truth", smooth.errors.size()));
    if (!measure::surface_passes(s_) || !model_.speckles()) return;
    const MotionErrors speckled = motion_errors(model_.setup(), true, threads_);
    const double more = speckled.deviation * speckled.deviation - smooth.deviation * smooth.deviation;
    add(Cause::patches, Evaluation::a, {0.0, std::sqrt(std::max(0.0, more))},
        std::max(1.0, static_cast<double>(speckled.errors.size()) / 2.0 - 1.0),
        fmt::format("{} outputs of a series without noise over the passing surface", speckled.errors.size()));
}

// What the series of readings has beside noise, by closed form where there is one.
void LineMaker::add_around() {
    const AroundErrors around = around_errors(model_.setup());
    if (around.disturbed.hot_air > 0.0) {
        add(Cause::hot_air, Evaluation::b, {0.0, around.disturbed.hot_air}, endless,
            fmt::format("wander in air of Cn2 {:.2g} m^-2/3, {} high", s_.surroundings.hot_air_structure,
                        base::length_text(s_.surroundings.hot_air_height, 3)));
    }
    if (around.disturbed.mount > 0.0) {
        add(Cause::mount_vibration, Evaluation::b, {0.0, around.disturbed.mount}, endless,
            fmt::format("sine of +-{} at {:.4g} Hz, as exposure and average leave it",
                        base::length_text(s_.motion.mount_vibration, 3), s_.motion.mount_vibration_frequency));
    }
    if (around.neighbour_deviation > 0.0 || around.neighbour_mean != 0.0) {
        add(Cause::neighbour, Evaluation::b, {around.neighbour_mean, around.neighbour_deviation}, endless,
            fmt::format("{} {} without noise over the beat of both clocks", around.neighbour.size(),
                        scenario::abilities_of(s_.principle).array ? "readings" : "outputs"));
    }
}

// Other specimens of the sensor, each calibrated as it is made. What this one reads beside their mean is its own, and
// in the other lines already.
void LineMaker::add_making() {
    const std::vector<scenario::Scenario> specimens = specimens_of(s_);
    if (specimens.size() < 2) return;
    std::vector<double> errors;
    for (const std::optional<double>& error : errors_of_specimens(specimens, threads_)) {
        if (error) errors.push_back(*error);
    }
    if (errors.size() < 2) return;
    const double deviation = std::sqrt(boost::math::statistics::sample_variance(errors));
    add(Cause::making, Evaluation::a, {0.0, deviation}, static_cast<double>(errors.size()) - 1.0,
        fmt::format("{} specimens of the sensor, each calibrated", errors.size()));
}

std::vector<BudgetLine> LineMaker::lines() {
    const auto base = model_.error_at(nominal_);
    if (!base) {
        scenario::reject(s_, "target.material", "the part gives no valid reading: there is no error to break down",
                         "a part and an exposure that read", "`spotwright read` says why");
    }
    base_ = *base;
    add_part();
    add_tilt();
    add_markings();
    add_material();
    add_inside();
    if (!measure::surface_passes(s_)) add_speckle();
    std::visit([this](const auto& setup) { add_noise(setup); }, model_.setup());
    add_motion();
    add_around();
    add_surroundings();
    add_making();
    if (s_.uncertainty.reference > 0.0) {
        add(Cause::reference, Evaluation::b, {0.0, s_.uncertainty.reference}, endless,
            "standard uncertainty as the scenario states it");
    }
    return std::move(lines_);
}

std::vector<BudgetLine> budget_lines(const ErrorModel& model, const std::vector<MaterialEffect>& material,
                                     int threads) {
    return LineMaker(model, material, threads).lines();
}

}  // namespace spotwright::study
