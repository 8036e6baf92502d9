// Sweeps: axes from text, what is wrong with them, and that each point is a reading of its scenario.
#include <catch2/catch.hpp>

#include <cmath>
#include <cstring>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/base/errors.hpp"
#include "sim/record/json.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/study/sweep.hpp"

using namespace spotwright;

namespace {

scenario::Scenario quick_scenario(std::vector<std::string> settings = {}) {
    settings.insert(settings.begin(), {"run.readings=20", "run.patches=4", "run.speckle=statistical"});
    return scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "quick.toml", settings);
}

// A demonstration with few readings.
scenario::Scenario scenario_of_file(const std::string& name) {
    return scenario::load(std::string(SPOTWRIGHT_SOURCE_DIR) + "/scenarios/" + name,
                          std::vector<std::string>{"run.readings=20", "run.patches=4", "run.speckle=statistical"});
}

study::Sweep sweep_of(const scenario::Scenario& s, const std::vector<std::string>& axes) {
    std::vector<study::SweepAxis> parsed;
    for (const std::string& axis : axes) parsed.push_back(study::parse_axis(axis));
    return study::make_sweep(s, parsed);
}

// The text of what is wrong with axes; empty where nothing is.
std::string complaint(const std::vector<std::string>& axes, const std::vector<std::string>& settings = {}) {
    try {
        static_cast<void>(sweep_of(quick_scenario(settings), axes));
    } catch (const base::ScenarioError& error) {
        return error.what();
    }
    return {};
}

bool same_bits(const std::vector<double>& one, const std::vector<double>& other) {
    return one.size() == other.size() && std::memcmp(one.data(), other.data(), one.size() * sizeof(double)) == 0;
}

std::vector<double> quantities_of(const measure::ReadResult& result, const scenario::Scenario& s) {
    std::vector<double> values;
    for (const measure::Quantity& each : measure::sweep_quantities()) values.push_back(each.value(result, s));
    return values;
}

void check_alone(const study::Sweep& sweep, std::int64_t point, const study::SweepPoint& result) {
    const scenario::Scenario s = scenario::with_settings(sweep.scenario, study::settings_of(sweep, point));
    const measure::ReadResult alone = measure::read(sensor::set_up(s, 1), {1, {}, {}});
    CHECK(same_bits(result.values, quantities_of(alone, s)));
    CHECK(result.level == alone.verdict.level);
    CHECK(result.obstacle.empty());
}

using Results = std::map<std::int64_t, study::SweepPoint>;

Results results_of(const study::Sweep& sweep, int threads, const std::vector<std::int64_t>& cuts = {},
                   std::vector<std::int64_t>* order = nullptr) {
    Results results;
    study::SweepOptions options;
    options.threads = threads;
    options.sink = [&](std::int64_t point, const study::SweepPoint& result) {
        REQUIRE(results.emplace(point, result).second);
        if (order != nullptr) order->push_back(point);
    };
    std::int64_t from = 0;
    for (const std::int64_t to : cuts) {
        study::run_sweep(sweep, from, to, options);
        from = to;
    }
    study::run_sweep(sweep, from, sweep.points, options);
    REQUIRE(static_cast<std::int64_t>(results.size()) == sweep.points);
    return results;
}

bool same(const study::SweepPoint& one, const study::SweepPoint& other) {
    return same_bits(one.values, other.values) && one.level == other.level && one.obstacle == other.obstacle;
}

}  // namespace

TEST_CASE("an axis from start to stop holds both ends exactly and even steps between", "[sweep][unit]") {
    const study::SweepAxis axis = study::parse_axis("target.displacement_mm=-0.7:0.3:11");
    CHECK(axis.key == "target.displacement_mm");
    REQUIRE(axis.values.size() == 11);
    CHECK(axis.values.front() == "-0.7");
    CHECK(axis.values.back() == "0.3");
    for (std::size_t i = 0; i + 1 < axis.values.size(); ++i) {
        CHECK(std::stod(axis.values[i]) == -0.7 + static_cast<double>(i) * (0.3 - -0.7) / 10.0);  // the same bits
    }
    CHECK(study::parse_axis("reading.average=1:9:3").values == std::vector<std::string>{"1", "5", "9"});
    CHECK(study::parse_axis("a=2:2:1").values == std::vector<std::string>{"2"});
}

