// The picture of one reading: what it shows is what the reading was, and it says why where there is none.
#include <catch2/catch.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <regex>
#include <string>
#include <string_view>
#include <vector>

#include "sim/measure/quantities.hpp"
#include "sim/measure/read.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/drawing/array_reading.hpp"
#include "sim/drawing/profile.hpp"
#include "sim/drawing/profile_words.hpp"
#include "tests/support/profile.hpp"

using namespace spotwright;
using namespace test;
using namespace test::profile;
using base::mm, base::um;
using reading::Validity;

// Made in one process: the drawings of all cases take some seconds.
TEST_CASE("the picture of a reading shows what the reading was", "[record][profile][slow]") {
    SECTION("threshold and saturation stand at their heights") {
        for (const Case& c : cases()) {
            CAPTURE(c.name);
            const Drawn& d = drawing_of_part(c.name);
            const double threshold = static_cast<double>(d.pose.locate.threshold);
            const std::vector<std::string> names = panels(d.svg);
            REQUIRE_FALSE(names.empty());
            const Scale signal = scale_of(d.svg, "signal-axis-" + names.front(), "y");
            for (const std::string& name : names) {  // side by side, all to the scale of the first
                CAPTURE(name);
                const std::vector<Vector2> line = polyline(d.svg, "threshold-" + name);
                REQUIRE(line.size() == 2);
                CHECK(line[0].y() == line[1].y());
                CHECK(std::abs(signal.value(line[0].y()) - threshold) < signal.margin(line[0].y()));
                const std::vector<Vector2> zero = polyline(d.svg, "zero-" + name);
                CHECK(std::abs(signal.value(zero.at(0).y())) < signal.margin(zero[0].y()));
            }
        }
        // Background and pattern put the levels of single pixels 25 e or so apart: 5 e offset deviation, five-sigma.
        const Drawn& d = drawing_of_part("saturated");
        const Scale signal = scale_of(d.svg, "signal-axis-0", "y");
        const double y = polyline(d.svg, "saturation-0").at(0).y();
        CHECK(std::abs(signal.value(y) - d.setup.scenario.detector.full_well) < 25.0 + signal.margin(y));
        CHECK(polyline(drawing_of_part("too dark").svg, "saturation-0").empty());
        CHECK(all_words(drawing_of_part("too dark").svg).find("off the scale: full well 200 000 e") !=
              std::string::npos);
    }
    SECTION("each pixel's signal is drawn at its place and height") {
        std::size_t compared = 0;
        for (const Case& c : cases()) {
            CAPTURE(c.name);
            const Drawn& d = drawing_of_part(c.name);
            const std::vector<float> net = net_of(d);
            const std::vector<std::string> names = panels(d.svg);
            const Scale signal = scale_of(d.svg, "signal-axis-" + names.front(), "y");
            for (const std::string& name : names) {
                const Scale pixel = scale_of(d.svg, "pixel-axis-" + name, "x");
                const std::vector<Vector2> steps = polyline(d.svg, "signal-" + name);
                REQUIRE(steps.size() >= 2);
                if (steps[0].x() == steps[1].x()) continue;  // pixels narrower than the pen, drawn in groups
                for (std::size_t step = 0; step + 1 < steps.size(); step += 2) {
                    const double middle = pixel.value(0.5 * (steps[step].x() + steps[step + 1].x()));
                    const auto k = static_cast<std::size_t>(std::lround(middle));
                    REQUIRE(std::abs(middle - static_cast<double>(k)) < 2.0 * pixel.margin(steps[step].x()));
                    const double width = pixel.per_unit() * (steps[step + 1].x() - steps[step].x());
                    // Rounded ends; and the scale itself, whose ticks stand 100 units apart at least.
                    REQUIRE(std::abs(width - 1.0) <
                            2.0 * std::abs(pixel.per_unit()) * rounding + 2.0 * rounding / 100.0);
                    if (net[k] == reading::saturated_signal) continue;
                    const double drawn = signal.value(steps[step].y());
                    // Signals are floats: 1e-7 of full well.
                    REQUIRE(std::abs(drawn - static_cast<double>(net[k])) < signal.margin(steps[step].y()) + 0.02);
                    ++compared;
                }
            }
        }
        CHECK(compared > 1000);
    }
    SECTION("the reading's line stands at the located pixel, and the scale over it tells its displacement") {
        int valid = 0;
        for (const Case& c : cases()) {
            CAPTURE(c.name);
            const Drawn& d = drawing_of_part(c.name);
            sensor::Scratch scratch;
            const sensor::RawReading raw = sensor::take_reading(d.setup, d.pose, 0, scratch);
            std::vector<std::string> with_line;
            for (const std::string& name : panels(d.svg)) {
                const std::vector<Vector2> line = polyline(d.svg, "located-" + name);
                if (line.empty()) continue;
                with_line.push_back(name);
                CHECK(line[0].x() == line[1].x());
                const double x = line[0].x();
                if (raw.validity != Validity::valid) continue;
                const Scale pixel = scale_of(d.svg, "pixel-axis-" + name, "x");
                CHECK(std::abs(pixel.value(x) - raw.position) < pixel.margin(x));
            }
            if (raw.validity != Validity::valid) continue;
            ++valid;
            CHECK(with_line.size() == 1);
            CHECK(all_words(d.svg).find(fmt::format("{:.2f} px: s = ", raw.position)) != std::string::npos);
        }
        CHECK(valid >= 10);
    }
    SECTION("the scale of displacement is that of the calibration") {
        std::size_t compared = 0;
        for (const Case& c : cases()) {
            CAPTURE(c.name);
            const Drawn& d = drawing_of_part(c.name);
            for (const std::string& name : panels(d.svg)) {
                const Scale pixel = scale_of(d.svg, "pixel-axis-" + name, "x");
                for (const Tick& tick : ticks(d.svg, "displacement-axis-" + name, "x")) {
                    CAPTURE(tick.value);
                    const double place = pixel.value(tick.place);
                    const auto here = d.setup.instrument.calibration.displacement(place);
                    const auto there = d.setup.instrument.calibration.position(tick.value * mm);
                    REQUIRE(there);
                    // The inverse is halved to 1e-6 px.
                    CHECK(std::abs(*there - place) < pixel.margin(tick.place) + 1e-6);
                    REQUIRE(here);
                    ++compared;
                }
            }
        }
        CHECK(compared > 60);
    }
    SECTION("exactly the saturated pixels are marked") {
        std::size_t marked = 0;
        for (const Case& c : cases()) {
            CAPTURE(c.name);
            const Drawn& d = drawing_of_part(c.name);
            const std::vector<float> net = net_of(d);
            std::vector<bool> shown(net.size(), false);
            for (const std::string& name : panels(d.svg)) {
                const Scale pixel = scale_of(d.svg, "pixel-axis-" + name, "x");
                const std::string group = between(d.svg, "<g id=\"saturated-" + name + "\">", "</g>");
                for (const std::string& list : values_of(group, "points")) {
                    const std::vector<Vector2> corners = points_in(list);
                    const auto first = static_cast<std::size_t>(std::lround(pixel.value(corners.at(0).x()) + 0.5));
                    const auto last = static_cast<std::size_t>(std::lround(pixel.value(corners.at(1).x()) + 0.5));
                    REQUIRE(last <= net.size());
                    for (std::size_t k = first; k < last; ++k) shown[k] = true;
                }
            }
            for (std::size_t k = 0; k < net.size(); ++k) {
                REQUIRE(shown[k] == (net[k] == reading::saturated_signal));
                marked += shown[k] ? 1U : 0U;
            }
        }
        CHECK(marked > 5);
    }
    SECTION("what is enlarged holds the peaks and little else") {
        for (const Case& c : cases()) {
            CAPTURE(c.name);
            const Drawn& d = drawing_of_part(c.name);
            const drawing::ArrayReading array = drawing::analyse(d.setup, d.pose, 0);
            const std::vector<drawing::PixelWindow> windows = drawing::windows_to_enlarge(array);
            CHECK(windows.size() <= 3);
            std::int64_t end = 0;
            std::int64_t total = 0;
            bool holds_chosen = false;
            const reading::LocatedPeak* chosen = drawing::chosen_peak(array);
            for (const drawing::PixelWindow& window : windows) {
                CHECK(window.first >= end);
                CHECK(window.last > window.first);
                end = window.last;
                total += window.last - window.first;
                holds_chosen = holds_chosen ||
                               (chosen != nullptr && static_cast<std::int64_t>(chosen->window.first) >= window.first &&
                                static_cast<std::int64_t>(chosen->window.last) <= window.last);
            }
            const auto pixels = static_cast<std::int64_t>(array.net.size());
            CHECK(end <= pixels);
            CHECK(2 * total <= pixels);
            CHECK((windows.empty() || chosen == nullptr || holds_chosen));
            CHECK(panels(d.svg).size() == std::max<std::size_t>(1, windows.size()));
        }
        CHECK(panels(drawing_of_part("two peaks close by").svg).size() == 1);
        CHECK(panels(drawing_of_part("two peaks, the nearer chosen").svg).size() == 2);
        CHECK(panels(drawing_of_part("five peaks").svg).size() == 3);
        CHECK(panels(drawing_of_part("wide spot on few pixels").svg) == std::vector<std::string>{"whole"});
        CHECK(panels(drawing_of_part("nothing to see").svg) == std::vector<std::string>{"whole"});
    }
    SECTION("pixels over the speckled light line up with those of the profile") {
        std::size_t with_light = 0;
        for (const Case& c : cases()) {
            CAPTURE(c.name);
            const Drawn& d = drawing_of_part(c.name);
            CHECK(d.svg.size() < 300000);
            for (const std::string& name : matches(d.svg, "<g id=\"light-([a-z0-9]+)\"")) {
                ++with_light;
                const Scale pixel = scale_of(d.svg, "pixel-axis-" + name, "x");
                const Scale across = scale_of(d.svg, "across-axis-" + name, "y");
                const std::string lines = between(d.svg, "<g id=\"pixels-" + name + "\">", "</g>");
                const std::vector<std::string> x = matches(lines, "x1=\"([-0-9.]+)\"");
                const std::vector<std::string> x_end = matches(lines, "x2=\"([-0-9.]+)\"");
                const std::vector<std::string> y = matches(lines, "y1=\"([-0-9.]+)\"");
                const double half = 0.5 * d.setup.scenario.detector.height / um;
                std::size_t borders = 0;
                for (std::size_t i = 0; i < x.size(); ++i) {
                    const double height = std::abs(across.value(std::stod(y[i])));
                    CHECK(height < half + across.margin(std::stod(y[i])));
                    if (x[i] != x_end[i]) continue;
                    ++borders;
                    const double border = pixel.value(std::stod(x[i])) + 0.5;
                    CHECK(std::abs(border - std::round(border)) < pixel.margin(std::stod(x[i])));
                }
                CHECK(borders > 2);
                // The outline of the mean lies about the place that the calibration has for the part.
                const std::optional<double> truth = d.setup.instrument.calibration.position(d.pose.true_displacement);
                if (!truth) continue;
                std::vector<double> outline;
                for (const Vector2& point : polyline(d.svg, "mean-" + name)) outline.push_back(pixel.value(point.x()));
                REQUIRE_FALSE(outline.empty());
                const auto [left, right] = std::minmax_element(outline.begin(), outline.end());
                CHECK(0.5 * (*left + *right) == Approx(*truth).margin(0.1 * (*right - *left)));
            }
        }
        CHECK(with_light >= 15);
    }
    SECTION("level and first reason of the verdict are in the picture") {
        for (const Case& c : cases()) {
            CAPTURE(c.name);
            const Drawn& d = drawing_of_part(c.name);
            const std::string words = all_words(d.svg);
            CHECK(words.find(fmt::format("Verdict: {}", measure::name_of(d.result.verdict.level))) !=
                  std::string::npos);
            const std::string reason = std::regex_replace(drawing::in_print(in_words(d.result.verdict.reasons.front())),
                                                          std::regex("\xC2\xA0"), " ");
            CHECK(words.find(reason) != std::string::npos);
        }
    }
    SECTION("texts of a picture keep their sizes, stay on the page and off each other") {
        for (const Case& c : cases()) {
            CAPTURE(c.name);
            CHECK(texts(drawing_of_part(c.name).svg).size() > 50);
            check_texts(drawing_of_part(c.name).svg);
        }
    }
    SECTION("nothing leaves the page, and signals stay within their frames") {
        for (const Case& c : cases()) {
            CAPTURE(c.name);
            const std::string& svg = drawing_of_part(c.name).svg;
            CHECK(well_formed(svg));
            CHECK_FALSE(std::regex_search(svg, std::regex("\\b(nan|inf)\\b")));
            for (const std::string& list : values_of(svg, "points")) {
                for (const Vector2& p : points_in(list)) {
                    REQUIRE((p.x() >= 0.0 && p.x() <= 1123.0));
                    REQUIRE((p.y() >= 0.0 && p.y() <= 794.0));
                }
            }
            for (const std::string& x : matches(svg, " (?:x1|x2|cx)=\"([-0-9.]+)\"")) {
                REQUIRE((std::stod(x) >= 0.0 && std::stod(x) <= 1123.0));
            }
            for (const std::string& y : matches(svg, " (?:y1|y2|cy)=\"([-0-9.]+)\"")) {
                REQUIRE((std::stod(y) >= 0.0 && std::stod(y) <= 794.0));
            }
            for (const std::string& name : matches(svg, "id=\"frame-([a-z0-9]+)\"")) {
                const std::vector<Vector2> frame = polyline(svg, "frame-" + name);
                for (const Vector2& p : polyline(svg, "signal-" + name)) {
                    REQUIRE((p.x() >= frame[0].x() - rounding && p.x() <= frame[2].x() + rounding));
                    REQUIRE((p.y() >= frame[0].y() - rounding && p.y() <= frame[1].y() + rounding));
                }
            }
        }
    }
}

