// The chart of averaging: its points are the errors, its scales are true, its words stay clear of each other.
#include <catch2/catch.hpp>

#include <cmath>
#include <map>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/drawing/averaging_chart.hpp"
#include "sim/scenario/reader.hpp"
#include "tests/support/profile.hpp"

using namespace spotwright;
using namespace test;
using namespace test::profile;
using base::um, base::ms;

namespace {

// Errors of a part with so much speckle and noise, exactly as they add up.
std::vector<study::AveragedError> errors_of(double speckle, double noise, std::int64_t greatest = 256) {
    std::vector<study::AveragedError> errors;
    for (std::int64_t n = 1; n <= greatest; n *= 2) {
        const auto count = static_cast<double>(n);
        const double white = noise / std::sqrt(count);
        errors.push_back(
            {n, 0.133 * count * ms, std::hypot(speckle, white), std::hypot(speckle, noise) / std::sqrt(count), white});
    }
    return errors;
}

std::string chart(const std::vector<study::AveragedError>& errors, const std::string& title = "Gauge on a bench") {
    scenario::Scenario s = scenario::parse("schema = 1\n[target]\nmaterial = \"white-ceramic\"\n", "scenario", {});
    s.title = title;
    return drawing::draw_averaging(s, errors);
}

// A logarithmic scale as a reader takes it off its outermost ticks.
struct LogScale {
    Scale scale;

    LogScale(const std::string& svg, const std::string& axis, const std::string& coordinate)
        : scale(scale_of(svg, axis, coordinate)) {
        scale.from.value = std::log(scale.from.value);
        scale.to.value = std::log(scale.to.value);
    }
    [[nodiscard]] double value(double place) const { return std::exp(scale.value(place)); }
    [[nodiscard]] double relative_margin(double place) const { return scale.margin(place); }
};

}  // namespace

TEST_CASE("points of the chart stand at the errors", "[record][averaging]") {
    for (const auto& [speckle, noise] : {std::pair(3.0 * um, 2.0 * um), std::pair(3.6 * um, 0.05 * um),
                                         std::pair(0.02 * um, 4.0 * um), std::pair(800.0 * um, 30.0 * um)}) {
        CAPTURE(speckle, noise);
        const std::vector<study::AveragedError> errors = errors_of(speckle, noise);
        const std::string svg = chart(errors);
        const LogScale average(svg, "averaging-x-axis", "x");
        const LogScale size(svg, "averaging-y-axis", "y");
        const std::map<std::string, double study::AveragedError::*> curves{{"still", &study::AveragedError::still},
                                                                           {"moved", &study::AveragedError::moved},
                                                                           {"noise", &study::AveragedError::noise}};
        for (const auto& [id, error] : curves) {
            CAPTURE(id);
            const std::vector<Vector2> points = polyline(svg, id);
            REQUIRE(points.size() == errors.size());
            for (std::size_t i = 0; i < points.size(); ++i) {
                CHECK(average.value(points[i].x()) ==
                      Approx(static_cast<double>(errors[i].average)).epsilon(average.relative_margin(points[i].x())));
                CHECK(size.value(points[i].y()) * um ==
                      Approx(errors[i].*error).epsilon(size.relative_margin(points[i].y())));
            }
        }
        // Two ends to 0.0005 page units each, of a fall of many.
        const std::vector<Vector2> guide = polyline(svg, "guide");
        REQUIRE(guide.size() == 2);
        CHECK(size.value(guide[1].y()) / size.value(guide[0].y()) == Approx(1.0 / 16.0).epsilon(1e-4));
    }
}

TEST_CASE("words of a chart keep their sizes, stay on the page and off each other", "[record][averaging]") {
    for (const auto& [speckle, noise] :
         {std::pair(3.0, 2.0), std::pair(3.6, 0.05), std::pair(0.02, 4.0), std::pair(800.0, 30.0), std::pair(0.0, 1.0),
          std::pair(0.001, 0.0008), std::pair(3.0, 0.9), std::pair(1.0, 0.0)}) {
        for (const std::int64_t greatest : {std::int64_t{256}, std::int64_t{4}, std::int64_t{1}}) {
            CAPTURE(speckle, noise, greatest);
            const std::string svg = chart(errors_of(speckle * um, noise * um, greatest));
            check_texts(svg);
            CHECK(well_formed(svg));
            for (const std::string& list : values_of(svg, "points")) {
                for (const Vector2& p : points_in(list)) {
                    REQUIRE((p.x() >= 0.0 && p.x() <= 1123.0));
                    REQUIRE((p.y() >= 0.0 && p.y() <= 794.0));
                }
            }
        }
    }
    check_texts(chart(errors_of(3.0 * um, 2.0 * um), std::string(60, 'W') + " " + std::string(90, 'i')));
}

TEST_CASE("a chart says in words what averaging leaves", "[record][averaging]") {
    const std::string still = all_words(chart(errors_of(3.0 * um, 2.0 * um)));
    CHECK(still.find("part stands still: 3 µm") != std::string::npos);
    CHECK(still.find("256 readings leave 3 µm of 3.6 µm") != std::string::npos);
    CHECK(still.find("noise alone: 0.12 µm") != std::string::npos);
    const std::string noisy = all_words(chart(errors_of(0.02 * um, 4.0 * um)));
    CHECK(noisy.find("Noise is the larger part of the error here") != std::string::npos);
    CHECK(all_words(chart({})).find("there is nothing to average") != std::string::npos);
    CHECK(well_formed(chart(errors_of(3.0 * um, 2.0 * um), "Seals <b>&\"gaps\"")));
}
