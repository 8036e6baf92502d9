// Files as they come: missing, too large, not text, and texts from other editors; material files beside a scenario.

#include <random>

#include "tests/support/scenario.hpp"

using namespace spotwright;
using Catch::Contains;
using test::minimal;
using test::problems_of;
using test::TemporaryFolder;

namespace {

const std::string good_material =
    "name = \"sample\"\ntitle = \"a sample\"\n[reflectance]\nwavelength_nm = [600.0, 700.0]\nvalue = [0.4, 0.6]\n"
    "source = \"invented for the test\"\n[slope]\ndeviation_deg = 3.0\nsource = \"invented for the test\"\n";

base::Problem only_problem(const std::vector<base::Problem>& problems) {
    REQUIRE(problems.size() == 1);
    return problems.front();
}

std::vector<base::Problem> problems_of_file(const std::filesystem::path& path) {
    try {
        static_cast<void>(scenario::load(path));
    } catch (const base::ScenarioError& error) {
        return error.problems();
    }
    return {};
}

}  // namespace

TEST_CASE("a file is read and its name kept", "[scenario][unit]") {
    const TemporaryFolder folder;
    const auto path = folder.write("job.toml", "title = \"from a file\"\n" + minimal);
    const scenario::Scenario s = scenario::load(path);
    CHECK(s.title == "from a file");
    CHECK(s.file == path.string());
    CHECK(s.locations.at("title").file == path.string());
    CHECK(s.locations.at("title").line == 1);
}

TEST_CASE("a file that cannot be read says why", "[scenario][unit]") {
    const TemporaryFolder folder;
    const auto path = [&](const char* name) { return (folder.path() / name).string(); };
    CHECK_THROWS_AS(scenario::load(path("none.toml")), base::IoError);
    CHECK_THROWS_WITH(scenario::load(path("none.toml")), "cannot read " + path("none.toml") + ": no such file");
    CHECK_THROWS_AS(scenario::load(folder.path()), base::IoError);
    CHECK_THROWS_WITH(scenario::load(folder.path()), Contains("not a regular file"));
    folder.write("large.toml", minimal + std::string(2U << 20U, '\n'));
    CHECK_THROWS_AS(scenario::load(path("large.toml")), base::IoError);
    CHECK_THROWS_WITH(scenario::load(path("large.toml")), Contains("larger than 1 MiB"));
    CHECK_THROWS_AS(scenario::load(std::filesystem::path{}), base::IoError);
}

TEST_CASE("what is not TOML is reported where the parser stopped", "[scenario][unit]") {
    struct Text {
        std::string text;
        int line;
    };
    const Text each = GENERATE(values<Text>({
        {"[target\nmaterial = \"white-ceramic\"\n", 1},
        {"[", 1},
        {"[\n", 1},
        {minimal + "[mount]\nrange_mm = [1.0,\n", 4},
        {minimal + "[mount]\nrange_mm =\n", 4},
        {minimal + "[mount]\n= 5\n", 4},
        {minimal + "[mount]\nrange_mm 5\n", 4},
        {"title = \"no end\n" + minimal, 1},
        {minimal + "material = \"white-ceramic\"\n", 3},
        {minimal + "[detector]\nbits = 12\n[emitter]\n[detector]\n", 6},
        {"seed = 99999999999999999999\n" + minimal, 1},
        {"seed = 0x\n" + minimal, 1},
        {std::string("title = \"a\0b\"\n", 14) + minimal, 1},
        {"title = \"\xFF\xFE\"\n" + minimal, 1},
        {minimal + "\x01\n", 3},
        {"title = \"\\q\"\n" + minimal, 1},
        {"title = \"\\uD800\"\n" + minimal, 1},
    }));
    INFO(each.text);
    const base::Problem problem = only_problem(problems_of(each.text));
    CHECK(problem.location.file == "job.toml");
    CHECK(problem.location.line == each.line);
    CHECK(problem.location.column >= 1);
    CHECK_THAT(problem.message, Catch::StartsWith("not valid TOML: "));
    for (const char c : std::string(base::describe(problem)))
        CHECK((c == '\n' || static_cast<unsigned char>(c) >= 0x20));
}

TEST_CASE("binary junk is an error and nothing else", "[scenario][unit]") {
    std::mt19937 random(7);
    for (int i = 0; i < 200; ++i) {
        std::string junk(random() % 2000, '\0');
        for (char& c : junk) c = static_cast<char>(random() % 256);
        CHECK_FALSE(problems_of(junk).empty());
    }
}

