// The program from outside: studies and the commands beside `read`.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cctype>
#include <string>

#include <nlohmann/json.hpp>

#include "tests/support/program.hpp"

using namespace spotwright::support;

TEST_CASE("layout prints its numbers as JSON and draws an SVG", "[cli]") {
    const Folder folder;
    const std::string svg = folder / "a.svg";
    const Run r = run("layout " + folder.write("a.toml", white) + " --json --out " + svg);
    CHECK(r.code == 0);
    const auto object = nlohmann::json::parse(r.out);
    for (const char* key :
         {"distance_mm", "span_mm", "detector_tilt_deg", "magnification", "sensitivity_um_per_um", "pixel_um",
          "image_position_mm", "measurable_range_mm", "object_side_na", "speckle_limit_um"}) {
        INFO(key);
        CHECK(object.contains(key));
    }
    CHECK(object["detector_tilt_deg"].get<double>() == Approx(49.1066).epsilon(1e-5));
    CHECK(contents(svg).find("<svg") != std::string::npos);
}

TEST_CASE("read --averaging writes a chart and prints its numbers", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    const Run r = run("read " + file + " --set run.patches=16 --averaging " + (folder / "a.svg"));
    CHECK(r.code == 0);
    CHECK(r.out.find("readings  rms error, part still / um  rms error, patches replaced / um  noise alone / um") !=
          std::string::npos);
    CHECK(contents(folder / "a.svg").find("part moved on between") != std::string::npos);
    const Run json = run("read --json " + file + " --set run.patches=16 --threads 1 --averaging " + (folder / "b.svg"));
    const auto averaging = nlohmann::json::parse(json.out)["averaging"];
    REQUIRE(averaging.size() == 9);
    CHECK(averaging[8]["average"] == 256);
    CHECK(averaging[8]["still_um"].get<double>() > averaging[8]["moved_um"].get<double>());
    CHECK(contents(folder / "a.svg") == contents(folder / "b.svg"));
    CHECK_FALSE(nlohmann::json::parse(run("read --json " + file).out).contains("averaging"));
    CHECK(run("read " + file + " --averaging " + (folder / "a.csv")).code == 2);
    CHECK(run("read " + file + " --averaging " + (folder / "no/such/a.svg")).code == 3);
    CHECK(run("read " + file + " --averaging " + (folder / "c.svg") + " --out " + (folder / "c.svg")).code == 2);
    CHECK(folder.files() == 3);
}

TEST_CASE("validate passes, and the page of the documentation is what it writes today", "[cli][slow]") {
    const Folder folder;
    const std::string page = folder / "validation.md";
    const Run r = run("validate --json --out " + page);
    CHECK(r.code == 0);
    CHECK(nlohmann::json::parse(r.out)["failed"] == 0);
    // Made again by: build/write_docs docs
    CHECK(contents(page) == contents(SPOTWRIGHT_SOURCE_DIR "/docs/validation.md"));
}

TEST_CASE("read --crossover writes a chart of both principles and prints its numbers", "[cli][slow]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    const Run r = run("read " + file + " --crossover " + (folder / "a.svg"));
    CHECK(r.code == 0);
    CHECK(r.out.find("distance / m  triangulation / um  valid / %  time of flight / um  valid / %") !=
          std::string::npos);
    CHECK(contents(folder / "a.svg").find("time of flight, by phase") != std::string::npos);
    const Run json = run("read --json " + file + " --threads 1 --crossover " + (folder / "b.svg"));
    const auto crossover = nlohmann::json::parse(json.out)["crossover"];
    REQUIRE(crossover["distances"].size() == 12);
    CHECK(crossover["distances"][0]["distance_mm"].get<double>() == Approx(50.0));
    CHECK(crossover["distances"][11]["distance_mm"].get<double>() == Approx(10000.0));
    CHECK(crossover["time_of_flight"] == "phase-shift");
    CHECK(contents(folder / "a.svg") == contents(folder / "b.svg"));
    CHECK(run("read " + file + " --crossover " + (folder / "a.csv")).code == 2);
    const std::string same = folder / "c.svg";
    CHECK(run("read " + file + " --crossover " + same + " --averaging " + same).code == 2);
    CHECK(run("read " + file + " --crossover " + (folder / "no/such/a.svg")).code == 3);
}

TEST_CASE("the list of materials shows from what to what real parts differ, beside the value", "[cli]") {
    const Run r = run("materials");
    CHECK(r.code == 0);
    // Columns are as wide as the widest entry, and sources are broken over lines.
    const auto words_of = [](std::string text) {
        const auto blank = [](char a, char b) { return std::isspace(a) != 0 && std::isspace(b) != 0; };
        for (char& c : text) c = c == '\n' ? ' ' : c;
        text.erase(std::unique(text.begin(), text.end(), blank), text.end());
        return text;
    };
    const auto line_of = [&](const std::string& name) {
        const auto at = r.out.find("\n" + name + " ");
        REQUIRE(at != std::string::npos);
        return words_of(r.out.substr(at + 1, r.out.find('\n', at + 1) - at - 1));
    };
    CHECK(line_of("white-ceramic").find(" 0.850 0.8 to 0.9 ") != std::string::npos);
    CHECK(line_of("turned-steel").find(" 0.03 / 0.2 0.015 / 0.1 to 0.06 / 0.4 ") != std::string::npos);
    CHECK(words_of(r.out).find("range: 0.80 to 0.90 near 650 nm, from memory") != std::string::npos);
}

