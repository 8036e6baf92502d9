// Verdicts: one rule, the words that explain it, and the reasons that lie in the part.
#include <catch2/catch.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/measure/part_reasons.hpp"
#include "sim/measure/quantities.hpp"
#include "sim/measure/read.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using base::degree, base::mm, base::um, base::us;
using measure::Level;

namespace {

measure::ReadResult read(const scenario::Scenario& s) {
    return measure::read(sensor::set_up(s, 2), {2, {}, {}});
}

// A demonstration scenario with few readings and patches: reasons need no statistics.
measure::ReadResult read_file(const std::string& file, std::vector<std::string> settings = {}) {
    settings.insert(settings.begin(), {"run.readings=64", "run.patches=4"});
    return read(scenario::load(SPOTWRIGHT_SOURCE_DIR "/scenarios/" + file, settings));
}

measure::ReadResult read_material(const std::string& material, std::vector<std::string> settings = {}) {
    settings.insert(settings.begin(), {"run.readings=64", "run.patches=4"});
    return read(scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "test.toml", settings));
}

template <class Kind>
std::optional<Kind> reason_in(const measure::ReadResult& result) {
    for (const measure::Reason& reason : result.verdict.reasons) {
        if (const auto* found = std::get_if<Kind>(&reason)) return *found;
    }
    return std::nullopt;
}

measure::Verdict verdict_of(const scenario::Requirement& requirement, double share, std::optional<double> found) {
    measure::Verdict verdict;
    verdict.valid_share = share;
    verdict.expanded_uncertainty = found;
    verdict.level = measure::level_of(requirement, share, found);
    return verdict;
}

// Suits scenario 12, the shaft of scenario 13 across its lay.
const std::vector<std::string> at_exposure_across_lay = {"exposure.mode=fixed", "exposure.exposure_us=0.6"};

std::string why(double share, std::optional<double> found, const scenario::Requirement& requirement = {}) {
    return explanation(verdict_of(requirement, share, found), requirement);
}

}  // namespace

TEST_CASE("each level says in one line why it is that", "[verdict][unit]") {
    CHECK(why(1.0, 4.3 * um) == "errors within a quarter of the tolerance, 5 um allowed, 4.3 um found");
    CHECK(
        why(1.0, 7.1 * um) ==
        "errors within the tolerance, but not within a quarter of the tolerance, 5 um allowed, 7.1 um found; tolerance "
        "20 um");
    CHECK(
        why(0.995, 4.3 * um) ==
        "errors within a quarter of the tolerance, 5 um allowed, 4.3 um found, but only 99.5 % of readings are valid, "
        "and stable asks for 99.9 %");
    CHECK(why(1.0, 25.0 * um) == "errors beyond the tolerance, 20 um allowed, 25 um found");
    CHECK(why(0.9, 4.3 * um) == "only 90 % of readings are valid, and marginal asks for 99 %");
    CHECK(why(0.25, 4.3 * um) == "25 % of readings are valid, fewer than half");
    CHECK(why(1.0, std::nullopt) == "too few valid outputs for a standard deviation");
    scenario::Requirement loose;
    loose.uncertainty_ratio = 1.0;
    CHECK(why(1.0, 15.0 * um, loose) == "errors within the tolerance, 20 um allowed, 15 um found");
    loose.uncertainty_ratio = 2.5;
    CHECK(why(1.0, 6.0 * um, loose) == "errors within 1/2.5 of the tolerance, 8 um allowed, 6.0 um found");
}

TEST_CASE("numbers of an explanation never contradict its level", "[verdict][unit]") {
    // Rounded to two digits both would read 5.0 um.
    CHECK(why(1.0, 5.004 * um).find("5 um allowed, 5.004 um found") != std::string::npos);
    CHECK(why(1.0, 4.996 * um).find("5 um allowed, 4.996 um found") != std::string::npos);
    // To four digits 99.9 % would be reached.
    CHECK(why(0.998999, 1.0 * um).find("only 99.8999 % of readings are valid") != std::string::npos);
}

