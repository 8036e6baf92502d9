// The table of a data sheet, and how far the parameters of the sensor are known.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/study/infer.hpp"
#include "sim/study/sheet_forms.hpp"

namespace spotwright::study {

namespace {

using base::mm, base::um, base::us, base::nm, base::mW;
using scenario::Scenario;
using Value = std::function<std::optional<double>(const Candidate&)>;

constexpr double percent = 0.01;
constexpr double milliradian = 1e-3;

std::optional<Spread> spread_of_members(const Inference& inference, const Value& value, double unit) {
    std::vector<double> values;
    for (const Candidate& member : inference.members) {
        if (const auto found = value(member)) values.push_back(*found / unit);
    }
    return spread_of(std::move(values));
}

class Table {
public:
    explicit Table(const Inference& inference) : inference_(inference), sheet_(inference.sheet) {}

    std::vector<SheetRow> rows();

private:
    void number(std::string_view name, const std::optional<scenario::Stated>& stated, double unit, const Value& value,
                std::string remark = {}) {
        if (!stated) return;
        SheetRow row;
        row.name = name;
        row.stated = scenario::Pair{stated->low / unit, stated->high / unit};
        row.ensemble = spread_of_members(inference_, value, unit);
        if (const auto best = value(inference_.members[inference_.best])) row.best = *best / unit;
        row.remark = std::move(remark);
        const std::int64_t within = members_within(*stated, value);
        const auto all = static_cast<std::int64_t>(inference_.members.size());
        if (within < all) {
            row.outcome = SheetOutcome::not_reproduced;
            row.remark = fmt::format("{} of {} sensors within what is stated", within, all);
        }
        rows_.push_back(std::move(row));
    }
    // Within the stated precision and what a solution step by step leaves.
    [[nodiscard]] std::int64_t members_within(const scenario::Stated& stated, const Value& value) const {
        constexpr double slack = 0.05;
        return std::count_if(inference_.members.begin(), inference_.members.end(), [&](const Candidate& member) {
            const auto found = value(member);
            return found && *found >= stated.low * (1.0 - slack) && *found <= stated.high * (1.0 + slack);
        });
    }
    void words(std::string_view name, std::string stated, SheetOutcome outcome, std::string best = {},
               std::string remark = {}) {
        SheetRow row;
        row.name = name;
        row.stated_words = std::move(stated);
        row.best_words = std::move(best);
        row.outcome = outcome;
        row.remark = std::move(remark);
        rows_.push_back(std::move(row));
    }
    // A length that a sheet may write in um or in mm: as it is written.
    void length(const std::string& name, const std::optional<scenario::Stated>& stated, const Value& value,
                std::string remark = {}) {
        const std::string in_mm = name + "_mm";
        const bool millimetres = sheet_.locations.contains(in_mm);
        number(millimetres ? in_mm : name + "_um", stated, millimetres ? mm : um, value, std::move(remark));
    }
    void add_geometry();
    void add_light();
    void add_timed_light();
    void add_resolution();
    void add_figures();
    void add_linearity();
    void add_class();

