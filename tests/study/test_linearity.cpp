// Lines through error curves, and the error curves of materials.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/study/linearity.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using base::mm, base::um;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

struct ErrorCurve {
    std::vector<double> reference;
    std::vector<double> error;
};

// Places and errors at random. [m]
ErrorCurve random_curve(std::int64_t index) {
    base::RandomSequence draws({5, base::Stream::ray}, index);
    ErrorCurve curve;
    const int count = 3 + static_cast<int>(40.0 * draws.uniform());
    double at = -5.0 * mm;
    for (int i = 0; i < count; ++i) {
        at += (0.01 + draws.uniform()) * mm;
        curve.reference.push_back(at);
        curve.error.push_back(10.0 * um * (draws.uniform() - 0.5));
    }
    return curve;
}

double strayed(const ErrorCurve& curve, double offset, double slope) {
    double largest = 0.0;
    for (std::size_t i = 0; i < curve.reference.size(); ++i) {
        largest = std::max(largest, std::abs(curve.error[i] - offset - slope * curve.reference[i]));
    }
    return largest;
}

sensor::Setup sensor_of(const std::vector<std::string>& settings) {
    return sensor::set_up(scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "test.toml", settings), 2);
}

}  // namespace

TEST_CASE("no line strays less than the independent one, nor through the near end than the zero-based", "[study]") {
    constexpr double rounding = 1e-15;  // 1e-9 of a micrometre
    for (std::int64_t k = 0; k < 200; ++k) {
        const ErrorCurve curve = random_curve(k);
        const study::LinearityFigures figures = study::linearity_of(curve.reference, curve.error);
        INFO("curve " << k);
        CHECK(figures.independent.largest <= figures.zero.largest + rounding);
        CHECK(figures.independent.largest <= figures.terminal.largest + rounding);
        CHECK(figures.independent.largest <= figures.least_squares.largest + rounding);
        CHECK(figures.zero.largest <= figures.terminal.largest + rounding);
        base::RandomSequence draws({6, base::Stream::ray}, k);
        for (int trial = 0; trial < 50; ++trial) {
            const double slope = figures.independent.slope + 1e-4 * (draws.uniform() - 0.5);
            const double offset = figures.independent.offset + 0.2 * um * (draws.uniform() - 0.5);
            CHECK(strayed(curve, offset, slope) >= figures.independent.largest - rounding);
            const double tilted = figures.zero.slope + 1e-4 * (draws.uniform() - 0.5);
            CHECK(strayed(curve, curve.error[0] - tilted * curve.reference[0], tilted) >=
                  figures.zero.largest - rounding);
        }
    }
}

TEST_CASE("the independent line touches the curve three times, from side to side", "[study]") {
    // Equioscillation: P. L. Chebyshev.
    for (std::int64_t k = 0; k < 50; ++k) {
        const ErrorCurve curve = random_curve(1000 + k);
        const study::NonLinearity line = study::linearity_of(curve.reference, curve.error).independent;
        int touches = 0;
        double last = 0.0;
        for (std::size_t i = 0; i < curve.reference.size(); ++i) {
            const double away = curve.error[i] - line.offset - line.slope * curve.reference[i];
            if (std::abs(away) < line.largest * (1.0 - 1e-9) || away * last > 0.0) continue;
            last = away;
            ++touches;
        }
        CHECK(touches >= 3);
    }
}

TEST_CASE("adding a line to the errors turns the lines and leaves the figures", "[study]") {
    ErrorCurve curve = random_curve(7);
    const study::LinearityFigures before = study::linearity_of(curve.reference, curve.error);
    for (std::size_t i = 0; i < curve.error.size(); ++i) curve.error[i] += 3.0 * um + 2e-3 * curve.reference[i];
    const study::LinearityFigures after = study::linearity_of(curve.reference, curve.error);
    constexpr double rounding = 1e-9;
    for (const auto line : {&study::LinearityFigures::terminal, &study::LinearityFigures::zero,
                            &study::LinearityFigures::independent, &study::LinearityFigures::least_squares}) {
        CHECK_THAT((after.*line).largest, WithinRel((before.*line).largest, rounding));
        CHECK_THAT((after.*line).slope - (before.*line).slope, WithinAbs(2e-3, rounding));
        CHECK_THAT((after.*line).offset - (before.*line).offset, WithinAbs(3.0 * um, rounding * um));
    }
}

