#include "sim/study/sheet_draw.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/design_rule.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/study/sheet_forms.hpp"

namespace spotwright::study {

using base::degree, base::nm, base::um;
using scenario::Scenario, scenario::Sheet;

namespace {

double wavelength_of(const Sheet& sheet, const SheetDraws& draw) {
    if (!sheet.wavelength) return draw(Open::wavelength) * nm;
    // Nothing depends on less than some nanometres; tables of materials end at round wavelengths.
    constexpr double same = 5.0 * nm;
    if (sheet.wavelength->high - sheet.wavelength->low < same) return sheet.wavelength->middle();
    return draw.of(*sheet.wavelength, StatedNumber::wavelength);
}

}  // namespace

// Full widths of the sheet as 1/e^2 radii.
double radius_of(const Sheet& sheet, double width) {
    const bool half = sheet.spot.measure == scenario::SpotMeasure::half_maximum;
    return 0.5 * width * (half ? scenario::widths_ratio() : 1.0);
}

// Shares are drawn in a fixed order, whether or not they are used: what a sheet states more does not change the rest.
// Time of flight comes last, so that it does not change those of triangulation.
SheetDraws::SheetDraws(std::uint64_t seed, std::int64_t index) {
    constexpr std::size_t stated_of_triangulation = 9;
    base::RandomSequence random({seed, base::Stream::sheet_sensor}, index);
    const auto draw = [&random](double* first, double* last) {
        std::generate(first, last, [&random] { return random.uniform(); });
    };
    double* const shares = shares_.data();
    double* const stated = stated_.data();
    draw(shares, shares + open_of_triangulation);
    sign_ = random.uniform() < 0.5 ? -1.0 : 1.0;
    draw(stated, stated + stated_of_triangulation);
    draw(shares + open_of_triangulation, shares + shares_.size());
    draw(stated + stated_of_triangulation, stated + stated_.size());
}

double SheetDraws::operator()(Open open) const {
    return value_at(range_of(open), shares_.at(static_cast<std::size_t>(open)));
}

double SheetDraws::of(const scenario::Stated& stated, StatedNumber number) const {
    return stated.low + stated_.at(static_cast<std::size_t>(number)) * (stated.high - stated.low);
}

void set_beam(const Sheet& sheet, const SheetDraws& draw, Scenario& s) {
    scenario::Emitter& e = s.emitter;
    e.wavelength = wavelength_of(sheet, draw);
    e.linewidth = draw(Open::linewidth) * nm;
    const double guess = draw(Open::spot_share) * sheet.reference_distance;
    const double in_plane =
        sheet.spot.in_plane ? radius_of(sheet, draw.of(*sheet.spot.in_plane, StatedNumber::in_plane)) : 0.5 * guess;
    const double out_of_plane = sheet.spot.out_of_plane
                                    ? radius_of(sheet, draw.of(*sheet.spot.out_of_plane, StatedNumber::out_of_plane))
                                    : in_plane;
    e.waist_radius = {in_plane, out_of_plane};
    e.waist_displacement = 0.0;
    e.beam_quality = draw(Open::beam_quality);
    if (sheet.spot.in_plane && sheet.spot.in_plane_at_ends) {
        const double at_ends = radius_of(sheet, draw.of(*sheet.spot.in_plane_at_ends, StatedNumber::at_ends));
        e.beam_quality = std::max(1.0, beam_quality_of(in_plane, at_ends, sheet.range, e.wavelength));
    }
}

// Power of the class that is stated or, where nothing is, of class 2 (in the infrared class 1).
double power_of(const Sheet& sheet, const SheetDraws& draw, double wavelength) {
    if (sheet.power) return draw.of(*sheet.power, StatedNumber::power);
    return draw(Open::power_share) * class_limit(sheet.laser_class, wavelength);
}

// The receiver by the design rule, with an array filled as drawn. @return Why there is none; else empty.
std::string set_receiver(const Sheet& sheet, const SheetDraws& draw, Scenario& s) {
    const double distance = sheet.reference_distance;
    double angle = draw(Open::receiver_angle) * degree;
    if (sheet.windows_distance) {
        angle = receiver_angle_of(sheet.mount, draw.of(*sheet.windows_distance, StatedNumber::windows), distance);
    } else if (sheet.mount == scenario::SheetMount::specular) {
        angle *= 0.5;
    }
    if (sheet.mount == scenario::SheetMount::specular) {
        s.emitter.angle = -angle;
    } else {
        s.mount.baseline = distance * std::tan(angle);
    }
    constexpr std::array<std::int64_t, 3> pixels{512, 1024, 2048};
    const double place = std::log2(draw(Open::pixels) / 512.0) / 2.0 * static_cast<double>(pixels.size());
    s.detector.pixels = sheet.pixels.value_or(pixels.at(std::min(static_cast<std::size_t>(place), pixels.size() - 1)));
    const double pitch = draw(Open::pitch) * um;
    s.detector.pitch = pitch * draw(Open::filled_share) / scenario::filled_share;
    std::vector<base::Problem> problems;
    scenario::apply_design_rule(s, problems);
    s.mount.baseline.reset();
    s.detector.pitch = pitch;
    return problems.empty() ? std::string() : problems.front().message;
}

void set_array(const SheetDraws& draw, Scenario& s) {
    scenario::Detector& d = s.detector;
    const double a = s.receiver.distance;
    const double magnification = s.receiver.focal_length / (a - s.receiver.focal_length);
    const double spot_image = 2.0 * s.emitter.waist_radius[1] * magnification;
    constexpr double highest = 4.9e-3;  // below what the key allows
    d.height = std::min(std::max(draw(Open::height) * um, draw(Open::height_share) * spot_image), highest);
    d.quantum_efficiency = draw(Open::quantum_efficiency);
    d.full_well = draw(Open::full_well);
    d.read_noise = draw(Open::read_noise);
    d.response_nonuniformity = draw(Open::response_nonuniformity);
    s.receiver.transmission = draw(Open::transmission);
    s.receiver.filter_width = draw(Open::filter_width) * nm;
}

// Diameters of the aperture that window, lens and beam allow. [m]
scenario::Pair aperture_bounds(const Sheet& sheet, const Scenario& s) {
    const OpenRange& f_number = range_of(Open::f_number);
    scenario::Pair bounds{s.receiver.focal_length / f_number.high, s.receiver.focal_length / f_number.low};
    if (sheet.housing.window[1] > 0.0) {
        const OpenRange& share = range_of(Open::aperture_share);
        constexpr double brightest = 1.0;  // f-number of the fastest simple lens
        bounds = {share.low * sheet.housing.window[1],
                  std::min(share.high * sheet.housing.window[1], s.receiver.focal_length / brightest)};
    }
    constexpr double clear = 0.9;  // of the way from the beam to the lens
    const double theta = s.receiver.angle - s.emitter.angle;
    bounds[1] = std::min(bounds[1], 2.0 * clear * s.receiver.distance * std::tan(theta));
    bounds[0] = std::min(bounds[0], bounds[1]);
    return bounds;
}

double drawn_aperture(const Sheet& sheet, const SheetDraws& draw, const scenario::Pair& bounds) {
    const bool window = sheet.housing.window[1] > 0.0;
    const OpenRange& range = range_of(window ? Open::aperture_share : Open::f_number);
    const double value = draw(window ? Open::aperture_share : Open::f_number);
    const double share = window ? (value - range.low) / (range.high - range.low)
                                : 1.0 - std::log(value / range.low) / std::log(range.high / range.low);
    return bounds[0] * std::pow(bounds[1] / bounds[0], share);
}

}  // namespace spotwright::study