TEST_CASE("a list parts at commas outside brackets and quotes", "[sweep][unit]") {
    using Values = std::vector<std::string>;
    CHECK(study::parse_axis("target.tilt_deg=[0,0], [5, 0]").values == Values{"[0,0]", "[5, 0]"});
    CHECK(study::parse_axis(" target.material = white-ceramic , black-rubber").values ==
          Values{"white-ceramic", "black-rubber"});
    CHECK(study::parse_axis("title=\"a, b\",'c,d'").values == Values{"\"a, b\"", "'c,d'"});
    CHECK(study::parse_axis("title=\"a:b:c\"").values == Values{"\"a:b:c\""});
    CHECK(study::parse_axis("x=7").values == Values{"7"});
}

TEST_CASE("what is no axis is told with the ways to write one", "[sweep][unit]") {
    const std::string text = GENERATE("", "key", "=1,2", "x=", "x=1,,2", "x=,", "x=1:2", "x=a:b:3", "x=0:1:0",
                                      "x=0:1:-4", "x=0:1:1", "x=0:1:2.5", "x=0:1:1e18", "x=0:1:1000001", "x=nan:1:3",
                                      "x=0:inf:3", "x=::", "x=0:1:99999999999999999999");
    CAPTURE(text);
    CHECK_THROWS_AS(study::parse_axis(text), base::ScenarioError);
}

TEST_CASE("all that is wrong with a sweep is told at once", "[sweep][unit]") {
    const std::string text = complaint({"target.tilt_dag[0]=0,5", "detector.pitch_um=7,-1,1e9", "target.material=tin",
                                        "reading.average=1:2:3", "target.tilt_deg[2]=1,2"});
    CAPTURE(text);
    CHECK(text.find("did you mean `target.tilt_deg`") != std::string::npos);
    CHECK(text.find("<--over detector.pitch_um>: detector.pitch_um: out of bounds, got -1") != std::string::npos);
    CHECK(text.find("no such material: \"tin\"") != std::string::npos);
    CHECK(text.find("must be a whole number, got 1.5") != std::string::npos);
    CHECK(text.find("no such number of target.tilt_deg: [2]") != std::string::npos);
    CHECK(text.find("--set") == std::string::npos);
    // The same complaint about each value of an axis stands there once.
    CHECK(text.find("target.tilt_dag") == text.rfind("target.tilt_dag") -
                                              std::string("<--over target.tilt_dag[0]>: ").size() +
                                              std::string("<--over ").size());
}

TEST_CASE("a key or a value twice, a part of an axis, no axis and too many points are no sweep", "[sweep][unit]") {
    CHECK(complaint({}).find("no key to sweep over") != std::string::npos);
    CHECK(complaint({"seed=1,2", "seed=3,4"}).find("the key is listed twice") != std::string::npos);
    CHECK(complaint({"target.tilt_deg[1]=1,2", "target.tilt_deg[01]=3,4"}).find("twice") != std::string::npos);
    CHECK(complaint({"target.tilt_deg=[0,0],[1,0]", "target.tilt_deg[0]=3,4"}).find("part of another axis") !=
          std::string::npos);
    CHECK(complaint({"target.tilt_deg[0]=0,1", "target.tilt_deg[1]=3,4"}).empty());
    CHECK(complaint({"seed=1,2,1"}).find("twice") != std::string::npos);
    CHECK(complaint({"target.tilt_deg=[5,0],[5.0, 0.0]"}).find("twice") != std::string::npos);
    CHECK(complaint({"target.tilt_deg[0]=0:1:1000", "target.tilt_deg[1]=0:1:1000", "target.displacement_mm=0:1:1001"})
              .find("too many points") != std::string::npos);
}

TEST_CASE("an axis whose key hides a setting of another key is none", "[sweep][unit]") {
    for (const char* key : {"seed=5 #", "seed=", "=", "title=\"a"}) {
        CHECK_THROWS_WITH(study::make_sweep(quick_scenario(), {{key, {"1"}}}),
                          Catch::Contains("no such key") && Catch::Contains(key));
    }
}

