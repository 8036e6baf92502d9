// The program from outside: what it prints, where, and with which exit code.
#include <catch2/catch.hpp>

#include <sys/wait.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

#include <nlohmann/json.hpp>

namespace fs = std::filesystem;

namespace {

// A folder of one test's own, removed with everything in it.
class Folder {
public:
    Folder() {
        std::string name = (fs::temp_directory_path() / "spotwright-cli-XXXXXX").string();
        path_ = mkdtemp(name.data());
    }
    ~Folder() { fs::remove_all(path_); }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;

    [[nodiscard]] std::string operator/(const std::string& name) const { return (path_ / name).string(); }
    [[nodiscard]] std::string write(const std::string& name, const std::string& text) const {
        std::ofstream(path_ / name) << text;
        return (path_ / name).string();
    }
    [[nodiscard]] std::size_t files() const {
        return static_cast<std::size_t>(std::distance(fs::directory_iterator(path_), fs::directory_iterator()));
    }

private:
    fs::path path_;
};

struct Run {
    int code = 0;
    std::string out;
    std::string err;
};

std::string contents(const std::string& path) {
    std::ifstream in(path);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

Run run(const std::string& arguments, const std::string& before = "", const std::string& output = "") {
    const Folder folder;
    const std::string out = output.empty() ? folder / "out" : output;
    const std::string err = folder / "err";
    const std::string command = before + " '" SPOTWRIGHT_PROGRAM "' " + arguments + " >" + out + " 2>" + err;
    const int status = std::system(command.c_str());
    const std::string printed = output.empty() ? contents(out) : "";  // a device may have no end
    return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, printed, contents(err)};
}

constexpr const char* white = "[target]\nmaterial = \"white-ceramic\"\n[run]\nreadings = 300\n";

}  // namespace

TEST_CASE("the program tells its version and revision", "[cli]") {
    const Run told = run("--version");
    CHECK(told.code == 0);
    CHECK(told.err.empty());
    CHECK_THAT(told.out, Catch::Matches("spotwright [0-9]+\\.[0-9]+\\.[0-9]+ \\(revision [-+.~_A-Za-z0-9]+\\)\n"));
}

TEST_CASE("read prints statistics and a verdict, and nothing on standard error", "[cli]") {
    const Folder folder;
    const Run r = run("read " + folder.write("a.toml", white));
    CHECK(r.code == 0);
    CHECK(r.out.find("verdict      marginal") != std::string::npos);
    CHECK(r.out.find("still standard deviation") != std::string::npos);
    CHECK(r.err.empty());
}

TEST_CASE("read --json prints one JSON object and nothing else", "[cli]") {
    const Folder folder;
    const Run r = run("read --json " + folder.write("a.toml", white));
    const auto object = nlohmann::json::parse(r.out);
    for (const char* key : {"title", "seed", "principle", "readings", "valid_share", "invalid", "true_mm", "mean_mm",
                            "bias_um", "still_sd_um", "sampling_kHz", "output_response_ms", "signal", "verdict"}) {
        INFO(key);
        CHECK(object.contains(key));
    }
    CHECK(object["readings"] == 300);
    CHECK(object["verdict"]["level"] == "marginal");
    CHECK(object.contains("replaced_sd_um"));
    for (const char* key : {"contrast", "pattern_contrast", "size_um"}) CHECK(object["speckle"].contains(key));
}

TEST_CASE("a strict run exits with 1 unless the verdict is stable", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    CHECK(run("read --strict " + file).code == 1);
    CHECK(run("read --strict --set requirement.tolerance_um=100 " + file).code == 0);
}

