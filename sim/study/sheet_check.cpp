// Contradictions of a data sheet that closed forms find.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/study/infer.hpp"
#include "sim/study/sheet_forms.hpp"
#include "sim/study/sheet_ranges.hpp"

namespace spotwright::study {

namespace {

using base::mm, base::um, base::us, base::mW;
using scenario::PhaseShift, scenario::Pulsed, scenario::Triangulation;
using scenario::Sheet;

class Checker {
public:
    explicit Checker(const Sheet& sheet) : sheet_(sheet) {}

    void check() {
        check_housing();
        check_power();
        check_spot();
        check_fine_spot();
        check_exposure();
        if (problems_.empty() && sheet_.repeatability) check_light();
        if (problems_.empty() && scenario::abilities_of(sheet_.principle).timing)
            problems_ = timed_contradictions(sheet_);
        if (!problems_.empty()) throw base::ScenarioError(std::move(problems_));
    }

private:
    void complain(std::string_view key, std::string message, std::string allowed) {
        problems_.push_back({location_of(sheet_, std::string(key)), std::move(message), std::move(allowed), ""});
    }
    void check_housing();
    void check_power();
    void check_spot();
    void check_fine_spot();
    void check_exposure();
    void check_light();
    // Of continuous light, or the peak of pulses; that of the shortest and rarest pulses where they are not stated. [W]
    [[nodiscard]] double most_of_class() const {
        const auto continuous = [this] { return class_limit(sheet_.laser_class, wavelength()); };
        const auto of_pulses = [this](Pulsed) {
            const scenario::SheetFlight& f = sheet_.flight;
            const double pulse = f.pulse ? f.pulse->low : range_of(Open::pulse).low * base::ns;
            const double rate = f.pulse_rate ? f.pulse_rate->low : range_of(Open::pulse_rate).low * base::kHz;
            return pulse_class_limit(sheet_.laser_class, wavelength(), pulse, rate);
        };
        return std::visit(base::Cases{[&](Triangulation) { return continuous(); },
                                      [&](PhaseShift) { return continuous(); }, of_pulses},
                          sheet_.principle);
    }
    // Highest of the stated range, or of common practice. [m]
    [[nodiscard]] double wavelength() const {
        return sheet_.wavelength ? sheet_.wavelength->high : value_at(range_of(Open::wavelength), 1.0) * base::nm;
    }
    [[nodiscard]] double most_power() const { return sheet_.power ? sheet_.power->high : most_of_class(); }
    [[nodiscard]] std::string class_words() const {
        return sheet_.laser_class.empty() ? "a class without special care" : "class " + sheet_.laser_class;
    }