TEST_CASE("points are numbered with the last axis fastest", "[sweep][unit]") {
    const study::Sweep sweep = sweep_of(quick_scenario(), {"seed=1,2", "target.tilt_deg[0]=0:2:3"});
    CHECK(sweep.points == 6);
    CHECK(study::settings_of(sweep, 0) == std::vector<std::string>{"seed=1", "target.tilt_deg[0]=0.0"});
    CHECK(study::settings_of(sweep, 1) == std::vector<std::string>{"seed=1", "target.tilt_deg[0]=1.0"});
    CHECK(study::settings_of(sweep, 5) == std::vector<std::string>{"seed=2", "target.tilt_deg[0]=2.0"});
}

TEST_CASE("axes are labelled by numbers as written, whole numbers, words, and the places of lists", "[sweep][unit]") {
    using Kind = study::AxisLabels::Kind;
    const study::Sweep sweep =
        sweep_of(quick_scenario(),
                 {"target.displacement_mm=0:0.3:4", "seed=5,9007199254740993", "target.tilt_deg=[0,0],[5,1]",
                  "target.material=\"white-ceramic\",black-rubber", "receiver.detector_tilt_deg=scheimpflug,20"});
    const study::AxisLabels place = study::labels_of(sweep, 0);
    CHECK(place.kind == Kind::numbers);
    CHECK(place.units == "mm");
    CHECK(place.numbers == std::vector<double>{0.0, 0.3 / 3.0, 2.0 * 0.3 / 3.0, 0.3});
    const study::AxisLabels seed = study::labels_of(sweep, 1);
    CHECK(seed.kind == Kind::whole_numbers);
    CHECK(seed.whole == std::vector<std::int64_t>{5, 9007199254740993});
    CHECK(seed.units == "1");
    const study::AxisLabels tilt = study::labels_of(sweep, 2);
    CHECK(tilt.kind == Kind::words);
    CHECK(tilt.words == std::vector<std::string>{"[0.0, 0.0]", "[5.0, 1.0]"});
    CHECK(tilt.of == std::vector<std::vector<double>>{{0.0, 5.0}, {0.0, 1.0}});
    CHECK(study::labels_of(sweep, 3).words == std::vector<std::string>{"white-ceramic", "black-rubber"});
    CHECK(study::labels_of(sweep, 4).words == std::vector<std::string>{"scheimpflug", "20.0"});
    CHECK(study::labels_of(sweep, 4).kind == Kind::words);
}

TEST_CASE("each point is to the last bit the reading of its scenario alone", "[sweep][unit]") {
    const study::Sweep sweep =
        sweep_of(quick_scenario(), {"target.displacement_mm=-1,2.5", "emitter.power_mW=0.3,0.2"});
    std::vector<std::int64_t> order;
    for (const auto& [point, result] : results_of(sweep, 2, {}, &order)) {
        CAPTURE(point);
        check_alone(sweep, point, result);
    }
    CHECK(order == std::vector<std::int64_t>{0, 2, 1, 3});  // sensor by sensor
}

TEST_CASE("neither threads nor stretches change a result or the order", "[sweep][unit]") {
    const study::Sweep sweep = sweep_of(scenario_of_file("21-pallet-white.toml"),
                                        {"target.displacement_mm=-1250,50", "emitter.power_mW=0.5,0.7"});
    std::vector<std::int64_t> order;
    const Results results = results_of(sweep, 1, {}, &order);
    CHECK(order == std::vector<std::int64_t>{0, 2, 1, 3});
    std::vector<std::int64_t> order_of_threads;
    const Results threaded = results_of(sweep, 3, {1, 3}, &order_of_threads);
    CHECK(order_of_threads == order);
    for (const auto& [point, result] : results) CHECK(same(threaded.at(point), result));
}

TEST_CASE("a sensor of time of flight serves many parts likewise", "[sweep][unit]") {
    const std::string file = GENERATE("21-pallet-white.toml", "24-pallet-black-pulsed.toml");
    const study::Sweep sweep = sweep_of(scenario_of_file(file), {"target.displacement_mm=-1250,50"});
    for (const auto& [point, result] : results_of(sweep, 2)) {
        CAPTURE(file, point);
        check_alone(sweep, point, result);
    }
}