TEST_CASE("a fixed seed and date give files of equal bytes, whatever the thread count", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    for (const std::string format : {"h5", "csv"}) {
        const std::string one = folder / ("one." + format);
        const std::string many = folder / ("many." + format);
        const std::string settings = " --set run.readings=10000 ";
        REQUIRE(run("read " + file + settings + "--threads 1 --out " + one, "SOURCE_DATE_EPOCH=0").code == 0);
        REQUIRE(run("read " + file + settings + "--threads 7 --out " + many, "SOURCE_DATE_EPOCH=0").code == 0);
        CHECK(contents(one) == contents(many));
        CHECK(contents(one).size() > 10000);
        const std::string other = folder / ("other." + format);
        REQUIRE(run("read " + file + settings + "--set seed=2 --out " + other, "SOURCE_DATE_EPOCH=0").code == 0);
        CHECK(contents(one) != contents(other));
    }
}

TEST_CASE("a written series tells the time of automatic exposure's longer period", "[cli]") {
    const Folder folder;
    const std::string out = folder / "a.csv";
    const Run r =
        run("read " + folder.write("a.toml", white) +
            " --set exposure.mode=automatic --set exposure.period_us=[50,5000] --set target.material=black-rubber"
            " --set emitter.power_mW=0.05 --json --out " +
            out);
    REQUIRE(r.code == 0);
    const double period_ms = 1.0 / nlohmann::json::parse(r.out)["sampling_kHz"].get<double>();
    CHECK(period_ms > 0.1);
    const std::string text = contents(out);
    const std::size_t second = text.find("\n1,");
    REQUIRE(second != std::string::npos);
    CHECK(std::stod(text.substr(second + 3)) == Approx(period_ms).epsilon(1e-9));
}

TEST_CASE("bad input exits with 2, says where and what, and writes nothing", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", "[detector]\npich_um = 7\n[target]\nmaterial = \"white-ceramc\"\n");
    const Run r = run("read " + file + " --out " + (folder / "x.h5"));
    CHECK(r.code == 2);
    CHECK(r.out.empty());
    CHECK(r.err.find(file + ":2:1: detector.pich_um: no such key") != std::string::npos);
    CHECK(r.err.find("did you mean `detector.pitch_um`?") != std::string::npos);
    CHECK(r.err.find(":4:12: target.material") != std::string::npos);
    CHECK(folder.files() == 1);
    CHECK(run("read " + (folder / "missing.toml")).code == 2);
    CHECK(run("read").code == 2);
    CHECK(run("reed x").code == 2);
    CHECK(run("").code == 2);
    CHECK(run("read " + file + " --threads -1").code == 2);
}

TEST_CASE("what each issue of geometry says points at its key", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    const auto complaint = [&file](const std::string& settings) {
        const Run r = run("read " + file + " " + settings);
        CHECK(r.code == 2);
        CHECK(r.out.empty());
        return r.err;
    };
    CHECK(complaint("--set mount.range_mm=[-10,10]").find("<--set mount.range_mm>") == 0);
    CHECK(complaint("--set receiver.angle_deg=1").find("does not stand clear of the beam") != std::string::npos);
    CHECK(complaint("--set receiver.focal_length_mm=60").find("no real image") != std::string::npos);
    CHECK(complaint("--set detector.pixels=16").find("mount.range_mm") != std::string::npos);
    CHECK(complaint("--set emitter.power_mW=nan").find("out of bounds, got nan") != std::string::npos);
    CHECK(complaint("--set detector.height_um=-3").find("out of bounds, got -3") != std::string::npos);
}

TEST_CASE("an output that cannot be written exits with 3 and leaves no half file", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    for (const std::string& out :
         {folder / "no/such/folder/x.h5", folder / "no/such/folder/x.csv", folder / "no/such/folder/x.svg",
          folder / "no/such/folder/x.html", std::string("/proc/x.h5")}) {
        INFO(out);
        const Run r = run("read " + file + " --out " + out);
        CHECK(r.code == 3);
        CHECK(r.err.find(out) != std::string::npos);
    }
    CHECK(run("layout " + file + " --out " + (folder / "no/x.svg")).code == 3);
    CHECK(folder.files() == 1);
    CHECK(run("read --json " + file, "", "/dev/full").code == 3);
}