    const Inference& inference_;
    const scenario::Sheet& sheet_;
    std::vector<SheetRow> rows_;
};

// Full width as the sheet measures it. @param place  Displacement. [m]
std::optional<double> spot_width(const scenario::Sheet& sheet, const Candidate& c, int axis, double place) {
    const bool half = sheet.spot.measure == scenario::SpotMeasure::half_maximum;
    const double along = c.scenario.mount.reference_distance + place / std::cos(c.scenario.emitter.angle);
    const double radius = emitter::radius_at(sensor::beam_of(c.scenario), axis, along);
    return 2.0 * radius / (half ? scenario::widths_ratio() : 1.0);
}

void Table::add_geometry() {
    words("reference_distance_mm", fmt::format("{:g}", sheet_.reference_distance / mm), SheetOutcome::taken_over);
    words("range_mm", fmt::format("{:g} to {:g}", sheet_.range[0] / mm, sheet_.range[1] / mm),
          SheetOutcome::taken_over);
    length("spot.in_plane", sheet_.spot.in_plane, [&](const Candidate& c) { return spot_width(sheet_, c, 0, 0.0); });
    length("spot.out_of_plane", sheet_.spot.out_of_plane,
           [&](const Candidate& c) { return spot_width(sheet_, c, 1, 0.0); });
    length(
        "spot.in_plane_at_ends", sheet_.spot.in_plane_at_ends,
        [&](const Candidate& c) -> std::optional<double> {
            const double near = *spot_width(sheet_, c, 0, sheet_.range[0]);
            const double far = *spot_width(sheet_, c, 0, sheet_.range[1]);
            return std::sqrt(0.5 * (near * near + far * far));
        },
        "root of the mean square of both ends");
    number("housing.windows_distance_mm", sheet_.windows_distance, mm, [](const Candidate& c) -> std::optional<double> {
        const Scenario& s = c.scenario;
        const auto of_array = [&s](scenario::Triangulation) {
            return s.receiver.distance * std::sin(s.receiver.angle) -
                   s.mount.reference_distance * std::sin(s.emitter.angle);
        };
        return std::visit(base::Cases{of_array, [&s](scenario::PhaseShift) { return s.flight.baseline; },
                                      [&s](scenario::Pulsed) { return s.flight.baseline; }},
                          s.principle);
    });
    number(
        "spot.divergence_mrad", sheet_.spot.divergence, milliradian, [&](const Candidate& c) -> std::optional<double> {
            const bool half = sheet_.spot.measure == scenario::SpotMeasure::half_maximum;
            return 2.0 * emitter::divergence(sensor::beam_of(c.scenario), 0) / (half ? scenario::widths_ratio() : 1.0);
        });
}

void Table::add_class() {
    if (sheet_.laser_class.empty()) return;
    std::int64_t agree = 0;
    for (const Candidate& member : inference_.members) {
        if (member.scenario.emitter.power <= class_limit_of(sheet_.laser_class, member.scenario)) ++agree;
    }
    words("light.laser_class", sheet_.laser_class, SheetOutcome::reproduced,
          std::visit([](const auto& layout) { return layout.laser_class; },
                     sensor::layout_of(inference_.members[inference_.best].scenario)),
          fmt::format("{} of {} sensors within its limit; estimate, see the caution of `layout`", agree,
                      inference_.members.size()));
}

void Table::add_timed_light() {
    const scenario::SheetFlight& f = sheet_.flight;
    if (!f.modulation.empty()) {
        std::vector<double> in_megahertz;
        for (const double each : f.modulation) in_megahertz.push_back(each / base::MHz);
        words("flight.modulation_MHz", fmt::format("{:g}", fmt::join(in_megahertz, ", ")), SheetOutcome::taken_over);
    }
    number("flight.pulse_ns", f.pulse, base::ns, [](const Candidate& c) { return c.scenario.flight.pulse; });
    number("flight.pulse_rate_kHz", f.pulse_rate, base::kHz,
           [](const Candidate& c) { return c.scenario.flight.pulse_rate; });
    if (f.pulses) words("flight.pulses", fmt::format("{}", *f.pulses), SheetOutcome::taken_over);
}

// Outputs of the model are not rounded.
void Table::add_resolution() {
    if (!sheet_.resolution) return;
    const double step = sheet_.resolution->middle();
    const bool millimetres = sheet_.locations.contains("resolution.step_mm");
    words(millimetres ? "resolution.step_mm" : "resolution.step_um",
          fmt::format("{:.4g}", step / (millimetres ? mm : um)), SheetOutcome::not_determined, {},
          fmt::format("outputs of the model are not rounded: a step adds its size over the root of 12, {}, as a "
                      "standard uncertainty",
                      base::length_text(step / std::sqrt(12.0), 2)));
}

void Table::add_light() {
    number("light.wavelength_nm", sheet_.wavelength, nm,
           [](const Candidate& c) { return c.scenario.emitter.wavelength; });
    add_class();
    number("light.power_mW", sheet_.power, mW, [](const Candidate& c) { return c.scenario.emitter.power; });
    add_timed_light();
    if (sheet_.pixels) words("array.pixels", fmt::format("{}", *sheet_.pixels), SheetOutcome::taken_over);
    if (sheet_.shortest_period_only) {
        words("timing.shortest_period_us", fmt::format("{:g}", sheet_.periods.front() / us), SheetOutcome::taken_over,
              {}, fmt::format("longer ones up to {:g} us are offered: common practice", sheet_.periods.back() / us));
    } else if (!sheet_.periods.empty()) {
        words("timing.period_us", fmt::format("{:g} to {:g}", sheet_.periods.front() / us, sheet_.periods.back() / us),
              SheetOutcome::taken_over);
    }
    if (sheet_.exposures) {
        words("timing.exposure_us",
              fmt::format("{:g} to {:g}", (*sheet_.exposures)[0] / us, (*sheet_.exposures)[1] / us),
              SheetOutcome::taken_over);
    }
}

// What the model gives of linearity is its residue of calibration and the pattern of response. What the calibration of
// a real sensor leaves of its lens and array is not drawn.
void Table::add_linearity() {
    const auto figure = [](const Candidate& c) {
        return c.figures.at(static_cast<std::size_t>(SheetFigure::linearity));
    };
    number("linearity.percent_of_span", sheet_.linearity, percent, figure);
    if (!sheet_.linearity || !rows_.back().best) return;
    SheetRow& row = rows_.back();
    if (*row.best >= (*row.stated)[0]) return;
    row.outcome = SheetOutcome::not_determined;
    const std::string_view parts = std::visit(
        base::Cases{
            [](scenario::Triangulation) -> std::string_view {
                return "residue of calibration and pattern of response. The rest is what a calibration leaves of "
                       "lens and array, which a sheet does not tell apart";
            },
            [](scenario::PhaseShift) -> std::string_view {
                return "residue of calibration. The rest is crosstalk and harmonics of the modulation, which a "
                       "sheet does not tell apart";
            },
            [](scenario::Pulsed) -> std::string_view {
                return "residue of calibration. The rest is range walk, "
                       "which a sheet does not tell";
            }},
        sheet_.principle);
    row.remark = fmt::format("the model has {:.2g} of {:.2g} % of span: {}", *row.best,
                             0.5 * ((*row.stated)[0] + (*row.stated)[1]), parts);
}

void Table::add_figures() {
    const auto of = [](SheetFigure figure) {
        return [figure](const Candidate& c) { return c.figures.at(static_cast<std::size_t>(figure)); };
    };
    length("repeatability.value", stated_of(sheet_, SheetFigure::repeatability), of(SheetFigure::repeatability),
           "mean over patches of the material, without speckle");
    add_resolution();
    add_linearity();
    number(key_of(sheet_, SheetFigure::temperature), stated_of(sheet_, SheetFigure::temperature), percent,
           of(SheetFigure::temperature),
           "at the reference distance; its sign is not stated: half of the sensors have either");
    number(key_of(sheet_, SheetFigure::white_exposure), stated_of(sheet_, SheetFigure::white_exposure), us,
           of(SheetFigure::white_exposure));
}

std::vector<SheetRow> Table::rows() {
    add_geometry();
    add_light();
    add_figures();
    for (const Unexplained& each : inference_.unexplained) {
        const auto row = std::find_if(rows_.begin(), rows_.end(),
                                      [&](const SheetRow& r) { return r.name == key_of(sheet_, each.figure); });
        if (row == rows_.end()) continue;
        row->outcome = SheetOutcome::not_explained;
        row->remark = in_words(each, sheet_);
    }
    return std::move(rows_);
}

}  // namespace

std::vector<SheetRow> sheet_rows(const Inference& inference) {
    return Table(inference).rows();
}

}  // namespace spotwright::study
