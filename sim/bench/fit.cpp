#include "sim/bench/fit.hpp"

#include <boost/math/distributions/binomial.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include "sim/bench/causes.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/bench/model.hpp"
#include "sim/measure/read.hpp"
#include "sim/bench/least_squares.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::bench {

namespace {

constexpr double normal_factor = 1.959963985;  // 95 %, two-sided

study::Interval around(double value, double standard_uncertainty, double factor = normal_factor) {
    return {value - factor * standard_uncertainty, value + factor * standard_uncertainty};
}

bool meet(const study::Interval& a, const study::Interval& b) {
    return a.low <= b.high && b.low <= a.high;
}

Compared compared(std::string name, double measured, std::optional<study::Interval> measured_interval, double predicted,
                  std::optional<study::Interval> predicted_interval) {
    Compared result{std::move(name), measured, predicted, measured_interval, predicted_interval, std::nullopt};
    if (measured_interval && predicted_interval) result.agree = meet(*measured_interval, *predicted_interval);
    return result;
}

// Clopper-Pearson. Source: C. J. Clopper, E. S. Pearson, Biometrika 26, 404 (1934).
study::Interval share_interval(std::int64_t successes, std::int64_t trials) {
    using Binomial = boost::math::binomial_distribution<>;
    constexpr double outside = 0.025;
    const auto n = static_cast<double>(trials);
    const auto k = static_cast<double>(successes);
    return {successes == 0 ? 0.0 : Binomial::find_lower_bound_on_p(n, k, outside),
            successes == trials ? 1.0 : Binomial::find_upper_bound_on_p(n, k, outside)};
}

std::vector<Compared> compare_series(const TimeStatistics& log, const sensor::Setup& setup, const SeriesAtLight& model,
                                     int threads) {
    const measure::ReadResult predicted = measure::read(setup, {threads, {}, {}});
    const measure::SeriesStatistics& s = predicted.statistics;
    std::vector<Compared> list;
    if (log.deviation && model.variance) {
        const study::Interval variance = around(*model.variance, model.variance_error);
        list.push_back(compared("still_sd_um", *log.deviation, log.interval, std::sqrt(*model.variance),
                                study::Interval{std::sqrt(std::max(0.0, variance.low)), std::sqrt(variance.high)}));
    }
    const auto share = [](std::int64_t part, std::int64_t whole) {
        return static_cast<double>(part) / static_cast<double>(whole);
    };
    list.push_back(compared("valid_share", share(log.valid, log.readings), share_interval(log.valid, log.readings),
                            share(s.validity[0], s.readings), share_interval(s.validity[0], s.readings)));
    if (log.signal && model.share) {
        const double error =
            log.signal_deviation / std::sqrt(static_cast<double>(std::max<std::int64_t>(log.valid, 1)));
        list.push_back(compared("signal_share", *log.signal, around(*log.signal, error), *model.share,
                                around(*model.share, model.share_error)));
    }
    if (log.mean && s.mean) list.push_back(compared("mean_mm", *log.mean, {}, *s.mean, {}));
    list.push_back(compared("sampling_kHz", 1.0 / log.period, {}, 1.0 / predicted.timing.period, {}));
    return list;
}

// Noise that comes on top, from its variance, which a finite log may show below zero.
Fitted excess_noise(double variance, double standard_uncertainty) {
    const auto root = [](double x) { return std::sqrt(std::max(0.0, x)); };
    const study::Interval interval = around(variance, standard_uncertainty);
    Fitted fitted{"excess_sd_um", root(variance), {}, {root(interval.low), root(interval.high)}};
    if (interval.low > 0.0) fitted.standard_uncertainty = standard_uncertainty / (2.0 * fitted.value);
    return fitted;
}

Fitted reflectance_factor(double logarithm, double standard_uncertainty) {
    const double value = std::exp(logarithm);
    const study::Interval of_logarithm = around(logarithm, standard_uncertainty);
    return {"reflectance_factor",
            value,
            value * standard_uncertainty,
            {std::exp(of_logarithm.low), std::exp(of_logarithm.high)}};
}

// Limit for logs that hold no information about the light.
constexpr double farthest_logarithm = 7.0;  // a factor of 1000

double light_of(double logarithm) {
    return std::exp(std::clamp(logarithm, -farthest_logarithm, farthest_logarithm));
}

constexpr double far_from_all = 1e3;  // residual of a model that gives no readings, in standard uncertainties

// Reflectance by the signal, and noise by what the scatter has more than the model at that light.
void fit_signal_and_scatter(const TimeStatistics& log, const PartAtLight& part, const SeriesAtLight& here,
                            BenchFit& fit) {
    fit.basis = "signal and scatter";
    const double variance = *log.deviation * *log.deviation;
    const double variance_error = variance * std::sqrt(2.0 / static_cast<double>(log.independent - 1));
    const double signal_error = log.signal_deviation / std::sqrt(static_cast<double>(log.valid));
    const double share_error = std::hypot(signal_error, here.share_error / *here.share * *log.signal);
    const double unit = *here.variance;  // of the second parameter, so that both are of order 1
    const double model_error = here.variance_error / unit;
    const Residuals residuals = [&](const Eigen::VectorXd& p) {
        const SeriesAtLight model = part.at(light_of(p[0]));
        Eigen::VectorXd left(2);
        left.setConstant(far_from_all);
        if (!model.variance || !model.share) return left;
        left[0] = (*log.signal - *model.share) / std::max(share_error, 1e-9);
        left[1] =
            (variance - *model.variance - p[1] * unit) / std::hypot(variance_error, model_error * *model.variance);
        return left;
    };
    const Eigen::Vector2d start(std::log(std::max(1e-3, *log.signal / *here.share)), 0.0);
    const LeastSquares found = least_squares_fit(residuals, start, Eigen::Vector2d(0.05, 0.05));
    if (!found.determined || found.covariance(0, 0) > 1.0 || found.sum > 1.0) {
        fit.remarks.emplace_back(
            "the signal does not determine the light: it is saturated, or automatic exposure keeps it constant");
        return;
    }
    fit.parameters = {reflectance_factor(found.parameters[0], std::sqrt(found.covariance(0, 0))),
                      excess_noise(found.parameters[1] * unit, std::sqrt(found.covariance(1, 1)) * unit)};
}

void fit_scatter_alone(const TimeStatistics& log, const PartAtLight& part, const SeriesAtLight& here, BenchFit& fit) {
    fit.basis = "scatter alone: noise from elsewhere counts as missing light";
    const double error = std::hypot(std::sqrt(0.5 / static_cast<double>(log.independent - 1)),
                                    0.5 * here.variance_error / *here.variance);
    const double measured = std::log(*log.deviation);
    const Residuals residuals = [&](const Eigen::VectorXd& p) {
        const SeriesAtLight model = part.at(light_of(p[0]));
        Eigen::VectorXd left(1);
        left[0] = model.variance && *model.variance > 0.0 ? (measured - 0.5 * std::log(*model.variance)) / error
                                                          : far_from_all;
        return left;
    };
    Eigen::VectorXd start(1);
    start << 0.0;
    Eigen::VectorXd step(1);
    step << 0.1;
    const LeastSquares found = least_squares_fit(residuals, start, step);
    if (!found.determined || found.covariance(0, 0) > 1.0 || found.sum > 1.0 ||
        std::abs(found.parameters[0]) > farthest_logarithm) {
        fit.remarks.emplace_back("no light of the part explains the scatter: look for noise from elsewhere");
        return;
    }
    fit.parameters = {reflectance_factor(found.parameters[0], std::sqrt(found.covariance(0, 0)))};
}

// Straight between places that are many; the errors of the model change slowly.
class ErrorsAtTilt {
public:
    ErrorsAtTilt(const sensor::Setup& setup, std::span<const double> references, int threads)
        : setup_(without_specimen(setup, threads)), references_(references), threads_(threads) {
        constexpr std::size_t most = 33;
        if (references.size() <= most) {
            places_.assign(references.begin(), references.end());
            return;
        }
        for (std::size_t i = 0; i < most; ++i) {
            const double share = static_cast<double>(i) / static_cast<double>(most - 1);
            places_.push_back(std::lerp(references.front(), references.back(), share));
        }
    }

