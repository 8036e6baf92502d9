// A data sheet as text.
#include <fmt/format.h>

#include "sim/base/units.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/scenario/sheet.hpp"

namespace spotwright::scenario {

namespace {

using base::mm, base::um, base::us;

constexpr double milliradian = 1e-3;
constexpr int digits = 12;  // hides what a conversion to SI and back leaves

std::string number(double si, double unit) {
    return fmt::format("{:.{}g}", si / unit, digits);
}

std::string pair(const Pair& values, double unit) {
    return fmt::format("[{}, {}]", number(values[0], unit), number(values[1], unit));
}

// Lines of a section, its head before the first of them.
class Section {
public:
    Section(std::string& text, std::string_view name) : text_(text), name_(name) {}

    void line(std::string_view key, const std::string& value) {
        if (!begun_) text_ += fmt::format("\n[{}]\n", name_);
        begun_ = true;
        text_ += fmt::format("{} = {}\n", key, value);
    }
    void line(std::string_view key, const std::optional<Stated>& value, double unit) {
        if (value) line(key, pair({value->low, value->high}, unit));
    }
    void positive(std::string_view key, double value, double unit) {
        if (value > 0.0) line(key, number(value, unit));
    }

private:
    std::string& text_;
    std::string_view name_;
    bool begun_ = false;
};

void add_repeatability(const SheetRepeatability& r, std::string& text) {
    Section section(text, "repeatability");
    section.line("value_um", r.value, um);
    constexpr std::array<std::string_view, 3> meanings{"standard deviation", "two standard deviations", "peak to peak"};
    section.line("meaning", toml_string(meanings.at(static_cast<std::size_t>(r.meaning))));
    if (r.meaning == Meaning::peak_to_peak) section.line("readings", fmt::format("{}", r.readings));
    section.line("average", fmt::format("{}", r.average));
    if (r.period) section.line("period_us", number(*r.period, us));
    section.line("material", toml_string(r.material));
}

void add_timing(const Sheet& s, std::string& text) {
    Section section(text, "timing");
    std::string list;
    for (const double period : s.periods) list += (list.empty() ? "" : ", ") + number(period, us);
    if (s.shortest_period_only) {
        section.line("shortest_period_us", number(s.periods.front(), us));
    } else if (!list.empty()) {
        section.line("period_us", fmt::format("[{}]", list));
    }
    if (s.exposures) section.line("exposure_us", pair(*s.exposures, us));
    section.line("white_exposure_us", s.white_exposure, us);
    if (!s.averages.empty()) section.line("averages", fmt::format("[{}]", fmt::join(s.averages, ", ")));
}

void add_flight(const SheetFlight& flight, std::string& text) {
    Section section(text, "flight");
    std::string list;
    for (const double each : flight.modulation) list += (list.empty() ? "" : ", ") + number(each, base::MHz);
    if (!list.empty()) section.line("modulation_MHz", fmt::format("[{}]", list));
    section.line("pulse_ns", flight.pulse, base::ns);
    section.line("pulse_rate_kHz", flight.pulse_rate, base::kHz);
    if (flight.pulses) section.line("pulses", fmt::format("{}", *flight.pulses));
}

}  // namespace

std::string to_toml(const Sheet& s) {
    std::string text = fmt::format(
        "schema = 1\ntitle = {}\nprinciple = \"{}\"\nmount = \"{}\"\nreference_distance_mm = {}\nrange_mm = {}\n",
        toml_string(s.title), word_of(s.principle), s.mount == SheetMount::specular ? "specular" : "diffuse",
        number(s.reference_distance, mm), pair(s.range, mm));
    Section spot(text, "spot");
    if (s.spot.measure == SpotMeasure::half_maximum) spot.line("measured_at", "\"half maximum\"");
    spot.line("in_plane_um", s.spot.in_plane, um);
    spot.line("out_of_plane_um", s.spot.out_of_plane, um);
    spot.line("in_plane_at_ends_um", s.spot.in_plane_at_ends, um);
    spot.line("divergence_mrad", s.spot.divergence, milliradian);
    Section light(text, "light");
    light.line("wavelength_nm", s.wavelength, base::nm);
    if (!s.laser_class.empty()) light.line("laser_class", toml_string(s.laser_class));
    light.line("power_mW", s.power, base::mW);
    add_timing(s, text);
    if (s.repeatability) add_repeatability(*s.repeatability, text);
    add_flight(s.flight, text);
    Section(text, "resolution").line("step_um", s.resolution, um);
    constexpr double percent = 0.01;
    Section(text, "linearity").line("percent_of_span", s.linearity, percent);
    Section(text, "temperature").line("percent_of_span_per_K", s.temperature, percent);
    Section housing(text, "housing");
    housing.line("windows_distance_mm", s.windows_distance, mm);
    if (s.housing.window[0] > 0.0) housing.line("window_mm", pair(s.housing.window, mm));
    housing.positive("width_mm", s.housing.width, mm);
    housing.positive("depth_mm", s.housing.depth, mm);
    housing.positive("thickness_mm", s.housing.thickness, mm);
    housing.positive("beam_position_mm", s.housing.beam_position, mm);
    if (s.pixels) Section(text, "array").line("pixels", fmt::format("{}", *s.pixels));
    return text;
}

}  // namespace spotwright::scenario