TEST_CASE("readings that are lost on other patches count, and are told", "[verdict][physics]") {
    // The seal of scenario 02 a little brighter: where it stands it reads, but speckle darkens some of its surface.
    const std::vector<std::string> settings{"exposure.exposure_us=2.3", "run.readings=512", "run.patches=64"};
    const scenario::Scenario s =
        scenario::load(SPOTWRIGHT_SOURCE_DIR "/scenarios/02-black-seal-too-dark.toml", settings);
    const measure::ReadResult r = read(s);
    REQUIRE(r.speckle);
    const double still = measure::valid_share(r.statistics);
    const double replaced = r.speckle->replaced_valid_share;
    CHECK(replaced < 0.99);
    CHECK(replaced < still);
    CHECK(r.verdict.valid_share == replaced);
    CHECK(r.verdict.level == measure::level_of(s.requirement, replaced, r.verdict.expanded_uncertainty));
    CHECK(measure::quantity("replaced_valid_share", r, s) == replaced);
    // Bright enough, all read.
    const measure::ReadResult bright = read_file("03-black-seal.toml");
    CHECK(bright.speckle->replaced_valid_share == 1.0);
    CHECK(bright.verdict.valid_share == 1.0);
}

TEST_CASE("biases of opposite sign add up to the one that the part has", "[verdict][unit]") {
    const scenario::Scenario s = scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "test.toml");
    measure::ReadResult r;
    r.details = measure::TriangulationDetails{};
    r.statistics.readings = 100;
    r.statistics.outputs = 100;
    r.statistics.validity[0] = 100;
    r.statistics.mean = 2.0 * um;
    r.statistics.standard_deviation = 0.5 * um;
    r.bias = 2.0 * um;
    r.systematic = 2.0 * um;
    r.marking_error = -3.0 * um;  // beside 5 um of the material
    const measure::Verdict verdict = judge(s, r);
    CHECK(*verdict.expanded_uncertainty == Approx(2.0 * um + 2.0 * 0.5 * um).epsilon(1e-12));
    REQUIRE(verdict.contributions.size() == 3);
    CHECK(verdict.contributions[0].size == Approx(5.0 * um).epsilon(1e-12));
    CHECK(verdict.contributions[1].size == Approx(3.0 * um).epsilon(1e-12));
}

TEST_CASE("where a limit lies within what is known of the error, the verdict says so", "[verdict][unit]") {
    const auto near = [](const char* tolerance) {
        return reason_in<measure::TooNearLimit>(read_material("white-ceramic", {"run.patches=64", tolerance}));
    };
    // U is some 5.3 um here, known to 1 / sqrt(2 * 63) = 9 % by 64 patches.
    const auto found = near("requirement.tolerance_um=21");
    REQUIRE(found);
    CHECK(found->patches == 64);
    CHECK(found->limit == Approx(5.25 * um));
    CHECK(found->error == Approx(found->found / std::sqrt(2.0 * 63.0)).epsilon(0.02));  // noise and pixels are small
    CHECK_FALSE(near("requirement.tolerance_um=60"));
}

TEST_CASE("of a plate it is told which of its surfaces was read", "[verdict][physics]") {
    const std::string cover = "14-clear-cover.toml";
    CHECK_FALSE(reason_in<measure::BackFaceRead>(read_file(cover)));
    const auto back = reason_in<measure::BackFaceRead>(read_file(cover, {"reading.choose=farthest"}));
    REQUIRE(back);
    // Symmetric mount of 30 deg: t cos a / sqrt(n^2 - sin^2 a), n = 1.5144; within half a per cent by the calibration.
    CHECK(back->deeper == Approx(1.1 * mm * std::cos(30.0 * degree) / std::sqrt(1.5144 * 1.5144 - 0.25)).epsilon(5e-3));

    const std::vector<std::string> plate{"target.shape=plate", "target.plate.thickness_mm=1",
                                         "target.plate.backing=white-ceramic", "exposure.mode=automatic"};
    const measure::ReadResult before_ceramic = read_material("clear-glass", plate);
    const auto behind = reason_in<measure::BehindPlateRead>(before_ceramic);
    REQUIRE(behind);
    CHECK(behind->material == "white-ceramic");
    CHECK_FALSE(reason_in<measure::BackFaceRead>(before_ceramic));
    CHECK_FALSE(reason_in<measure::BehindPlateRead>(read_material("white-ceramic")));
}

