// The program from outside: what `read` prints, where, with which exit code, and how bad input ends.
#include <catch2/catch.hpp>

#include <algorithm>
#include <string>

#include <nlohmann/json.hpp>

#include "tests/support/program.hpp"

using namespace spotwright::support;

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
    CHECK(r.out.find("verdict      marginal: errors within the tolerance") != std::string::npos);
    CHECK(r.out.find("allowed, ") != std::string::npos);
    CHECK(r.out.find("standing still") != std::string::npos);
    CHECK(r.err.empty());
    CHECK(std::count(r.out.begin(), r.out.end(), '\n') < 20);
}

TEST_CASE("read --all prints every number of the table of quantities", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    const Run all = run("read --all " + file);
    const Run answer = run("read " + file);
    CHECK(all.out.find("verdict      marginal: errors within the tolerance") != std::string::npos);
    for (const char* label : {"still standard deviation", "speckle limit, closed form", "valid readings, replaced"}) {
        INFO(label);
        CHECK(all.out.find(label) != std::string::npos);
        CHECK(answer.out.find(label) == std::string::npos);
    }
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
    CHECK(run("reed x").err.find("no such command: \"reed\"") != std::string::npos);
    CHECK(run("reed x").err.find("did you mean `read`?") != std::string::npos);
    CHECK(run("materials cooper").err.find("materials: no such material") == 0);
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
    CHECK(refused("layout " + file, "x.png").find("allowed: .svg, .pdf or .dxf") != std::string::npos);
    CHECK(refused("sensors", "x.dxf").find("allowed: .svg or .pdf") != std::string::npos);
    CHECK(refused("budget " + file, "x.csv").find("allowed: .html") != std::string::npos);
    CHECK(refused("advise " + file, "x.svg").find("allowed: .html") != std::string::npos);
    CHECK(refused("validate", "x.html").find("allowed: .md") != std::string::npos);
    CHECK(folder.files() == 1);
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

TEST_CASE("control characters of a title do not reach the terminal", "[cli]") {
    const Folder folder;
    const Run r = run("read " + folder.write("a.toml", "title = \"a\\u001b[31mb\"\n" + std::string(white)));
    CHECK(r.code == 0);
    CHECK(r.out.find('\x1b') == std::string::npos);
}