TEST_CASE("an output of a format that is not written is bad input, and says which formats there are", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    const auto refused = [&folder](const std::string& command, const std::string& name) {
        const Run r = run(command + " --out " + (folder / name));
        CHECK(r.code == 2);
        CHECK(r.out.empty());
        CHECK(r.err.find(folder / name) == 0);
        return r.err;
    };
    CHECK(refused("read " + file, "x.docx").find("no such format: \".docx\"\n  allowed: .h5, .csv, .svg or .html") !=
          std::string::npos);
    CHECK(refused("read " + file, "x").find("no extension") != std::string::npos);
    CHECK(refused("layout " + file, "x.png").find("allowed: .svg") != std::string::npos);
    CHECK(refused("budget " + file, "x.csv").find("allowed: .html") != std::string::npos);
    CHECK(refused("advise " + file, "x.svg").find("allowed: .html") != std::string::npos);
    CHECK(refused("validate", "x.html").find("allowed: .md") != std::string::npos);
    CHECK(folder.files() == 1);
}

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

TEST_CASE("read draws a picture of one reading, the same every time, and prints as ever", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    const Run plain = run("read --json " + file);
    const Run r = run("read --json " + file + " --out " + (folder / "a.svg"));
    CHECK(r.code == 0);
    CHECK(r.out == plain.out);
    CHECK(contents(folder / "a.svg").find("Reading 0 of 300: valid") != std::string::npos);
    CHECK(run("read " + file + " --threads 1 --out " + (folder / "b.svg")).out.find("b.svg") != std::string::npos);
    CHECK(contents(folder / "a.svg") == contents(folder / "b.svg"));
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

TEST_CASE("a date in the environment that is no time is bad input", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    for (const char* date : {"SOURCE_DATE_EPOCH=99999999999999", "SOURCE_DATE_EPOCH=today", "SOURCE_DATE_EPOCH=-1"}) {
        const Run r = run("read " + file + " --out " + (folder / "x.csv"), date);
        CHECK(r.code == 2);
        CHECK(r.err.find("SOURCE_DATE_EPOCH") != std::string::npos);
    }
    CHECK(folder.files() == 1);
}

TEST_CASE("help of every command fits a screen", "[cli]") {
    for (const char* command : {"", "read", "layout", "materials", "validate", "demo"}) {
        const Run r = run(std::string(command) + " --help");
        CHECK(r.code == 0);
        CHECK(std::count(r.out.begin(), r.out.end(), '\n') <= 40);
    }
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

TEST_CASE("control characters of a title do not reach the terminal", "[cli]") {
    const Folder folder;
    const Run r = run("read " + folder.write("a.toml", "title = \"a\\u001b[31mb\"\n" + std::string(white)));
    CHECK(r.code == 0);
    CHECK(r.out.find('\x1b') == std::string::npos);
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
    const auto json = nlohmann::json::parse(run("infer --sensors 4 --json " + sheet).out);
    CHECK(json["sensors"] == 4);
    CHECK(json["sheet"].size() >= 6);
    CHECK(json["measure_next"][0]["spread_over_error"] >= json["measure_next"][1]["spread_over_error"]);

    const std::string part = folder.write("case.toml",
                                          "sensor = \"sensor.toml\"\n[run]\nreadings = 300\npatches = 16\n"
                                          "trials = 200\n[target]\nmaterial = \"white-paper\"\n");
    const Run read = run("read --quiet " + part);
    INFO(read.out << read.err);
    CHECK(read.code == 0);
    CHECK(read.out.find("of 4 sensors that fit the sheet") != std::string::npos);
    const auto result = nlohmann::json::parse(run("read --json " + part).out);
    CHECK(result["ensemble"]["members"] == 4);
    CHECK(result["ensemble"]["bias_um"].size() == 3);
    const auto sweep =
        nlohmann::json::parse(run("sweep --json --over target.material=white-paper,black-rubber " + part).out);
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
