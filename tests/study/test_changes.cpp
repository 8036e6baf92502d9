// What may be changed to make a part read, and what may not.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "sim/base/errors.hpp"
#include "sim/measure/read.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/study/changes.hpp"

using namespace spotwright;
using base::mm, base::mW, base::us, base::ms;

namespace {

scenario::Scenario before(const std::string& material, std::vector<std::string> settings = {}) {
    return scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "test.toml", settings);
}

// What a reading of it may have said: so much light at the written exposure and period.
measure::ReadResult lit(const scenario::Scenario& s, double peak_share) {
    measure::ReadResult result;
    result.signal.peak_share = peak_share;
    result.timing = {s.exposure.exposure, s.exposure.period[0]};
    return result;
}

std::vector<study::Change> changes_of(const scenario::Scenario& s, double peak_share) {
    return study::possible_changes(s, lit(s, peak_share));
}

bool has_kind(const std::vector<study::Change>& changes, const std::string& kind) {
    return std::any_of(changes.begin(), changes.end(), [&](const study::Change& c) { return c.kind == kind; });
}

scenario::Scenario changed(const scenario::Scenario& s, const study::Change& change) {
    return scenario::parse(scenario::to_toml(s), "test.toml", change.settings);
}

double class_limit(const std::string& name, double wavelength) {
    const emitter::EmissionLimits limits = emitter::emission_limits(wavelength);
    if (name == "1") return limits.class_1;
    if (name == "2") return limits.class_2;
    if (name == "3R") return limits.class_3r;
    return limits.class_3b;
}

}  // namespace

TEST_CASE("no exposure is proposed that no shutter has: the emitter is dimmed instead", "[advice]") {
    // 0.05 us is common practice for the shortest of shutters and gated emitters.
    for (const char* mode : {"fixed", "automatic"}) {
        INFO(mode);
        const scenario::Scenario s =
            before("polished-steel", {std::string("exposure.mode=") + mode, "exposure.exposure_us=0.2"});
        const std::vector<study::Change> changes = changes_of(s, 2000.0);
        for (const study::Change& change : changes) CHECK(changed(s, change).exposure.exposure >= 0.0499 * us);
        const auto dimmed = std::find_if(changes.begin(), changes.end(),
                                         [](const study::Change& c) { return c.words.starts_with("dim"); });
        REQUIRE(dimmed != changes.end());
        // As much light as is wanted, at the exposure that stands.
        CHECK(changed(s, *dimmed).emitter.power == Approx(s.emitter.power * s.exposure.level / 2000.0).epsilon(1e-4));
    }
}

TEST_CASE("a specular mount keeps the largest range that calibrates, and says what is lost", "[advice]") {
    // A lens of 1 mm sees a mirror's beam over +-D / (4 sin(15 deg)) = +-0.97 mm: equation (receiver.10b).
    const scenario::Scenario s = before("clear-glass", {"mount.reference_distance_mm=35", "mount.range_mm=[-3, 3]",
                                                        "receiver.aperture_mm=1", "receiver.focal_length_mm=13.3"});
    const std::vector<study::Change> changes = changes_of(s, 0.0);
    const auto mount =
        std::find_if(changes.begin(), changes.end(), [](const study::Change& c) { return c.kind == "mount"; });
    REQUIRE(mount != changes.end());
    const scenario::Scenario mounted = changed(s, *mount);
    INFO(mount->words);
    CHECK_NOTHROW(sensor::set_up(mounted, 1));
    const double kept = mounted.mount.range[1] / s.mount.range[1];
    CHECK(mount->range == Approx(1.0 - kept));
    CHECK(mounted.mount.range[1] < 0.97 * mm);
    // Shares are tried a tenth apart.
    CHECK(mounted.mount.range[1] > 0.8 * 0.97 * mm);
    const double more = 1.25 * mounted.mount.range[1] / mm;
    CHECK_THROWS_AS(
        sensor::set_up(
            scenario::with_settings(mounted, std::vector{fmt::format("mount.range_mm=[{0}, {1}]", -more, more)}), 1),
        base::ScenarioError);
    CHECK_THAT(mount->words, Catch::Matchers::Contains("in place of -3 to 3 mm"));
    // The sensor's own lens.
    CHECK(mounted.receiver.focal_length == Approx(s.receiver.focal_length));
}