TEST_CASE("flags carry the index by which a peak is chosen, the chosen one's filled", "[record][profile]") {
    const Drawn& d = drawing_of_part("five peaks");
    const std::string strip = d.svg.substr(0, d.svg.find("frame-0"));
    const std::regex flag("<circle cx=\"([-0-9.]+)\"[^>]*fill=\"([^\"]*)\"[^>]*/>\n<text [^>]*>([0-9]+)</text>");
    std::size_t flags = 0;
    double last = 0.0;
    for (std::sregex_iterator it(strip.begin(), strip.end(), flag), end; it != end; ++it, ++flags) {
        const double x = std::stod((*it)[1]);
        CHECK(x > last);  // far end to near end, so that numbers fall
        last = x;
        CHECK(std::stoul((*it)[3]) == 4 - flags);
        CHECK(((*it)[2] == drawing::palette::beam_edge) == (flags == 4));  // the strongest, nearest of all
    }
    CHECK(flags == 5);
    // Shot noise leaves the position of this peak some hundredths of a pixel.
    CHECK(std::regex_search(all_words(d.svg), std::regex("Peak 0 \\(chosen\\): 7(79\\.9|80\\.0)[0-9] px")));
    CHECK(all_words(d.svg).find("5 peaks, numbered from the near end; the strongest is chosen.") != std::string::npos);
}

