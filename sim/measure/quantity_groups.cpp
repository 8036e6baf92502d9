#include <algorithm>
#include <array>
#include <initializer_list>
#include <variant>

#include "sim/base/cases.hpp"
#include "sim/measure/quantities.hpp"

namespace spotwright::measure {

namespace {

using R = ReadResult;
using S = scenario::Scenario;

constexpr auto always = [](const R&, const S&) { return true; };

const std::array groups{
    QuantityGroup{Group::signal, "signal", always},
    QuantityGroup{Group::well, "signal",
                  [](const R& r, const S&) { return !std::holds_alternative<PulseDetails>(r.details); }},
    QuantityGroup{Group::readings, "readings", always},
    QuantityGroup{Group::output, "output", always},
    QuantityGroup{Group::markings, "output", [](const R& r, const S&) { return r.marking_error.has_value(); }},
    QuantityGroup{Group::inside, "output", [](const R& r, const S&) { return r.inside_error.has_value(); }},
    QuantityGroup{Group::lens, "output", [](const R& r, const S&) { return r.lens_error.has_value(); }},
    QuantityGroup{Group::still, "output", [](const R& r, const S&) { return !r.tracking; }},
    QuantityGroup{Group::speckle, "speckle", [](const R& r, const S&) { return r.speckle.has_value(); }},
    QuantityGroup{Group::grain, "speckle",
                  [](const R& r, const S&) { return r.speckle && r.speckle->grain_deviation; }},
    QuantityGroup{Group::glare, "gloss", [](const R& r, const S&) { return r.glare.has_value(); }},
    QuantityGroup{Group::motion, "motion", [](const R& r, const S&) { return r.tracking.has_value(); }},
    QuantityGroup{Group::exposure, "exposure", [](const R& r, const S&) { return r.exposure_use.has_value(); }},
    QuantityGroup{Group::changes, "exposure",
                  [](const R& r, const S&) { return r.exposure_use && r.exposure_use->changes > 0; }},
    QuantityGroup{Group::scan, "scan",
                  [](const R& r, const S&) { return r.scan && (r.scan->run_out || r.scan->roll || r.scan->step); }},
    QuantityGroup{Group::run_out, "scan", [](const R& r, const S&) { return r.scan && r.scan->run_out; }},
    QuantityGroup{Group::roll, "scan", [](const R& r, const S&) { return r.scan && r.scan->roll; }},
    QuantityGroup{Group::step, "scan", [](const R& r, const S&) { return r.scan && r.scan->step; }},
    QuantityGroup{Group::thickness, "thickness",
                  [](const R&, const S& s) { return s.reading.thickness_index.has_value(); }},
    QuantityGroup{Group::light, "light", [](const R& r, const S&) { return timed_light(r.details) != nullptr; }},
    QuantityGroup{Group::phase, "light",
                  [](const R& r, const S&) { return std::holds_alternative<PhaseDetails>(r.details); }},
    QuantityGroup{Group::pulses, "light",
                  [](const R& r, const S&) { return std::holds_alternative<PulseDetails>(r.details); }},
    QuantityGroup{Group::model, "model", [](const R& r, const S&) { return r.model_error.has_value(); }},
    QuantityGroup{Group::uncertainty, "uncertainty", always},
};

}  // namespace

std::span<const QuantityGroup> quantity_groups() {
    return groups;
}

bool may_exist(const Quantity& quantity, const scenario::Principle& principle) {
    const auto is_one_of = [&quantity](std::initializer_list<Group> list) {
        return std::find(list.begin(), list.end(), quantity.group) != list.end();
    };
    return std::visit(base::Cases{[&](scenario::Triangulation) {
                                      return !is_one_of({Group::light, Group::phase, Group::pulses});
                                  },
                                  [&](scenario::PhaseShift) {
                                      return !is_one_of({Group::pulses, Group::lens});
                                  },
                                  [&](scenario::Pulsed) {
                                      return !is_one_of({Group::phase, Group::well, Group::lens});
                                  }},
                      principle);
}

}  // namespace spotwright::measure
