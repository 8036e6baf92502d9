// What users may rely on whatever files and surroundings they have: docs/reliability.md.
#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>

#include <chrono>
#include <csignal>
#include <cstdint>
#include <filesystem>
#include <sstream>
#include <string>
#include <thread>
#include <vector>

#include <nlohmann/json.hpp>

#include "sim/base/printable.hpp"
#include "tests/support/program.hpp"

using namespace spotwright::support;
namespace fs = std::filesystem;

namespace {

constexpr const char* relief_table = "x_mm,height_mm\n-5,0\n5,0.1\n";
constexpr const char* relief =
    "[target]\nmaterial = \"white-ceramic\"\nshape = \"relief\"\n[target.relief]\nfile = \"r.csv\"\n[run]\nreadings = "
    "20\n";

// Escape sequences of terminals as one byte and as two, DEL, and marks that turn the direction of writing, in TOML.
constexpr const char* hostile = "a\\u001b[31mb\\u009b2Jc\\u007fd\\u202Ee\\u2066f\\u200Fg\\u2028h";
constexpr const char* hostile_bytes =
    "a\x1b[31mb\xC2\x9b"
    "2Jc\x7f"
    "d\xE2\x80\xAE"
    "e\xE2\x81\xA6"
    "f\xE2\x80\x8Fg\xE2\x80\xA8h";

bool is_harmless(const std::string& text) {
    return spotwright::base::printable_lines(text) == text;
}

// What ended a run of the program that was sent a signal while it wrote a file.
struct Ended {
    int status = 0;
    bool had_part = false;
    std::string err;
};

Ended ended_by(int signal, const std::vector<std::string>& arguments, const std::string& unfinished,
               const Folder& logs) {
    std::vector<char*> words;
    std::string program = SPOTWRIGHT_PROGRAM;
    std::vector<std::string> copies = arguments;
    words.push_back(program.data());
    for (std::string& word : copies) words.push_back(word.data());
    words.push_back(nullptr);
    const std::string err = logs / "err";
    const pid_t child = fork();
    REQUIRE(child >= 0);
    if (child == 0) {
        for (const int each : {SIGINT, SIGTERM, SIGHUP}) std::signal(each, SIG_DFL);
        const int log = open(err.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
        dup2(log, STDERR_FILENO);
        dup2(log, STDOUT_FILENO);
        execv(program.c_str(), words.data());
        _exit(127);
    }
    const auto limit = std::chrono::steady_clock::now() + std::chrono::seconds(60);
    Ended ended;
    while (!ended.had_part && std::chrono::steady_clock::now() < limit) {
        std::this_thread::sleep_for(std::chrono::milliseconds(20));
        ended.had_part = fs::exists(unfinished);
    }
    kill(child, signal);
    waitpid(child, &ended.status, 0);
    ended.err = contents(err);
    return ended;
}

}  // namespace

TEST_CASE("no command writes over a file that it reads, under whatever name", "[cli]") {
    const Folder folder;
    const std::string scenario = folder.write("a.toml", relief);
    const std::string table = folder.write("r.csv", relief_table);
    const std::string part = folder.write("x.csv.part", relief_table);
    fs::create_symlink("r.csv", folder / "link.csv");
    fs::create_symlink("a.toml", folder / "link.svg");
    fs::create_symlink("a.toml", folder / "link.html");
    fs::create_directory(folder / "far");
    fs::create_symlink("..", folder / "far/back");
    const std::string sheet =
        folder.write("sheet.toml", contents(SPOTWRIGHT_SOURCE_DIR "/scenarios/sheets/workshop-45.toml"));
    const std::vector<std::string> runs{
        "read " + scenario + " --out " + table,
        "read " + scenario + " --out " + folder / "link.csv",
        "read " + scenario + " --out " + folder / "far/back/r.csv",
        "read " + scenario + " --set target.relief.file=x.csv.part --out " + folder / "x.csv",
        "read " + scenario + " --out " + folder / "link.svg",
        "read " + scenario + " --averaging " + folder / "link.svg",
        "read " + scenario + " --out " + folder / "link.html",
        "budget " + scenario + " --out " + folder / "link.html",
        "advise " + scenario + " --out " + folder / "link.html",
        "layout " + scenario + " --out " + folder / "link.svg",
        "sweep " + scenario + " --over seed=1:2:2 --out " + table,
        "sweep " + scenario + " --over target.relief.file=r.csv,x.csv.part --set target.shape=plane --out " + table,
        "bench --scenario " + scenario + " --simulate " + table,
        "infer " + sheet + " --out " + sheet,
    };
    const std::string before_sheet = contents(sheet);
    for (const std::string& arguments : runs) {
        CAPTURE(arguments);
        const Run r = run(arguments);
        CHECK(r.code == 2);
        CHECK_THAT(r.err, Catch::Contains("would replace a file that this run reads: "));
        CHECK(contents(scenario) == relief);
        CHECK(contents(table) == relief_table);
        CHECK(contents(part) == relief_table);
        CHECK(contents(sheet) == before_sheet);
    }
}

TEST_CASE("the same names are free to runs that do not read them", "[cli]") {
    const Folder folder;
    const std::string scenario = folder.write("a.toml", white);
    static_cast<void>(folder.write("r.csv", relief_table));
    CHECK(run("read " + scenario + " --out " + folder / "r.csv").code == 0);
    CHECK_THAT(contents(folder / "r.csv"), Catch::StartsWith("# format: "));
}

TEST_CASE("no text of a file reaches a terminal, a page, a drawing or a table as a control sequence", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", std::string("title = \"") + hostile + "\"\n" + white);
    const std::string over = " --over seed=1:2:2";
    for (const char* arguments :
         {"read ", "read --all ", "read --json ", "layout ", "layout --json ", "budget ", "budget --json "}) {
        CAPTURE(arguments);
        const Run r = run(arguments + file + " --set run.trials=100");
        CHECK(r.code == 0);
        CHECK(is_harmless(r.out));
    }
    for (const char* name : {"a.svg", "a.html", "a.csv"}) {
        CAPTURE(name);
        CHECK(run("read " + file + " --out " + folder / name).code == 0);
        CHECK(is_harmless(contents(folder / name)));
    }
    CHECK(run("layout " + file + " --out " + folder / "l.dxf").code == 0);
    CHECK(is_harmless(contents(folder / "l.dxf")));
    CHECK(run("sweep " + file + over + " --out " + folder / "s.csv").code == 0);
    CHECK(is_harmless(contents(folder / "s.csv")));
    CHECK(is_harmless(run("sweep --json " + file + over).out));
    const auto json = nlohmann::json::parse(run("read --json " + file).out);
    CHECK(json["title"] == hostile_bytes);  // escaped, not lost
    const std::string copy = folder / "copy.toml";
    CHECK(run("new --no-questions --material white-ceramic --title \"$(printf '" + std::string(hostile_bytes) +
              "')\" --out " + copy)
              .code == 0);
    CHECK(is_harmless(contents(copy)));
    CHECK(nlohmann::json::parse(run("read --json " + copy).out)["title"] == hostile_bytes);
}