TEST_CASE("a contradiction of some combinations hinders these points alone", "[sweep][unit]") {
    const study::Sweep sweep = sweep_of(quick_scenario(), {"mount.range_mm=[-5,5],[5,-5]", "target.tilt_deg[0]=0,3"});
    const Results results = results_of(sweep, 2);
    CHECK(results.at(0).obstacle.empty());
    CHECK(results.at(1).obstacle.empty());
    for (const std::int64_t point : {2, 3}) {
        const study::SweepPoint& hindered = results.at(point);
        CHECK(hindered.obstacle.find("mount.range_mm") != std::string::npos);
        CHECK(hindered.level == measure::Level::unreadable);
        for (const double value : hindered.values) CHECK(std::isnan(value));
    }
}

TEST_CASE("points that are not wanted are left out", "[sweep][unit]") {
    const study::Sweep sweep = sweep_of(quick_scenario(), {"target.displacement_mm=0:1:5"});
    std::set<std::int64_t> met;
    study::SweepOptions options;
    options.wanted = [](std::int64_t point) { return point % 2 == 1; };
    options.sink = [&](std::int64_t point, const study::SweepPoint&) { met.insert(point); };
    std::int64_t done = 0;
    options.progress = [&](std::int64_t now, std::int64_t all) {
        CHECK(all == 5);
        CHECK(now > done);
        done = now;
    };
    study::run_sweep(sweep, 0, 5, options);
    CHECK(met == std::set<std::int64_t>{1, 3});
    CHECK(done == 5);
    CHECK_THROWS_AS(study::run_sweep(sweep, 0, 6, options), base::DomainError);
}

TEST_CASE("quantities are the numbers of the JSON", "[sweep][unit]") {
    const auto [file, setting] = GENERATE(table<std::string, std::string>({
        {"01-white-tile.toml", "target.displacement_mm=0.5"},
        {"01-white-tile.toml", "target.displacement_mm=60"},  // unreadable
        {"01-white-tile.toml", "motion.along_mm_per_s=3"},
        {"01-white-tile.toml", "reading.thickness_index=1.5"},
        {"21-pallet-white.toml", "target.displacement_mm=0"},
        {"24-pallet-black-pulsed.toml", "target.displacement_mm=0"},
    }));
    scenario::Scenario s = scenario::with_settings(scenario_of_file(file), std::vector<std::string>{setting});
    measure::ReadResult result = measure::read(sensor::set_up(s, 1), {1, {}, {}});
    result.statistics.mean_thickness = 1.25e-3;  // of a plate, as far as the numbers go
    result.statistics.thickness_deviation = 3e-7;
    result.statistics.thicknesses = 5;
    result.model_error = 1e-6;  // of an image that could not be brought within its tolerance
    if (s.reading.thickness_index) s.target.shape = scenario::ShapeKind::plate;
    const nlohmann::json json = record::to_json(result, s);
    for (const measure::Quantity& each : measure::sweep_quantities()) {
        const nlohmann::json::json_pointer place{std::string(each.place)};
        const double value = each.value(result, s);
        const bool there = json.contains(place) && !json.at(place).is_null();
        CAPTURE(file, setting, each.name);
        CHECK(there == !std::isnan(value));
        if (there) CHECK(json.at(place).get<double>() == value);
        if (there) CHECK(measure::quantity(each.name, result, s) == value);
    }
    scenario::Scenario by_rays = s;
    by_rays.run.model = scenario::LightModel::ray;
    CHECK(measure::quantity("model_standard_error_um", result, by_rays) == 1.0);
    CHECK(record::to_json(result, by_rays)["model_standard_error_um"] == 1.0);
    CHECK_THROWS_AS(measure::quantity("colour", result, s), base::InternalError);
}

TEST_CASE("values that are written otherwise make the same sweep", "[sweep][unit]") {
    const auto values = [](const std::string& key, std::vector<std::string> written) {
        return study::make_sweep(quick_scenario(), {{key, std::move(written)}}).axes.front().values;
    };
    CHECK(values("target.tilt_deg[0]", {"20", "-5e-1"}) == std::vector<std::string>{"20.0", "-0.5"});
    CHECK(values("target.tilt_deg", {"[5,0.0]"}) == std::vector<std::string>{"[5.0, 0.0]"});
    CHECK(values("target.material", {"black-rubber"}) == std::vector<std::string>{"black-rubber"});
    CHECK(values("exposure.mode", {"\"automatic\""}) == std::vector<std::string>{"automatic"});
}