TEST_CASE("a straight error curve has no non-linearity", "[study]") {
    const std::vector<double> reference{0.0, 1.0 * mm, 2.0 * mm, 4.0 * mm};
    const std::vector<double> error{1.0 * um, 3.0 * um, 5.0 * um, 9.0 * um};
    const study::LinearityFigures figures = study::linearity_of(reference, error);
    constexpr double rounding = 1e-18;
    CHECK_THAT(figures.terminal.largest, WithinAbs(0.0, rounding));
    CHECK_THAT(figures.zero.largest, WithinAbs(0.0, rounding));
    CHECK_THAT(figures.independent.largest, WithinAbs(0.0, rounding));
    CHECK_THAT(figures.least_squares.largest, WithinAbs(0.0, rounding));
    CHECK_THAT(figures.independent.slope, WithinRel(2e-3, 1e-12));
}

TEST_CASE("error curves that are none are refused", "[study]") {
    using List = std::vector<double>;
    constexpr double missing = std::numeric_limits<double>::quiet_NaN();
    CHECK_THROWS_AS(study::linearity_of(List{0.0, 1.0}, List{0.0, 1.0}), base::DomainError);
    CHECK_THROWS_AS(study::linearity_of(List{0.0, 1.0, 2.0}, List{0.0, 1.0}), base::DomainError);
    CHECK_THROWS_AS(study::linearity_of(List{0.0, 1.0, 1.0}, List{0.0, 1.0, 2.0}), base::DomainError);
    CHECK_THROWS_AS(study::linearity_of(List{0.0, 1.0, 2.0}, List{0.0, missing, 2.0}), base::DomainError);
    CHECK_THROWS_AS(study::hysteresis_of(List{0.0}, List{}), base::DomainError);
    CHECK_THROWS_AS(study::hysteresis_of(List{missing}, List{0.0}), base::DomainError);
}

TEST_CASE("other materials bend the error curve of a sensor that is straight on its own reference", "[study]") {
    const sensor::Setup setup = sensor_of({"detector.response_nonuniformity=0"});
    const std::vector<std::string> others{"white-ceramic", "grey-card", "ground-steel"};
    const auto curves = study::linearity_study(setup, others, 5, 2);
    REQUIRE(curves.size() == 3);
    REQUIRE(curves[0].material == "white-ceramic");
    for (const study::LinearityCurve& curve : curves) {
        INFO(curve.material);
        REQUIRE(curve.figures);
        CHECK(curve.unread == 0);
        CHECK(curve.error.size() == 5);
        CHECK(curve.displacement.front() == -5.0 * mm);
        CHECK(curve.displacement.back() == 5.0 * mm);
    }
    // Between points of the calibration the phase of the spot within a pixel leaves some 0.1 um.
    CHECK(curves[0].figures->independent.largest < 0.3 * um);
    // Grey is white with less light, and each is exposed as suits it.
    CHECK_THAT(curves[1].figures->independent.largest, WithinRel(curves[0].figures->independent.largest, 0.01));
    // Its scatter leans towards the mirror's direction, differently from place to place.
    CHECK(curves[2].figures->independent.largest > 2.0 * curves[0].figures->independent.largest);
    const auto alone = study::linearity_study(setup, others, 5, 1);
    CHECK(alone[2].error == curves[2].error);
    CHECK_THROWS_AS(study::linearity_study(setup, others, 2, 1), base::DomainError);
}

TEST_CASE("places at which a material cannot be read are counted and left out", "[study]") {
    // Clear glass in a diffuse mount throws its light past the lens.
    const sensor::Setup setup = sensor_of({});
    const auto curves = study::linearity_study(setup, std::vector<std::string>{"clear-glass"}, 3, 1);
    CHECK(curves[1].unread == 3);
    CHECK(curves[1].error.empty());
    CHECK_FALSE(curves[1].figures);
}