TEST_CASE("messages and file names cannot disturb a terminal either", "[cli]") {
    const Folder folder;
    const std::string name = folder / ("x\x1b[2J\xC2\x9B\xE2\x80\xAE\xFF");
    const std::string quoted = "'" + name + "'";
    for (const std::string& arguments :
         {"read " + quoted, "read " + quoted + " --bogus", "'" + std::string(hostile_bytes) + "'",
          "read " + folder.write("a.toml", white) + " --set target.material='" + hostile_bytes + "'",
          "read " + folder / "a.toml" + " --set '" + hostile_bytes + "'",
          "read " + folder / "a.toml" + " --out " + quoted,
          "new --no-questions --material white-ceramic --range-mm '" + std::string(hostile_bytes) + "'"}) {
        CAPTURE(arguments);
        const Run r = run(arguments);
        CHECK(r.code == 2);
        CHECK(r.err.size() > 10);
        CHECK(is_harmless(r.err));
    }
    const Run r = run("read " + folder / "a.toml" + " --out '" + name + ".csv'");
    CHECK(r.code == 0);
    CHECK(is_harmless(r.out));
    CHECK(fs::exists(name + ".csv"));
}

TEST_CASE("names that spreadsheets would take for formulas are guarded in tables", "[cli]") {
    const Folder folder;
    std::string material = contents(SPOTWRIGHT_SOURCE_DIR "/scenarios/materials/white-ceramic.toml");
    for (const char* name : {"=1+1.toml", "@a.toml", "+b.toml", "-c.toml"})
        static_cast<void>(folder.write(name, material));
    const std::string file = folder.write("a.toml", "title = \"t,=1+1;@x\"\n" + std::string(white));
    const std::string out = folder / "s.csv";
    REQUIRE(
        run("sweep " + file +
            " --over target.material==1+1.toml,@a.toml,+b.toml,-c.toml --over target.displacement_mm=-1:1:2 --out " +
            out)
            .code == 0);
    std::istringstream lines(contents(out));
    int guarded = 0;
    for (std::string line; std::getline(lines, line);) {
        CAPTURE(line);
        CHECK(std::string("=+-@").find(line.front()) == std::string::npos);
        if (line.front() == '\'') ++guarded;
        if (line.front() == '#') {
            for (const char* formula : {",=", ",@", ";@", ",+", ",-", ";="})
                CHECK(line.find(formula) == std::string::npos);
        }
    }
    CHECK(guarded == 8);
    CHECK(contents(out).find(",-1,") != std::string::npos);  // numbers stay numbers
}

