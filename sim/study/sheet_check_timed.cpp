// Contradictions in the data sheet of a time-of-flight sensor that closed forms find.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/flight/unwrap.hpp"
#include "sim/study/infer.hpp"
#include "sim/study/sheet_forms.hpp"
#include "sim/study/sheet_ranges.hpp"

namespace spotwright::study {

namespace {

using base::mm, base::speed_of_light;
using scenario::PhaseShift, scenario::Pulsed, scenario::Triangulation;
using scenario::Sheet;

class TimedChecker {
public:
    explicit TimedChecker(const Sheet& sheet) : sheet_(sheet) {}

    std::vector<base::Problem> check();

private:
    void complain(std::string_view key, std::string message, std::string allowed) {
        problems_.push_back({location_of(sheet_, std::string(key)), std::move(message), std::move(allowed), ""});
    }
    void check_width();
    void check_divergence();
    void check_ambiguity(const char* key, const char* what, double delay);
    void check_pulses();
    void check_light();
    [[nodiscard]] double needed_electrons() const;
    [[nodiscard]] double available_electrons() const;
    [[nodiscard]] double wavelength() const {
        return sheet_.wavelength ? sheet_.wavelength->middle() : value_at(range_of(Open::wavelength), 1.0) * base::nm;
    }
    [[nodiscard]] double radius_per_width() const {
        const bool half = sheet_.spot.measure == scenario::SpotMeasure::half_maximum;
        return 0.5 * (half ? scenario::widths_ratio() : 1.0);
    }
    [[nodiscard]] double period() const {
        constexpr double usual = 1e-3;
        return sheet_.repeatability->period.value_or(sheet_.periods.empty() ? usual : sheet_.periods.front());
    }

    const Sheet& sheet_;
    std::vector<base::Problem> problems_;
};

void TimedChecker::check_width() {
    constexpr double widest = 10.0 * mm;  // radius, of the key of a scenario
    if (!sheet_.spot.in_plane || radius_per_width() * sheet_.spot.in_plane->low <= widest) return;
    complain(
        "spot.in_plane_mm",
        fmt::format("a spot {:.4g} mm wide is wider than the model of the beam allows", sheet_.spot.in_plane->low / mm),
        fmt::format("at most {:g} mm", widest / radius_per_width() / mm));
}

// The widest spot and angle that are stated, with the waist where it is best. Equation (sheet.11).
void TimedChecker::check_divergence() {
    if (!sheet_.spot.divergence || !sheet_.spot.in_plane) return;
    const double radius = radius_per_width() * sheet_.spot.in_plane->high;
    const double half_angle = 0.5 * sheet_.spot.divergence->high;
    const double quality = base::pi * radius * half_angle / wavelength();
    constexpr double slack = 0.98;  // of values rounded in other units
    if (quality >= slack) return;
    constexpr double milliradian = 1e-3;
    complain("spot.divergence_mrad",
             fmt::format("a beam {:.4g} mm wide spreads by {:.3g} mrad or more by diffraction, not {:.3g} mrad",
                         sheet_.spot.in_plane->high / mm, 2.0 * half_angle / quality / milliradian,
                         2.0 * half_angle / milliradian),
             "a wider spot or more divergence");
}

// @param delay  After which readings repeat. [s]
void TimedChecker::check_ambiguity(const char* key, const char* what, double delay) {
    const double span = sheet_.range[1] - sheet_.range[0];
    const double unambiguous = 0.5 * speed_of_light * delay;
    if (span <= unambiguous) return;
    complain(
        key,
        fmt::format("readings repeat after {:.4g} mm, but the range is {:.4g} mm long", unambiguous / mm, span / mm),
        what);
}

void TimedChecker::check_pulses() {
    const scenario::SheetFlight& f = sheet_.flight;
    if (!f.pulses || !f.pulse_rate || sheet_.periods.empty()) return;
    const double longest = f.pulse_rate->high * sheet_.periods.back();
    if (static_cast<double>(*f.pulses) <= longest) return;
    complain("flight.pulses",
             fmt::format("{} pulses take longer than the longest period, in which {:.0f} are sent", *f.pulses, longest),
             "fewer pulses, a higher rate or a longer period");
}

// By shot noise alone. Equation (sheet.15): phase at the highest frequency, fully modulated; (sheet.16): the middle of
// the shortest Gaussian pulse.
double TimedChecker::needed_electrons() const {
    const double scatter = single_scatter_of(*sheet_.repeatability, sheet_.repeatability->value.high);
    const auto by_phase = [&](PhaseShift) {
        const std::vector<double>& stated = sheet_.flight.modulation;
        const double highest = stated.empty() ? range_of(Open::modulation).high * base::MHz : stated.back();
        return electrons_for_phase(highest, scatter);
    };
    const auto by_pulses = [&](Pulsed) {
        return electrons_for_pulse(
            sheet_.flight.pulse ? sheet_.flight.pulse->low : range_of(Open::pulse).low * base::ns, scatter);
    };
    return std::visit(base::Cases{[](Triangulation) { return 0.0; }, by_phase, by_pulses}, sheet_.principle);
}

// All the mean power of the class through the largest lens, all the period. [e]
double TimedChecker::available_electrons() const {
    const double window = sheet_.housing.window[1];
    const double lens = window > 0.0 ? window : range_of(Open::lens_diameter).high * mm;
    const double power = class_limit(sheet_.laser_class, wavelength());
    const double half = 0.5;  // of the time a bucket is open at most
    const double share = std::visit(
        base::Cases{[](Triangulation) { return 1.0; },
                    [&](PhaseShift) { return half * (sheet_.power ? std::min(1.0, sheet_.power->high / power) : 1.0); },
                    [](Pulsed) { return 1.0; }},
        sheet_.principle);
    const ReceivedLight light{power,
                              wavelength(),
                              lens,
                              sheet_.reference_distance,
                              0.0,
                              range_of(Open::transmission).high,
                              range_of(Open::quantum_efficiency).high};
    return share * photoelectron_rate(light) * period();
}

void TimedChecker::check_light() {
    if (!sheet_.repeatability) return;
    const double needed = needed_electrons();
    const double available = available_electrons();
    if (needed <= available) return;
    complain(key_of(sheet_, SheetFigure::repeatability),
             fmt::format("a repeatability of {} needs {:.2g} photoelectrons, {:.2g} times the light that {} allows at "
                         "{:.4g} us",
                         base::length_text(sheet_.repeatability->value.high, 3), needed, needed / available,
                         sheet_.laser_class.empty() ? "a class without special care" : "class " + sheet_.laser_class,
                         period() / base::us),
             "a larger figure, more averages, a longer period or a higher class");
}

std::vector<base::Problem> TimedChecker::check() {
    check_width();
    check_divergence();
    if (!sheet_.flight.modulation.empty()) {
        check_ambiguity("flight.modulation_MHz", "a second frequency with a small common divisor, or a shorter range",
                        flight::unambiguous_delay(sheet_.flight.modulation));
    }
    if (sheet_.flight.pulse_rate) {
        check_ambiguity("flight.pulse_rate_kHz", "fewer pulses a second, or a shorter range",
                        1.0 / sheet_.flight.pulse_rate->low);
    }
    check_pulses();
    check_light();
    return std::move(problems_);
}

}  // namespace

std::vector<base::Problem> timed_contradictions(const Sheet& sheet) {
    return TimedChecker(sheet).check();
}

}  // namespace spotwright::study