TEST_CASE("a part without a reading gives a picture that says why", "[record][profile][slow]") {
    const auto says = [](const char* name, const std::string& words) {
        CAPTURE(name, words);
        CHECK(all_words(drawing_of_part(name).svg).find(words) != std::string::npos);
    };
    says("too dark", "too dark: no pixel is above the threshold");
    says("too dark", "Too dark: the highest pixel has ");
    says("too dark", "Verdict: unreadable");
    says("nothing to see", "no peak: no pixel reaches half the threshold");
    says("saturated", " pixels of the chosen peak stand at the top digit, so its shape is lost.");
    says("saturated", " saturated ");
    says("index that does not exist", "no peak has index 4");
    says("index that does not exist", "No peak: the index 4 is asked for, and peaks 0 to 1 exist.");
    says("cut off by the array's end", "cut off by the array's end");
    says("cut off by the array's end", "Out of range: the chosen peak is cut off by the end of the array");
    says("beyond the calibration", "px: outside the calibration");
    says("beyond the calibration", "beyond the calibration, which covers ");
    says("daylight takes half of full well", "above background");
}

TEST_CASE("the same reading gives the same picture, another one another", "[record][profile]") {
    const Drawn& d = drawing_of_part("default");
    const auto picture = [&d](std::int64_t index) { return drawing::draw_profile(d.setup, d.pose, d.result, index); };
    CHECK(picture(0) == d.svg);
    CHECK(picture(1) != d.svg);
    CHECK(all_words(picture(1)).find("Reading 1 of 64: valid") != std::string::npos);
    CHECK_THROWS_AS(picture(-1), base::DomainError);
}

