// The program from outside: a sensor from its data sheet.
#include <catch2/catch.hpp>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include <nlohmann/json.hpp>

#include "tests/support/program.hpp"

using namespace spotwright::support;
namespace fs = std::filesystem;

namespace {

// Few values, so that few sensors are enough.
constexpr const char* data_sheet =
    "title = \"Sheet\"\nreference_distance_mm = 45\nrange_mm = [-8, 8]\n[spot]\nin_plane_um = 64\n"
    "[light]\nlaser_class = \"1\"\nwavelength_nm = 655\n[timing]\nperiod_us = [125, 250]\naverages = [1, 64]\n"
    "[repeatability]\nvalue_um = [0.03, 0.05]\naverage = 64\n[housing]\nwindows_distance_mm = 24\nwindow_mm = [6, "
    "14]\n";

}  // namespace

TEST_CASE("infer writes a sensor whose verdicts say how far the sheet determines them", "[cli]") {
    const Folder folder;
    const std::string sheet = folder.write("sheet.toml", data_sheet);
    const std::string sensor = folder / "sensor.toml";
    const Run text = run("infer --sensors 4 --quiet --out " + sensor + " " + sheet);
    INFO(text.err);
    REQUIRE(text.code == 0);
    CHECK(text.out.find("4 sensors that fit the sheet") != std::string::npos);
    CHECK(text.out.find("repeatability.value_um") != std::string::npos);
    CHECK(text.out.find("tile-moved") != std::string::npos);
    // A sensor file may have been edited since: it is replaced on request alone, as by `new`.
    const std::string written = contents(sensor) + "# edited\n";
    static_cast<void>(folder.write("sensor.toml", written));
    const Run again = run("infer --sensors 2 --quiet --out " + sensor + " " + sheet);
    CHECK(again.code == 2);
    CHECK(again.err.find("--force") != std::string::npos);
    CHECK(contents(sensor) == written);
    CHECK(run("infer --sensors 4 --quiet --force --out " + sensor + " " + sheet).code == 0);
    CHECK(contents(sensor) + "# edited\n" == written);
    const auto json = nlohmann::json::parse(run("infer --sensors 4 --json " + sheet).out);
    CHECK(json["sensors"] == 4);
    CHECK(json["sheet"].size() >= 6);
    CHECK(json["measure_next"][0]["spread_over_error"] >= json["measure_next"][1]["spread_over_error"]);

    const std::string part = folder.write("case.toml",
                                          "sensor = \"sensor.toml\"\n[run]\nreadings = 300\npatches = 16\n"
                                          "trials = 200\n[target]\nmaterial = \"white-ceramic\"\n");
    const Run read = run("read --quiet " + part);
    INFO(read.out << read.err);
    CHECK(read.code == 0);
    CHECK(read.out.find("of 4 sensors that fit the sheet") != std::string::npos);
    const auto result = nlohmann::json::parse(run("read --json " + part).out);
    CHECK(result["ensemble"]["members"] == 4);
    CHECK(result["ensemble"]["bias_um"].size() == 3);
    const auto sweep =
        nlohmann::json::parse(run("sweep --json --over target.material=white-ceramic,black-rubber " + part).out);
    CHECK(sweep["results"][1]["ensemble"]["members"] == 4);
    const auto budget = nlohmann::json::parse(run("budget --json " + part).out);
    CHECK(budget["ensemble"]["members"] == 4);
}

TEST_CASE("a sheet that cannot be is told, and no file is left", "[cli]") {
    const Folder folder;
    const std::string sheet = folder.write("sheet.toml", std::string(data_sheet) + "[temperature]\npercent = 1\n");
    const std::string sensor = folder / "sensor.toml";
    const Run unknown = run("infer --out " + sensor + " " + sheet);
    CHECK(unknown.code == 2);
    CHECK(unknown.err.find("temperature.percent: no such key of a data sheet") != std::string::npos);
    static_cast<void>(folder.write("sheet.toml",
                                   "reference_distance_mm = 45\nrange_mm = [-8, 8]\n[light]\nlaser_class = \"1\"\n"
                                   "power_mW = 4\n"));
    const Run power = run("infer --out " + sensor + " " + sheet);
    CHECK(power.code == 2);
    CHECK(power.err.find("what class 1 allows") != std::string::npos);
    CHECK(run("infer --log tile=x.csv " + sheet).code == 2);
    CHECK(run("infer --out " + (folder / "x.csv") + " " + sheet).code == 2);
    CHECK(run("infer --out " + (folder / "none/x.toml") + " " + sheet).code == 3);
    CHECK(folder.files() == 1);
}
