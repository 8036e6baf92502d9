// Job files: what they hold, and what is said of a wrong one.
#include <catch2/catch.hpp>

#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/scenario/job.hpp"
#include "tests/support/scenario.hpp"

using namespace spotwright;
using base::degree, base::mm, base::um;

namespace {

const std::string job_head = "[job]\nclearance_mm = [20, 60]\nspan_mm = 3\n";

std::vector<base::Problem> problems_of_job(const std::string& text) {
    try {
        static_cast<void>(scenario::parse_job(text, "line.toml"));
    } catch (const base::ScenarioError& error) {
        return error.problems();
    }
    return {};
}

}  // namespace

TEST_CASE("a job has parts with sections of their own and sections that all share", "[job]") {
    const scenario::Job job = scenario::parse_job(
        "title = \"line\"\n" + job_head +
            "[requirement]\ntolerance_um = 80\n"
            "[[part]]\ntitle = \"dark\"\ntilt_range_deg = [2, 1]\n[part.target]\nmaterial = \"black-rubber\"\n"
            "[[part]]\n[part.target]\nmaterial = \"white-ceramic\"\n[part.requirement]\ntolerance_um = 20\n",
        "line.toml");
    CHECK(job.title == "line");
    CHECK(job.clearance[0] == Approx(20.0 * mm));
    CHECK(job.clearance[1] == Approx(60.0 * mm));
    CHECK(job.span == Approx(3.0 * mm));
    REQUIRE(job.parts.size() == 2);
    CHECK(job.parts[0].title == "dark");
    CHECK(job.parts[0].tilt_range[0] == Approx(2.0 * degree));
    CHECK(job.parts[0].scenario.target.material == "black-rubber");
    CHECK(job.parts[0].scenario.requirement.tolerance == Approx(80.0 * um));
    CHECK(job.parts[1].title == "part 2");
    CHECK(job.parts[1].scenario.requirement.tolerance == Approx(20.0 * um));
    CHECK(job.parts[1].scenario.sensor.empty());
}

TEST_CASE("a job may say where the sensor stands", "[job]") {
    const std::string part = "[[part]]\n[part.target]\nmaterial = \"white-ceramic\"\n";
    const scenario::Job job = scenario::parse_job("[job]\nat_mm = 95\nspan_mm = 2\n" + part);
    CHECK(job.at_one_place);
    CHECK(job.clearance[0] == Approx(94.0 * mm));
    CHECK(job.clearance[1] == Approx(96.0 * mm));
    const auto both = problems_of_job("[job]\nat_mm = 95\nclearance_mm = [20, 60]\nspan_mm = 2\n" + part);
    REQUIRE(!both.empty());
    CHECK(both.front().message.find("both at_mm and clearance_mm") != std::string::npos);
    const auto wide = problems_of_job("[job]\nat_mm = 1\nspan_mm = 2\n" + part);
    REQUIRE(!wide.empty());
    CHECK(wide.front().message.find("reaches the sensor's front") != std::string::npos);
}

TEST_CASE("errors of a job name place, value, what is allowed and the nearest name", "[job]") {
    const std::string part = "[[part]]\n[part.target]\nmaterial = \"white-ceramic\"\n";
    SECTION("a key of no job") {
        const auto problems = problems_of_job("[job]\nclearence_mm = [20, 60]\nspan_mm = 3\n" + part);
        REQUIRE(problems.size() == 2);  // the misspelt one, and the one that is missing
        CHECK(problems[0].location.line == 2);
        CHECK_THAT(problems[0].hint, Catch::Contains("clearance_mm"));
    }
    SECTION("a key of a part, at its line") {
        const auto problems = problems_of_job(job_head + "[[part]]\n[part.target]\nmatrial = \"white-ceramic\"\n");
        REQUIRE_FALSE(problems.empty());
        CHECK(problems[0].location.line == 6);
        CHECK_THAT(problems[0].hint, Catch::Contains("target.material"));
    }
    SECTION("a key of a sensor") {
        const auto problems = problems_of_job(job_head + part + "[part.emitter]\npower_mW = 3\n");
        REQUIRE(problems.size() == 1);
        CHECK(problems[0].location.line == 8);
        CHECK_THAT(problems[0].message, Catch::Contains("leaves sensors open"));
    }
    SECTION("a value out of bounds") {
        const auto problems = problems_of_job("[job]\nclearance_mm = [60, 20]\nspan_mm = 3\n" + part);
        REQUIRE(problems.size() == 1);
        CHECK_THAT(problems[0].message, Catch::Contains("least is not below most"));
    }
    SECTION("a span that no place of the window leaves room for") {
        const auto problems = problems_of_job("[job]\nclearance_mm = [20, 22]\nspan_mm = 3\n" + part);
        REQUIRE(problems.size() == 1);
        CHECK_THAT(problems[0].allowed, Catch::Contains("<= 2 mm"));
    }
    SECTION("no part, and a single table") {
        CHECK(problems_of_job(job_head).size() == 1);
        const auto problems = problems_of_job(job_head + "[part]\n[part.target]\nmaterial = \"white-ceramic\"\n");
        REQUIRE(problems.size() == 1);
        CHECK_THAT(problems[0].hint, Catch::Contains("[[part]]"));
    }
    SECTION("what all parts share is reported once") {
        const auto problems = problems_of_job(job_head + "[requirement]\ntolerance_um = -1\n" + part + part);
        REQUIRE(problems.size() == 1);
        CHECK(problems[0].location.line == 5);
    }
}
