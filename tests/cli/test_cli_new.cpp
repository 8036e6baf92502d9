// The program from outside: files to begin with, and what a user may have at hand.
#include <catch2/catch.hpp>

#include <cstdlib>
#include <filesystem>
#include <string>

#include <nlohmann/json.hpp>

#include "tests/support/program.hpp"

using namespace spotwright::support;
namespace fs = std::filesystem;

TEST_CASE("new writes a commented scenario that read takes, and overwrites nothing", "[cli]") {
    const Folder folder;
    const std::string file = folder / "seal.toml";
    const std::string flags = "new --material black-rubber --tolerance-um 30 --speed-mm-per-s 100 --out " + file;
    const Run made = run(flags, "", "");
    INFO(made.err);
    CHECK(made.code == 0);
    CHECK(made.out.find("written    " + file) != std::string::npos);
    const std::string text = contents(file);
    for (const char* part : {"\nmaterial = \"black-rubber\"\n", "\ntolerance_um = 30.0\n",
                             "\nacross_mm_per_s = [100.0, 0.0]\n", "\n#power_mW = 0.3\n"}) {
        INFO(part);
        CHECK(text.find(part) != std::string::npos);
    }
    CHECK(run("read --set run.readings=50 " + file).code == 0);
    const Run again = run(flags);
    CHECK(again.code == 2);
    CHECK(again.err.find("--force") != std::string::npos);
    CHECK(contents(file) == text);
    CHECK(run(flags + " --force --title 'Seal, \"new\"'").code == 0);
    CHECK(contents(file).find("title = \"Seal, \\\"new\\\"\"") != std::string::npos);
}

TEST_CASE("new makes sensors that can be built, of either mount and at any reference distance", "[cli]") {
    const Folder folder;
    for (const std::string flags :
         {"--mount specular --material polished-steel", "--mount diffuse --material white-pom",
          "--reference-distance-mm 200 --material white-ceramic",
          "--reference-distance-mm 200 --range-mm -10,12 "
          "--material white-ceramic --shape cylinder"}) {
        INFO(flags);
        const std::string file = folder / "a.toml";
        const Run made = run("new --force --out " + file + " " + flags);
        CHECK(made.code == 0);
        CHECK(made.out.find("next") != std::string::npos);
        CHECK(run("layout " + file).code == 0);
    }
    const Run wide = run("new --set receiver.focal_length_mm=44.9 --material mirror --out " + (folder / "b.toml"));
    CHECK(wide.code == 0);
    CHECK(wide.out.find("no sensor can be built so yet") != std::string::npos);
}

TEST_CASE("new takes a sensor by its name and leaves out what the sensor has fixed", "[cli]") {
    const Folder folder;
    const std::string file = folder / "a.toml";
    const Run made = run("new --sensor short-45 --material black-rubber --out " + file + " </dev/null");
    INFO(made.err);
    CHECK(made.code == 0);
    const std::string text = contents(file);
    CHECK(text.find("\nsensor = \"short-45\"\n") != std::string::npos);
    CHECK(text.find("\n#exposure_us = ") != std::string::npos);  // offered
    CHECK(text.find("pitch_um") == std::string::npos);           // fixed
    CHECK(run("read --set run.readings=50 " + file).code == 0);
    CHECK(run("new --sensor short-46 --material mirror </dev/null").err.find("short-45") != std::string::npos);
    CHECK(run("new --sensor short-45 --material mirror --reference-distance-mm 30 </dev/null").code == 2);
}

TEST_CASE("new says what is wrong with a flag, and without a terminal asks nothing", "[cli]") {
    const Folder folder;
    const Run missing = run("new --shape plane </dev/null");
    CHECK(missing.code == 2);
    CHECK(missing.err.find("--material NAME") != std::string::npos);
    const Run unknown = run("new --material glass </dev/null");
    CHECK(unknown.code == 2);
    CHECK(unknown.err.find("`clear-glass`") != std::string::npos);
    CHECK(run("new --material mirror --shape ball </dev/null").err.find("plane, step") != std::string::npos);
    CHECK(run("new --material mirror --mount oblique </dev/null").err.find("diffuse or specular") != std::string::npos);
    CHECK(run("new --material mirror --range-mm five </dev/null").err.find("five") != std::string::npos);
    CHECK(run("new --material mirror --set target.tlt_deg=5 </dev/null").err.find("target.tilt_deg") !=
          std::string::npos);
    const Run printed = run("new --material mirror --set target.tilt_deg[0]=2 </dev/null");
    CHECK(printed.code == 0);
    CHECK(printed.out.find("\ntilt_deg = [2.0, 0.0]\n") != std::string::npos);
    CHECK(folder.files() == 0);
}

