#include <fmt/format.h>

#include <array>
#include <cmath>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/drawing_file.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/json_text.hpp"
#include "sim/drawing/flight_layout.hpp"
#include "sim/record/json.hpp"
#include "sim/drawing/layout.hpp"
#include "sim/drawing/layout_dxf.hpp"
#include "sim/scenario/input_files.hpp"
#include "sim/sensor/flight_layout.hpp"
#include "sim/sensor/housing.hpp"
#include "sim/sensor/layout.hpp"

namespace spotwright::cli {

namespace {

using base::mm, base::um, base::degree;

std::string glare_text(const sensor::Glare& glare) {
    const std::string reach = fmt::format("{:.3g} deg", reach_of(glare) / degree);
    const std::string away = fmt::format("{:.3g} deg", glare.away / degree);
    if (!glare.tilt) {
        return fmt::format("the gloss meets the lens within {} of a normal {} from that of the lit point", reach, away);
    }
    return fmt::format("the gloss meets the lens at a tilt of {:.2f} and {:.2f} deg, +-{}; the part is {} from it",
                       (*glare.tilt)[0] / degree, (*glare.tilt)[1] / degree, reach, away);
}

// Empty where the housing is not known.
std::string room_text(const scenario::Scenario& s) {
    const auto room = sensor::room_of(s);
    if (!room) return {};
    const std::string thick =
        s.housing.thickness > 0.0 ? fmt::format(", {:.4g} mm thick", s.housing.thickness / mm) : std::string();
    return fmt::format(
        "  {:<20}{:.4g} mm from the housing to the part at the reference point, {:.4g} mm at the near end\n"
        "  {:<20}{:.4g} mm high from the far end to the back of the housing, {:.4g} mm wide{}\n",
        "clearance", room->clearance / mm, room->near_clearance / mm, "room", room->height / mm, room->width / mm,
        thick);
}

std::string describe(const scenario::Scenario& s, const sensor::Layout& layout) {
    std::string text = printable(s.title.empty() ? s.file : s.title) + "\n";
    const auto line = [&text](std::string_view head, const std::string& rest) {
        text += fmt::format("  {:<20}{}\n", head, rest);
    };
    line("measuring range",
         fmt::format("{:g} to {:g} mm, span {:g} mm", s.mount.range[0] / mm, s.mount.range[1] / mm, layout.span / mm));
    line("distance", fmt::format("{:.6g} / {:.6g} / {:.6g} mm from the emitter face for near end, reference, far end",
                                 layout.distance[0] / mm, layout.distance[1] / mm, layout.distance[2] / mm));
    const std::string far =
        std::isinf(layout.measurable.far)
            ? std::string("any distance")
            : fmt::format("{:.4g} mm (limit: {})", layout.measurable.far / mm, layout.measurable.far_limit);
    line("measurable",
         fmt::format("{:.4g} mm (limit: {}) to {}", layout.measurable.near / mm, layout.measurable.near_limit, far));
    line("detector tilt", fmt::format("{:.3f} deg from the lens plane", layout.detector_tilt / degree));
    line("magnification", fmt::format("{:.4g}", layout.magnification));
    line("sensitivity", fmt::format("{:.4g} um on the array per um; one pixel is {:.4g} um", layout.sensitivity,
                                    layout.pixel_displacement / um));
    line("image on the array",
         fmt::format("{:.4f} / {:.4f} / {:.4f} mm for near end, reference, far end", layout.image_position[0] / mm,
                     layout.image_position[1] / mm, layout.image_position[2] / mm));
    line("beam radius", fmt::format("{:.4g} / {:.4g} / {:.4g} um at the same places", layout.beam_radius[0] / um,
                                    layout.beam_radius[1] / um, layout.beam_radius[2] / um));
    line("object-side NA", fmt::format("{:.4g}", layout.object_side_na));
    line("speckle limit", fmt::format("{:.3g} um standard deviation on a rough part (closed form, contrast 1)",
                                      layout.speckle_limit / um));
    const std::string_view why = sensor::why_limit_is_below_the_law(s.receiver);
    if (!why.empty()) line("", wrapped(why, 22));
    if (layout.glare) line("gloss", glare_text(*layout.glare));
    line("laser class", layout.laser_class + " (estimate)");
    text += fmt::format("  {}\n", wrapped(emitter::safety_caution(), 2));
    text += room_text(s);
    for (const std::string& misfit : sensor::misfits_of(s, layout)) line("warning", wrapped(misfit, 22));
    return text;
}

// Lines of every frequency.
std::string frequency_text(const sensor::FrequencyLayout& each) {
    const std::string cyclic = each.cyclic_error_period
                                   ? fmt::format("cyclic error repeats every {:.6g} mm", *each.cyclic_error_period / mm)
                                   : std::string("sine light has no harmonics that would leave a cyclic error");
    return fmt::format("{:g} MHz: {:.6g} mm per rad; {}", each.frequency / base::MHz, each.distance_per_radian / mm,
                       cyclic);
}

std::string field_text(const sensor::FlightLayout& layout) {
    const auto three = [&layout](const auto& of) {
        return fmt::format("{:.4g} / {:.4g} / {:.4g} mm", of(layout.field[0]) / mm, of(layout.field[1]) / mm,
                           of(layout.field[2]) / mm);
    };
    return fmt::format("radius {} at the same places, seen by the whole lens within {}",
                       three([](const sensor::Field& field) { return field.radius; }),
                       three([](const sensor::Field& field) { return field.full_radius; }));
}

std::string describe(const scenario::Scenario& s, const sensor::FlightLayout& layout) {
    std::string text = printable(s.title.empty() ? s.file : s.title) + "\n";
    const auto line = [&text](std::string_view head, const std::string& rest) {
        text += fmt::format("  {:<20}{}\n", head, rest);
    };
    line("measuring range",
         fmt::format("{:g} to {:g} mm, span {:g} mm", s.mount.range[0] / mm, s.mount.range[1] / mm, layout.span / mm));
    line("distance", fmt::format("{:.6g} / {:.6g} / {:.6g} mm from the emitter face for near end, reference, far end",
                                 layout.distance[0] / mm, layout.distance[1] / mm, layout.distance[2] / mm));
    line("unambiguous", fmt::format("over {:.6g} mm", layout.unambiguous_distance / mm));
    for (std::size_t f = 0; f < layout.frequencies.size(); ++f) {
        line(f == 0 ? "phase" : "", frequency_text(layout.frequencies[f]));
    }
    line("beam radius", fmt::format("{:.4g} / {:.4g} / {:.4g} um at the same places", layout.beam_radius[0] / um,
                                    layout.beam_radius[1] / um, layout.beam_radius[2] / um));
    line("field of view", field_text(layout));
    constexpr std::array places{"near end", "reference", "far end"};
    for (std::size_t i = 0; i < places.size(); ++i) {
        if (layout.spot_within_field[i]) continue;
        line("", fmt::format("the spot at the {} lies {:.4g} mm off the lens's axis and not wholly within", places[i],
                             std::abs(layout.field_offset[i]) / mm));
    }
    const auto& power = layout.received_power;
    line("received", fmt::format("{:.4g} / {:.4g} / {:.4g} nW from {} at the same places", power[0] / base::nW,
                                 power[1] / base::nW, power[2] / base::nW, printable(s.reading.reference.name)));
    line("mean power", fmt::format("{:.4g} mW", layout.mean_power / base::mW));
    line("laser class", layout.laser_class + " (estimate)");
    text += fmt::format("  {}\n", wrapped(layout.laser_caution, 2));
    return text + room_text(s);
}

// Text of a layout of either kind.
template <class Layout>
void show(const Options& options, const scenario::Scenario& s, const Layout& layout) {
    if (options.json) {
        print("{}\n", record::json_text(record::to_json(layout, s)));
        return;
    }
    print("{}", describe(s, layout));
    if (!options.out.empty()) print("  {:<20}{}\n", "drawing", options.out);
}

}  // namespace

int run_layout(const Options& options) {
    const std::string format =
        options.out.empty() ? std::string() : checked_drawing(options.out, {".svg", ".pdf", ".dxf"});
    const scenario::Scenario s = load_scenario(options);
    if (!format.empty()) record::keep_inputs(options.out, scenario::input_files(s));
    const auto answer = [&](const auto& layout) {
        if (format == ".dxf") {
            record::write_text_file(options.out, drawing::layout_dxf(s, layout));
        } else if (!format.empty()) {
            write_drawing(options.out, drawing::draw_layout(s, layout), s.title);
        }
        show(options, s, layout);
    };
    std::visit(answer, sensor::layout_of(s));
    return exit_done;
}

}  // namespace spotwright::cli