TEST_CASE("long titles and names of materials find room in a picture", "[record][profile]") {
    Drawn d = draw(cases().front());
    d.setup.scenario.title = "Seals <b>&\"gaps\"\n" + std::string(400, 'W');
    d.setup.scenario.target.material = std::string(300, 'm') + "/finish & colour.toml";
    const std::string svg = drawing::draw_profile(d.setup, d.pose, d.result);
    CHECK(well_formed(svg));
    CHECK(svg.find("Seals &lt;b&gt;&amp;&quot;gaps&quot;") != std::string::npos);
    for (const DrawnText& text : texts(svg)) {
        for (const Vector2& corner : corners_of(text)) CHECK(corner.x() < 1123.0);
    }
}

TEST_CASE("rows of the picture have the labels and digits of the table of quantities", "[record][profile]") {
    constexpr std::array<std::string_view, 4> names{"mean_mm", "bias_um", "still_sd_um", "valid_share"};
    measure::ReadResult result;
    const scenario::Scenario scenario;
    result.statistics.readings = 8;
    result.statistics.validity[0] = 7;
    const auto values = [&] {
        std::vector<std::string> list;
        for (const drawing::Row& row : drawing::quantity_rows(names, scenario, result)) list.push_back(row.value);
        return list;
    };
    using Values = std::vector<std::string>;
    CHECK(values() == Values{"none", "none", "none", "87.5\u00A0%"});
    result.statistics.mean = -1.23456789 * mm;
    result.bias = -4.56789 * um;
    result.statistics.standard_deviation = 9.96 * um;
    CHECK(values() == Values{"\u22121.234568\u00A0mm", "\u22124.568\u00A0µm", "10\u00A0µm", "87.5\u00A0%"});
    result.verdict.expanded_uncertainty = 46.0 * um;
    CHECK(values() == Values{"\u22121.235\u00A0mm", "\u22125\u00A0µm", "10\u00A0µm", "87.5\u00A0%"});
    result.statistics.mean = -0.0001 * mm;  // no sign of a zero
    CHECK(values().front() == "0.000\u00A0mm");
    const std::vector<drawing::Row> rows = drawing::rows_of(scenario, result);
    for (const drawing::Row& row : rows) {
        INFO(row.name);
        const auto all = measure::quantities();
        CHECK(std::count_if(all.begin(), all.end(), [&](const auto& each) { return each.long_name == row.name; }) == 1);
    }
}
