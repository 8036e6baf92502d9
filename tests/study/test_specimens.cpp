// Specimens of a sensor within the tolerances of its making, and what the instrument itself brings to budget and
// advice.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/study/budget.hpp"
#include "sim/study/budget_lines.hpp"
#include "sim/study/changes.hpp"
#include "sim/study/specimens.hpp"

using namespace spotwright;
using base::degree, base::mm, base::um;
using measure::Cause;

namespace {

scenario::Scenario part(const std::string& material, std::vector<std::string> settings) {
    settings.insert(settings.end(), {"run.readings=64", "run.patches=8", "run.speckle=off"});
    return scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "t", settings);
}

std::vector<std::string> askew(std::vector<std::string> more) {
    more.insert(more.end(), {"target.tilt_deg=[10, 0]", "exposure.mode=automatic", "exposure.exposure_us=0.05"});
    return more;
}

std::optional<study::BudgetLine> line_of(const scenario::Scenario& s, Cause cause) {
    for (const study::BudgetLine& line : study::budget_lines(study::ErrorModel(sensor::set_up(s, 2)), {}, 2)) {
        if (line.cause == cause) return line;
    }
    return std::nullopt;
}

bool has_reason(const measure::Verdict& verdict, std::size_t index) {
    return std::any_of(verdict.reasons.begin(), verdict.reasons.end(),
                       [index](const measure::Reason& reason) { return reason.index() == index; });
}

template <class Reason>
bool tells(const scenario::Scenario& s) {
    const measure::ReadResult result = measure::read(sensor::set_up(s, 2), {2, {}, {}});
    return has_reason(result.verdict, measure::Reason(Reason{}).index());
}

bool offers(const scenario::Scenario& s, const std::string& setting) {
    const measure::ReadResult result = measure::read(sensor::set_up(s, 2), {2, {}, {}});
    const std::vector<study::Change> changes = study::possible_changes(s, result);
    return std::any_of(changes.begin(), changes.end(), [&setting](const study::Change& change) {
        return std::find(change.settings.begin(), change.settings.end(), setting) != change.settings.end();
    });
}

}  // namespace

TEST_CASE("specimens scatter with a part that fills the lens on one side, and agree on what they were calibrated on",
          "[study][making]") {
    const std::vector<std::string> making{"making.focus_um=250", "run.specimens=6"};
    study::EnsembleOptions options;
    options.threads = 2;
    const scenario::Scenario face = part("ground-steel", askew(making));
    const auto specimens = study::read_specimens(face, options);
    REQUIRE(specimens);
    CHECK(specimens->spread.members == 6);
    CHECK(specimens->bias_deviation.value() > 5.0 * um);
    options.threads = 1;
    CHECK(study::read_specimens(face, options)->bias_deviation == specimens->bias_deviation);
    std::vector<std::string> calm = making;
    calm.emplace_back("exposure.exposure_us=1.8");
    CHECK(study::read_specimens(part("white-ceramic", calm), options)->bias_deviation.value() < 0.5 * um);
    CHECK_FALSE(study::read_specimens(part("ground-steel", askew({"making.focus_um=250"})), options));
    CHECK(in_words(*specimens, measure::Level::stable).find("of 6 specimens") != std::string::npos);
}

TEST_CASE("a specimen of the study is the sensor that its device seed makes", "[study][making]") {
    const scenario::Scenario s = part("ground-steel", askew({"making.focus_um=250", "run.specimens=3"}));
    const auto errors = study::errors_of_specimens(study::specimens_of(s), 2);
    REQUIRE(errors.size() == 3);
    const scenario::Scenario third = part("ground-steel", askew({"making.focus_um=250", "detector.device_seed=3"}));
    CHECK(errors[2].value() ==
          study::ErrorModel(sensor::set_up(third, 2)).error_at(study::nominal_draw(third)).value());
}