TEST_CASE("a quarter turn says how it lies to the tool marks, and which direction of them was taken", "[advice]") {
    const auto words = [](const std::vector<std::string>& settings) {
        const std::vector<study::Change> changes = changes_of(before("turned-steel", settings), 0.01);
        const auto turn = std::find_if(changes.begin(), changes.end(),
                                       [](const study::Change& c) { return c.kind == "orientation"; });
        return turn == changes.end() ? std::string() : turn->words;
    };
    CHECK(words({"target.lay_deg=10"}) == "turn the sensor by 90 deg about its beam, across the lay");
    CHECK(words({"target.lay_deg=-80"}) == "turn the sensor by 90 deg about its beam, along the lay");
    CHECK(words({}) ==
          "turn the sensor by 90 deg about its beam, across the lay, which is taken to run at 0.0 deg: look at the "
          "marks");
}

TEST_CASE("the field of a polarised laser may be turned before a shiny part", "[advice]") {
    const auto turned = [](const char* material, const std::vector<std::string>& settings) {
        std::vector<double> directions;
        const scenario::Scenario s = before(material, settings);
        for (const study::Change& change : changes_of(s, 0.01)) {
            if (change.kind == "polarisation") {
                directions.push_back(changed(s, change).emitter.polarisation_direction / base::degree);
            }
        }
        return directions;
    };
    const std::vector<std::string> polarised{"emitter.polarisation_degree=0.9",
                                             "emitter.polarisation_direction_deg=30"};
    REQUIRE(turned("black-glossy-plastic", polarised).size() == 1);
    CHECK(turned("black-glossy-plastic", polarised).front() == Approx(-60.0));
    CHECK(turned("black-glossy-plastic", {}).empty());
    CHECK(turned("white-paper", polarised).empty());
}

TEST_CASE("every change gives a scenario that can be read", "[advice]") {
    for (const char* material : {"white-ceramic", "ground-steel", "polished-steel", "black-rubber"}) {
        const scenario::Scenario s = before(material);
        for (const study::Change& change : changes_of(s, 0.01)) {
            INFO(material << ": " << change.words);
            CHECK_NOTHROW(changed(s, change));
            CHECK(!change.settings.empty());
        }
    }
    const scenario::Scenario plate = before("clear-glass", {"target.shape=plate"});
    for (const study::Change& change : changes_of(plate, 0.3)) CHECK_NOTHROW(changed(plate, change));
    for (const char* principle : {"principle=phase-shift", "principle=pulsed"}) {
        const scenario::Scenario s = before("white-paper", {principle, "mount.reference_distance_mm=1000"});
        for (const study::Change& change : changes_of(s, 0.3)) {
            INFO(principle << ": " << change.words);
            CHECK_NOTHROW(changed(s, change));
        }
    }
}

TEST_CASE("no change brings the emitter out of its laser class", "[advice]") {
    for (const char* power : {"0.05", "0.3", "0.9", "3", "100"}) {
        const scenario::Scenario s = before("white-ceramic", {std::string("emitter.power_mW=") + power});
        const std::string name = emitter::estimated_class(s.emitter.wavelength, s.emitter.power);
        for (const study::Change& change : changes_of(s, 0.1)) {
            INFO(power << " mW, class " << name << ": " << change.words);
            const scenario::Scenario after = changed(s, change);
            CHECK(after.emitter.power <= class_limit(name, after.emitter.wavelength));
        }
    }
}

TEST_CASE("visible light of class 2 has no like in the infrared", "[advice]") {
    const scenario::Scenario s = before("white-ceramic", {"emitter.power_mW=0.9"});
    REQUIRE(emitter::estimated_class(s.emitter.wavelength, s.emitter.power) == "2");
    for (const study::Change& change : changes_of(s, 0.1)) {
        CHECK(change.words.find("850") == std::string::npos);
    }
}

TEST_CASE("averages are offered as far as the response allows, and no farther", "[advice]") {
    for (const char* response : {"0.2", "1", "5", "100"}) {
        const scenario::Scenario s = before("white-ceramic", {std::string("requirement.response_ms=") + response});
        std::int64_t longest = 1;
        for (const study::Change& change : changes_of(s, 0.4)) {
            if (change.kind != "average") continue;
            const std::int64_t average = changed(s, change).reading.average;
            longest = std::max(longest, average);
            CHECK(static_cast<double>(average) * s.exposure.period[0] <= s.requirement.response);
        }
        const double room = s.requirement.response / s.exposure.period[0];
        CHECK(static_cast<double>(longest) > 0.5 * room);
    }
}