TEST_CASE("deep nesting is refused before it exhausts the stack", "[scenario][unit]") {
    const auto repeated = [](const std::string& text, int times) {
        std::string result;
        for (int i = 0; i < times; ++i) result += text;
        return result;
    };
    CHECK_FALSE(problems_of("title = " + repeated("[", 100000)).empty());
    CHECK_FALSE(problems_of("title = " + repeated("{a = ", 100000)).empty());
    const base::Problem dots = only_problem(problems_of(minimal + repeated("a.", 200000) + "a = 1\n"));
    CHECK_THAT(dots.message, Contains("a key of more than 16 parts"));
    CHECK(dots.location.line == 3);
    CHECK_THAT(only_problem(problems_of("[" + repeated("a.", 100000) + "a]\n")).message, Contains("parts"));
    CHECK_FALSE(problems_of(repeated("{" + repeated("a.", 15) + "a = ", 200)).empty());
    // Keys at the limit nested as deep as the parser lets them.
    const std::string deep = repeated(repeated("a.", 15) + "a = {", 250) + repeated("}", 250) + "\n";
    CHECK(only_problem(problems_of(deep + minimal)).location.key == "a");
}

TEST_CASE("dots in texts, comments and numbers are no levels of a key", "[scenario][unit]") {
    const std::string dots(40, '.');
    CHECK(problems_of("title = \"" + dots + "\"\n" + minimal).empty());
    CHECK(problems_of("title = '" + dots + "'\n" + minimal).empty());
    CHECK(problems_of("title = \"\\\"" + dots + "\"\n" + minimal).empty());
    CHECK(problems_of("title = \"\"\"\n" + dots + "\n" + dots + "\"\"\"\n" + minimal).empty());
    CHECK(problems_of("title = '''" + dots + "'\n" + dots + "''''\n" + minimal).empty());
    CHECK(problems_of("# it's " + dots + "\n" + minimal).empty());
    // Quotes that a string keeps for itself hide nothing that follows them.
    const base::Problem hidden = only_problem(problems_of("title = [\"\"\"\nx\"\"\"\"\", {a" + [] {
        std::string levels;
        for (int i = 0; i < 20; ++i) levels += ".a";
        return levels;
    }() + " = 1}]\n" + minimal));
    CHECK_THAT(hidden.message, Contains("parts"));
    CHECK(hidden.location.line == 2);
}

TEST_CASE("thousands of mistakes are all reported, in reasonable time", "[scenario][unit]") {
    std::string text = minimal + "[detector]\n";
    for (int i = 0; i < 20000; ++i) text += "pitch_" + std::to_string(i) + " = 1\n";
    CHECK(problems_of(text).size() == 20000);
}

TEST_CASE("texts of other editors are read, with the caret in the right place", "[scenario][unit]") {
    SECTION("a byte-order mark is no part of the first line") {
        const std::string mark = "\xEF\xBB\xBF";
        CHECK(problems_of(mark + minimal).empty());
        const base::Problem problem = only_problem(problems_of(mark + "sede = 5\n" + minimal));
        CHECK(problem.location.line == 1);
        CHECK(problem.location.column == 1);
        CHECK(problem.location.source_line == "sede = 5");
    }
    SECTION("lines may end in carriage return and line feed") {
        const base::Problem problem =
            only_problem(problems_of("[target]\r\nmaterial = \"white-ceramic\"\r\n[detector]\r\nbits = 99\r\n"));
        CHECK(problem.location.line == 4);
        CHECK(problem.location.column == 8);
        CHECK(problem.location.source_line == "bits = 99 ");
    }
    SECTION("a tab is one column, in the count and under the caret") {
        const base::Problem problem = only_problem(problems_of(minimal + "[detector]\n\t\tbits\t=\t99\n"));
        CHECK(problem.location.line == 4);
        CHECK(problem.location.column == 10);
        CHECK(problem.location.source_line == "  bits = 99");
        CHECK_THAT(base::describe(problem), Contains("    4 |   bits = 99\n      |          ^ allowed"));
    }
    SECTION("a letter of two bytes is one column") {
        const base::Problem problem = only_problem(problems_of(minimal + "[mount]\ntilt_deg = [0.0, \"\xC3\xA9\"]\n"));
        CHECK_THAT(problem.message, Contains("got \"\xC3\xA9\""));
        const base::Problem after =
            only_problem(problems_of("mount = {\"\xC3\xA9\" = 1, range_mm = [-1.0, 1.0]}\n" + minimal));
        CHECK(after.location.key == "mount.\"\xC3\xA9\"");
        CHECK(after.location.column == 10);
        const base::Problem behind =
            only_problem(problems_of("mount = {range_mm = [-1.0, 1.0], tilt_deg = \"\xC3\xA9\", reference_distance_mm "
                                     "= 5}\ndetector = {bits = 12}\n" +
                                     minimal));
        CHECK(behind.location.column == 45);
    }
    SECTION("a long line is cut, and never within a letter") {
        std::string letters;
        for (int i = 0; i < 300; ++i) letters += "\xC3\xA9";
        const base::Problem problem = only_problem(problems_of("sede = \"x" + letters + "\"\n" + minimal));
        CHECK(problem.location.source_line.size() <= 200);
        CHECK(problem.location.source_line.back() == '\xA9');
        const base::Problem value = only_problem(problems_of("seed = \"x" + letters + "\"\n" + minimal));
        CHECK_THAT(value.message, Catch::EndsWith("\xA9..."));
        const std::string far = "mount = {range_mm = [-1.0, " + std::string(400, ' ') + "1.0], tilt_deg = 5}\n";
        const std::string described = base::describe(only_problem(problems_of(far + minimal)));
        CHECK_THAT(described, Contains("allowed: ") && !Contains("^"));
    }
}

