// Figures of a data sheet, as the model has them of a sensor.
#include <array>
#include <cmath>

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

std::string_view key_of(SheetFigure figure) {
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

double suiting_exposure(sensor::TriangulationSetup setup) {
    constexpr double endless = 10.0;
    setup.scenario.exposure.exposure = 0.0;
    setup.scenario.exposure.period = {setup.scenario.exposure.period[0], endless};
    return sensor::make_pose(setup, 0.0, 1).timing.exposure;
}

std::optional<double> single_scatter(const sensor::TriangulationSetup& setup) {
    sensor::TriangulationSetup single = setup;
    single.scenario.reading.average = 1;
    single.scenario.reading.median = 1;
    const sensor::Pose pose = sensor::make_pose(single, single.scenario.target.displacement, 1);
    const measure::SeriesStatistics statistics = measure::take_series(single, pose, {judging_readings, 1, {}, {}});
    constexpr double enough = 0.99;
    if (measure::valid_share(statistics) < enough) return std::nullopt;
    return statistics.standard_deviation;
}

double single_scatter_error() {
    return 1.0 / std::sqrt(2.0 * static_cast<double>(judging_readings - 1));
}

std::optional<double> drift_per_kelvin(sensor::TriangulationSetup setup) {
    constexpr double swing = 5.0;
    setup.scenario.target.displacement = 0.0;
    const auto warm = sensor::noiseless_reading(sensor::at_temperature(setup, base::room_temperature + swing), 0.0);
    const auto cold = sensor::noiseless_reading(sensor::at_temperature(setup, base::room_temperature - swing), 0.0);
    if (!warm || !cold) return std::nullopt;
    return (*warm - *cold) / (2.0 * swing);
}

std::optional<double> linearity_share(const sensor::TriangulationSetup& setup) {
    const auto [near, far] = setup.scenario.mount.range;
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

Figures figures_of(const sensor::TriangulationSetup& setup, const scenario::SheetRepeatability& conditions,
                   bool with_linearity) {
    Figures figures;
    const auto put = [&figures](SheetFigure figure, std::optional<double> value) {
        figures.at(static_cast<std::size_t>(figure)) = value;
    };
    if (const auto scatter = single_scatter(setup)) {
        put(SheetFigure::repeatability, figure_of(conditions, *scatter));
    }
    if (with_linearity) put(SheetFigure::linearity, linearity_share(setup));
    if (const auto drift = drift_per_kelvin(setup)) {
        const auto& range = setup.scenario.mount.range;
        put(SheetFigure::temperature, std::abs(*drift) / (range[1] - range[0]));
    }
    put(SheetFigure::white_exposure, suiting_exposure(setup));
    return figures;
}

}  // namespace spotwright::study
