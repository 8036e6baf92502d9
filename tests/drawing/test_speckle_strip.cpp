// The speckled light in the picture of a reading: it is the light that the pixels add up, at their places.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/base/units.hpp"
#include "sim/drawing/speckle_strip.hpp"
#include "sim/sensor/speckle.hpp"
#include "tests/support/profile.hpp"

using namespace spotwright;
using namespace test;
using namespace test::profile;
using base::um;

namespace {

// An image of which all is known: a Gaussian askew, on a coarse grid.
receiver::SpeckleImage gaussian(double sigma_u, double sigma_v) {
    receiver::SpeckleImage image;
    image.u_step = 1.1 * um;
    image.u_per_row = 0.4 * um;
    image.v_step = -0.9 * um;  // an image is upside down
    constexpr int columns = 96;
    constexpr int rows = 64;
    image.u_first = -0.5 * (columns * image.u_step + rows * image.u_per_row);
    image.v_first = -0.5 * rows * image.v_step;
    image.mean = Eigen::ArrayXXf::Zero(columns, rows);
    for (int j = 0; j < rows; ++j) {
        for (int i = 0; i < columns; ++i) {
            const double u = image.u_first + i * image.u_step + j * image.u_per_row;
            const double v = image.v_first + j * image.v_step;
            image.mean(i, j) =
                static_cast<float>(std::exp(-0.5 * (u * u / (sigma_u * sigma_u) + v * v / (sigma_v * sigma_v))));
        }
    }
    image.intensity = image.mean;
    return image;
}

const receiver::SpeckleImage& image_of(const Drawn& d) {
    return d.result.speckle.value().image.value();
}

drawing::SpeckleStrip strip_of(const Drawn& d) {
    const drawing::ArrayReading array = drawing::analyse(d.setup, d.pose, 0);
    const drawing::PixelWindow window = drawing::windows_to_enlarge(array).at(0);
    const drawing::Panel panel =
        drawing::make_panel(window, drawing::signal_range(array), 0.0, {92.0, 300.0, 961.0, 400.0}, "0");
    return drawing::make_strip(image_of(d), d.result.speckle->size, d.setup.scenario.detector, panel, 180.0, 284.0)
        .value();
}

}  // namespace

TEST_CASE("light between the places of the grid is that of a smooth image", "[record][speckle]") {
    const receiver::SpeckleImage image = gaussian(6.0 * um, 4.5 * um);
    for (double u = -9.0 * um; u < 9.0 * um; u += 0.37 * um) {
        for (double v = -9.0 * um; v < 9.0 * um; v += 0.71 * um) {
            const double expected = std::exp(-0.5 * (u * u / 36.0 + v * v / 20.25) / (um * um));
            // The cubic's own error is that of its third derivative: h^3 f''' times 0.016 at most (0.008 per axis and
            // sigma^-3 f''' below 1.4), with h / sigma a fifth.
            CHECK(drawing::light_at(image, image.mean, u, v) == Approx(expected).margin(4e-4));
        }
    }
    CHECK(drawing::light_at(image, image.mean, 1.0, 0.0) == 0.0);
}

TEST_CASE("the outline stands where the mean has half its maximum", "[record][speckle]") {
    const double half = std::sqrt(2.0 * std::log(2.0));
    const std::vector<Vector2> outline = drawing::half_maximum(gaussian(8.0 * um, 6.0 * um));
    REQUIRE(outline.size() > 20);
    double widest = 0.0;
    for (const Vector2& place : outline) {
        const double radius = std::hypot(place.x() / (8.0 * um), place.y() / (6.0 * um));
        // Straight lines between places of the grid, h of them to sigma: off by h^2 / (8 sigma^2), 3e-3 at most; at the
        // tips the brightest place of the grid stands up to half a step, a tenth of sigma, beside the axis: 5e-3 more.
        CHECK(radius == Approx(half).epsilon(0.01));
        widest = std::max(widest, std::abs(place.x()));
    }
    CHECK(widest == Approx(8.0 * um * half).epsilon(0.01));
}

