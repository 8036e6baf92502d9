// Figures of a data sheet, as the model has them of a sensor.
#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/measure/series.hpp"
#include "sim/sensor/temperature.hpp"
#include "sim/study/linearity.hpp"
#include "sim/study/sheet_candidate.hpp"
#include "sim/study/sheet_forms.hpp"

namespace spotwright::study {

namespace {

constexpr std::int64_t judging_readings = 4096;

}  // namespace

std::string_view key_of(const scenario::Sheet& sheet, SheetFigure figure) {
    constexpr std::string_view in_mm = "repeatability.value_mm";
    if (figure == SheetFigure::repeatability && sheet.locations.contains(std::string(in_mm))) return in_mm;
    static constexpr std::array<std::string_view, sheet_figures> keys{
        "repeatability.value_um", "linearity.percent_of_span", "temperature.percent_of_span_per_K",
        "timing.white_exposure_us"};
    return keys.at(static_cast<std::size_t>(figure));
}

std::optional<scenario::Stated> stated_of(const scenario::Sheet& sheet, SheetFigure figure) {
    switch (figure) {
        case SheetFigure::repeatability:
            return sheet.repeatability ? std::optional(sheet.repeatability->value) : std::nullopt;
        case SheetFigure::linearity:
            return sheet.linearity;
        case SheetFigure::temperature:
            return sheet.temperature;
        case SheetFigure::white_exposure:
            break;
    }
    return sheet.white_exposure;
}

std::optional<double> suiting_exposure(sensor::Setup setup) {
    const auto lengthen = [](auto& each) {
        constexpr double endless = 10.0;
        each.scenario.exposure.exposure = 0.0;
        each.scenario.exposure.period = {each.scenario.exposure.period[0], endless};
    };
    std::visit(lengthen, setup);
    if (!scenario::abilities_of(sensor::scenario_of(setup).principle).exposure) return std::nullopt;
    return std::visit(
        base::Cases{
            [](const sensor::TriangulationSetup& each) { return sensor::make_pose(each, 0.0, 1).timing.exposure; },
            [](const sensor::FlightSetup& each) { return sensor::make_flight_pose(each, 0.0).timing.exposure; }},
        setup);
}

namespace {

measure::SeriesStatistics judging_series(const sensor::TriangulationSetup& setup) {
    const sensor::Pose pose = sensor::make_pose(setup, setup.scenario.target.displacement, 1);
    return measure::take_series(setup, pose, {judging_readings, 1, {}, {}});
}

// Times of the pulses of a reading are independent, so the scatter of their mean goes as one over the root of their
// number: it is judged on few pulses. By how much that is less. [1]
double few_pulses(sensor::FlightSetup& setup) {
    const auto fewer = [&setup](scenario::Pulsed) {
        constexpr std::int64_t few = 4;
        std::int64_t& pulses = setup.scenario.flight.pulses;
        const std::int64_t all = std::exchange(pulses, std::min(pulses, std::int64_t{few}));
        return std::sqrt(static_cast<double>(pulses) / static_cast<double>(all));
    };
    return std::visit(
        base::Cases{[](scenario::Triangulation) { return 1.0; }, [](scenario::PhaseShift) { return 1.0; }, fewer},
        setup.scenario.principle);
}

measure::SeriesStatistics judging_series(sensor::FlightSetup setup) {
    const double of_all = few_pulses(setup);
    const sensor::FlightPose pose = sensor::make_flight_pose(setup, setup.scenario.target.displacement);
    const auto take = [&](std::int64_t index, sensor::Scratch&) { return sensor::take_reading(setup, pose, index); };
    measure::SeriesStatistics statistics =
        measure::take_series(setup.scenario.reading, pose.timing.period, take, {judging_readings, 1, {}, {}});
    if (statistics.standard_deviation) *statistics.standard_deviation *= of_all;
    return statistics;
}

}  // namespace

std::optional<double> single_scatter(const sensor::Setup& setup) {
    sensor::Setup single = setup;
    const auto series = [](auto& each) {
        each.scenario.reading.average = 1;
        each.scenario.reading.median = 1;
        return judging_series(each);
    };
    const measure::SeriesStatistics statistics = std::visit(series, single);
    constexpr double enough = 0.99;
    if (measure::valid_share(statistics) < enough) return std::nullopt;
    return statistics.standard_deviation;
}

double single_scatter_error() {
    return 1.0 / std::sqrt(2.0 * static_cast<double>(judging_readings - 1));
}

std::optional<double> drift_per_kelvin(const sensor::Setup& setup) {
    constexpr double swing = 5.0;
    const auto warm = sensor::noiseless_reading(sensor::at_temperature(setup, base::room_temperature + swing), 0.0);
    const auto cold = sensor::noiseless_reading(sensor::at_temperature(setup, base::room_temperature - swing), 0.0);
    if (!warm || !cold) return std::nullopt;
    return (*warm - *cold) / (2.0 * swing);
}

std::optional<double> linearity_share(const sensor::Setup& setup) {
    const auto [near, far] = sensor::scenario_of(setup).mount.range;
    std::vector<double> places;
    std::vector<double> errors;
    for (int i = 0; i < places_over_range; ++i) {
        const double place = near + (far - near) * i / (places_over_range - 1);
        const auto found = sensor::noiseless_reading(setup, place);
        if (!found) continue;
        places.push_back(place);
        errors.push_back(*found - place);
    }
    if (places.size() < 3) return std::nullopt;
    return linearity_of(places, errors).least_squares.largest / (far - near);
}

Figures figures_of(const sensor::Setup& setup, const scenario::SheetRepeatability& conditions, bool with_linearity) {
    Figures figures;
    const auto put = [&figures](SheetFigure figure, std::optional<double> value) {
        figures.at(static_cast<std::size_t>(figure)) = value;
    };
    if (const auto scatter = single_scatter(setup)) {
        put(SheetFigure::repeatability, figure_of(conditions, *scatter));
    }
    if (with_linearity) put(SheetFigure::linearity, linearity_share(setup));
    if (const auto drift = drift_per_kelvin(setup)) {
        const auto& range = sensor::scenario_of(setup).mount.range;
        put(SheetFigure::temperature, std::abs(*drift) / (range[1] - range[0]));
    }
    put(SheetFigure::white_exposure, suiting_exposure(setup));
    return figures;
}

}  // namespace spotwright::study