TEST_CASE("a mirrored beam that misses the lens is told with its angle", "[verdict][physics]") {
    // Glass has no haze. Tilted by 5 deg it mirrors the beam to 40 deg from the normal, from the lit point 0.4 mm above
    // the reference point. The lens is 45 mm from that at 30 deg, its rim 2 mm from its centre.
    const double x = 45.0 * std::sin(30.0 * degree) + 0.4 * std::tan(30.0 * degree);
    const double z = 45.0 * std::cos(30.0 * degree) - 0.4;
    const double expected = 40.0 * degree - std::atan2(x, z) - std::atan(2.0 / std::hypot(x, z));
    const auto misses =
        reason_in<measure::MirroredBeamMisses>(read_file("14-clear-cover.toml", {"target.tilt_deg=[5, 0]"}));
    REQUIRE(misses);
    CHECK(misses->angle == Approx(expected).margin(0.03 * degree));  // the lens is turned by 0.5 deg from the view
    CHECK_FALSE(reason_in<measure::MirroredBeamMisses>(read_file("14-clear-cover.toml")));
    CHECK_FALSE(reason_in<measure::MirroredBeamMisses>(read_file("08-polished-ring-specular.toml")));
    CHECK_FALSE(reason_in<measure::MirroredBeamMisses>(read_file("02-black-seal-too-dark.toml")));
    // Only the haze reaches the lens: 30 deg past its centre, whose rim is 2.5 deg from it.
    const auto haze = reason_in<measure::OnlyHaze>(read_file("07-polished-ring-diffuse.toml"));
    REQUIRE(haze);
    CHECK(haze->angle == Approx(30.0 * degree - std::atan(2.0 / 45.0)).epsilon(1e-9));
    CHECK(reason_in<measure::OnlyHaze>(read_file("11-polished-ring-specular-tilted.toml")));
    CHECK_FALSE(reason_in<measure::OnlyHaze>(read_file("01-white-tile.toml")));
}

TEST_CASE("tool marks that send the light past the lens are told, with the key to check", "[verdict][physics]") {
    // At the exposure that suits it across its lay, the shaft along its lay is lost.
    const measure::ReadResult lost = read_file("13-turned-shaft-along-lay.toml", at_exposure_across_lay);
    const auto reason = reason_in<measure::LayTurnsLightAway>(lost);
    REQUIRE(reason);
    CHECK(reason->is_lost);
    CHECK(in_words(*reason).find("check target.lay_deg") != std::string::npos);
    CHECK(next_step(lost.verdict, {}) == "measure across the tool marks");
    // A longer exposure makes up for the light: worth telling still, but it is not what is amiss.
    const measure::ReadResult longer = read_file("13-turned-shaft-along-lay.toml", {"requirement.tolerance_um=10"});
    CHECK(longer.verdict.valid_share == 1.0);
    const auto told = reason_in<measure::LayTurnsLightAway>(longer);
    REQUIRE(told);
    CHECK_FALSE(told->is_lost);
    CHECK_FALSE(std::holds_alternative<measure::LayTurnsLightAway>(longer.verdict.reasons.front()));
    CHECK(next_step(longer.verdict, {}) != "measure across the tool marks");
    CHECK_FALSE(reason_in<measure::LayTurnsLightAway>(read_file("12-turned-shaft-across-lay.toml")));
    // Dark, but without a lay.
    CHECK_FALSE(reason_in<measure::LayTurnsLightAway>(read_file("02-black-seal-too-dark.toml")));
}

TEST_CASE("a direction of tool marks that nobody wrote is told first, with what the other would do",
          "[verdict][physics]") {
    // Scenario 13 without its lay: as dark, by the default.
    scenario::Scenario s = scenario::parse(
        "[exposure]\nexposure_us = 0.6\n[target]\nmaterial = \"turned-steel\"\n"
        "[run]\nreadings = 256\npatches = 16\n",
        "test.toml");
    const measure::Verdict open = measure::read(sensor::set_up(s, 1), {1, {}, {}}).verdict;
    REQUIRE(open.level == measure::Level::unreadable);
    const auto* first = std::get_if<measure::LayTurnsLightAway>(&open.reasons.front());
    REQUIRE(first != nullptr);
    CHECK(first->is_default);
    CHECK(first->across == measure::LightAcrossLay::enough);
    CHECK(in_words(open.reasons.front()).find("target.lay_deg is not given and taken as 0 deg") == 0);
    CHECK(next_step(open, s).find("say which way the tool marks run") == 0);
    // It would read so indeed.
    const scenario::Scenario across = scenario::with_settings(s, std::vector<std::string>{"target.lay_deg=90"});
    CHECK(measure::read(sensor::set_up(across, 1), {1, {}, {}}).verdict.level <= measure::Level::marginal);
    // Written, it is no default, but still first.
    const measure::ReadResult along = read_file("13-turned-shaft-along-lay.toml", at_exposure_across_lay);
    const auto* written = std::get_if<measure::LayTurnsLightAway>(&along.verdict.reasons.front());
    REQUIRE(written != nullptr);
    CHECK_FALSE(written->is_default);
    // At an exposure that suits it along its lay, the other direction would fill the pixels.
    const scenario::Scenario bright = scenario::with_settings(s, std::vector<std::string>{"exposure.exposure_us=125"});
    const auto doubted = reason_in<measure::LayTurnsLightAway>(measure::read(sensor::set_up(bright, 1), {1, {}, {}}));
    REQUIRE(doubted);
    CHECK_FALSE(doubted->is_lost);
    CHECK(doubted->across == measure::LightAcrossLay::too_much);
    CHECK(in_words(*doubted).find("more than the pixels hold: which way do they run?") != std::string::npos);
}

