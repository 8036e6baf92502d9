// The program from outside: drawings in every format.
#include <catch2/catch.hpp>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include <nlohmann/json.hpp>

#include "tests/support/program.hpp"

using namespace spotwright::support;
namespace fs = std::filesystem;

TEST_CASE("layout writes DXF, and sensors draws the shelf, whole or nothing", "[cli]") {
    const Folder folder;
    const std::string file = folder.write("a.toml", white);
    CHECK(run("layout " + file + " --out " + (folder / "a.dxf")).code == 0);
    CHECK(contents(folder / "a.dxf").find("AC1009") != std::string::npos);
    const Run shelf = run("sensors --out " + (folder / "shelf.svg"));
    CHECK(shelf.code == 0);
    CHECK(shelf.out.find("drawing " + (folder / "shelf.svg")) != std::string::npos);
    CHECK(contents(folder / "shelf.svg").find("short-45-line") != std::string::npos);
    CHECK(run("sensors short-45 --json --out " + (folder / "one.svg")).code == 0);
    CHECK(contents(folder / "one.svg").find("body-short-45\"") != std::string::npos);
    CHECK(contents(folder / "one.svg").find("body-fine-10\"") == std::string::npos);
    CHECK(run("layout " + file + " --out " + (folder / "no/a.dxf")).code == 3);
    CHECK(run("sensors --out " + (folder / "no/a.svg")).code == 3);
    CHECK(folder.files() == 4);
}
