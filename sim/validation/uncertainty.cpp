// Propagation of uncertainty and Monte Carlo against the examples of the GUM and of its first supplement.
#include <boost/math/distributions/normal.hpp>
#include <boost/math/statistics/bivariate_statistics.hpp>
#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/random.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/support.hpp"
#include "sim/study/uncertainty.hpp"

namespace spotwright::validation {

namespace {

constexpr const char* supplement = "JCGM 101:2008, ";

// Calibration of an end gauge: lengths in nm, expansion in 1/K.
std::vector<Check> end_gauge_checks() {
    constexpr const char* source = "JCGM 100:2008, H.1";
    const std::vector<study::Input> inputs{{"length of the standard", 50000623.0, 25.0, 18.0},
                                           {"difference", 215.0, 9.7, 25.6},
                                           {"difference of expansion", 0.0, 0.58e-6, 50.0},
                                           {"temperature", -0.1, 0.41},
                                           {"expansion", 11.5e-6, 1.2e-6},
                                           {"difference of temperature", 0.0, 0.029, 2.0}};
    const study::Model length = [](std::span<const double> x) {
        return x[0] + x[1] - x[0] * (x[2] * x[3] + x[4] * x[5]);
    };
    const study::Propagated propagated = propagate(length, inputs);
    const study::Combined combined = combine(propagated.components, 0.99);
    const double second = std::sqrt(std::pow(combined.standard_uncertainty, 2) + propagated.second_order);
    return {
        printed("uncertainty.gauge.length", "length of the end gauge", source, "nm", 50000838.0, 8, propagated.value),
        worked("uncertainty.gauge.expansion", "contribution of the difference of expansion", source, "nm", 2.90003613,
               propagated.components[2].standard_uncertainty),
        worked("uncertainty.gauge.temperature", "contribution of the difference of temperature", source, "nm",
               16.6752078, propagated.components[5].standard_uncertainty),
        printed("uncertainty.gauge.combined", "combined standard uncertainty", source, "nm", 32.0, 2,
                combined.standard_uncertainty),
        worked("uncertainty.gauge.combined-worked", "the same before rounding", source, "nm", 31.7106096,
               combined.standard_uncertainty),
        printed("uncertainty.gauge.freedom", "effective degrees of freedom, cut down", source, "1", 16.0, 2,
                combined.degrees_of_freedom),
        printed("uncertainty.gauge.factor", "coverage factor for 99 %", source, "1", 2.92, 3, combined.coverage_factor),
        printed("uncertainty.gauge.expanded", "expanded uncertainty for 99 %", source, "nm", 93.0, 2,
                combined.expanded),
        printed("uncertainty.gauge.second-order", "standard uncertainty with the terms of second order",
                "JCGM 100:2008, H.1.7, from memory", "nm", 34.0, 2, second),
        worked("uncertainty.gauge.second-order-worked", "the same before rounding", source, "nm", 33.9111495, second),
    };
}

// Resistance and reactance from five sets of voltage, current and phase measured together.
std::vector<Check> impedance_checks() {
    constexpr const char* source = "JCGM 100:2008, H.2";
    const std::vector<std::vector<double>> sets{{5.007, 4.994, 5.005, 4.990, 4.999},
                                                {19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3},
                                                {1.0456, 1.0438, 1.0468, 1.0428, 1.0433}};
    std::vector<study::Input> inputs;
    std::vector<double> correlation;
    for (const std::vector<double>& set : sets) {
        const auto [mean, variance] = boost::math::statistics::mean_and_sample_variance(set);
        inputs.push_back({"", mean, std::sqrt(variance / 5.0), 4.0, study::Evaluation::a});
        for (const std::vector<double>& other : sets) {
            correlation.push_back(&other == &set ? 1.0 : boost::math::statistics::correlation_coefficient(set, other));
        }
    }
    struct Quantity {
        const char* id;
        const char* claim;
        double printed_value;
        double worked_uncertainty;
        study::Model model;
    };
    const std::vector<Quantity> quantities{
        {"resistance", "resistance V / I cos(phi) of correlated readings", 127.732, 0.0710714074,
         [](std::span<const double> x) { return x[0] / x[1] * std::cos(x[2]); }},
        {"reactance", "reactance V / I sin(phi)", 219.847, 0.295581677,
         [](std::span<const double> x) { return x[0] / x[1] * std::sin(x[2]); }},
        {"impedance", "impedance V / I", 254.260, 0.23633613, [](std::span<const double> x) { return x[0] / x[1]; }}};
    std::vector<Check> checks;
    for (const Quantity& q : quantities) {
        const study::Propagated propagated = propagate(q.model, inputs, study::Order::first);
        const std::string id = std::string("uncertainty.correlated.") + q.id;
        checks.push_back(printed(id, q.claim, source, "ohm", q.printed_value, 6, propagated.value));
        checks.push_back({id + "-uncertainty", "its standard uncertainty", source + std::string(", before rounding"),
                          "ohm", q.worked_uncertainty, correlated_uncertainty(propagated, correlation),
                          1e-6 * q.worked_uncertainty, "steps of a standard uncertainty, squared: 3e-7 of the value"});
    }
    return checks;
}

std::vector<Check> interval_checks() {
    const std::vector<double> sorted{1.0, 2.0, 2.1, 2.2, 2.3, 2.4, 3.0, 5.0, 8.0, 13.0};
    const study::Interval shortest = study::shortest_interval(sorted, 0.6);
    const study::Interval thirty = study::deviation_interval(1.0, 30);
    const std::vector<study::Component> ten{{"", study::Evaluation::a, 1.0, 10.0}};
    constexpr const char* student = "Student's distribution; worked value";
    constexpr const char* chi = "NIST/SEMATECH e-Handbook, 7.2.3: chi-squared; worked value";
    const std::string rule = supplement + std::string("7.7.2");
    return {
        {"uncertainty.shortest.low", "shortest interval of 60 % of ten values, near end", rule, "1", 1.0, shortest.low,
         0.0, "exact"},
        {"uncertainty.shortest.high", "its far end", rule, "1", 3.0, shortest.high, 0.0, "exact"},
        worked("uncertainty.factor", "coverage factor for 95 % at 10 degrees of freedom", student, "1", 2.22813885,
               combine(ten).coverage_factor),
        worked("uncertainty.deviation.low", "least standard deviation behind one of 1 from 30 readings, 95 %", chi, "1",
               0.796406933, thirty.low),
        worked("uncertainty.deviation.high", "and the greatest", chi, "1", 1.34431518, thirty.high),
        {"uncertainty.block", "trials of a block of Monte Carlo for 95 %", supplement + std::string("7.9.4 b)"), "1",
         10000.0, static_cast<double>(study::monte_carlo_block(0.95)), 0.0, "exact"},
    };
}

// Draws of one trial.
class Draws {
public:
    explicit Draws(std::int64_t trial) : sequence_({1, base::Stream::ray}, trial) {}
    double normal(double mean, double deviation) {
        return mean + deviation * boost::math::quantile(boost::math::normal(), sequence_.uniform());
    }
    double rectangular(double low, double high) { return low + (high - low) * sequence_.uniform(); }

private:
    base::RandomSequence sequence_;
};

// A hundred blocks, so that their scatter is known to a tenth.
study::MonteCarlo hundred_blocks(const study::Trial& trial, int threads) {
    study::MonteCarloOptions options;
    options.digits = 6;  // never reached: all blocks are made
    options.most = 100 * options.block;
    options.threads = threads;
    return monte_carlo(trial, options);
}

constexpr const char* trials = "5 standard errors of a million trials, as 100 blocks show them";

// What a Monte Carlo found, in the unit of the check, within its own standard errors.
Check drawn(std::string id, std::string claim, std::string source, std::string unit, double expected, double got,
            double error) {
    return {std::move(id), std::move(claim), std::move(source), std::move(unit), expected, got, standard_errors * error,
            trials};
}

Check mean_check(std::string id, std::string claim, std::string source, std::string unit, double expected,
                 const study::MonteCarlo& found, double to_unit) {
    return drawn(std::move(id), std::move(claim), std::move(source), std::move(unit), expected, found.mean * to_unit,
                 found.mean_error * to_unit);
}

Check deviation_check(std::string id, std::string claim, std::string source, std::string unit, double expected,
                      const study::MonteCarlo& found, double to_unit) {
    return drawn(std::move(id), std::move(claim), std::move(source), std::move(unit), expected,
                 found.standard_uncertainty * to_unit, found.uncertainty_error * to_unit);
}

// Sums of four quantities.
std::vector<Check> sum_checks(int threads) {
    const double half = std::sqrt(3.0);
    const auto rectangular_sum = [half](std::int64_t i, double wide) {
        Draws draws(i);
        double sum = draws.rectangular(-wide * half, wide * half);
        for (int k = 0; k < 3; ++k) sum += draws.rectangular(-half, half);
        return sum;
    };
    const study::MonteCarlo normal = hundred_blocks(
        [](std::int64_t i) {
            Draws draws(i);
            double sum = 0.0;
            for (int k = 0; k < 4; ++k) sum += draws.normal(0.0, 1.0);
            return sum;
        },
        threads);
    const study::MonteCarlo even = hundred_blocks([&](std::int64_t i) { return rectangular_sum(i, 1.0); }, threads);
    const study::MonteCarlo uneven = hundred_blocks([&](std::int64_t i) { return rectangular_sum(i, 10.0); }, threads);
    const std::vector<study::Component> components{{"", study::Evaluation::b, 10.0},
                                                   {"", study::Evaluation::b, 1.0},
                                                   {"", study::Evaluation::b, 1.0},
                                                   {"", study::Evaluation::b, 1.0}};
    const study::Combined combined = combine(components);
    const auto half_width = [](const study::MonteCarlo& m) { return 0.5 * (m.symmetric.high - m.symmetric.low); };
    // Quantiles of M values, density f there: sqrt(p (1 - p) / M) / f each; both ends, nearly independent, halved. The
    // densities: normal, exp(-1.96^2 / 2) / (2 sqrt(2 pi)); of four rectangular ones of width w = 2 sqrt(3),
    // x^3 / (6 w^4) at x = 2 w - 3.879; of the wide one, a tenth of 1 / w times the share 0.566 of sums of the others
    // above 17.016 - 17.321.
    const auto error = [](double density) {
        return standard_errors * std::sqrt(0.025 * 0.975 / 1e6) / density / std::sqrt(2.0);
    };
    constexpr const char* quantile = "5 standard errors of the quantiles of a million trials";
    return {
        deviation_check("uncertainty.sum.normal", "standard uncertainty of a sum of four normal quantities",
                        supplement + std::string("9.2.2"), "1", 2.0, normal, 1.0),
        {"uncertainty.sum.normal-width", "half of its interval of 95 %",
         supplement + std::string("9.2.2: 3.92; exact value"), "1", 3.91992797, half_width(normal), error(0.0292),
         quantile},
        deviation_check("uncertainty.sum.rectangular", "standard uncertainty of a sum of four rectangular quantities",
                        supplement + std::string("9.2.3"), "1", 2.0, even, 1.0),
        {"uncertainty.sum.rectangular-width", "half of its interval of 95 %",
         supplement + std::string("9.2.3: 3.88; exact value 2 sqrt(3) (2 - (3/5)^(1/4))"), "1", 3.87940674,
         half_width(even), error(0.0328), quantile},
        deviation_check("uncertainty.sum.dominant", "the same, one of them ten times as wide",
                        supplement + std::string("9.2.4: 10.1; exact value"), "1", 10.1488916, uneven, 1.0),
        {"uncertainty.sum.dominant-width", "half of its interval of 95 %",
         supplement + std::string("9.2.4: 17.0; exact value"), "1", 17.0158141, half_width(uneven), error(0.0163),
         quantile},
        printed("uncertainty.sum.dominant-normal", "half of the interval that a normal distribution would have",
                supplement + std::string("9.2.4"), "1", 19.9, 3, combined.expanded),
    };
}

// Calibration of a weight against another in air: masses in mg, densities in kg/m^3.
std::vector<Check> weight_checks(int threads) {
    const auto deviation = [](std::span<const double> x) {
        return (x[0] + x[1]) * (1.0 + (x[2] - 1.2) * (1.0 / x[3] - 1.0 / x[4])) - 100000.0;
    };
    const double root = std::sqrt(3.0);
    const std::vector<study::Input> inputs{{"reference", 100000.0, 0.050},
                                           {"balance", 1.234, 0.020},
                                           {"air", 1.2, 0.1 / root},
                                           {"weight", 8000.0, 1000.0 / root},
                                           {"reference weight", 8000.0, 50.0 / root}};
    const study::Propagated propagated = propagate(deviation, inputs);
    const double first = combine(propagated.components).standard_uncertainty;
    const study::MonteCarlo found = hundred_blocks(
        [&](std::int64_t i) {
            Draws draws(i);
            const std::vector<double> x{draws.normal(100000.0, 0.050), draws.normal(1.234, 0.020),
                                        draws.rectangular(1.1, 1.3), draws.rectangular(7000.0, 9000.0),
                                        draws.rectangular(7950.0, 8050.0)};
            return deviation(x);
        },
        threads);
    const std::string source = supplement + std::string("9.3");
    const double end_error = standard_errors * found.end_error;
    return {
        printed("uncertainty.weight.first-order", "standard uncertainty of a weight to first order", source, "mg",
                0.0539, 3, first),
        {"uncertainty.weight.second-order", "the same to second order", source + ": 0.0750; worked value", "mg",
         0.0749630262, std::sqrt(first * first + propagated.second_order), 2e-4,
         "steps of a standard uncertainty in 1 / density: (577 / 8000)^2 = 0.5 % of half the variance"},
        mean_check("uncertainty.weight.mean", "its deviation from 100 g, by Monte Carlo",
                   source + ": 1.2341; exact value", "mg", 1.234, found, 1.0),
        deviation_check("uncertainty.weight.monte-carlo", "its standard uncertainty", source + ": 0.0754; exact value",
                        "mg", 0.0754801323, found, 1.0),
        {"uncertainty.weight.low", "near end of its shortest interval of 95 %", source, "mg", 1.0834,
         found.shortest.low, end_error, trials},
        {"uncertainty.weight.high", "far end", source, "mg", 1.3825, found.shortest.high, end_error, trials},
    };
}

// Power lost by mismatch, X1^2 + X2^2 in 1e-6, where first-order propagation fails.
std::vector<Check> mismatch_checks(int threads) {
    struct Case {
        const char* id;
        double x;
        double mean, deviation, low, high;
    };
    const std::string source = supplement + std::string("9.4; exact value");
    std::vector<Check> checks;
    for (const Case& c :
         {Case{"zero", 0.0, 50.0, 50.0, 0.0, 149.786614}, Case{"small", 0.010, 150.0, 111.803399, 0.0, 366.005},
          Case{"large", 0.050, 2550.0, 502.493781, 1593.57, 3548.57}}) {
        const study::MonteCarlo found = hundred_blocks(
            [&c](std::int64_t i) {
                Draws draws(i);
                return std::pow(draws.normal(c.x, 0.005), 2) + std::pow(draws.normal(0.0, 0.005), 2);
            },
            threads);
        const std::vector<study::Input> inputs{{"real", c.x, 0.005}, {"imaginary", 0.0, 0.005}};
        const study::Propagated p =
            propagate([](std::span<const double> x) { return x[0] * x[0] + x[1] * x[1]; }, inputs);
        const double second = std::sqrt(std::pow(combine(p.components).standard_uncertainty, 2) + p.second_order);
        const std::string id = std::string("uncertainty.mismatch.") + c.id;
        const std::string where = std::string(" (") + c.id + " reflection)";
        const double end_error = standard_errors * found.end_error * 1e6;
        checks.push_back(mean_check(id, "power lost by mismatch" + where, source, "1e-6", c.mean, found, 1e6));
        checks.push_back(
            deviation_check(id + "-uncertainty", "its standard uncertainty", source, "1e-6", c.deviation, found, 1e6));
        checks.push_back(worked(id + "-second-order", "the same by propagation to second order, exact for squares",
                                source, "1e-6", c.deviation, second * 1e6));
        checks.push_back({id + "-low", "near end of its shortest interval of 95 %", source, "1e-6", c.low,
                          found.shortest.low * 1e6, end_error, trials});
        checks.push_back(
            {id + "-high", "far end", source, "1e-6", c.high, found.shortest.high * 1e6, end_error, trials});
    }
    return checks;
}

}  // namespace

std::vector<Check> uncertainty_checks(int threads) {
    return joined({end_gauge_checks(), impedance_checks(), interval_checks(), sum_checks(threads),
                   weight_checks(threads), mismatch_checks(threads)});
}

}  // namespace spotwright::validation