TEST_CASE("tool marks along the axis of a shaft are doubted, whatever the material's name", "[verdict][unit]") {
    const std::string material = GENERATE("turned-steel", "ground-steel");
    const auto doubted = [&material](const char* axis, const char* lay) {
        const scenario::Scenario s = scenario::parse(
            "[target]\nshape = \"cylinder\"\n[target.cylinder]\nradius_mm = 20\n"
            "[run]\nreadings = 64\npatches = 4\n",
            "test.toml",
            std::vector<std::string>{"target.material=" + material, std::string("target.cylinder.axis=") + axis,
                                     std::string("target.lay_deg=") + lay});
        return reason_in<measure::LayAlongAxis>(measure::read(sensor::set_up(s, 1), {1, {}, {}})).has_value();
    };
    CHECK(doubted("across", "90"));
    CHECK(doubted("parallel", "0"));
    CHECK_FALSE(doubted("across", "0"));
    CHECK_FALSE(doubted("parallel", "90"));
}

TEST_CASE("the user of a sensor is told what he can do, with the number", "[verdict][unit]") {
    const scenario::Scenario s = scenario::parse(
        "sensor = \"short-45\"\n[target]\nmaterial = \"mirror\"\n[run]\nreadings = 256\npatches = 4\n", "test.toml");
    const measure::ReadResult result = measure::read(sensor::set_up(s, 1), {1, {}, {}});
    // Half of the receiver's angle, the beam standing square.
    const std::string step = next_step(result.verdict, s);
    INFO(step);
    CHECK(step.find(fmt::format("tilt the sensor by {:+.1f} deg", -0.5 * s.receiver.angle / degree)) == 0);
    const scenario::Scenario tilted = scenario::with_settings(
        s, std::vector<std::string>{fmt::format("mount.tilt_deg=[{:.3f}, 0]", -0.5 * s.receiver.angle / degree)});
    const auto glare = measure::read(sensor::set_up(tilted, 1), {1, {}, {}}).glare;
    REQUIRE(glare);
    CHECK(glare->off_lens < 0.0);
    measure::Verdict speckled;
    speckled.level = measure::Level::unstable;
    speckled.contributions = {{measure::Cause::speckle, 1.0, false}};
    CHECK(next_step(speckled, s).find("aperture") == std::string::npos);
    CHECK(next_step(speckled, {}).find("aperture") != std::string::npos);
}

TEST_CASE("a response that nobody asked for is called a default", "[verdict][unit]") {
    const auto reason = [](const std::string& requirement) {
        return reason_in<measure::ResponseTooLong>(measure::read(
            sensor::set_up(scenario::parse("[target]\nmaterial = \"white-ceramic\"\n[reading]\naverage = 256\n"
                                           "[run]\nreadings = 4096\npatches = 4\n" +
                                               requirement,
                                           "test.toml"),
                           1),
            {1, {}, {}}));
    };
    const auto open = reason("");
    REQUIRE(open);
    CHECK(in_words(*open).find("the default of requirement.response_ms") != std::string::npos);
    const auto asked = reason("[requirement]\nresponse_ms = 5\n");
    REQUIRE(asked);
    CHECK(in_words(*asked).find("default") == std::string::npos);
}

TEST_CASE("automatic exposure at one of its limits is told", "[verdict][physics]") {
    const auto limit = [](const char* material, const std::vector<std::string>& settings) {
        return reason_in<measure::ExposureAtLimit>(read_material(material, settings));
    };
    const auto lower = limit("white-ceramic", {"exposure.mode=automatic", "exposure.exposure_us=20"});
    REQUIRE(lower);
    CHECK(lower->lower);
    CHECK(lower->exposure == Approx(20.0 * us));
    const auto upper = limit("black-rubber", {"exposure.mode=automatic", "emitter.power_mW=0.004"});
    REQUIRE(upper);
    CHECK_FALSE(upper->lower);
    CHECK(upper->exposure == Approx(125.0 * us));
    CHECK_FALSE(limit("white-ceramic", {"exposure.mode=automatic", "requirement.tolerance_um=1"}));
    CHECK_FALSE(limit("white-ceramic", {"exposure.mode=fixed", "exposure.exposure_us=20"}));
}