TEST_CASE("a part that moves is offered shorter averages, one that stands still is not", "[advice]") {
    const auto shortest = [](const scenario::Scenario& s) {
        std::int64_t least = s.reading.average;
        for (const study::Change& change : changes_of(s, 0.4)) {
            if (change.kind == "average") least = std::min(least, changed(s, change).reading.average);
        }
        return least;
    };
    CHECK(shortest(before("white-ceramic", {"reading.average=32", "motion.vibration_um=30"})) == 1);
    CHECK(shortest(before("white-ceramic", {"reading.average=32"})) == 32);
}

TEST_CASE("the exposure offered brings the peak to the wanted level, and makes room for itself", "[advice]") {
    const scenario::Scenario s = before("black-rubber", {"exposure.exposure_us=10"});
    const std::vector<study::Change> changes = changes_of(s, 0.005);
    REQUIRE(changes.front().kind == "exposure");
    const scenario::Scenario after = changed(s, changes.front());
    CHECK(after.exposure.exposure == Approx(10.0 * us * 0.6 / 0.005).epsilon(1e-5));  // six digits are written
    CHECK(after.exposure.period[0] >= after.exposure.exposure);
}

TEST_CASE("changes suit the part: lay, faces and shine", "[advice]") {
    CHECK(has_kind(changes_of(before("ground-steel"), 0.3), "orientation"));
    CHECK_FALSE(has_kind(changes_of(before("white-ceramic"), 0.3), "orientation"));
    CHECK(has_kind(changes_of(before("polished-steel"), 0.3), "mount"));
    CHECK_FALSE(has_kind(changes_of(before("black-rubber"), 0.3), "mount"));
    CHECK(has_kind(changes_of(before("clear-glass", {"target.shape=plate"}), 0.3), "peak"));
    CHECK(has_kind(changes_of(before("white-ceramic", {"target.shape=step"}), 0.3), "orientation"));
    const std::vector<study::Change> pulsed =
        changes_of(before("white-paper", {"principle=pulsed", "mount.reference_distance_mm=1000"}), 0.3);
    CHECK(has_kind(pulsed, "pulses"));
    CHECK_FALSE(has_kind(pulsed, "power"));  // limits of pulses are others
}

TEST_CASE("a larger angle gives up range only where the array is full", "[advice]") {
    // The default array takes more than its range: nothing is given up. A range that fills the array shrinks as the
    // image motion grows.
    int kept = 0;
    int given_up = 0;
    for (const char* range : {"mount.range_mm=[-2, 2]", "mount.range_mm=[-8, 8]"}) {
        const scenario::Scenario s = before("white-ceramic", {range});
        for (const study::Change& change : changes_of(s, 0.3)) {
            if (change.kind != "angle") continue;
            const scenario::Scenario after = changed(s, change);
            const double span = after.mount.range[1] - after.mount.range[0];
            CHECK(span / (s.mount.range[1] - s.mount.range[0]) == Approx(1.0 - change.range).epsilon(1e-4));
            CHECK(change.parts == 1);
            (change.range > 0.0 ? given_up : kept) += 1;
        }
    }
    CHECK(kept > 0);
    CHECK(given_up > 0);
}

TEST_CASE("a user is told only what the sensor offers", "[advice]") {
    for (const char* name : {"short-45", "mirror-36", "fine-10", "phase-3000", "pulse-6000"}) {
        const scenario::Scenario s = scenario::parse(
            std::string("sensor = \"") + name + "\"\n[target]\nmaterial = \"ground-steel\"\n", "test.toml");
        for (const study::Change& change : changes_of(s, 0.05)) {
            INFO(name << ": " << change.words);
            if (change.other_sensor) continue;
            CHECK(change.kind != "aperture");
            // Settings that the sensor does not offer would be rejected.
            CHECK_NOTHROW(scenario::with_settings(s, change.settings));
        }
    }
}

TEST_CASE("a quarter turn of the sensor turns axis and lay", "[advice]") {
    const scenario::Scenario s =
        before("turned-steel", {"target.shape=cylinder", "target.cylinder.axis=across", "target.lay_deg=0"});
    const std::vector<study::Change> all = changes_of(s, 0.3);
    const auto turn = std::find_if(all.begin(), all.end(), [](const auto& c) { return c.kind == "orientation"; });
    REQUIRE(turn != all.end());
    const scenario::Scenario after = changed(s, *turn);
    CHECK(after.target.cylinder.axis == scenario::Direction::parallel);
    CHECK(std::abs(std::abs(after.target.lay) - 90.0 * base::degree) < 1e-9);
}