    // At each reference; none where it cannot be read. A tilt that was asked for before costs nothing.
    [[nodiscard]] const std::vector<std::optional<double>>& at(double tilt) {
        const auto [entry, fresh] = known_.try_emplace(tilt);
        if (fresh) entry->second = spread_out(errors_at_tilt(setup_, tilt, places_, threads_));
        return entry->second;
    }

private:
    [[nodiscard]] std::vector<std::optional<double>> spread_out(std::vector<std::optional<double>> at_places) const {
        if (places_.size() == references_.size()) return at_places;
        std::vector<std::optional<double>> errors;
        const double step = places_[1] - places_[0];
        for (const double reference : references_) {
            const double at =
                std::clamp((reference - places_.front()) / step, 0.0, static_cast<double>(places_.size() - 1) - 1e-9);
            const auto k = static_cast<std::size_t>(at);
            errors.emplace_back();
            if (at_places[k] && at_places[k + 1]) {
                errors.back() = std::lerp(*at_places[k], *at_places[k + 1], at - static_cast<double>(k));
            }
        }
        return errors;
    }

    sensor::Setup setup_;
    std::span<const double> references_;
    std::vector<double> places_;
    int threads_;
    std::map<double, std::vector<std::optional<double>>> known_;
};

void fit_tilt(const std::vector<double>& references, const std::vector<double>& errors, ErrorsAtTilt& model,
              double start_tilt, BenchFit& fit) {
    fit.basis = "errors over the range";
    constexpr double steepest = 1.4;  // rad; beyond, no part is met
    constexpr double unit = base::um;
    const Residuals residuals = [&](const Eigen::VectorXd& p) {
        Eigen::VectorXd left(static_cast<Eigen::Index>(references.size()));
        left.setConstant(far_from_all);
        if (std::abs(p[0]) > steepest) return left;
        const auto& predicted = model.at(p[0]);
        for (std::size_t i = 0; i < references.size(); ++i) {
            if (predicted[i]) left[static_cast<Eigen::Index>(i)] = (errors[i] - *predicted[i]) / unit - p[1];
        }
        return left;
    };
    const LeastSquares found =
        least_squares_fit(residuals, Eigen::Vector2d(start_tilt, 0.0), Eigen::Vector2d(0.2 * base::degree, 0.1));
    const double scatter = std::sqrt(found.sum / static_cast<double>(found.freedom));
    fit.remaining = scatter * unit;
    const auto freedom = static_cast<double>(found.freedom);
    const double factor = boost::math::quantile(boost::math::students_t(freedom), 0.975);
    constexpr double nothing_told = 20.0 * base::degree;
    if (!found.determined || !(factor * scatter * std::sqrt(found.covariance(0, 0)) < nothing_told)) {
        fit.remarks.emplace_back("the errors of this part do not determine its tilt to 20 deg");
        return;
    }
    const std::array<const char*, 2> names{"tilt_deg", "offset_um"};
    const std::array<double, 2> units{1.0, unit};
    for (std::size_t k = 0; k < names.size(); ++k) {
        const auto i = static_cast<Eigen::Index>(k);
        const double value = found.parameters[i] * units[k];
        const double error = scatter * std::sqrt(found.covariance(i, i)) * units[k];
        fit.parameters.push_back({names[k], value, error, around(value, error, factor)});
    }
}

void add_causes(const std::vector<std::string>& causes, BenchFit& fit) {
    for (const std::string& cause : causes) fit.remarks.push_back("likely cause: " + cause);
}

}  // namespace