TEST_CASE("a signal removes what is unfinished, says so and ends the run as a shell expects", "[cli]") {
    const int signal = GENERATE(SIGINT, SIGTERM, SIGHUP);
    const Folder folder;
    const Folder logs;
    const std::string file = folder.write("a.toml", white);
    const std::string out = folder / "a.csv";
    std::ofstream(out) << "old";
    const Ended ended =
        ended_by(signal, {"read", file, "--set", "run.readings=2000000000", "--out", out}, out + ".part", logs);
    CHECK(ended.had_part);
    CHECK(WIFSIGNALED(ended.status));
    CHECK(WTERMSIG(ended.status) == signal);
    CHECK(contents(out) == "old");
    CHECK(folder.files() == 2);
    CHECK_THAT(ended.err, Catch::Contains("Unfinished files are removed"));
}

TEST_CASE("a signal that is ignored, as by nohup, stays ignored", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    const Run r =
        run("read " + file + " --set run.readings=200000 >/dev/null & sleep 0.2; kill -HUP $!; wait $!; echo $?",
            "trap '' HUP;");
    CHECK(r.out == "0\n");
}

TEST_CASE("a limit of file sizes is an error of writing", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    for (const char* name : {"a.csv", "a.h5"}) {
        CAPTURE(name);
        const Run r = run("read " + file + " --set run.readings=20000 --out " + folder / name, "ulimit -f 64;");
        CHECK(r.code == 3);
        CHECK_THAT(r.err, Catch::Contains("cannot write") && Catch::Contains("too large"));
        CHECK(folder.files() == 1);
    }
}

TEST_CASE("fewer threads than asked for give the same results", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    if (run("--version", "ulimit -s 137438953472;").code != 0) return;  // under a sanitizer
    const Run usual = run("read --json " + file + " --threads 4");
    // A stack larger than all addresses: no thread can be made.
    const Run alone = run("read --json " + file + " --threads 4", "ulimit -s 137438953472;");
    CHECK(alone.code == 0);
    CHECK(alone.err.empty());
    CHECK(alone.out == usual.out);
}

