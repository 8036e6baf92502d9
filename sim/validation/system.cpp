#include <algorithm>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/support.hpp"
#include "sim/measure/read.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::validation {

namespace {

using namespace base;

receiver::Profile tile_profile(const scenario::Scenario& s, const target::Part& plane) {
    const receiver::EdgeSpread edge_spread;
    return receiver::image(sensor::beam_of(s), plane, {0.85, 0.0}, sensor::receiver_of(s), edge_spread,
                           s.detector.quantum_efficiency);
}

// Largest difference, as displacement, between where the spot model puts the spot and the closed form, over the range.
// The centroid is that of the light above a tenth of the peak, for the wings of diffraction are cut off by the array;
// pixels of a tenth of the usual pitch keep that cut from adding an error of pixel phase.
double worst_spot_error(scenario::Scenario s) {
    s.detector.pitch /= 10.0;
    s.detector.pixels *= 10;
    const receiver::Receiver r = sensor::receiver_of(s);
    double worst = 0.0;
    for (int i = -10; i <= 10; ++i) {
        const double displacement = i * 0.5 * mm;
        const receiver::Profile profile = tile_profile(s, target::square_plane(displacement));
        reading::LocateOptions options;
        options.threshold = 0.1F * *std::max_element(profile.rate.begin(), profile.rate.end());
        const double found = reading::locate(profile.rate, options).position;
        const double expected = receiver::pixel_of(r, receiver::image_position(r, displacement).value());
        worst = std::max(worst, std::abs(found - expected) * r.pitch / receiver::sensitivity_at(r, displacement));
    }
    return worst;
}

std::vector<Check> spot_checks() {
    const scenario::Scenario s = worked_example_sensor();
    scenario::Scenario far = s;
    far.receiver.distance = 120.0 * mm;
    const auto collected = [](const scenario::Scenario& sensor, const target::Part& plane) {
        return tile_profile(sensor, plane).collected_power;
    };
    const double square = collected(s, target::square_plane(0.0));
    scenario::Scenario turned = s;
    turned.target.tilt = {30.0 * degree, 0.0};
    const auto na2 = [](const scenario::Scenario& sensor) {
        return std::pow(receiver::object_side_na(sensor::receiver_of(sensor)), 2.0);
    };
    constexpr const char* lambert = "rho sin^2(u) cos(theta), Lambert's law, exact for a point";
    return {
        {"system.spot_model", "the spot model's centroid follows the closed form over the whole range",
         "closed form of the exact projection, derived", "um", 0.0, worst_spot_error(s) / um, 0.1,
         "a spot of 40 um: its lit side nearer to the lens shines brighter, sigma^2 (3 sin(theta) / a) cot(theta) = "
         "0.03 um, and perspective of the same order"},
        {"system.inverse_square", "at twice the distance the aperture collects sin^2(u) / sin^2(u') as much", lambert,
         "1", na2(s) / na2(far), square / collected(far, target::square_plane(0.0)), 1e-3,
         "size of the spot, of order (w / a)^2"},
        {"system.cosine", "turned to face the receiver the part sends 1 / cos(30 deg) as much", lambert, "1",
         1.0 / std::cos(30.0 * degree), collected(turned, sensor::part_of(turned, 0.0)) / square, 1e-3,
         "size of the spot and its tilted footprint"},
    };
}

// Cramer-Rao bound of displacement for one reading of the pose: (dm/ds)^2 / (m + dark variance) summed over pixels.
double displacement_bound(const sensor::TriangulationSetup& setup, double displacement) {
    constexpr double step = 2.0 * um;
    const sensor::Pose here = make_pose(setup, displacement);
    const sensor::Pose nearer = make_pose(setup, displacement - step);
    const sensor::Pose farther = make_pose(setup, displacement + step);
    const double dark = sensor::dark_variance(setup.scenario.detector);
    double information = 0.0;
    for (std::size_t k = 0; k < here.expected.electrons.size(); ++k) {
        const double slope =
            static_cast<double>(farther.expected.electrons[k] - nearer.expected.electrons[k]) / (2.0 * step);
        information += slope * slope / (static_cast<double>(here.expected.electrons[k]) + dark);
    }
    return 1.0 / std::sqrt(information);
}

measure::SeriesStatistics series_of(scenario::Scenario s, std::int64_t readings, int threads) {
    s.run.readings = readings;
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, threads);
    return measure::take_series(setup, make_pose(setup, s.target.displacement), {readings, threads, {}, {}});
}