TEST_CASE("a part that sends nothing to the lens is not told to lack exposure or shade", "[verdict][physics]") {
    // A clear rod mirrors past the lens: neither a longer exposure nor a shade brings light there.
    const measure::ReadResult result =
        read_material("clear-polycarbonate", {"exposure.mode=automatic", "exposure.period_us=[125, 8000]",
                                              "target.shape=cylinder", "target.cylinder.radius_mm=6"});
    REQUIRE(result.signal.peak_share < 1e-6);
    CHECK_FALSE(reason_in<measure::ExposureAtLimit>(result));
    CHECK_FALSE(reason_in<measure::AmbientRivalsPeak>(result));
    CHECK(reason_in<measure::MirroredBeamMisses>(result));
}

TEST_CASE("gloss that the tilt's doubt brings to the lens is told", "[verdict][physics]") {
    const auto near = [](const char* tilt) {
        return reason_in<measure::GlareNear>(read_material(
            "polished-steel",
            {"exposure.mode=automatic", "exposure.exposure_us=0.05", "exposure.period_us=[133, 8000]", tilt}));
    };
    const auto reason = near("target.tilt_deg=[14.4, 0]");
    REQUIRE(reason);
    CHECK(reason->away == Approx(0.6 * degree).epsilon(1e-6));
    CHECK((*reason->tilt)[0] == Approx(15.0 * degree));
    CHECK_FALSE(near("target.tilt_deg=[3, 0]"));
    // A specular mount wants the gloss.
    CHECK_FALSE(reason_in<measure::GlareNear>(read_file("08-polished-ring-specular.toml")));
}

TEST_CASE("what to try first goes with the largest cause, and nothing is to do for a stable part", "[verdict][unit]") {
    CHECK(next_step(read_file("01-white-tile.toml").verdict, {}).empty());
    const measure::ReadResult speckled = read_material("white-ceramic", {"requirement.tolerance_um=10"});
    CHECK(speckled.verdict.contributions.front().cause == measure::Cause::speckle);
    CHECK(next_step(speckled.verdict, {}).find("aperture") != std::string::npos);
}

TEST_CASE("a cold sensor is named, and warming it comes first", "[verdict][unit]") {
    const auto read_after = [](const std::string& minutes) {
        const scenario::Scenario s = scenario::parse(
            "[target]\nmaterial = \"white-ceramic\"\n", "cold.toml",
            std::vector<std::string>{"thermal.warm_up_K=6", "thermal.lens_shift_um_per_K=2", "run.speckle=off",
                                     "requirement.tolerance_um=10", "surroundings.running_min=" + minutes});
        const measure::ReadResult result = measure::read(sensor::set_up(s, 1), {1, {}, {}});
        const auto cold = [](const measure::Reason& r) { return std::holds_alternative<measure::SensorWarmsUp>(r); };
        const bool named = std::any_of(result.verdict.reasons.begin(), result.verdict.reasons.end(), cold);
        return std::pair{named, measure::next_step(result.verdict, s)};
    };
    CHECK(read_after("5") == std::pair{true, std::string("let the sensor warm up before it reads")});
    CHECK_FALSE(read_after("1000").first);
}