TEST_CASE("new asks on a terminal for what no flag decides", "[cli]") {
    const Folder folder;
    const std::string file = folder / "a.toml";
    // No sensor, material (a wrong answer first), shape, tolerance; the rest stays as it is by default.
    const std::string answers = folder.write("answers", "\nglass\nblack-rubber\nplane\n25\n\n\n\n\n");
    const std::string command = "script -qec \"'" SPOTWRIGHT_PROGRAM "' new --out " + file + "\" /dev/null <" +
                                answers + " >" + (folder / "dialogue");
    CHECK(std::system(command.c_str()) == 0);
    const std::string dialogue = contents(folder / "dialogue");
    INFO(dialogue);
    CHECK(dialogue.find("material of the part") != std::string::npos);
    CHECK(dialogue.find("`clear-glass`") != std::string::npos);
    const std::string text = contents(file);
    CHECK(text.find("\nmaterial = \"black-rubber\"\n") != std::string::npos);
    CHECK(text.find("\ntolerance_um = 25.0\n") != std::string::npos);
    CHECK(text.find("\n#reference_distance_mm = 50.0\n") != std::string::npos);
}

TEST_CASE("materials prints a file to begin with that a scenario can name", "[cli]") {
    const Folder folder;
    const Run made = run("materials --template");
    CHECK(made.code == 0);
    static_cast<void>(folder.write("my.toml", made.out));
    const std::string scenario = folder.write("a.toml", "[target]\nmaterial = \"my.toml\"\n[run]\nreadings = 50\n");
    const Run read = run("read --json " + scenario);
    CHECK(read.code == 0);
    CHECK(run("materials").out.find("known / nm") != std::string::npos);
}

TEST_CASE("materials shows one in full, those with a word, and the nearest of a wrong name", "[cli]") {
    const Run one = run("materials white-pom");
    CHECK(one.code == 0);
    CHECK(one.out.find("light from: volume") != std::string::npos);
    CHECK(one.out.find("reduced_scattering_per_mm") != std::string::npos);
    CHECK(one.out.find("abs-white") == std::string::npos);
    CHECK(run("materials abs-black").out.find("light from: face") != std::string::npos);
    const std::string steels = run("materials --like steel").out;
    CHECK(steels.find("\nground-steel ") != std::string::npos);
    CHECK(steels.find("\nwhite-ceramic ") == std::string::npos);
    const Run wrong = run("materials white-plastic");
    CHECK(wrong.code == 2);
    CHECK(wrong.err.find("`white-pom`") != std::string::npos);
    CHECK(wrong.err.find("frosted") == std::string::npos);
    const auto json = nlohmann::json::parse(run("materials white-pom --json").out);
    CHECK(json["materials"].size() == 1);
}

TEST_CASE("bench reads semicolons and decimal commas, and names what may be wrong", "[cli]") {
    const Folder folder;
    std::string log = "time_ms;reading_um\n";
    for (int i = 0; i < 100; ++i) log += std::to_string(i) + ";" + std::to_string(i % 7) + ",5\n";
    const Run good = run("bench " + folder.write("log.csv", log));
    CHECK(good.code == 0);
    CHECK(good.out.find("100, 100 % valid") != std::string::npos);
    const std::string doubtful = folder.write("doubt.csv", "time_ms;reading_um\n0;1,234\n1;2,345\n2;1,250\n");
    CHECK(run("bench " + doubtful).code == 2);
    CHECK(run("bench --decimal comma " + doubtful).code == 0);
    std::string held = "time_ms,reading_mm\n";
    for (int i = 0; i < 100; ++i) held += std::to_string(i) + ",0.25\n";
    const Run compared =
        run("bench " + folder.write("held.csv", held) + " --scenario " + folder.write("a.toml", white));
    CHECK(compared.code == 0);
    CHECK(compared.out.find("likely cause: every reading is 250 um") != std::string::npos);
}

TEST_CASE("frames are kept in HDF5 alone, of still parts before an array", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    CHECK(run("read --frames 2 --out " + (folder / "a.h5") + " " + file).code == 0);
    CHECK(fs::exists(folder / "a.h5"));
    const Run csv = run("read --frames 2 --out " + (folder / "a.csv") + " " + file);
    CHECK(csv.code == 2);
    CHECK(csv.err.find("--out FILE.h5") != std::string::npos);
    CHECK(run("read --frames 2 " + file).code == 2);
    const std::string out = " --out " + (folder / "b.h5") + " " + file;
    CHECK(run("read --frames 301" + out).err.find("1 to 300") != std::string::npos);
    CHECK(run("read --frames -1" + out).code == 2);
    CHECK(run("read --frames 2 --set motion.along_mm_per_s=1" + out).err.find("stands still") != std::string::npos);
    CHECK(run("read --frames 2 --set principle=pulsed" + out).err.find("has no frames") != std::string::npos);
    CHECK(folder.files() == 2);
}
