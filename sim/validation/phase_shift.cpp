#include <boost/math/tools/minima.hpp>

#include <cmath>
#include <fmt/format.h>
#include <functional>
#include <limits>
#include <string>
#include <utility>
#include <vector>

#include "sim/flight/air.hpp"
#include "sim/flight/unwrap.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/phase.hpp"
#include "sim/validation/support.hpp"

namespace spotwright::validation {

namespace {

using namespace base;
using flight::Modulation;
using scenario::Waveform;

constexpr double no_limit = std::numeric_limits<double>::infinity();
constexpr const char* textbook = "textbook, phase measurement; worked value";
constexpr const char* derived = "derived; worked value";
constexpr const char* ciddor = "P. E. Ciddor, Appl. Opt. 35, 1566 (1996), table 1";
constexpr const char* group = "P. E. Ciddor, R. J. Hill, Appl. Opt. 38, 1663 (1999), from memory; worked value";

// The buckets of B = 1000 e, A = 400 e at 1.2 rad, of light that is half modulated and half steady.
std::vector<double> worked_buckets() {
    const Modulation modulation = ideal_modulation(Waveform::sine, 4);
    const double signal = signal_of_amplitude(modulation, 400.0);
    return mean_buckets(modulation, {{1.2, signal}}, 1000.0 - signal);
}

double contrast(double gate_share, double frequency, double bandwidth) {
    const Modulation modulation{Waveform::sine, frequency, 1.0, bandwidth, 4, gate_share};
    const flight::Demodulated found = flight::demodulate(mean_buckets(modulation, {{0.7, 1000.0}}));
    return found.amplitude / found.offset;
}

double error_of(const std::vector<double>& buckets, double phase) {
    return phase_difference(flight::demodulate(buckets).phase, phase);
}

double cyclic_error(const Modulation& modulation, double phase) {
    return error_of(mean_buckets(modulation, {{phase, 1000.0}}), phase);
}

// Four buckets of a correlation with harmonics 3 and 5.
double harmonics_error(double a3, double a5, double phase) {
    std::vector<double> buckets;
    for (int k = 0; k < 4; ++k) {
        const double x = phase - 0.5 * pi * k;
        buckets.push_back(1000.0 + 400.0 * (std::cos(x) + a3 * std::cos(3.0 * x) + a5 * std::cos(5.0 * x)));
    }
    return error_of(buckets, phase);
}

// Buckets of B = 5000 e, A = 3000 e behind a detector that bends.
double bent_error(double second, double third) {
    const Modulation modulation = ideal_modulation(Waveform::sine, 4);
    const double signal = signal_of_amplitude(modulation, 3000.0);
    std::vector<double> buckets = mean_buckets(modulation, {{0.4, signal}}, 5000.0 - signal);
    for (double& v : buckets) v += second * v * v + third * v * v * v;
    return error_of(buckets, 0.4);
}

// Place and value of the least of a function.
std::pair<double, double> least_of(const std::function<double(double)>& f, double from, double to) {
    return boost::math::tools::brent_find_minima(f, from, to, 40);
}

// Length over which the cyclic error repeats: the range over the number of times it falls through its mean.
double cyclic_period(const Modulation& modulation) {
    constexpr int samples = 2000;
    const double range = 0.5 * speed_of_light * flight::unambiguous_delay(std::vector{modulation.frequency});
    int falls = 0;
    double before = cyclic_error(modulation, -pi / samples);
    for (int i = 0; i < samples; ++i) {
        const double now = cyclic_error(modulation, 2.0 * pi * (i + 0.5) / samples);
        if (before > 0.0 && now <= 0.0) ++falls;
        before = now;
    }
    return range / falls;
}

// Of two returns, the second of a tenth of the first, `apart` in phase.
std::vector<double> two_returns(double apart) {
    return mean_buckets(ideal_modulation(Waveform::sine, 4), {{1.0, 1000.0}, {1.0 + apart, 100.0}});
}

double crosstalk_error(double amplitude) {
    const Modulation modulation = ideal_modulation(Waveform::sine, 4);
    const double signal = signal_of_amplitude(modulation, amplitude);
    const double leaked = signal_of_amplitude(modulation, 10.0);
    return distance_read(modulation, mean_buckets(modulation, {{1.0, signal}, {1.0 + 0.5 * pi, leaked}})) -
           worked_metres_per_radian();
}

double distance_of_delay(double delay) {
    const Modulation modulation = ideal_modulation(Waveform::sine, 4);
    return distance_read(modulation, mean_buckets(modulation, {{2.0 * pi * modulation.frequency * delay, 1000.0}}));
}

flight::Air air_at(double celsius, double pressure, double humidity) {
    return {celsius + zero_celsius, pressure, humidity, 450e-6};
}

// In units of 1e-8.
double group_refractivity(double wavelength, double celsius, double pressure) {
    return 1e8 * (flight::group_index(air_at(celsius, pressure, 0.5), wavelength) - 1.0);
}

Check published_index(const std::string& id, double celsius, double pressure, double humidity, double expected) {
    const double got = 1e8 * (flight::phase_index(air_at(celsius, pressure, humidity), 633.0 * nm) - 1.0);
    return {"phase.air." + id,
            fmt::format("(n - 1) 1e8 of air at 633 nm, {:.0f} C, {:.0f} kPa, humidity {:.0f} %", celsius,
                        pressure / kPa, 100.0 * humidity),
            humidity > 0.0 ? "published test value of the Ciddor equation, from memory" : ciddor,
            "1e-8",
            expected,
            got,
            0.05,
            "half of the last printed digit"};
}

}  // namespace

std::vector<Check> phase_value_checks() {
    const std::vector<double> buckets = worked_buckets();
    const flight::Demodulated found = flight::demodulate(buckets);
    const Modulation sine = ideal_modulation(Waveform::sine, 4);
    const double metre = flight::demodulate(mean_buckets(sine, {{1.0 / worked_metres_per_radian(), 1000.0}})).phase;
    const double alone = flight::demodulate(mean_buckets(sine, {{1.0, 1000.0}})).amplitude;
    const double apart = phase_difference(2.0 * pi * worked_modulation * 2.0 * 0.5 / speed_of_light, 0.0);
    const double mixed = error_of(two_returns(apart), 1.0);
    const auto greatest = least_of([](double x) { return -error_of(two_returns(x), 1.0); }, 1.0, 2.5);
    const double weak = crosstalk_error(500.0);
    const double strong = crosstalk_error(5000.0);
    const double picosecond = distance_of_delay(10.0 * ns + 1.0 * ps) - distance_of_delay(10.0 * ns);
    return {
        worked("phase.metres_per_radian", "distance of one radian at 20 MHz in vacuum", textbook, "m", 1.19283629,
               1.0 / metre),
        worked("phase.range", "unambiguous range at 20 MHz", textbook, "m", 7.49481145,
               0.5 * speed_of_light * flight::unambiguous_delay(std::vector{worked_modulation})),
        worked("phase.distance", "distance of 1.234 rad at 20 MHz", textbook, "m", 1.47195998,
               distance_read(sine, mean_buckets(sine, {{1.234, 1000.0}}))),
        worked("phase.bucket.0", "bucket 0 of B = 1000 e, A = 400 e, 1.2 rad", textbook, "e", 1144.9431, buckets[0]),
        worked("phase.bucket.1", "bucket 1", textbook, "e", 1372.81563, buckets[1]),
        worked("phase.bucket.2", "bucket 2", textbook, "e", 855.056898, buckets[2]),
        worked("phase.bucket.3", "bucket 3", textbook, "e", 627.184366, buckets[3]),
        worked("phase.demodulated", "phase of those buckets", textbook, "rad", 1.2, found.phase),
        worked("phase.amplitude", "amplitude of those buckets", textbook, "e", 400.0, found.amplitude),
        worked("phase.offset", "offset of those buckets", textbook, "e", 1000.0, found.offset),
        worked("phase.contrast.half", "contrast of gates of half a period", derived, "1", 0.636619772,
               contrast(0.5, worked_modulation, no_limit)),
        worked("phase.contrast.quarter", "contrast of gates of a quarter", derived, "1", 0.900316316,
               contrast(0.25, worked_modulation, no_limit)),
        worked("phase.contrast.third", "contrast of gates of a third", derived, "1", 0.826993343,
               contrast(1.0 / 3.0, worked_modulation, no_limit)),
        worked("phase.contrast.pole", "share of the contrast left at 100 MHz by a bandwidth of 150 MHz", derived, "1",
               0.832050294, contrast(0.5, 100.0 * MHz, 150.0 * MHz) / contrast(0.5, 100.0 * MHz, no_limit)),
        worked("phase.two_returns.error", "phase error of a return a tenth as strong 0.5 m behind", derived, "rad",
               0.0372763744, mixed),
        worked("phase.two_returns.distance", "the same as distance at 20 MHz", derived, "m", 0.0444646122,
               distance_read(sine, two_returns(apart)) - worked_metres_per_radian()),
        worked("phase.two_returns.greatest", "greatest error of such a return, whatever its distance: asin(r)", derived,
               "rad", 0.100167421, -greatest.second),
        worked("phase.two_returns.amplitude", "amplitude of both over that of the first", derived, "1", 1.09210141,
               flight::demodulate(two_returns(apart)).amplitude / alone),
        worked("phase.crosstalk.weak", "error by 10 e of crosstalk, a quarter period off, with 500 e of signal",
               derived, "m", 0.0238535457, weak),
        worked("phase.crosstalk.strong", "the same with 5000 e", derived, "m", 0.0023856694, strong),
        {"phase.crosstalk.power", "that error falls with the amplitude to the power", "derived: error = rho, small",
         "1", -1.0, std::log10(strong / weak), 1e-4, "atan(0.02) is 1.3e-4 less than 0.02, 6e-5 in the logarithm"},
        worked("phase.delay.picosecond", "distance of 1 ps", "c / 2, exact", "mm", 0.149896229, picosecond / mm),
        worked("phase.delay.drift", "5 ps/K over 30 K", derived, "mm", 22.4844343,
               (distance_of_delay(10.0 * ns + 150.0 * ps) - distance_of_delay(10.0 * ns)) / mm),
        worked("phase.delay.phase", "phase of 1 ps at 20 MHz", textbook, "mrad", 0.125663706,
               1e3 * picosecond / worked_metres_per_radian()),
    };
}

std::vector<Check> cyclic_error_checks() {
    const Modulation four = ideal_modulation(Waveform::square, 4);
    const Modulation eight = ideal_modulation(Waveform::square, 8);
    const auto error_of_four = [&four](double phase) { return cyclic_error(four, phase); };
    const auto error_of_eight = [&eight](double phase) { return cyclic_error(eight, phase); };
    const auto [place, error] = least_of(error_of_four, 0.2, 0.6);
    const double least_of_eight = least_of(error_of_eight, 0.1, 0.3).second;
    const double third = -least_of([](double x) { return harmonics_error(0.02, 0.0, x); }, 0.2, 0.6).second;
    const auto period = [](Waveform waveform, std::int64_t n) { return cyclic_period(ideal_modulation(waveform, n)); };
    // The last odd harmonic counted is the 999th, of 1e-6, whose pair, the 1001st, is missing.
    constexpr double cut = 1.2e-6;
    const char* why = "harmonics beyond the 1000th, the largest of which is 1e-6, are left out";
    const char* chord =
        "derived: the charges run straight between multiples of 2 pi / N, so the error is arg(1 - x + x e^(i t)) - x "
        "t, "
        "t = 2 pi / N";
    return {
        worked("phase.cyclic.harmonics", "phase error of harmonics 0.02 (third) and 0.005 (fifth) at 0.4 rad", derived,
               "rad", -0.0150034313, harmonics_error(0.02, 0.005, 0.4)),
        worked("phase.cyclic.third", "greatest error of a third harmonic of 0.02: its arc sine", derived, "rad",
               0.0200013336, third),
        {"phase.cyclic.square.place", "phase of the greatest error of square light in four gates of half a period",
         derived, "rad", 0.374852321, place, 2e-3,
         "the ripple that is left, 1e-6 sin(1000 phi), has a slope of 1e-3 and as much curvature as the error, 1"},
        {"phase.cyclic.square.error", "that error", derived, "rad", -0.0711146376, error, cut, why},
        {"phase.cyclic.square.distance", "the same as distance at 20 MHz", derived, "m", -0.0848281205,
         worked_metres_per_radian() * error, cut * worked_metres_per_radian(), why},
        {"phase.cyclic.square.eight", "the greatest error of square light in eight gates", chord, "rad", -0.00801817422,
         least_of_eight, cut, why},
        worked("phase.cyclic.period.four", "distance in which the error of four buckets repeats: c / (8 f)", derived,
               "m", 1.87370286, period(Waveform::square, 4)),
        worked("phase.cyclic.period.eight", "of eight buckets: c / (16 f)", derived, "m", 0.93685143,
               period(Waveform::square, 8)),
        worked("phase.cyclic.period.triangle", "of four buckets and triangle light: c / (8 f)", derived, "m",
               1.87370286, period(Waveform::triangle, 4)),
        worked("phase.cyclic.cubic", "error of a response x - 2e-9 x^3 at B = 5000 e, A = 3000 e, 0.4 rad", derived,
               "rad", 0.00537636752, bent_error(0.0, -2e-9)),
        {"phase.cyclic.quadratic", "error of a response x - 3e-5 x^2: none", derived, "rad", 0.0,
         bent_error(-3e-5, 0.0), 1e-12, "rounding"},
    };
}

std::vector<Check> air_checks() {
    const double usual = group_refractivity(850.0 * nm, 20.0, 101.325 * kPa);
    const double read =
        distance_of_delay(2.0 * flight::group_index(air_at(20.0, 101.325 * kPa, 0.5), 850.0 * nm) / speed_of_light);
    const double slope_temperature =
        group_refractivity(850.0 * nm, 20.5, 101.325 * kPa) - group_refractivity(850.0 * nm, 19.5, 101.325 * kPa);
    const double slope_pressure =
        group_refractivity(850.0 * nm, 20.0, 101.825 * kPa) - group_refractivity(850.0 * nm, 20.0, 100.825 * kPa);
    const double phase_655 = 1e8 * (flight::phase_index(air_at(20.0, 101.325 * kPa, 0.5), 655.0 * nm) - 1.0);
    const double phase_633 = 1e8 * (flight::phase_index(air_at(20.0, 101.325 * kPa, 0.5), 633.0 * nm) - 1.0);
    return {
        published_index("dry.80", 20.0, 80.0 * kPa, 0.0, 21458.0),
        published_index("dry.100", 20.0, 100.0 * kPa, 0.0, 26824.4),
        published_index("dry.120", 20.0, 120.0 * kPa, 0.0, 32191.6),
        published_index("dry.cold", 10.0, 100.0 * kPa, 0.0, 27774.7),
        published_index("dry.warm", 30.0, 100.0 * kPa, 0.0, 25937.2),
        published_index("humid", 20.0, 100.0 * kPa, 1.0, 26739.4),
        {"phase.air.short", "(n - 1) 1e8 by the short formula at 633 nm, 20 C, 101.325 kPa, humidity 50 %",
         "7.86e-4 p/(273 + t) - 1.5e-11 RH (t^2 + 160), p in kPa, from memory", "1e-8", 27139.3823, phase_633, 15.0,
         "the short formula is good to some 1.5e-7, from memory"},
        worked("phase.air.group.655", "(n_g - 1) 1e8 at 655 nm, 20 C, 101.325 kPa, humidity 50 %", group, "1e-8",
               27845.3714, group_refractivity(655.0 * nm, 20.0, 101.325 * kPa)),
        worked("phase.air.group.850", "the same at 850 nm", group, "1e-8", 27392.1417, usual),
        worked("phase.air.group.905", "the same at 905 nm", group, "1e-8", 27315.3253,
               group_refractivity(905.0 * nm, 20.0, 101.325 * kPa)),
        worked("phase.air.phase.655", "(n - 1) 1e8 at 655 nm, same air", group, "1e-8", 27111.2792, phase_655),
        worked("phase.air.metre", "what a sensor that takes air for vacuum reads too far in 1 m, 850 nm", group, "m",
               0.000273921417, read - 1.0),
        worked("phase.air.temperature", "1e8 dn_g/dT at 20 C, 850 nm", group, "1e-8/K", -96.2960636, slope_temperature),
        worked("phase.air.pressure", "1e8 dn_g/dp at 101.325 kPa, 850 nm", group, "1e-8/kPa", 270.852278,
               slope_pressure),
    };
}

std::vector<Check> phase_shift_checks(int /*threads*/) {
    return joined(
        {phase_value_checks(), cyclic_error_checks(), phase_noise_checks(), unwrapping_checks(), air_checks()});
}

}  // namespace spotwright::validation
