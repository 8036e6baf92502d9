// Small tools of the drawing: numbers, text, room for labels, scale.
#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <limits>
#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/drawing/page_view.hpp"
#include "sim/drawing/svg_canvas.hpp"

using namespace spotwright;

TEST_CASE("numbers for people have no exponent, no idle zeros and a true minus", "[record][drawing]") {
    CHECK(drawing::number(0.0) == "0");
    CHECK(drawing::number(45.0) == "45");
    CHECK(drawing::number(7.16849) == "7.168");
    CHECK(drawing::number(0.00012346) == "0.0001235");
    CHECK(drawing::number(123456.0) == "123456");
    CHECK(drawing::number(-2.5) ==
          "\xE2\x88\x92"
          "2.5");
    CHECK(drawing::number(-1e-30) == "0");
    CHECK(drawing::signed_number(5.0) == "+5");
    CHECK(drawing::signed_number(0.0) == "0");
    CHECK_THROWS_AS(drawing::number(std::numeric_limits<double>::infinity()), base::InternalError);
}

TEST_CASE("steps of a scale are 1, 2 and 5 times powers of ten, thousands stand apart", "[record][drawing]") {
    CHECK(drawing::round_step(1.0) == 1.0);
    CHECK(drawing::round_step(1.0001) == 2.0);
    CHECK(drawing::round_step(3.0 * 0.1) == Approx(0.5));
    CHECK(drawing::round_step(0.6 / 3.0) == Approx(0.2));  // a rounding above 0.2 is none
    CHECK(drawing::round_step(7e-13) == Approx(1e-12));
    CHECK(drawing::apart_by_thousands("1234.56789") == "1234.56789");
    CHECK(drawing::apart_by_thousands("\u22121234567.5") == "\u22121\u202F234\u202F567.5");
    CHECK(drawing::apart_by_thousands("123456") == "123\u202F456");
}

TEST_CASE("markup and control characters do not reach the document", "[record][drawing]") {
    CHECK(drawing::escape("a<b & \"c\">") == "a&lt;b &amp; &quot;c&quot;&gt;");
    CHECK(drawing::escape("a\x01\n") == "a  ");
    CHECK(drawing::escape("\xEF\xBF\xBF") == " ");
}

TEST_CASE("groups may lack an identifier, and have words to tell that are escaped", "[record][drawing]") {
    drawing::Canvas canvas;
    canvas.open_group({}, "class=\"curve\"");
    canvas.title("a <b>");
    canvas.close_group();
    canvas.open_group("axes");
    canvas.close_group();
    const std::string svg = canvas.element({20.0, 10.0}, "role=\"img\"");
    CHECK(svg ==
          "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"20\" height=\"10\" viewBox=\"0 0 20 10\" "
          "font-family=\"sans-serif\" role=\"img\">\n<g class=\"curve\">\n<title>a &lt;b&gt;</title>\n</g>\n"
          "<g id=\"axes\">\n</g>\n</svg>\n");
}

TEST_CASE("strokes are one path, and each of them covers the page", "[record][drawing]") {
    drawing::Canvas canvas;
    canvas.strokes({}, {});
    CHECK(canvas.covered().empty());
    using drawing::Vector2;
    const std::vector<std::array<Vector2, 2>> strokes{{Vector2(1.0, 2.0), Vector2(3.0, 4.125)},
                                                      {Vector2(5.0, 6.0), Vector2(7.0, 8.0)}};
    canvas.strokes(strokes, {"#000", 2.0});
    const std::string svg = canvas.element({20.0, 10.0}, "");
    CHECK(svg.find("<path d=\"M1.00,2.00L3.00,4.12M5.00,6.00L7.00,8.00\" fill=\"none\" stroke=\"#000\"") !=
          std::string::npos);
    REQUIRE(canvas.covered().size() == 2);
    CHECK(canvas.covered()[1].line[1] == Vector2(7.0, 8.0));
    CHECK_FALSE(canvas.covered()[0].area);
}

TEST_CASE("wrapped lines fit, lose nothing and keep characters whole", "[record][drawing]") {
    const std::string words =
        "one two-part three \xC2\xB5\xC2\xB5\xC2\xB5\xC2\xB5\xC2\xB5\xC2\xB5\xC2\xB5\xC2\xB5\xC2\xB5";
    const double width = 60.0;
    std::string joined;
    for (const std::string& line : drawing::wrap(words, drawing::body_size, width)) {
        CHECK(drawing::text_width(line, drawing::body_size) <= width);
        CHECK((static_cast<unsigned char>(line.front()) & 0xC0U) != 0x80U);
        joined += line;
    }
    std::string without_spaces = words;
    without_spaces.erase(std::remove(without_spaces.begin(), without_spaces.end(), ' '), without_spaces.end());
    joined.erase(std::remove(joined.begin(), joined.end(), ' '), joined.end());
    CHECK(joined == without_spaces);
    CHECK(drawing::wrap("bead-blasted-aluminium", drawing::body_size, 110.0).front() == "bead-blasted-");
}

TEST_CASE("labels spread apart no further than they must", "[record][drawing]") {
    const std::vector<double> sizes{10.0, 10.0, 10.0};
    CHECK(drawing::spread(std::vector<double>{20.0, 50.0, 80.0}, sizes, 0.0, 100.0) ==
          std::vector<double>{20.0, 50.0, 80.0});
    CHECK(drawing::spread(std::vector<double>{50.0, 50.0, 50.0}, sizes, 0.0, 100.0) ==
          std::vector<double>{40.0, 50.0, 60.0});
    CHECK(drawing::spread(std::vector<double>{1.0, 2.0, 99.0}, sizes, 0.0, 100.0) ==
          std::vector<double>{5.0, 15.0, 95.0});
}

TEST_CASE("the view is the largest that holds points and the room around them", "[record][drawing]") {
    // Width binds: 80 units for the points after 20 for the room; height would allow more.
    const std::vector<drawing::Extent> extents{{{0.0, 0.0}, {-10.0, 0.0, 0.0, 0.0}},
                                               {{2.0, 1.0}, {0.0, 0.0, 10.0, 0.0}}};
    const drawing::View view = drawing::fit(extents, {0.0, 0.0, 100.0, 100.0});
    CHECK(view.scale == Approx(40.0));
    CHECK(view.at({0.0, 0.0}).x() == Approx(10.0));
    CHECK(view.at({2.0, 1.0}).x() == Approx(90.0));
    CHECK(view.at({2.0, 1.0}).y() == Approx(30.0));
}

TEST_CASE("crossings along a line are found where lines meet it", "[record][drawing]") {
    const drawing::Segment line{drawing::Vector2(0.0, 0.0), drawing::Vector2(100.0, 0.0)};
    const std::vector<drawing::Segment> others{{drawing::Vector2(25.0, -50.0), drawing::Vector2(25.0, 50.0)},
                                               {drawing::Vector2(50.0, 20.0), drawing::Vector2(50.0, 50.0)}};
    const std::vector<double> shares = drawing::shares_crossed(line, others);
    REQUIRE(shares.size() == 3);  // both edges of the text and its middle
    for (const double share : shares) CHECK(share == Approx(0.25));
}