TEST_CASE("a run without enough memory says so", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    int limit = 40'000;  // grows until the program starts at all
    while (limit < 4'000'000 && run("--version", "ulimit -v " + std::to_string(limit) + ";").code != 0) {
        limit += limit / 50;
    }
    if (limit >= 4'000'000) return;  // a sanitizer takes all addresses
    const Run r = run("read --threads 1 --set detector.pixels=65536 --set detector.pitch_um=0.1 " + file,
                      "ulimit -v " + std::to_string(limit + 2'000) + ";");
    CHECK(r.code == 5);
    CHECK_THAT(r.err, Catch::StartsWith("not enough memory"));
}

TEST_CASE("what cannot be read is told apart from what is empty or missing", "[cli]") {
    const Folder folder;
    fs::create_symlink("loop.toml", folder / "loop.toml");
    CHECK_THAT(run("read /proc/self/mem").err, Catch::Contains("cannot read /proc/self/mem: Input/output error"));
    CHECK_THAT(run("read " + folder / "loop.toml").err, Catch::Contains("a symbolic link that leads back to itself"));
    CHECK_THAT(run("read " + folder / "none.toml").err, Catch::Contains("no such file"));
    CHECK_THAT(run("read " + folder / "").err, Catch::Contains("not a regular file"));
    CHECK(run("read /proc/self/mem").code == 2);
    CHECK_THAT(run("bench /proc/self/mem").err, Catch::Contains("Input/output error"));
}

TEST_CASE("long values are refused at once and quoted in part", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    const Run r = run("read " + file + " --set target.material=" + std::string(100'000, 'x'));
    CHECK(r.code == 2);
    CHECK_THAT(r.err, Catch::Contains("a setting of 100016 bytes"));
    CHECK(run("read " + file + " --set target.material=" + std::string(60'000, 'x')).err.size() < 1'000);
    CHECK(run("read " + file + " --set " + std::string(60'000, 'x') + "=1").err.size() < 1'000);
}

TEST_CASE("errors in a file elsewhere tell the place and not the content", "[cli]") {
    const Folder folder;
    const Folder elsewhere;
    const std::string secret = elsewhere.write("shadow", "root:secret:19000\nuser:secret:19000\n");
    const std::string secret_toml = elsewhere.write("shadow.toml", "root:secret:19000\n");
    const std::string file = folder.write("a.toml", white);
    for (const std::string& setting : {"--set target.shape=relief --set target.relief.file=" + secret,
                                       "--set motion.path=" + secret, "--set surroundings.temperature_path=" + secret,
                                       "--set target.material=" + secret_toml, "--set sensor=" + secret_toml}) {
        CAPTURE(setting);
        const Run r = run("read " + file + " " + setting);
        CHECK(r.code == 2);
        CHECK(r.err.find("secret") == std::string::npos);
        CHECK_THAT(r.err, Catch::Contains("shadow") && Catch::Contains("content is not shown"));
    }
    static_cast<void>(folder.write("beside.csv", "root:own:19000\n"));
    CHECK_THAT(run("read " + file + " --set motion.path=beside.csv").err, Catch::Contains("root:own:19000"));
}

TEST_CASE("a confined scenario names only files beside or below it", "[cli]") {
    const Folder folder;
    const Folder elsewhere;
    const std::string secret = elsewhere.write("p.csv", "time_s,along_mm\n0,0\n1,1\n");
    fs::create_directory(folder / "below");
    static_cast<void>(folder.write("below/p.csv", "time_s,along_mm\n0,0\n1,1\n"));
    fs::create_symlink(secret, folder / "link.csv");
    const std::string file = folder.write("a.toml", white);
    const auto read = [&](const std::string& path, const std::string& more = " --confine") {
        return run("read --json --set run.readings=8 " + file + more + " --set motion.path=" + path);
    };
    CHECK(read(secret, "").code == 0);
    CHECK(read("below/p.csv").code == 0);
    CHECK(read("below/../below/p.csv").code == 0);
    // A file that does not exist is refused in the same words, so that nobody learns which do.
    for (const std::string& path : {secret, std::string("link.csv"), std::string("../p.csv"), secret + ".none"}) {
        CAPTURE(path);
        const Run r = read(path);
        CHECK(r.code == 2);
        CHECK_THAT(r.err, Catch::Contains("motion.path: the scenario may not name this file") &&
                              Catch::Contains("a file beside or below the scenario (--confine)"));
    }
    const std::string sensor = elsewhere.write("s.toml", "schema = 1\n");
    for (const std::string& setting :
         {"sensor=" + sensor, "target.material=" + sensor, "target.shape=relief --set target.relief.file=" + secret,
          "surroundings.temperature_path=" + secret}) {
        CAPTURE(setting);
        const Run r = run("read " + file + " --confine --set " + setting);
        CHECK(r.code == 2);
        CHECK_THAT(r.err, Catch::Contains("the scenario may not name this file"));
    }
}

TEST_CASE("a confined scenario stays so: values of sweeps, sensors that fit a sheet, parts of a job", "[cli]") {
    const Folder folder;
    const Folder elsewhere;
    const std::string secret = elsewhere.write("m.toml", "name = \"m\"\n");
    const std::string file = folder.write("a.toml", white);
    const std::string refused = "the scenario may not name this file";
    CHECK_THAT(run("sweep " + file + " --confine --over target.material=white-ceramic," + secret).err,
               Catch::Contains(refused));
    static_cast<void>(folder.write("s.toml", "schema = 1\nensemble = [{target = {material = \"" + secret + "\"}}]\n"));
    const std::string fits =
        folder.write("b.toml", "schema = 1\nsensor = \"s.toml\"\n[target]\nmaterial = \"mirror\"\n");
    CHECK_THAT(run("read " + fits + " --confine --set run.readings=16").out, Catch::Contains("may not name this"));
    const std::string job = folder.write(
        "j.toml",
        "schema = 1\n[job]\nclearance_mm = [20, 80]\nspan_mm = 2\n[[part]]\ntarget.material = \"" + secret + "\"\n");
    CHECK_THAT(run("shortlist " + job + " --confine").err, Catch::Contains(refused));
}

TEST_CASE("a beam along an edge gives a reading or a reason", "[cli]") {
    // The axis grazes the wall of the step, so that the plane it lights has no image.
    const Folder folder;
    const std::string file = folder.write(
        "a.toml",
        "sensor = \"mirror-36\"\n[target]\nmaterial = \"clear-polycarbonate\"\nshape = \"step\"\ndisplacement_mm = "
        "0.49\n[target.step]\nedge = \"parallel\"\n[run]\nreadings = 16\npatches = 16\n");
    const Run r = run("read --json " + file);
    CHECK(r.code == 0);
    CHECK(r.err.empty());
    CHECK(nlohmann::json::parse(r.out)["readings"] == 16);
}

TEST_CASE("a time limit ends a run as a signal does", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    const std::string out = folder / "long.csv";
    // Ignored signals stay ignored for others, but not for what was asked for.
    const Run r = run("read " + file + " --set run.readings=100000000 --time-limit 0.3 --out " + out, "trap '' ALRM;");
    CHECK(r.code == 128 + SIGALRM);
    CHECK_THAT(r.err, Catch::Contains("the time limit is reached"));
    CHECK_FALSE(fs::exists(out));
    CHECK_FALSE(fs::exists(out + ".part"));
    CHECK(run("layout " + file + " --time-limit 0").code == 2);
    CHECK(run("layout " + file + " --time-limit 60").code == 0);
}

TEST_CASE("long work is foreseen, also in a pipe", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    // A minute of processor time or more on any machine of today, ended after two seconds of it.
    const std::string endless = "read --json " + file + " --set run.readings=2000000000";
    const Run r = run(endless, "ulimit -t 2;");
    CHECK_THAT(r.err, Catch::Contains("of processor time: reading") && Catch::Contains("; run.readings = ") &&
                          Catch::Contains(" would take 20 s"));
    CHECK(run(endless + " --quiet", "ulimit -t 2;").err.find("would take") == std::string::npos);
    CHECK(run("read --json " + file).err.empty());
}

TEST_CASE("progress goes to a descriptor line by line", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    const std::string to = folder / "progress";
    const Run r =
        run("sweep --json " + file + " --set run.readings=16 --over target.displacement_mm=-1:1:5 --progress-fd 3",
            "exec 3>" + to + ";");
    CHECK(r.code == 0);
    CHECK(nlohmann::json::accept(r.out));
    std::istringstream lines(contents(to));
    std::int64_t before = 0;
    for (std::string line; std::getline(lines, line);) {
        const nlohmann::json each = nlohmann::json::parse(line);
        CHECK(each["what"] == "sweep");
        CHECK(each["all"] == 5);
        CHECK(each["done"].get<std::int64_t>() > before);
        before = each["done"].get<std::int64_t>();
    }
    CHECK(before == 5);
    CHECK_THAT(run("read " + file + " --progress-fd 77").err, Catch::Contains("no open descriptor"));
}
