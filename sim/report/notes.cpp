// Sections of a report about its limits: models, checks, sources, cautions.
#include <fmt/format.h>

#include "sim/report/sections.hpp"
#include "sim/drawing/svg_canvas.hpp"
#include "sim/record/text.hpp"
#include "sim/base/cases.hpp"
#include "sim/sensor/layout.hpp"

namespace spotwright::report {

namespace {

using scenario::Scenario;

std::string light_model(const Scenario& s) {
    if (s.run.model == scenario::LightModel::ray) {
        return fmt::format("Light ray by ray ({} rays), which may meet the part many times.", s.run.rays);
    }
    return "Light by the spot model: all of the beam's footprint through all of the lens, each ray scattered once by "
           "the "
           "part's surface lobes.";
}

std::string below_the_law(const Scenario& s) {
    const std::string_view why = sensor::why_speckle_is_below_the_law(s.receiver);
    if (why.empty() || !scenario::abilities_of(s.principle).array) return {};
    return fmt::format(" Its size: {}.", why);
}

std::string speckle_model(const Scenario& s) {
    switch (s.run.speckle) {
        case scenario::SpeckleModel::coherent:
            return "Speckle by waves from the part's rough surface, the pattern frozen while the part stands still." +
                   below_the_law(s);
        case scenario::SpeckleModel::statistical:
            return "Speckle by a fast statistical model of the same contrast and size." + below_the_law(s);
        case scenario::SpeckleModel::off:
            break;
    }
    return "Speckle was switched off: on a rough part in laser light the real error is larger.";
}

std::vector<std::string> modelled(const Scenario& s) {
    std::vector<std::string> list{light_model(s), speckle_model(s)};
    const auto by_position = [&](scenario::Triangulation) {
        list.emplace_back(
            "Imaging onto a tilted array with diffraction and defocus; shot, read and digitising noise, dark current, "
            "pixel pattern, saturation, ambient light.");
        list.emplace_back(fmt::format(
            "Peak, calibration on {}, median and average as in the sensor; the calibration never sees the part.",
            record::one_line(s.reading.reference.title.empty() ? s.reading.calibrated_on : s.reading.reference.title)));
    };
    const auto by_time = [&list] {
        list.emplace_back(
            "Timing of the light on all its paths to the detector, with shot noise, ambient light and air.");
    };
    std::visit(base::Cases{by_position, [&](scenario::PhaseShift) { by_time(); }, [&](scenario::Pulsed) { by_time(); }},
               s.principle);
    return list;
}

void add_material(const scenario::Material& m, std::vector<std::string>& list) {
    const auto add = [&](const char* what, const std::string& source) {
        if (!source.empty())
            list.push_back(fmt::format("{}, {}: {}", record::one_line(m.name), what, record::one_line(source)));
    };
    if (!m.reflectance.wavelength.empty()) {
        add("diffuse reflectance", m.reflectance.source);
        add("facet slope", m.slope.source);
    }
    if (m.index) {
        add("index", m.index->source);
        add("roughness", m.roughness.source);
    }
    if (m.haze) add("haze", m.haze->source);
    if (m.volume) add("volume", m.volume->source);
    if (m.layer) add("layer", m.layer->source);
    if (m.grain) add("grain", m.grain->source);
    add("coherence", m.coherence.source);
}

}  // namespace

std::string models_section(const ReportContent& content) {
    std::string text = html_list(modelled(content.scenario));
    text += html_list(content.not_studied);
    if (!content.left_out.empty()) text += html_paragraph("Left out: " + content.left_out + ".");
    return text;
}

std::string checks_section(const ReportContent& content) {
    if (!content.checks) return {};
    return html_paragraph(fmt::format(
        "The program's models are held against {} published or independently worked values; {} when this version was "
        "made. docs/validation.md of the program lists each with source, value and tolerance, and `spotwright "
        "validate` "
        "runs them again. They check the models, not this job: a trial on the real part remains the proof.",
        content.checks->made,
        content.checks->failed == 0 ? "all passed" : fmt::format("{} failed", content.checks->failed)));
}

std::string sources_section(const ReportContent& content) {
    const Scenario& s = content.scenario;
    std::vector<std::string> list;
    add_material(s.target.made_of, list);
    if (s.target.plate.backing_made_of) add_material(*s.target.plate.backing_made_of, list);
    for (const scenario::Material& segment : s.target.segments.made_of) add_material(segment, list);
    if (content.read || content.budget) {
        list.emplace_back(
            "Uncertainty: JCGM 100:2008 (GUM). Margin between uncertainty and tolerance: common practice, see the "
            "scenario.");
    }
    if (content.budget) list.emplace_back("Monte Carlo: JCGM 101:2008.");
    if (!content.linearity.empty()) list.emplace_back("Non-linearity: IEC 61298-2.");
    if (content.allan) {
        list.emplace_back(
            "Allan deviation: W. J. Riley, Handbook of Frequency Stability Analysis, NIST SP 1065 (2008).");
    }
    if (content.histogram) list.emplace_back("Bins: D. Freedman, P. Diaconis (1981).");
    if (content.laser) list.emplace_back("Laser class: IEC 60825-1:2014, in outline.");
    list.emplace_back("Colours of the charts: M. Okabe, K. Ito, Color universal design (2008).");
    return html_list(list);
}

std::string cautions_section(const ReportContent& content) {
    std::string text;
    if (content.laser) {
        if (content.laser->estimate != "not estimated") {
            text += html_paragraph(fmt::format("Laser class, estimated: {}.", content.laser->estimate));
        }
        text += html_paragraph(content.laser->caution);
    }
    return text + html_paragraph(
                      "A measurement is no safety function: do not let the safety of people or of a machine rest on a "
                      "reading of this sensor, nor on this prediction of it.");
}

}  // namespace spotwright::report