TEST_CASE("a turned sensor reads along its beam, and that is no light from below the face", "[verdict][unit]") {
    const auto read = [](const std::string& material, const std::string& turn, const std::string& displacement) {
        const scenario::Scenario s = scenario::parse(
            "[target]\nmaterial = \"" + material +
                "\"\n[run]\nreadings = 64\npatches = 4\n[exposure]\nmode = \"automatic\"\n",
            "test.toml", std::vector<std::string>{"mount.tilt_deg=" + turn, "target.displacement_mm=" + displacement});
        return std::pair(s, measure::read(sensor::set_up(s, 1), {1, {}, {}}));
    };
    const auto [s, turned] = read("white-glossy-paint", "[10, -4]", "-4");
    const auto longer = reason_in<measure::TurnedSensorReadsLonger>(turned);
    REQUIRE(longer);
    // Place on the beam: -4 mm over both cosines.
    CHECK(longer->error == Approx(-4e-3 * (1.0 / (std::cos(10.0 * degree) * std::cos(4.0 * degree)) - 1.0)));
    CHECK(longer->largest);
    // What is left when readings are multiplied as told is the part's own.
    CHECK(std::abs(*turned.systematic - longer->error) < 5e-6);
    CHECK_FALSE(reason_in<measure::LightEntersPart>(turned));
    CHECK(next_step(turned.verdict, s).find("multiply readings by 0.98241") == 0);
    CHECK_FALSE(reason_in<measure::TurnedSensorReadsLonger>(read("white-glossy-paint", "[10, -4]", "0").second));
    CHECK_FALSE(reason_in<measure::TurnedSensorReadsLonger>(read("white-glossy-paint", "[0, 0]", "-4").second));
}

TEST_CASE("a part beyond the range is to be moved, whatever else is said of it", "[verdict][unit]") {
    // Tool marks that nobody gave, and far too near.
    const scenario::Scenario s = scenario::parse(
        "sensor = \"short-45\"\n[target]\nmaterial = \"turned-steel\"\ndisplacement_mm = -30\n[run]\nreadings = 64\n"
        "patches = 4\n",
        "test.toml");
    const std::string step = next_step(measure::read(sensor::set_up(s, 1), {1, {}, {}}).verdict, s);
    CHECK(step.find("mount the sensor so that the part stays within the range") == 0);
}

TEST_CASE("what is done already is not proposed", "[verdict][unit]") {
    const auto step = [](const std::string& text) {
        const scenario::Scenario s = scenario::parse(text + "[run]\nreadings = 64\npatches = 4\n", "test.toml");
        return next_step(measure::read(sensor::set_up(s, 1), {1, {}, {}}).verdict, s);
    };
    const std::string bright = "[target]\nmaterial = \"white-ceramic\"\n[emitter]\npower_mW = 50\n[exposure]\nmode = ";
    CHECK(step(bright + "\"fixed\"\n").find("a shorter exposure, or automatic exposure") == 0);
    CHECK(step(bright + "\"automatic\"\n").find("a lower limit of automatic exposure") == 0);
    const std::string plate =
        "[target]\nmaterial = \"clear-polycarbonate\"\nshape = \"plate\"\ntilt_deg = [3, 0]\n"
        "[target.plate]\nthickness_mm = 2\nbacking = \"white-paper\"\ngap_mm = 1\n[reading]\n";
    CHECK(step(plate).find("choose the nearest peak") == 0);
    CHECK(step(plate + "choose = \"nearest\"\n").find("nearest peak") == std::string::npos);
}

TEST_CASE("a step names only keys that the sensor offers", "[verdict][unit]") {
    measure::Verdict biased;
    biased.level = measure::Level::unstable;
    biased.contributions = {{measure::Cause::bias, 1.0, true}};
    const scenario::Scenario of_user =
        scenario::parse("sensor = \"short-45\"\n[target]\nmaterial = \"white-pom\"\n", "test.toml");
    REQUIRE(scenario::offer_of(of_user, "reading.calibrated_on") == nullptr);
    CHECK(next_step(biased, of_user).find("calibrated_on") == std::string::npos);
    CHECK(next_step(biased, {}).find("calibrated_on") != std::string::npos);
}

TEST_CASE("a verdict on few outputs says how well they tell the noise", "[verdict]") {
    const auto reason_of = [](std::vector<std::string> settings) {
        const measure::ReadResult result = read_material("white-ceramic", std::move(settings));
        const auto few = reason_in<measure::FewOutputs>(result);
        return few ? in_words(measure::Reason(*few)) : std::string();
    };
    CHECK(reason_of({"run.readings=100"}).empty());
    // (2 (10 - 1))^(-1/2) = 0.236: JCGM 100:2008, E.4.3.
    CHECK(reason_of({"run.readings=10"}) ==
          "mean and standard deviation are those of 10 valid outputs alone: the standard deviation is known to 24 %");
    // 63 outputs of 2 windows that share no reading: (2 (2 - 1))^(-1/2) = 0.71.
    CHECK(reason_of({"run.readings=128", "reading.average=64"}).find("2 valid outputs alone") != std::string::npos);
    CHECK(reason_of({"run.readings=70", "reading.average=64"}).find("a single average") != std::string::npos);
    CHECK(measure::relative_error_of_deviation(51) == Approx(0.1));
}
