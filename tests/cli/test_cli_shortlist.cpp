// The program from outside: sensors for a job, and advice.
#include <catch2/catch.hpp>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include <nlohmann/json.hpp>

#include "tests/support/program.hpp"

using namespace spotwright::support;
namespace fs = std::filesystem;

TEST_CASE("a shortlist names a sensor for a job, and says what is wrong with one", "[cli][slow]") {
    const Folder folder;
    const std::string job = folder.write(
        "job.toml",
        "[job]\nclearance_mm = [20, 60]\nspan_mm = 1\n[requirement]\ntolerance_um = 200\n[run]\npatches = 32\n"
        "[[part]]\n[part.target]\nmaterial = \"white-ceramic\"\n");
    const Run one = run("shortlist --sensor short-45 --json --out " + (folder / "x.html") + " " + job);
    CHECK(one.code == 0);
    const auto json = nlohmann::json::parse(one.out);
    REQUIRE(json["sensors"].size() == 1);
    CHECK(json["sensors"][0]["sensor"] == "short-45");
    CHECK(json["sensors"][0]["level"] == "stable");
    CHECK(json["sensors"][0]["margin"] >= 1.0);
    CHECK(json["sensors"][0]["poses"].size() == 3);
    CHECK(contents(folder / "x.html").find("short-45") != std::string::npos);
    // Far too near for a sensor of one metre.
    const auto far = nlohmann::json::parse(run("shortlist --sensor long-1000 --json " + job).out);
    CHECK(far["sensors"][0]["level"] == "ruled_out");
    CHECK(far["sensors"][0]["shortcomings"][0]["kind"] == "distance");
    CHECK(run("shortlist --strict --sensor long-1000 " + job).code == 1);

    const Run unknown = run("shortlist --sensor short-46 " + job);
    CHECK(unknown.code == 2);
    CHECK(unknown.err.find("did you mean `short-45`") != std::string::npos);
    const Run wrong = run("shortlist " + folder.write("b.toml", "[job]\nclearance_mm = 5\nspan_mm = 1\n"));
    CHECK(wrong.code == 2);
    CHECK(wrong.err.find("b.toml:2:16: job.clearance_mm: must be two numbers, got 5") != std::string::npos);
    CHECK(run("shortlist --out x.pdf " + job).code == 2);
}