    const Sheet& sheet_;
    std::vector<base::Problem> problems_;
};

void Checker::check_housing() {
    if (!sheet_.windows_distance) return;
    const double distance = sheet_.windows_distance->low;
    if (sheet_.housing.width > 0.0 && distance >= sheet_.housing.width) {
        complain("housing.windows_distance_mm",
                 fmt::format("the windows lie {:.4g} mm apart in a housing of {:.4g} mm", distance / mm,
                             sheet_.housing.width / mm),
                 "less than the width of the housing");
    }
    if (sheet_.mount == scenario::SheetMount::specular && distance >= 2.0 * sheet_.reference_distance) {
        complain("housing.windows_distance_mm",
                 fmt::format("beam and receiver {:.4g} mm apart cannot meet {:.4g} mm from both", distance / mm,
                             sheet_.reference_distance / mm),
                 "less than twice the reference distance");
    }
}

void Checker::check_power() {
    constexpr double shortest = 400.0 * base::nm;
    constexpr double longest = 1050.0 * base::nm;
    if (sheet_.wavelength && (sheet_.wavelength->low < shortest || sheet_.wavelength->high > longest)) {
        complain("light.wavelength_nm", "outside of silicon arrays and of the estimate of laser classes",
                 "400 to 1050 nm");
        return;
    }
    if (sheet_.laser_class.empty()) return;
    const double limit = most_of_class();
    if (limit <= 0.0) {
        complain("light.laser_class", fmt::format("class 2 does not exist at {:.4g} nm", wavelength() / base::nm),
                 "class 2 is for visible light, up to 700 nm");
    } else if (sheet_.power && sheet_.power->low > limit) {
        complain("light.power_mW",
                 fmt::format("{:.3g} mW are {:.2g} times what class {} allows: {:.3g} mW{}, estimated",
                             sheet_.power->low / mW, sheet_.power->low / limit, sheet_.laser_class, limit / mW,
                             std::visit(base::Cases{[](Triangulation) { return ", continuous light"; },
                                                    [](PhaseShift) { return ", continuous light"; },
                                                    [](Pulsed) { return " at the peak of pulses"; }},
                                        sheet_.principle)),
                 "less power or another class");
    }
}

// A spot so fine that diffraction alone makes it a tenth of the span wide at the ends of the range, where no array
// tells its place well (common practice).
void Checker::check_fine_spot() {
    if (!sheet_.spot.in_plane || sheet_.spot.in_plane_at_ends || !scenario::abilities_of(sheet_.principle).array)
        return;
    const double ratio = sheet_.spot.measure == scenario::SpotMeasure::half_maximum ? scenario::widths_ratio() : 1.0;
    const double waist = 0.5 * ratio * sheet_.spot.in_plane->high;
    const double shortest = sheet_.wavelength ? sheet_.wavelength->low : wavelength();
    const double z = std::max(std::abs(sheet_.range[0]), std::abs(sheet_.range[1]));
    const double width = 2.0 * std::hypot(waist, shortest * z / (base::pi * waist)) / ratio;
    constexpr double widest = 0.1;  // of the span
    const double span = sheet_.range[1] - sheet_.range[0];
    if (width <= widest * span || waist >= 0.5 * widest * span) return;
    complain("spot.in_plane_um",
             fmt::format("a spot of at most {:.4g} um is at least {:.4g} um wide at the ends of the range by "
                         "diffraction, {:.2g} of the span",
                         sheet_.spot.in_plane->high / um, width / um, width / span),
             "a wider spot or a shorter range; a width that is stated at the ends (spot.in_plane_at_ends_um)");
}

void Checker::check_spot() {
    if (!sheet_.spot.in_plane || !sheet_.spot.in_plane_at_ends) return;
    const double ratio = sheet_.spot.measure == scenario::SpotMeasure::half_maximum ? scenario::widths_ratio() : 1.0;
    const double waist = 0.5 * ratio * sheet_.spot.in_plane->low;
    const double ends = 0.5 * ratio * sheet_.spot.in_plane_at_ends->high;
    const double least = sheet_.wavelength ? sheet_.wavelength->low : wavelength();
    const double z = std::sqrt(0.5 * (sheet_.range[0] * sheet_.range[0] + sheet_.range[1] * sheet_.range[1]));
    const double widest_waist = 0.5 * ratio * sheet_.spot.in_plane->high;
    const double quality = std::max(beam_quality_of(waist, ends, sheet_.range, least),
                                    beam_quality_of(widest_waist, ends, sheet_.range, least));
    constexpr double slack = 0.98;  // of values rounded in other units
    if (quality >= slack) return;
    const double possible = std::sqrt(waist * waist + std::pow(least * z / (base::pi * waist), 2));
    complain(
        "spot.in_plane_at_ends_um",
        fmt::format("a beam of {:.4g} um at the reference distance is no narrower than {:.4g} um at the ends of the "
                    "range by diffraction, not {:.4g} um",
                    2.0 * waist / ratio / um, 2.0 * possible / ratio / um, 2.0 * ends / ratio / um),
        "a wider spot at the ends, a shorter range or a wider spot");
}

void Checker::check_exposure() {
    if (!sheet_.white_exposure || sheet_.periods.empty()) return;
    if (sheet_.white_exposure->low > sheet_.periods.back()) {
        complain("timing.white_exposure_us",
                 fmt::format("a white tile needs {:.4g} us, but the longest period is {:.4g} us",
                             sheet_.white_exposure->low / us, sheet_.periods.back() / us),
                 "an exposure within the period");
    }
}

// All light of the class through the largest aperture, and the fullest of arrays, against the electrons that the
// repeatability needs. Equations (sheet.3), (sheet.4) and (sheet.6).
void Checker::check_light() {
    if (!sheet_.spot.in_plane || !scenario::abilities_of(sheet_.principle).array) return;
    const double ratio = sheet_.spot.measure == scenario::SpotMeasure::half_maximum ? scenario::widths_ratio() : 1.0;
    const double radius = 0.5 * ratio * sheet_.spot.in_plane->low;
    const double figure = sheet_.repeatability->value.high;
    const double scatter = single_scatter_of(*sheet_.repeatability, figure);
    double angle = value_at(range_of(Open::receiver_angle), 1.0) * base::degree;
    if (sheet_.windows_distance) {
        angle = receiver_angle_of(sheet_.mount, sheet_.windows_distance->high, sheet_.reference_distance);
    }
    // Mirrored light does not spread over the half space, and moves twice: it is left to the model.
    if (sheet_.mount == scenario::SheetMount::specular) return;
    const double needed = electrons_for(radius, angle, scatter);
    const double distance = sheet_.reference_distance / std::cos(angle);
    const double aperture = sheet_.housing.window[1] > 0.0 ? sheet_.housing.window[1] : distance * std::sin(angle);
    const double period = sheet_.repeatability->period.value_or(sheet_.periods.empty() ? scenario::Exposure{}.period[0]
                                                                                       : sheet_.periods.front());
    const ReceivedLight light{most_power(),
                              wavelength(),
                              aperture,
                              distance,
                              angle,
                              value_at(range_of(Open::transmission), 1.0),
                              value_at(range_of(Open::quantum_efficiency), 1.0)};
    const double available = photoelectron_rate(light) * period;
    const std::string wanted = fmt::format("a repeatability of {}", base::length_text(figure, 3));
    if (needed > available) {
        complain(key_of(sheet_, SheetFigure::repeatability),
                 fmt::format("{} needs {:.2g} photoelectrons, {:.2g} times the light that {} allows at {:.4g} us",
                             wanted, needed, needed / available, class_words(), period / us),
                 "a larger figure, more averages, a longer period or a higher class");
        return;
    }
    const double pixels = static_cast<double>(sheet_.pixels.value_or(std::int64_t{2048}));
    const double span = sheet_.range[1] - sheet_.range[0];
    const double width = radius / (2.0 * std::tan(angle)) / span * pixels;  // mean over the range
    const double well = full_well_for(needed, width, scenario::Exposure{}.level);
    const double most = value_at(range_of(Open::full_well), 1.0);
    constexpr double uneven = 3.0;  // by which the scale of the image may differ over a range
    if (well > uneven * most) {
        complain(
            key_of(sheet_, SheetFigure::repeatability),
            fmt::format("{} needs {:.2g} photoelectrons on some {:.2g} pixels: a full well of {:.2g} e, {:.2g} times "
                        "the largest of common practice",
                        wanted, needed, 2.5 * width, well, well / most),
            "a larger figure, more averages or a shorter range");
    }
}

}  // namespace

void check_sheet(const Sheet& sheet) {
    Checker(sheet).check();
}

}  // namespace spotwright::study
