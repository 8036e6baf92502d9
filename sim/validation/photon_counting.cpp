// Times of single photons against worked values: Gaussian arrival times of the deviation s = 100 ps.
#include <boost/math/statistics/univariate_statistics.hpp>

#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/flight/photon_counting.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/support.hpp"

namespace spotwright::validation {

namespace {

using namespace base;

constexpr double deviation = 100.0 * ps;
constexpr const char* first_photon = "density mu f exp(-mu F) / p of the first photon, by quadrature; worked value";
constexpr const char* coates = "P. B. Coates, J. Phys. E 1, 878 (1968), from memory; worked value";

// Photons of a pulse in the middle of the gate, and of constant light in the gate.
flight::CountingPlan plan_of(flight::PhotonCounter c, double photons, double background, std::int64_t pulses) {
    c.deviation = deviation;
    c.pulses = pulses;
    const double middle = 0.5 * (c.gate_begin + c.gate_end);
    return flight::make_counting_plan(c, {{{middle, photons / ns}}, background / (c.gate_end - c.gate_begin)}, ns);
}

flight::PhotonCounter counter(double gate, bool corrected) {
    flight::PhotonCounter c;
    c.bin = 10.0 * ps;
    c.gate_end = gate;
    c.pile_up_corrected = corrected;
    return c;
}

// Mean and standard deviation of the error of many readings, in s.
struct Errors {
    double mean = 0.0;
    double deviation = 0.0;
};

Errors errors_of(const flight::CountingPlan& plan, std::int64_t readings) {
    std::vector<double> errors;
    const double middle = 0.5 * (plan.counter.gate_begin + plan.counter.gate_end);
    for (std::int64_t i = 0; i < readings; ++i) {
        const auto t = flight::time_of(plan, flight::count_photons(plan, 17, i)).time;
        if (t) errors.push_back((*t - middle) / deviation);
    }
    const auto [mean, variance] = boost::math::statistics::mean_and_sample_variance(errors);
    return {mean, std::sqrt(variance)};
}

std::vector<Check> centroid_checks() {
    constexpr std::int64_t readings = 1000;
    const double relative = standard_errors * relative_error_of_deviation(static_cast<double>(readings));
    // 1000 photons in the mean: 20504 pulses of 0.05, of which exp(-0.05) give none.
    const Errors plain = errors_of(plan_of(counter(10.0 * ns, true), 0.05, 0.0, 20504), readings);
    // 1000 photons of the pulse and 1000 of constant light within 2 ns: 50000 pulses of 0.02 each.
    const Errors lit = errors_of(plan_of(counter(2.0 * ns, true), 0.02, 0.02, 50000), readings);
    const flight::CountingPlan aside = [] {
        flight::PhotonCounter c = counter(10.0 * ns, true);
        c.deviation = deviation;
        c.pulses = 1000000;
        return flight::make_counting_plan(c, {{{2.503 * ns, 0.02 / ns}}, 0.2 / (10.0 * ns)}, ns);
    }();
    const double bias = (flight::noiseless_time(aside).value() - 2.503 * ns) / ps;
    return {
        {"photon.centroid", "centroid of 1000 photons scatters by s / sqrt(N)", "textbook; worked value", "ps",
         3.16227766, 100.0 * plain.deviation, 3.16227766 * (relative + 0.01),
         "5 standard errors of the deviation of 1000 readings; 1 % for pile-up of 0.05 and bins"},
        {"photon.centroid-range", "the same in range", "c / 2 times it; worked value", "mm", 0.474013496,
         0.5 * speed_of_light * deviation * plain.deviation / mm, 0.474013496 * (relative + 0.01), "as for the time"},
        {"photon.cramer-rao", "with as much background the scatter is not below the Poisson bound",
         "Cramer-Rao bound, Fisher information int l'^2 / l dt by quadrature; worked value", "ps", 3.97825337,
         100.0 * lit.deviation, 3.97825337 * relative, "5 standard errors of the deviation of 1000 readings",
         Relation::at_least},
        {"photon.efficient", "and a tenth above it at most, besides statistics", "the same bound; a tenth is ours",
         "ps", 1.1 * 3.97825337, 100.0 * lit.deviation, 3.97825337 * relative,
         "5 standard errors of the deviation of 1000 readings", Relation::at_most},
        {"photon.background", "even background does not draw the time to the middle of the gate",
         "a centroid of the gate would be 2.3 ns off: derived", "ps", 0.0, bias, 0.3,
         "bins of s / 10 and a background known to 1e-3"},
    };
}

std::vector<Check> pile_up_checks() {
    constexpr std::int64_t pulses = 1000000;
    const auto drawn_bias = [](double photons, bool corrected) {
        return errors_of(plan_of(counter(10.0 * ns, corrected), photons, 0.0, pulses), 4).mean;
    };
    // Errors of the mean of four readings: one first photon scatters by at most s.
    const auto error = [](double photons) {
        return standard_errors / std::sqrt(4.0 * static_cast<double>(pulses) * -std::expm1(-photons));
    };
    const flight::CountingPlan one = plan_of(counter(10.0 * ns, false), 1.0, 0.0, pulses);
    const std::vector<std::int64_t> counts = flight::count_photons(one, 23, 0);
    double number = 0.0;
    double sum = 0.0;
    double squares = 0.0;
    for (std::size_t i = 0; i < counts.size(); ++i) {
        const double t = (static_cast<double>(i) + 0.5) * 0.1 - 50.0;  // in s, from the middle
        const double n = static_cast<double>(counts[i]);
        number += n;
        sum += n * t;
        squares += n * t * t;
    }
    const double spread = std::sqrt(squares / number - std::pow(sum / number, 2));
    const double bias = drawn_bias(1.0, false);
    const double to_mm = 0.5 * speed_of_light * deviation / mm;
    constexpr const char* why = "5 standard errors of the mean of four readings of a million pulses";
    return {
        {"photon.pile-up.weak", "first of 0.1 photons in the mean comes early, near -mu s / (2 sqrt(pi))", first_photon,
         "s", -0.028205355, drawn_bias(0.1, false), error(0.1), why},
        {"photon.pile-up.one", "first of one photon in the mean", first_photon, "s", -0.278064027, bias, error(1.0),
         why},
        {"photon.pile-up.range", "the same in range", first_photon, "mm", -4.1680749, to_mm * bias, to_mm * error(1.0),
         why},
        {"photon.pile-up.five", "first of five photons in the mean", first_photon, "s", -1.08156867,
         drawn_bias(5.0, false), error(5.0), why},
        {"photon.pile-up.detected", "share of pulses with a photon where there is one in the mean", "1 - exp(-mu)", "1",
         0.632120559, number / static_cast<double>(pulses),
         standard_errors * std::sqrt(0.632 * 0.368 / static_cast<double>(pulses)),
         "5 standard errors of a share of a million pulses"},
        {"photon.pile-up.spread", "standard deviation of the first of one photon in the mean", first_photon, "s",
         0.983695942, spread, 0.983695942 * (standard_errors / std::sqrt(2.0 * number) + 0.0005),
         "5 standard errors of a deviation; bins of s / 10 add 0.04 %"},
        {"photon.pile-up.corrected", "with the correction nothing of that is left", coates, "s", 0.0,
         drawn_bias(1.0, true), 1.4 * error(1.0) * std::sqrt(-std::expm1(-1.0)),
         "5 standard errors: int z^2 f exp(F) dz = 1.8 for the variance of the corrected centroid"},
    };
}

// Three bins of known rates.
std::vector<Check> histogram_checks() {
    flight::PhotonCounter c;
    c.bin = 1.0 * ns;
    c.deviation = 1.0 * ps;
    c.gate_end = 10.0 * ns;
    c.pulses = 1000000;
    const flight::Light light{{{0.5 * ns, 0.05 / ns}, {1.5 * ns, 0.2 / ns}, {2.5 * ns, 0.1 / ns}}, 0.0};
    const flight::CountingPlan plan = flight::make_counting_plan(c, light, ns);
    const std::vector<std::int64_t> counts = flight::count_photons(plan, 29, 0);
    const auto count_check = [&](std::size_t bin, double expected) {
        return Check{"photon.histogram." + std::to_string(bin),
                     "first photons of a million pulses in bin " + std::to_string(bin) + " of rates 0.05, 0.2, 0.1",
                     coates,
                     "1",
                     expected,
                     static_cast<double>(counts[bin]),
                     standard_errors * std::sqrt(expected),
                     "5 standard errors of a count"};
    };
    return {
        count_check(0, 48770.5755),
        count_check(1, 172428.641),
        count_check(2, 74112.6934),
        {"photon.histogram.corrected", "the rate of bin 1 comes back", coates, "1", 0.2,
         flight::corrected_counts(counts, c.pulses)[1], 0.2 * standard_errors / std::sqrt(172428.641),
         "5 standard errors of the count it is computed from"},
    };
}

}  // namespace

std::vector<Check> photon_counting_checks() {
    return joined({centroid_checks(), pile_up_checks(), histogram_checks()});
}

}  // namespace spotwright::validation