TEST_CASE("a budget has a line for the making and one for the pointing of the beam, where there is any",
          "[study][making][pointing]") {
    const scenario::Scenario made = part("ground-steel", askew({"making.focus_um=250", "run.specimens=5"}));
    const auto making = line_of(made, Cause::making);
    REQUIRE(making);
    CHECK(making->component.standard_uncertainty > 5.0 * um);
    CHECK(making->component.degrees_of_freedom == 4.0);
    // The Monte Carlo reads with one specimen, and agrees with the other lines.
    std::vector<std::string> settings = askew({"making.focus_um=250", "run.specimens=3", "run.trials=200"});
    const study::Budget whole = study::budget(sensor::set_up(part("ground-steel", settings), 2), {2, {}});
    CHECK(whole.agrees);
    CHECK(whole.combined.standard_uncertainty > 5.0 * um);
    const scenario::Scenario plain = part("white-ceramic", {"exposure.exposure_us=1.8"});
    CHECK_FALSE(line_of(plain, Cause::making));
    CHECK_FALSE(line_of(plain, Cause::pointing));
    const auto pointing = line_of(
        part("white-ceramic", {"exposure.exposure_us=1.8", "emitter.pointing_jitter_urad=50"}), Cause::pointing);
    REQUIRE(pointing);
    // Distance times jitter over the tangent of the angle; 2048 readings tell a deviation to 1.6 %.
    CHECK(pointing->component.standard_uncertainty ==
          Approx(50e-6 * 50.0 * mm / std::tan(30.0 * degree)).epsilon(0.08));
}

TEST_CASE("each fault of the instrument is told where it decides, and only there", "[study][making]") {
    const scenario::Scenario plain = part("white-ceramic", {"exposure.exposure_us=1.8"});
    const scenario::Scenario glass = part("white-ceramic", {"exposure.exposure_us=1.8", "cover.glass_mm=0.5"});
    const scenario::Scenario ghost = part("white-ceramic", {"receiver.ghost_share=0.01", "receiver.ghost_shift_um=900",
                                                            "reading.threshold=0.002", "reading.choose=nearest"});
    const scenario::Scenario dirt = part("white-ceramic", {"exposure.exposure_us=1.8", "cover.dirt_share=0.3"});
    const scenario::Scenario lens = part("ground-steel", askew({"receiver.coma_waves=4"}));
    const scenario::Scenario jitter = part("white-ceramic", {"emitter.pointing_jitter_urad=100"});
    const scenario::Scenario filter =
        part("white-ceramic", {"receiver.filter_width_nm=10", "receiver.filter_edge_nm=2",
                               "surroundings.temperature_C=45", "exposure.exposure_us=1.8"});
    CHECK(tells<measure::GlassLiftsPart>(glass));
    CHECK(tells<measure::GhostCounts>(ghost));
    CHECK(tells<measure::DirtTakesLight>(dirt));
    CHECK(tells<measure::LensErrsForPart>(lens));
    CHECK(tells<measure::BeamPointingJitters>(jitter));
    CHECK(tells<measure::FilterCutsLight>(filter));
    CHECK_FALSE(tells<measure::GlassLiftsPart>(plain));
    CHECK_FALSE(tells<measure::GhostCounts>(plain));
    CHECK_FALSE(tells<measure::DirtTakesLight>(plain));
    CHECK_FALSE(tells<measure::LensErrsForPart>(plain));
    CHECK_FALSE(tells<measure::BeamPointingJitters>(plain));
    CHECK_FALSE(tells<measure::FilterCutsLight>(plain));
    CHECK(offers(glass, "cover.calibrated=yes"));
    CHECK(offers(dirt, "cover.dirt_share=0"));
    CHECK(offers(lens, "receiver.coma_waves=0"));
    CHECK(offers(ghost, "receiver.ghost_share=1e-4"));
    CHECK(offers(filter, "receiver.filter_width_nm=20"));
    CHECK_FALSE(offers(plain, "receiver.coma_waves=0"));
}
