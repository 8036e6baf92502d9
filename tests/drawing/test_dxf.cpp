// The writer of DXF: pairs of code and value. An independent reader takes whole drawings in tests/python.
#include <catch2/catch.hpp>

#include <array>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/drawing/dxf.hpp"

using namespace spotwright;
using drawing::DxfDrawing;
using Eigen::Vector2d;

namespace {

DxfDrawing on_one_layer() {
    return DxfDrawing(std::vector<drawing::DxfLayer>{drawing::DxfLayer{"A", 1, drawing::LineType::chain}});
}

}  // namespace

TEST_CASE("entities are pairs of code and value on their layer", "[drawing]") {
    DxfDrawing d = on_one_layer();
    d.line("A", {1.0, -2.5}, {-1e-9, 3.0});
    const std::string file = d.document();
    CHECK(file.find("  0\nLINE\n  8\nA\n 10\n1.000000\n 20\n-2.500000\n 30\n0.000000\n 11\n0.000000\n 21\n3.000000\n "
                    "31\n0.000000\n") != std::string::npos);
    CHECK(file.find("$ACADVER\n  1\nAC1009\n") != std::string::npos);
    CHECK(file.find("  0\nLAYER\n  2\nA\n 70\n0\n 62\n1\n  6\nCHAIN\n") != std::string::npos);
    CHECK(file.ends_with("  0\nEOF\n"));
    CHECK(file.find("-0.000000") == std::string::npos);
}

TEST_CASE("text stays on its line and within ASCII", "[drawing]") {
    DxfDrawing d = on_one_layer();
    d.text("A", {0.0, 0.0}, 2.5, "W\u00e4rme\n  0\nEOF \U0001F600");
    const std::string file = d.document();
    CHECK(file.find("  1\nW\\U+00E4rme   0 EOF ?\n") != std::string::npos);
    for (const char c : file) CHECK(static_cast<unsigned char>(c) < 0x80);
}

TEST_CASE("a value that is none, or a layer that is not there, is a defect", "[drawing]") {
    DxfDrawing d = on_one_layer();
    CHECK_THROWS_AS(d.circle("A", {0.0, 0.0}, std::numeric_limits<double>::quiet_NaN()), base::InternalError);
    CHECK_THROWS_AS(d.line("B", {0.0, 0.0}, {1.0, 0.0}), base::InternalError);
}