Bench compare_with_model(const BenchLog& log, const TimeStatistics& statistics, const sensor::Setup& setup,
                         int threads) {
    require_within_range(log, scenario_of(setup));
    const PartAtLight part(setup, threads);
    const SeriesAtLight here = part.at(1.0);
    Bench bench;
    bench.compared = compare_series(statistics, setup, here, threads);
    const bool automatic = scenario_of(setup).exposure.mode == scenario::ExposureMode::automatic;
    if (automatic) {
        bench.fit.remarks.emplace_back("automatic exposure keeps the signal: nothing is fitted");
    } else if (!statistics.deviation || !(*statistics.deviation > 0.0) || statistics.independent < 3) {
        bench.fit.remarks.emplace_back("too few readings, or no scatter, to fit");
    } else if (!here.variance || !(*here.variance > 0.0)) {
        bench.fit.remarks.emplace_back("the model gives no readings of this part: nothing is fitted");
    } else if (statistics.signal && *statistics.signal > 0.0 && here.share) {
        fit_signal_and_scatter(statistics, part, here, bench.fit);
    } else {
        fit_scatter_alone(statistics, part, here, bench.fit);
    }
    if (bench.fit.parameters.empty()) {
        add_causes(likely_causes(log, statistics, scenario_of(setup), bench.compared), bench.fit);
    }
    return bench;
}

Bench compare_with_model(const BenchLog& log, const LinearityStatistics& statistics, const sensor::Setup& setup,
                         int threads) {
    require_within_range(log, scenario_of(setup));
    std::vector<double> references;
    std::vector<double> errors;
    for (const PlaceErrors& place : statistics.places) {
        references.push_back(place.reference);
        errors.push_back(place.error);
    }
    ErrorsAtTilt model(setup, references, threads);
    const double tilt = scenario_of(setup).target.tilt[0];
    Bench bench;
    const auto& predicted = model.at(tilt);
    std::vector<double> read;
    std::vector<double> error_read;
    for (std::size_t i = 0; i < references.size(); ++i) {
        if (!predicted[i]) continue;
        read.push_back(references[i]);
        error_read.push_back(*predicted[i]);
    }
    if (read.size() >= 3) {
        const study::LinearityFigures figures = study::linearity_of(read, error_read);
        const study::LinearityFigures& measured = statistics.figures;
        const auto add = [&](const char* name, const study::NonLinearity& of_log, const study::NonLinearity& of_model) {
            bench.compared.push_back(compared(name, of_log.largest, {}, of_model.largest, {}));
        };
        add("terminal_um", measured.terminal, figures.terminal);
        add("zero_based_um", measured.zero, figures.zero);
        add("independent_um", measured.independent, figures.independent);
        add("least_squares_um", measured.least_squares, figures.least_squares);
    } else {
        bench.fit.remarks.emplace_back("the model gives no readings of this part over the range");
    }
    fit_tilt(references, errors, model, tilt, bench.fit);
    if (bench.fit.parameters.empty()) add_causes(likely_causes(statistics, scenario_of(setup)), bench.fit);
    return bench;
}

}  // namespace spotwright::bench
