// Haze in both models of the image: kernels side by side and single rays.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/receiver/image.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/scenario/reader.hpp"
#include "tests/support/stations.hpp"

using namespace spotwright;
using base::mm;

namespace {

struct Powers {
    double spot = 0.0;
    double spot_without = 0.0;  // of the same part without its haze
    double rays = 0.0;
    double error = 0.0;  // standard error of the rays
};

Powers powers(const std::vector<std::string>& settings) {
    const scenario::Scenario s = scenario::parse("[target]\nmaterial = \"polished-steel\"\n", "t", settings);
    const emitter::Beam beam = support::beam_of(s);
    const target::Part part = support::part_of(s, s.target.displacement);
    target::Surface surface = support::surface_of(s);
    const receiver::Receiver r = support::receiver_of(s);
    const receiver::EdgeSpread edge_spread(r.aperture.shape);
    Powers result;
    result.spot = receiver::image(beam, part, surface, r, edge_spread, 0.35).collected_power;
    const receiver::RayImage image = receiver::trace_rays(beam, part, surface, r, edge_spread, 0.35, {200000, 1, 2});
    double squares = 0.0;
    const auto count = static_cast<double>(image.batches.size());
    for (const receiver::Profile& batch : image.batches) {
        result.rays += batch.collected_power / count;
        squares += batch.collected_power * batch.collected_power / count;
    }
    result.error = std::sqrt(std::max(0.0, squares - result.rays * result.rays) / (count - 1.0));
    surface.gloss->haze.reset();
    result.spot_without = receiver::image(beam, part, surface, r, edge_spread, 0.35).collected_power;
    return result;
}

}  // namespace

TEST_CASE("haze is the same by the spot model and by rays, square, tilted and displaced", "[ray][physics]") {
    // Five standard errors of the rays, and what the spot model's quadrature leaves, 1e-3.
    for (const std::vector<std::string>& settings :
         {std::vector<std::string>{}, std::vector<std::string>{"target.tilt_deg=[8, 3]"},
          std::vector<std::string>{"target.displacement_mm=3"}}) {
        INFO((settings.empty() ? "square" : settings.front()));
        const Powers p = powers(settings);
        CHECK(p.spot > 0.0);
        CHECK(std::abs(p.rays - p.spot) < 5.0 * p.error + 2e-3 * p.spot);
        CHECK(p.error < 0.05 * p.spot);
    }
}

TEST_CASE("in a diffuse mount a polished part is seen by its haze alone", "[ray][physics]") {
    const Powers p = powers({});
    // Lens 4 mm wide at 45 mm: 0.0062 sr. With (target.20), 0.3 mW, transmission 0.6, f = 0.5 / 655 nm at 30 deg:
    // 16 pi^2 / lambda^4 cos(30 deg) R S, R = 0.532 for this index, B f = 7.634. 2 %: the fall over the aperture.
    const double density = 9e-18 * 1e-10 / (2.0 * base::pi) * std::pow(1.0 + 7.634 * 7.634, -1.5);
    const double lambda4 = std::pow(655e-9, 4.0);
    const double haze = 16.0 * base::pi * base::pi / lambda4 * std::cos(30.0 * base::degree) * 0.532 * density;
    const double solid_angle = base::pi * 4e-6 / (45e-3 * 45e-3);
    CHECK(p.spot == Approx(0.3e-3 * 0.6 * haze * std::cos(30.0 * base::degree) * solid_angle).epsilon(0.02));
    CHECK(p.spot_without < 1e-6 * p.spot);
}
