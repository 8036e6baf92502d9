#include "bindings/web/engine/edit.hpp"

#include <catch2/catch.hpp>

#include <string>

#include "bindings/web/engine/check.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"

namespace {

using spotwright::web::Json, spotwright::web::with_value, spotwright::web::without_key;

constexpr const char* text = R"(# A tile.
schema = 1
title = "Tile \u00e4 # no comment"  # of the workshop

[target]  # what is measured
material = "white-ceramic"   # fired
tilt_deg = [
    1.0,  # in plane
    2.0,
]
displacement_mm = 0.5  # later

[reading]
# averages come last
average = 4
)";

std::string replaced(std::string in, const std::string& what, const std::string& by) {
    return in.replace(in.find(what), what.size(), by);
}

}  // namespace

TEST_CASE("A value is written in the place of the old one") {
    CHECK(with_value(text, "target.displacement_mm", "-1.25") == replaced(text, "0.5 ", "-1.25 "));
    CHECK(with_value(text, "target.material", "\"mirror\"") == replaced(text, "\"white-ceramic\"", "\"mirror\""));
    CHECK(with_value(text, "target.tilt_deg", "[0, 3]") ==
          replaced(text, "[\n    1.0,  # in plane\n    2.0,\n]", "[0, 3]"));
    CHECK(with_value(text, "title", "\"B\"") == replaced(text, "\"Tile \\u00e4 # no comment\"", "\"B\""));
    // Columns count characters, not bytes.
    CHECK(with_value("t = {\"\xC3\xA4\" = 1, b = 2}", "t.b", "3") == "t = {\"\xC3\xA4\" = 1, b = 3}");
    CHECK(with_value("\xEF\xBB\xBFseed = 1", "seed", "2") == "\xEF\xBB\xBFseed = 2");
}

TEST_CASE("A new key goes behind its section, or into a new one") {
    CHECK(with_value(text, "target.shape", "\"step\"") ==
          replaced(text, "0.5  # later\n", "0.5  # later\nshape = \"step\"\n"));
    CHECK(with_value(text, "target.step.height_mm", "0.1") == text + std::string("\n[target.step]\nheight_mm = 0.1\n"));
    CHECK(with_value(text, "seed", "7") == replaced(text, "workshop\n", "workshop\nseed = 7\n"));
    CHECK(with_value("[run]\n[reading]\n", "run.readings", "16") == "[run]\nreadings = 16\n[reading]\n");
    CHECK(with_value("", "seed", "3") == "seed = 3\n");
    CHECK(with_value("[run]\n", "seed", "3") == "seed = 3\n[run]\n");
    CHECK(with_value("run.readings = 4\nseed = 1\n", "run.rays", "5") == "run.readings = 4\nrun.rays = 5\nseed = 1\n");
}

TEST_CASE("A key is taken out with its line") {
    CHECK(without_key(text, "target.displacement_mm") == replaced(text, "displacement_mm = 0.5  # later\n", ""));
    CHECK(without_key(text, "target.tilt_deg") ==
          replaced(text, "tilt_deg = [\n    1.0,  # in plane\n    2.0,\n]\n", ""));
    CHECK(without_key(text, "target.shape") == text);
    CHECK_FALSE(without_key("run = {readings = 4, rays = 5}", "run.rays"));
}

TEST_CASE("What is no TOML, or would be none, is not written") {
    CHECK_FALSE(with_value("a = ", "seed", "1"));
    CHECK_FALSE(with_value(text, "seed", "1\n[target]"));
    CHECK_FALSE(with_value(text, "target", "1"));
    CHECK_FALSE(with_value("run = {readings = 4}", "run.rays", "5"));
    CHECK_FALSE(without_key("a = ", "a"));
}

TEST_CASE("An edited scenario reads as the one with settings, also where its text has no place for them") {
    using spotwright::scenario::parse, spotwright::scenario::to_toml;
    const std::string plain = text;
    const std::string inline_tables = "run = {readings = 4}\ntarget = {material = \"mirror\"}\n";
    const std::string dotted = "target.material = \"mirror\"\nrun.readings = 4\n";
    for (const std::string& each : {plain, inline_tables, dotted}) {
        const Json answer = spotwright::web::edit(
            {{"toml", each}, {"set", {{"run.rays", 5000}, {"target.tilt_deg[1]", 3.5}, {"reading.average", nullptr}}}});
        INFO(each << "\n->\n" << answer["toml"].get<std::string>());
        CHECK(answer["problems"].empty());
        auto wanted = spotwright::web::written_in({{"toml", each}, {"set", {{"reading.average", nullptr}}}});
        wanted.settings = {"run.rays=5000", "target.tilt_deg[1]=3.5"};
        CHECK(to_toml(parse(answer["toml"].get<std::string>())) ==
              to_toml(parse(wanted.toml, "scenario", wanted.settings)));
    }
}

TEST_CASE("An edit that is no scenario brings its problems, and the text all the same") {
    const Json answer =
        spotwright::web::edit({{"toml", text}, {"set", {{"target.displacement_mm", 99.0}, {"seed", "x"}}}});
    REQUIRE(answer["problems"].size() >= 1);
    CHECK(answer["toml"].get<std::string>().find("seed = \"x\"") != std::string::npos);
}