TEST_CASE("what the picture shows on a pixel is what the pixel adds up", "[record][speckle]") {
    const Drawn& d = drawing_of_part("default");
    const scenario::Scenario& s = d.setup.scenario;
    const sensor::Pose smooth = sensor::make_pose(d.setup, s.target.displacement);
    const sensor::Speckle speckle = sensor::make_speckle(d.setup, s.target.displacement, smooth.profile).value();
    receiver::SpeckleWorkspace workspace = receiver::make_workspace(*speckle.plan);
    const receiver::SpecklePattern pattern = sensor::pattern_at(speckle, s, 0, workspace);
    const drawing::SpeckleStrip strip = strip_of(d);
    const receiver::SpeckleImage& image = image_of(d);

    const auto sum = [&](const Eigen::ArrayXXf& values, double pixel) {
        constexpr int along = 24;
        constexpr int across = 120;
        double total = 0.0;
        for (int j = 0; j < across; ++j) {
            const double v = ((j + 0.5) / across - 0.5) * s.detector.height;
            for (int i = 0; i < along; ++i) {
                total += drawing::light_at(image, values, strip.u_of(pixel - 0.5 + (i + 0.5) / along), v);
            }
        }
        return total;
    };
    int bright = 0;
    for (std::size_t k = 490; k < 535; ++k) {
        const double mean = sum(image.mean, static_cast<double>(k));
        if (mean < 0.3 * sum(image.mean, 511.0)) continue;
        ++bright;
        // The model adds up whole cells of the grid, the picture interpolates between them: both are rules for the
        // same band-limited light, alike to some hundredths of the mean.
        CHECK(sum(image.intensity, static_cast<double>(k)) / mean ==
              Approx(static_cast<double>(pattern.intensity.at(k - pattern.first))).margin(0.03));
    }
    CHECK(bright >= 5);
}

TEST_CASE("greys tell the light at their place", "[record][speckle]") {
    const Drawn& d = drawing_of_part("default");
    const receiver::SpeckleImage& image = image_of(d);
    drawing::Canvas canvas;
    const drawing::SpeckleStrip strip = strip_of(d);
    drawing::draw_light(canvas, strip, image, d.setup.scenario.detector);
    const std::string svg = canvas.document({1123.0, 794.0}, {297.0, 210.0}, "light");
    const std::vector<std::string> levels = values_of(between(svg, "<g id=\"light-0\"", "</g>"), "d");
    REQUIRE(levels.size() > 10);  // the ground, then each level that occurs
    const double width = strip.box.right - strip.box.left;
    const double cell = width / std::ceil(width / 1.5);
    const double height = (strip.box.bottom - strip.box.top) / std::ceil((strip.box.bottom - strip.box.top) / 1.5);
    const auto light = [&](double x, double y) {
        const double u = strip.u_of(std::lerp(strip.left, strip.right, (x - strip.box.left) / width));
        const double share = (y - strip.box.top) / (strip.box.bottom - strip.box.top);
        return drawing::light_at(image, image.intensity, u, std::lerp(strip.high, strip.low, share));
    };
    constexpr double step = drawing::brightest_grey / (drawing::grey_levels - 1);
    constexpr double rounded = 0.01;  // of the mean: places to 0.005 page units where light rises by one in a few units
    for (std::size_t level = 1; level < levels.size(); ++level) {
        const double least = (static_cast<double>(level) - 0.5) * step;
        for (std::size_t at = levels[level].find('M'); at != std::string::npos; at = levels[level].find('M', at + 1)) {
            const double left = std::stod(levels[level].substr(at + 1));
            const double top = std::stod(levels[level].substr(levels[level].find(',', at) + 1));
            const double right = left + std::stod(levels[level].substr(levels[level].find('h', at) + 1));
            REQUIRE(light(left + 0.5 * cell, top + 0.5 * height) > least - rounded);
            if (left > strip.box.left + cell) {
                REQUIRE(light(left - 0.5 * cell, top + 0.5 * height) < least + rounded);
            }
            if (right < strip.box.right - cell) {
                REQUIRE(light(right + 0.5 * cell, top + 0.5 * height) < least + rounded);
            }
        }
    }
}

TEST_CASE("the picture says what the grains do", "[record][speckle]") {
    const Drawn& d = drawing_of_part("default");
    const sensor::SpeckleStatistics& speckle = *d.result.speckle;
    const std::string words = all_words(d.svg);
    const std::string caption = drawing::speckle_caption(speckle, d.setup.scenario.detector);
    CHECK(words.find(std::regex_replace(caption, std::regex("\xC2\xA0"), " ")) != std::string::npos);
    CHECK(words.find("grains " + drawing::number(speckle.size / um, 2) + " µm") != std::string::npos);
    CHECK(words.find("moves the reading by " + drawing::signed_number(*speckle.offset / um, 2)) != std::string::npos);
}

TEST_CASE("no light is drawn where there is no image of it", "[record][speckle]") {
    for (const char* model : {"run.speckle=off", "run.speckle=statistical"}) {
        CAPTURE(model);
        const Drawn d = draw({"without image", {model}, {}});
        CHECK(d.svg.find("id=\"light-") == std::string::npos);
        CHECK(all_words(d.svg).find("Scattered light on the pixels") == std::string::npos);
    }
    // Pixels of 112 um: a grain would be a dot.
    CHECK(drawing_of_part("64 pixels").svg.find("id=\"light-") == std::string::npos);
}