TEST_CASE("read --allan tells how outputs scatter with the time they are averaged over", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    const Run r = run("read --allan --set run.speckle='\"off\"' --set run.readings=512 " + file);
    CHECK(r.code == 0);
    CHECK(r.out.find("  allan        least ") != std::string::npos);
    const Run json = run("read --json --allan --set run.speckle='\"off\"' --set run.readings=512 " + file);
    const auto allan = nlohmann::json::parse(json.out)["allan"];
    CHECK(allan["gaps"] == "none");
    CHECK(allan["curve"].size() == 8);
    CHECK(allan["curve"][0]["deviation_um"].get<double>() > allan["curve"][5]["deviation_um"].get<double>());
    CHECK_FALSE(nlohmann::json::parse(run("read --json " + file).out).contains("allan"));
    const Run many = run("read --allan --set run.readings=30000000 " + file);
    CHECK(many.code == 2);
    CHECK(many.err.find("--allan keeps all of them in memory") != std::string::npos);
}

TEST_CASE("bench tells what a log says, and what the model says of it", "[cli]") {
    const Folder folder;
    const std::string scenario = folder.write("a.toml", std::string(white) + "speckle = \"off\"\n");
    const std::string log = folder / "log.csv";
    const std::string of_it = " --scenario " + scenario;
    CHECK(run("bench --simulate " + log + of_it + " --set seed=3 --set run.readings=400").code == 0);
    const Run alone = run("bench " + log);
    CHECK(alone.code == 0);
    CHECK(alone.out.find("400, 100 % valid") != std::string::npos);
    CHECK(alone.out.find("prediction") == std::string::npos);
    const Run beside = run("bench --json " + log + of_it);
    const auto json = nlohmann::json::parse(beside.out);
    CHECK(json["kind"] == "time");
    CHECK(json["compared"][0]["name"] == "still_sd_um");
    CHECK(json["fit"]["parameters"][0]["name"] == "reflectance_factor");
    // The series of `read` is a log too, where its column is named.
    const std::string series = folder / "series.csv";
    CHECK(run("read --out " + series + " " + scenario).code == 0);
    CHECK(run("bench --reading output_mm " + series).code == 0);
}

TEST_CASE("bench says what is wrong with a log or its options", "[cli]") {
    const Folder folder;
    const Run wrong = run("bench " + folder.write("log.csv", "time_s,reading_mm\n0,1\n0,2\n"));
    CHECK(wrong.code == 2);
    CHECK(wrong.err.find("log.csv:3: the time 0 s is that of line 2 again") != std::string::npos);
    CHECK(run("bench").code == 2);
    CHECK(run("bench --simulate " + (folder / "x.csv")).code == 2);
    CHECK(run("bench " + (folder / "none.csv")).code == 2);
    CHECK(folder.files() == 1);
}

TEST_CASE("sweep prints each point, and as JSON one object with all of them", "[cli]") {
    const Folder folder;
    const std::string rest =
        " --set run.readings=30 --over run.speckle=off,statistical --over target.displacement_mm=0,60 " +
        folder.write("a.toml", white);
    const Run text = run("sweep" + rest);
    CHECK(text.code == 0);
    CHECK(text.out.find("points       4: ") != std::string::npos);
    CHECK(text.out.find("unreadable") != std::string::npos);
    CHECK(text.err.empty());
    CHECK(run("sweep --strict" + rest).code == 1);
    const auto json = nlohmann::json::parse(run("sweep --json" + rest).out);
    CHECK(json["points"] == 4);
    CHECK(json["over"][1]["values"] == nlohmann::json{0.0, 60.0});
    CHECK(json["verdicts"]["unreadable"] == 2);
    REQUIRE(json["results"].size() == 4);
    const auto alone = nlohmann::json::parse(
        run("read --json --set run.readings=30 --set run.speckle=statistical " + folder.write("a.toml", white)).out);
    CHECK(json["results"][2]["settings"]["run.speckle"] == "statistical");
    CHECK(json["results"][2]["bias_um"] == alone["bias_um"]);
    CHECK(json["results"][2]["replaced_sd_um"] == alone["replaced_sd_um"]);
    CHECK(json["results"][3]["bias_um"].is_null());
    CHECK(folder.files() == 1);
}

TEST_CASE("a sweep that cannot be is told before anything is written", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    const Run wrong =
        run("sweep --over target.tilt_dag=1,2 --over detector.pitch_um=0:7:2 --out " + (folder / "x.h5") + " " + file);
    CHECK(wrong.code == 2);
    CHECK(wrong.err.find("<--over target.tilt_dag>: target.tilt_dag: no such key") != std::string::npos);
    CHECK(wrong.err.find("detector.pitch_um: out of bounds, got 0") != std::string::npos);
    CHECK(run("sweep " + file).code == 2);
    CHECK(run("sweep --over seed=1,2 --out " + (folder / "x.txt") + " " + file).code == 2);
    CHECK(run("sweep --over seed=1,2 --out " + (folder / "none/x.h5") + " " + file).code == 3);
    CHECK(run("sweep --json --over target.displacement_mm=0:1:10001 " + file).code == 2);
    CHECK(folder.files() == 1);
}