TEST_CASE("control characters of the input do not reach a message", "[scenario][unit]") {
    const std::vector<std::string> settings{"ti\x1b[2Jtle=5", "exposure.mode=\x1b[2J", "target.material=white\x1b[2J"};
    auto problems = problems_of("\"a\\u001b[2Jb\" = 5\n" + minimal, settings);
    CHECK(problems.size() == 4);
    const auto missing_file = problems_of("[target]\nmaterial = \"\\u001b[2J.toml\"\n");
    CHECK(missing_file.size() == 1);
    problems.insert(problems.end(), missing_file.begin(), missing_file.end());
    for (const base::Problem& problem : problems) {
        CHECK(base::describe(problem).find('\x1b') == std::string::npos);
    }
}

TEST_CASE("a material file is found beside the scenario", "[scenario][unit]") {
    const TemporaryFolder folder;
    folder.write("sample.toml", good_material);
    const auto job = folder.write("job.toml", "[target]\nmaterial = \"sample.toml\"\n");
    const scenario::Scenario s = scenario::load(job);
    CHECK(s.target.made_of.title == "a sample");
    CHECK(std::abs(scenario::reflectance_at(s.target.made_of, 650e-9) - 0.5) < 1e-12);

    SECTION("a wavelength outside its table is reported with the table's ends") {
        const auto problem = only_problem(problems_of_file(
            folder.write("job.toml", "[target]\nmaterial = \"sample.toml\"\n[emitter]\nwavelength_nm = 780.0\n")));
        CHECK(problem.location.line == 2);
        CHECK(problem.location.key == "target.material");
        CHECK_THAT(problem.message, Contains("780"));
        CHECK_THAT(problem.allowed, Contains("from 600 to 700"));
    }
    SECTION("one that is missing is reported at the key that names it") {
        const auto problem =
            only_problem(problems_of_file(folder.write("job.toml", "[target]\nmaterial = \"gone.toml\"\n")));
        CHECK(problem.location.file == job.string());
        CHECK(problem.location.line == 2);
        CHECK(problem.location.key == "target.material");
        CHECK_THAT(problem.message, Contains("gone.toml: no such file"));
    }
    SECTION("mistakes in it are reported in its own lines, beside those of the scenario") {
        folder.write("sample.toml", "name = \"sample\"\n[reflectance]\nvalue = [0.4, 1.6]\n");
        const auto problems =
            problems_of_file(folder.write("job.toml", "sede = 1\n[target]\nmaterial = \"sample.toml\"\n"));
        REQUIRE(problems.size() == 7);
        CHECK(problems[0].location.key == "sede");
        CHECK(problems[0].location.file == job.string());
        for (std::size_t i = 1; i < problems.size(); ++i) {
            CHECK(problems[i].location.file == (folder.path() / "sample.toml").string());
        }
    }
    SECTION("one that is no TOML is reported in its own lines") {
        folder.write("sample.toml", "name = \n");
        const auto problem = only_problem(problems_of_file(job));
        CHECK(problem.location.file == (folder.path() / "sample.toml").string());
        CHECK(problem.location.line == 1);
    }
}
