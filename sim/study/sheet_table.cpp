// The table of a data sheet, and how far the parameters of the sensor are known.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/study/infer.hpp"
#include "sim/study/sheet_forms.hpp"
#include "sim/study/sheet_ranges.hpp"

namespace spotwright::study {

namespace {

using base::mm, base::um, base::us, base::nm, base::mW;
using scenario::Scenario;
using Value = std::function<std::optional<double>(const Candidate&)>;

constexpr double percent = 0.01;

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
    void add_geometry();
    void add_light();
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
    number("spot.in_plane_um", sheet_.spot.in_plane, um,
           [&](const Candidate& c) { return spot_width(sheet_, c, 0, 0.0); });
    number("spot.out_of_plane_um", sheet_.spot.out_of_plane, um,
           [&](const Candidate& c) { return spot_width(sheet_, c, 1, 0.0); });
    number(
        "spot.in_plane_at_ends_um", sheet_.spot.in_plane_at_ends, um,
        [&](const Candidate& c) -> std::optional<double> {
            const double near = *spot_width(sheet_, c, 0, sheet_.range[0]);
            const double far = *spot_width(sheet_, c, 0, sheet_.range[1]);
            return std::sqrt(0.5 * (near * near + far * far));
        },
        "root of the mean square of both ends");
    number("housing.windows_distance_mm", sheet_.windows_distance, mm, [](const Candidate& c) -> std::optional<double> {
        const Scenario& s = c.scenario;
        return s.receiver.distance * std::sin(s.receiver.angle) -
               s.mount.reference_distance * std::sin(s.emitter.angle);
    });
}

void Table::add_class() {
    if (sheet_.laser_class.empty()) return;
    std::int64_t agree = 0;
    for (const Candidate& member : inference_.members) {
        const scenario::Emitter& e = member.scenario.emitter;
        if (e.power <= class_limit(sheet_.laser_class, e.wavelength)) ++agree;
    }
    const scenario::Emitter& best = inference_.members[inference_.best].scenario.emitter;
    words("light.laser_class", sheet_.laser_class, SheetOutcome::reproduced,
          emitter::estimated_class(best.wavelength, best.power),
          fmt::format("{} of {} sensors within its limit; estimate, see the caution of `layout`", agree,
                      inference_.members.size()));
}

void Table::add_light() {
    number("light.wavelength_nm", sheet_.wavelength, nm,
           [](const Candidate& c) { return c.scenario.emitter.wavelength; });
    add_class();
    number("light.power_mW", sheet_.power, mW, [](const Candidate& c) { return c.scenario.emitter.power; });
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

// What the model gives of linearity is its residue of calibration and the pattern of response. A lens adds residual
// aberration, which the model does not have.
void Table::add_linearity() {
    const auto figure = [](const Candidate& c) {
        return c.figures.at(static_cast<std::size_t>(SheetFigure::linearity));
    };
    number("linearity.percent_of_span", sheet_.linearity, percent, figure);
    if (!sheet_.linearity || !rows_.back().best) return;
    SheetRow& row = rows_.back();
    if (*row.best >= (*row.stated)[0]) return;
    row.outcome = SheetOutcome::not_determined;
    row.remark = fmt::format(
        "the model has {:.2g} of {:.2g} % of span: residue of calibration and pattern of response. "
        "The rest is residual aberration of the lens, which it does not have",
        *row.best, 0.5 * ((*row.stated)[0] + (*row.stated)[1]));
}

void Table::add_figures() {
    const auto of = [](SheetFigure figure) {
        return [figure](const Candidate& c) { return c.figures.at(static_cast<std::size_t>(figure)); };
    };
    number(key_of(SheetFigure::repeatability), stated_of(sheet_, SheetFigure::repeatability), um,
           of(SheetFigure::repeatability), "mean over patches of the material, without speckle");
    add_linearity();
    number(key_of(SheetFigure::temperature), stated_of(sheet_, SheetFigure::temperature), percent,
           of(SheetFigure::temperature),
           "at the reference distance; its sign is not stated: half of the sensors have either");
    number(key_of(SheetFigure::white_exposure), stated_of(sheet_, SheetFigure::white_exposure), us,
           of(SheetFigure::white_exposure));
}

std::vector<SheetRow> Table::rows() {
    add_geometry();
    add_light();
    add_figures();
    for (const Unexplained& each : inference_.unexplained) {
        const auto row =
            std::find_if(rows_.begin(), rows_.end(), [&](const SheetRow& r) { return r.name == key_of(each.figure); });
        if (row == rows_.end()) continue;
        row->outcome = SheetOutcome::not_explained;
        row->remark = in_words(each, sheet_);
    }
    return std::move(rows_);
}

// What is said of one parameter.
struct Parameter {
    std::string_view name;
    double unit;
    double (*value)(const Scenario&);
    std::optional<Open> open;
    std::string_view form;  // where the sheet determines it
};

const std::vector<Parameter>& parameters() {
    static const std::vector<Parameter> all{
        {"receiver.angle_deg", base::degree, [](const Scenario& s) { return s.receiver.angle; }, Open::receiver_angle,
         "distance of the windows"},
        {"receiver.distance_mm", mm, [](const Scenario& s) { return s.receiver.distance; }, std::nullopt,
         "angle and reference distance"},
        {"receiver.focal_length_mm", mm, [](const Scenario& s) { return s.receiver.focal_length; }, std::nullopt,
         "range and length of the array"},
        {"receiver.aperture_mm", mm, [](const Scenario& s) { return s.receiver.aperture.in_plane; },
         Open::aperture_share, "light"},
        {"receiver.transmission", 1.0, [](const Scenario& s) { return s.receiver.transmission; }, Open::transmission,
         "light"},
        {"emitter.power_mW", mW, [](const Scenario& s) { return s.emitter.power; }, Open::power_share, "stated"},
        {"emitter.wavelength_nm", nm, [](const Scenario& s) { return s.emitter.wavelength; }, Open::wavelength,
         "stated"},
        {"emitter.waist_radius_um", um, [](const Scenario& s) { return s.emitter.waist_radius[0]; }, Open::spot_share,
         "spot at the reference distance"},
        {"emitter.beam_quality", 1.0, [](const Scenario& s) { return s.emitter.beam_quality; }, Open::beam_quality,
         "spot at the ends of the range"},
        {"detector.pixels", 1.0, [](const Scenario& s) { return static_cast<double>(s.detector.pixels); }, Open::pixels,
         "stated"},
        {"detector.pitch_um", um, [](const Scenario& s) { return s.detector.pitch; }, Open::pitch, ""},
        {"detector.height_um", um, [](const Scenario& s) { return s.detector.height; }, Open::height, ""},
        {"detector.quantum_efficiency", 1.0, [](const Scenario& s) { return s.detector.quantum_efficiency; },
         Open::quantum_efficiency, "light"},
        {"detector.full_well_e", 1.0, [](const Scenario& s) { return s.detector.full_well; }, Open::full_well,
         "repeatability"},
        {"detector.read_noise_e", 1.0, [](const Scenario& s) { return s.detector.read_noise; }, Open::read_noise, ""},
        {"detector.response_nonuniformity", 1.0, [](const Scenario& s) { return s.detector.response_nonuniformity; },
         Open::response_nonuniformity, ""},
        {"thermal.lens_shift_um_per_K", um, [](const Scenario& s) { return s.thermal.lens_shift; }, Open::lens_shift,
         "drift"},
    };
    return all;
}

double log_deviation(const std::vector<double>& values) {
    double sum = 0.0;
    double squares = 0.0;
    for (const double value : values) {
        const double log = std::log(std::abs(value));
        sum += log;
        squares += log * log;
    }
    const auto count = static_cast<double>(values.size());
    return std::sqrt(std::max(0.0, (squares - sum * sum / count) / std::max(1.0, count - 1.0)));
}

// Of the logarithm of a value drawn from a range.
double log_deviation(const OpenRange& range) {
    constexpr int places = 200;
    std::vector<double> values;
    for (int i = 0; i < places; ++i) values.push_back(value_at(range, (i + 0.5) / places));
    return log_deviation(values);
}

}  // namespace

std::vector<SheetRow> sheet_rows(const Inference& inference) {
    return Table(inference).rows();
}

std::vector<SheetUnknown> sheet_unknowns(const Inference& inference) {
    std::vector<SheetUnknown> unknowns;
    for (const Parameter& p : parameters()) {
        std::vector<double> values;
        for (const Candidate& member : inference.members) values.push_back(p.value(member.scenario) / p.unit);
        SheetUnknown unknown;
        unknown.name = p.name;
        unknown.best = p.value(inference.members[inference.best].scenario) / p.unit;
        const double deviation = log_deviation(values);
        unknown.ensemble = *spread_of(values);
        constexpr double known = 0.02;
        unknown.determined = deviation < known;
        if (p.open) unknown.narrowed = deviation / log_deviation(range_of(*p.open));
        if (unknown.determined || !p.open) {
            unknown.from = p.form;
        } else {
            const OpenRange& range = range_of(*p.open);
            unknown.from = fmt::format("{} {:g} to {:g}: {}", range.name, range.low, range.high, range.reason);
        }
        unknowns.push_back(std::move(unknown));
    }
    return unknowns;
}

}  // namespace spotwright::study