std::vector<Check> chain_checks(int threads) {
    scenario::Scenario s;
    s.target.made_of = s.reading.reference = scenario::library_material("white-ceramic");
    s.target.displacement = 1.0 * mm;
    s.run.speckle = scenario::SpeckleModel::off;
    constexpr std::int64_t readings = 65536;
    const double bound = displacement_bound(sensor::set_up_triangulation(s, threads), s.target.displacement);
    const double by_centroid = series_of(s, readings, threads).standard_deviation.value();
    scenario::Scenario fitted = s;
    fitted.reading.peak = scenario::PeakMethod::fit;
    const double by_fit = series_of(fitted, readings, threads).standard_deviation.value();
    scenario::Scenario averaged = s;
    averaged.reading.average = 16;
    const double by_average = series_of(averaged, readings, threads).standard_deviation.value();
    const double error = standard_errors * relative_error_of_deviation(static_cast<double>(readings));
    const double average_error = standard_errors * relative_error_of_deviation(static_cast<double>(readings) / 16.0);
    constexpr const char* winick = "K. A. Winick, JOSA A 3, 1809 (1986), Cramer-Rao bound, on the model's own profile";
    return {
        {"system.bound.centroid", "no reading by centroid scatters less than the Cramer-Rao bound of its light", winick,
         "um", bound / um, by_centroid / um, error * bound / um, "5 standard errors of 65536 readings",
         Relation::at_least},
        {"system.bound.fit", "nor by fit", winick, "um", bound / um, by_fit / um, error * bound / um,
         "5 standard errors of 65536 readings", Relation::at_least},
        {"system.fit_efficient", "readings by fit come within a tenth of the bound", winick, "um", 1.1 * bound / um,
         by_fit / um, error * bound / um, "10 % above the bound, and 5 standard errors", Relation::at_most},
        {"system.average", "an average of 16 lowers the scatter of a still part to a quarter",
         "white noise, 1 / sqrt(16)", "1", 0.25, by_average / by_centroid, 0.25 * average_error,
         "5 standard errors of 4096 independent outputs"},
    };
}

std::vector<Check> practice_checks(int threads) {
    constexpr const char* practice = "common practice";
    scenario::Scenario s;
    s.target.made_of = s.reading.reference = scenario::library_material("white-ceramic");
    s.mount.reference_distance = 40.0 * mm;
    s.mount.range = {-4.0 * mm, 4.0 * mm};
    s.exposure.period = {133.0 * us, 133.0 * us};
    s.reading.average = 64;
    s.run.readings = 65;
    const measure::ReadResult result = measure::read(sensor::set_up_triangulation(s, threads), {threads, {}, {}});
    const sensor::Layout layout = sensor::make_layout(s);
    return {
        {"practice.near", "a sensor of reference 40 mm and range +-4 mm measures from 36 mm", practice, "mm", 36.0,
         layout.distance[0] / mm, 1e-12, "rounding"},
        {"practice.far", "to 44 mm", practice, "mm", 44.0, layout.distance[2] / mm, 1e-12, "rounding"},
        {"practice.percent_of_span", "8 um are 0.1 % of its span of 8 mm", practice, "%", 0.1,
         sensor::percent_of_span(s, 8.0 * um), 1e-12, "rounding"},
        {"practice.rate", "a sampling period of 133 us is 7.5 kHz", practice, "kHz", 7.5,
         1.0 / result.timing.period / kHz, 0.05, "the round figure's last digit"},
        {"practice.response", "an average of 64 at 133 us follows a step within 64 periods, 8.512 ms", practice, "ms",
         8.512, result.response_time / ms, 1e-12, "rounding"},
    };
}

}  // namespace

std::vector<Check> system_checks(int threads) {
    return joined({spot_checks(), chain_checks(threads), practice_checks(threads)});
}

}  // namespace spotwright::validation
