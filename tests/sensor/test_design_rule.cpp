// The receiver that follows from reference distance, range and array where nobody has written it.
#include <fmt/format.h>

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <random>

#include "sim/base/errors.hpp"
#include "sim/scenario/design_rule.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/layout.hpp"

namespace {

using namespace spotwright;
using namespace spotwright::base;

const std::string part = "[target]\nmaterial = \"white-ceramic\"\n";

double farther_image(const sensor::Layout& layout) {
    return std::max(std::abs(layout.image_position[0]), std::abs(layout.image_position[2]));
}

}  // namespace

// The exact projection of the receiver is the judge; the rule itself has its own closed form.
TEST_CASE("the range fills 80 % of the array, whatever distance, range, baseline and array", "[sensor][unit]") {
    std::mt19937_64 engine(20);
    const auto draw = [&engine](double low, double high) {
        return low * std::pow(high / low, std::uniform_real_distribution<double>()(engine));
    };
    for (int i = 0; i < 200; ++i) {
        const double distance = draw(8.0, 2000.0);
        const double half_range = distance * draw(0.01, 0.4);
        const double baseline = distance * draw(0.1, 1.0);
        const int pixels = static_cast<int>(draw(128, 4096));
        const double pitch = draw(3.0, 20.0);
        const scenario::Scenario s = scenario::parse(
            part + fmt::format("[mount]\nreference_distance_mm = {}\nrange_mm = [{}, {}]\nbaseline_mm = {}\n"
                               "[detector]\npixels = {}\npitch_um = {}\n[receiver]\naperture_mm = {}\n",
                               distance, -half_range, half_range, baseline, pixels, pitch, baseline / 20.0));
        INFO(scenario::to_toml(s));
        const sensor::Layout layout = sensor::make_layout(s);
        const double half_array = static_cast<double>(pixels) * pitch * um / 2.0;
        // 80 halvings leave rounding alone.
        CHECK(farther_image(layout) / half_array == Approx(scenario::filled_share).epsilon(1e-9));
        CHECK(std::tan(s.receiver.angle) * distance == Approx(baseline).epsilon(1e-12));
        CHECK(s.receiver.distance * std::cos(s.receiver.angle) == Approx(distance * mm).epsilon(1e-12));
    }
}

TEST_CASE("a specular mount has its receiver at the opposite of the beam's angle", "[sensor][unit]") {
    const scenario::Scenario s =
        scenario::parse(part + "[mount]\nreference_distance_mm = 40\nrange_mm = [-1, 1]\n[emitter]\nangle_deg = -20\n");
    CHECK(s.receiver.angle == Approx(20.0 * degree));
    const sensor::Layout layout = sensor::make_layout(s);
    CHECK(farther_image(layout) / (1024.0 * 3.5 * um) == Approx(scenario::filled_share).epsilon(1e-9));
}

TEST_CASE("without a written distance or baseline the receiver of the defaults stands as it is", "[sensor][unit]") {
    const scenario::Scenario s = scenario::parse(part + "[mount]\nrange_mm = [-1, 1]\n[detector]\npitch_um = 5\n");
    CHECK(s.receiver == scenario::Scenario{}.receiver);
    CHECK_FALSE(scenario::design_rule_applies(s));
}

TEST_CASE("what is written of the receiver stands, and the rest follows it", "[sensor][unit]") {
    const std::string mount = part + "[mount]\nreference_distance_mm = 100\nrange_mm = [-10, 10]\n[receiver]\n";
    CHECK(scenario::parse(mount + "focal_length_mm = 30\n").receiver.focal_length == 30.0 * mm);
    CHECK(scenario::parse(mount + "distance_mm = 80\n").receiver.distance == 80.0 * mm);
    CHECK(scenario::parse(mount + "angle_deg = 17\n").receiver.angle == 17.0 * degree);
    const scenario::Scenario far = scenario::parse(mount + "distance_mm = 80\n");
    CHECK(farther_image(sensor::make_layout(far)) / (1024.0 * 3.5 * um) == Approx(scenario::filled_share));
}

TEST_CASE("the rule follows the range when it changes", "[sensor][unit]") {
    const scenario::Scenario s = scenario::parse(part + "[mount]\nreference_distance_mm = 50\nrange_mm = [-5, 5]\n");
    const scenario::Scenario narrow = scenario::with_settings(s, std::vector<std::string>{"mount.range_mm=[-1, 1]"});
    const scenario::Scenario direct =
        scenario::parse(part + "[mount]\nreference_distance_mm = 50\nrange_mm = [-1, 1]\n");
    CHECK(narrow.receiver == direct.receiver);
    CHECK(narrow.receiver.focal_length > s.receiver.focal_length);
}

TEST_CASE("a baseline and an angle contradict one another, and a range behind the lens has no receiver",
          "[sensor][unit]") {
    CHECK_THROWS_WITH(scenario::parse(part + "[mount]\nbaseline_mm = 20\n[receiver]\nangle_deg = 30\n"),
                      Catch::Contains("baseline_mm"));
    CHECK_THROWS_WITH(scenario::parse(part + "[mount]\nreference_distance_mm = 50\nrange_mm = [-60, 5]\n"),
                      Catch::Contains("range_mm"));
}
