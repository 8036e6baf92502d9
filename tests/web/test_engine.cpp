#include "bindings/web/engine/engine.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <fstream>
#include <sstream>
#include <string>

#include "sim/base/units.hpp"
#include "sim/drawing/drawings.hpp"
#include "sim/measure/read.hpp"
#include "sim/record/json.hpp"
#include "sim/record/studies_json.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/speckle.hpp"
#include "sim/study/budget.hpp"

namespace {

using namespace spotwright;
using web::Answer, web::Engine, web::Json;

std::string text_of(const std::string& name) {
    std::ifstream in(std::string(SPOTWRIGHT_SOURCE_DIR) + "/scenarios/" + name + ".toml");
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

template <class T>
const std::vector<T>& array(const Answer& answer, const std::vector<std::string>& path) {
    for (const web::NamedArray& each : answer.arrays) {
        if (each.path == path) return std::get<std::vector<T>>(each.values);
    }
    FAIL("no such array");
    throw base::InternalError("unreachable");
}

}  // namespace

TEST_CASE("A look at a tile is what its reading is made of") {
    Engine engine;
    const std::string toml = text_of("01-white-tile");
    const Answer look = engine.ask("look", {{"toml", toml}, {"index", 3}});
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(scenario::parse(toml), 1);
    const sensor::Pose pose = sensor::pose_under_speckle(setup, setup.scenario.target.displacement, 1);
    sensor::Scratch scratch;
    const sensor::RawReading reading = sensor::take_reading(setup, pose, 3, scratch);
    CHECK(look.json["reading_mm"] == reading.displacement / base::mm);
    CHECK(look.json["position_px"] == reading.position);
    CHECK(look.json["validity"] == "valid");
    CHECK(look.json["peaks"].size() == 1);
    CHECK(look.json["peaks"][0]["chosen"] == true);
    CHECK(array<float>(look, {"expected_e"}).size() == static_cast<std::size_t>(setup.scenario.detector.pixels));
    const Answer view = engine.ask("view", {{"toml", toml}, {"index", 3}});
    CHECK(view.json["look"] == look.json);
    CHECK(array<float>(view, {"look", "frame_e"}) == array<float>(look, {"frame_e"}));
}

TEST_CASE("Readings are those of a series, and patches of a moved part scatter more") {
    Engine engine;
    const std::string toml = text_of("20-speckle-still-and-moving");
    const Answer still = engine.ask("readings", {{"toml", toml}, {"count", 512}});
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(scenario::parse(toml), 1);
    const sensor::Pose pose = sensor::pose_under_speckle(setup, setup.scenario.target.displacement, 1);
    const auto& values = array<double>(still, {"mm"});
    sensor::Scratch scratch;
    for (std::size_t i = 0; i < values.size(); i += 37) {
        const auto one = sensor::take_reading(setup, pose, static_cast<std::int64_t>(i), scratch);
        CHECK(values[i] == one.displacement / base::mm);
    }
    const Answer later = engine.ask("readings", {{"toml", toml}, {"count", 12}, {"first", 500}});
    CHECK(array<double>(later, {"mm"})[11] == values[511]);
    const Answer moved = engine.ask("readings", {{"toml", toml}, {"count", 512}, {"moved", true}});
    // Speckle alone scatters moved readings by micrometres, noise still ones by tenths.
    CHECK(moved.json["sd_um"].get<double>() > 3.0 * still.json["sd_um"].get<double>());
}

TEST_CASE("Light by the ray model arrives in parts, and all of them are the whole to the last bit") {
    const std::string toml = text_of("19-shiny-groove");
    Json question{{"toml", toml}, {"set", {{"run.rays", 16384}}}, {"index", 2}};
    Engine whole;
    const Answer wanted = whole.ask("look", question);
    CHECK(wanted.json["rays_share"] == 1.0);
    question["growing"] = true;
    Engine engine;
    std::vector<float> first;
    for (int part = 1; part <= 16; ++part) {
        const Answer look = engine.ask("look", question);
        CHECK(look.json["rays_share"] == part / 16.0);
        CHECK(look.json["exact_model"] == (part == 16));
        if (part == 1) first = array<float>(look, {"smooth_e"});
        if (part < 16) continue;
        CHECK(look.json == wanted.json);
        for (const char* name : {"expected_e", "smooth_e", "frame_e"}) {
            CHECK(array<float>(look, {name}) == array<float>(wanted, {name}));
        }
        CHECK(first != array<float>(wanted, {"smooth_e"}));
    }
    question["growing"] = false;
    CHECK(engine.ask("look", question).json == wanted.json);  // it is kept
}

TEST_CASE("A preview has the light of an exact look but for what its few rays miss") {
    // `receiver::coarse` asks for a hundredth of the light on the row; three hundredths are allowed, since an
    // error that few rays tell may be too small by chance.
    for (const char* name : {"01-white-tile", "08-polished-ring-specular", "14-clear-cover", "16-step-edge-across"}) {
        INFO(name);
        Engine engine;
        const std::string toml = text_of(name);
        const Answer exact = engine.ask("look", {{"toml", toml}});
        const Answer preview = engine.ask("look", {{"toml", toml}, {"preview", true}});
        const auto sum = [](const std::vector<float>& values) {
            double all = 0.0;
            for (const float each : values) all += static_cast<double>(each);
            return all;
        };
        const double wanted = sum(array<float>(exact, {"smooth_e"})) / exact.json["exposure_us"].get<double>();
        const double found = sum(array<float>(preview, {"smooth_e"})) / preview.json["exposure_us"].get<double>();
        CHECK(std::abs(found - wanted) < 0.03 * std::abs(wanted));
        CHECK(preview.json["preview"] == true);
        CHECK(preview.json["exact_model"] == false);
    }
}

TEST_CASE("Answers of commands are those of the program") {
    Engine engine;
    const std::string toml = text_of("04-tilted-blasted-plate");
    const scenario::Scenario s = scenario::parse(toml);
    const sensor::Setup setup = sensor::set_up(s, 1);
    measure::ReadOptions options;
    options.threads = 1;
    const Json read = engine.ask("read", {{"toml", toml}}).json;
    const measure::ReadResult result = measure::read(setup, options);
    CHECK(read["json"] == record::to_json(result, s));
    CHECK(read["sentences"]["reasons"][0] == measure::in_words(result.verdict.reasons[0]));
    study::BudgetOptions budget_options;
    budget_options.threads = 1;
    CHECK(engine.ask("budget", {{"toml", toml}}).json["json"] ==
          record::to_json(study::budget(setup, budget_options), s));
    CHECK(engine.ask("layoutSvg", {{"toml", toml}}).json == drawing::draw_geometry(s));
    CHECK(engine.ask("readingSvg", {{"toml", toml}}).json == drawing::draw_reading(setup, result));
    const std::string csv = engine.ask("series", {{"toml", toml}, {"date", "2024-01-01T00:00:00Z"}}).json;
    CHECK(csv.find("displacement_mm") != std::string::npos);
}

TEST_CASE("A scene has the points of the layout") {
    Engine engine;
    const std::string toml = text_of("14-clear-cover");
    const Json scene = engine.ask("scene", {{"toml", toml}}).json;
    const scenario::Scenario s = scenario::parse(toml);
    CHECK(scene["layout"] == record::to_json(std::get<sensor::Layout>(sensor::layout_of(s)), s));
    CHECK(scene["part"]["back_depth_mm"] == s.target.plate.thickness / base::mm);
    CHECK_FALSE(scene["part"]["back_light"].is_null());
    // The chief ray of the lit point runs through the lens's centre to the image of the spot.
    const Json& chief = scene["part_rays"][2];
    CHECK(chief["lens"] == scene["lens"]);
    CHECK(chief["array"] == scene["array"]["image"]);
}

TEST_CASE("A mirror's beam passes the lens of a diffuse mount and enters that of a specular one") {
    Engine engine;
    const auto misses = [&engine](const char* name) {
        const Json scene = engine.ask("scene", {{"toml", text_of(name)}}).json;
        return scene["reflection"]["misses_lens_mm"];
    };
    const Json diffuse = misses("07-polished-ring-diffuse");
    const Json specular = misses("08-polished-ring-specular");
    CHECK((diffuse.is_null() || diffuse.get<double>() > 0.0));
    CHECK(specular.get<double>() < 0.0);
}

TEST_CASE("Every demonstration scenario can be looked at, also by those that move or time light") {
    Engine engine;
    for (const char* name :
         {"21-pallet-white", "24-pallet-black-pulsed", "26-eccentric-shaft", "16-step-edge-across"}) {
        INFO(name);
        const std::string toml = text_of(name);
        for (const bool preview : {true, false}) {
            const Answer view = engine.ask("view", {{"toml", toml}, {"preview", preview}});
            CHECK(view.json["look"]["validity"].is_string());
            CHECK_FALSE(view.json["scene"]["emitter"].is_null());
        }
        CHECK(array<double>(engine.ask("readings", {{"toml", toml}, {"count", 8}}), {"mm"}).size() == 8);
        CHECK(engine.ask("check", {{"toml", toml}}).json["problems"].empty());
    }
}

TEST_CASE("A preview without calibration is near the calibrated reading") {
    Engine engine;
    const std::string toml = text_of("01-white-tile");
    const Json question{{"toml", toml}, {"preview", true}, {"set", {{"receiver.angle_deg", 31.0}}}};
    const Json fast = engine.ask("look", question).json;
    Json exact_question = question;
    exact_question["preview"] = false;
    const Json exact = engine.ask("look", exact_question).json;
    CHECK(fast["preview"] == true);
    CHECK(exact["preview"] == false);
    // The chief ray is not where a wide aperture puts a matt spot: some micrometres, by the look of the calibration.
    CHECK(std::abs(fast["reading_mm"].get<double>() - exact["reading_mm"].get<double>()) < 0.05);
}

TEST_CASE("Questions that are none are rejected, and the next is answered") {
    Engine engine;
    const std::string toml = text_of("01-white-tile");
    CHECK_THROWS_AS(engine.ask("nothing", Json::object()), base::InternalError);
    CHECK_THROWS_AS(engine.ask("look", Json::object()), base::ScenarioError);
    CHECK_THROWS_AS(engine.ask("look", Json({{"toml", "x = "}})), base::ScenarioError);
    CHECK_THROWS_AS(engine.ask("look", Json({{"toml", toml}, {"set", {{"detector.pixels", Json::object()}}}})),
                    base::ScenarioError);
    CHECK_THROWS_AS(engine.ask("readings", Json({{"toml", toml}, {"count", 1e9}})), base::ScenarioError);
    CHECK_THROWS_AS(engine.ask("readings", Json({{"toml", toml}, {"count", 0}})), base::ScenarioError);
    const Json problems =
        engine.ask("check", {{"toml", toml}, {"set", {{"target.materiel", "steel"}}}}).json["problems"];
    REQUIRE(problems.size() == 1);
    CHECK(problems[0]["hint"].get<std::string>().find("target.material") != std::string::npos);
    CHECK(engine.ask("look", {{"toml", toml}}).json["validity"] == "valid");
}

TEST_CASE("A suggestion can be set over the scenario, and reads as it says", "[slow]") {
    Engine engine;
    const std::string toml = text_of("02-black-seal-too-dark");
    const Json advice = engine.ask("advise", {{"toml", toml}, {"seconds", 0.0}}).json;
    CHECK(advice["level"] == "unreadable");
    REQUIRE(!advice["suggestions"].empty());
    const Json& first = advice["suggestions"][0];
    CHECK(first["level"] == "stable");
    INFO(first.dump(2));
    CHECK(engine.ask("read", {{"toml", toml}, {"set", first["set"]}}).json["sentences"]["level"] == first["level"]);
    // Words among the settings arrive as words.
    for (const Json& each : advice["suggestions"]) {
        CHECK(engine.ask("check", {{"toml", toml}, {"set", each["set"]}}).json["problems"].empty());
    }
}

TEST_CASE("Tables hold every key, with values that a scenario can have") {
    Engine engine;
    const Json tables = engine.ask("tables", Json::object()).json;
    CHECK(tables["keys"].size() > 100);
    CHECK(tables["materials"].size() > 20);
    CHECK(tables["sensors"].size() > 2);
    for (const Json& key : tables["keys"]) {
        if (key["low"].is_number() && key["high"].is_number()) CHECK(key["low"] < key["high"]);
    }
}
