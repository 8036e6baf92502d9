// Light of a spot that falls on two materials, and on grooves.
#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/receiver/image.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/scenario/reader.hpp"
#include "tests/support/stations.hpp"

using namespace spotwright;
using base::mm, base::um;
using Eigen::Vector3d;

namespace {

struct Marked {
    explicit Marked(const std::string& material, const std::vector<std::string>& settings)
        : scenario(scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "t", settings)),
          beam(support::beam_of(scenario)),
          part(support::part_of(scenario, scenario.target.displacement)),
          surface(target::make_surface(scenario.target, scenario.mount, scenario.emitter.wavelength)),
          receiver(support::receiver_of(scenario)),
          edge_spread(receiver.aperture.shape) {}
    [[nodiscard]] receiver::Profile spot() const {
        return receiver::image(beam, part, surface, receiver, edge_spread, 0.35);
    }
    [[nodiscard]] receiver::RayImage rays(std::int64_t count) const {
        return receiver::trace_rays(beam, part, surface, receiver, edge_spread, 0.35, {count, 1, 2, false});
    }

    scenario::Scenario scenario;
    emitter::Beam beam;
    target::Part part;
    target::Surface surface;
    receiver::Receiver receiver;
    receiver::EdgeSpread edge_spread;
};

std::vector<std::string> border_at(double x, std::vector<std::string> more = {}) {
    more.insert(more.end(), {"target.pattern.kind=border", "target.pattern.material=black-rubber",
                             "target.pattern.position_mm=[" + std::to_string(x / mm) + ", 0]"});
    return more;
}

// Pixel on which the middle of the aperture images a place of the part.
double pixel_of(const receiver::Receiver& r, const Vector3d& place) {
    const auto at = receiver::trace(r, receiver::to_receiver(r, place), 0.0, 0.0);
    return at->u / r.pitch + 0.5 * static_cast<double>(r.pixels - 1);
}

// The closed form (markings.4), by the imaging of the axis: light of a Gaussian spot of a reflectance on either side of
// a border.
double centroid_at_border(const Marked& m, double border, double bare, double covered) {
    const double deviation = 0.5 * emitter::radius_at(m.beam, 0, m.beam.face.norm());
    const double share = 0.5 * (1.0 + std::erf(border / (std::sqrt(2.0) * deviation)));
    const double density = std::exp(-0.5 * border * border / (deviation * deviation)) / std::sqrt(2.0 * base::pi);
    const double mean = deviation * density * (covered - bare) / (bare * share + covered * (1.0 - share));
    return pixel_of(m.receiver, {mean, 0.0, 0.0});
}

struct Agreement {
    double light = 0.0;           // of the spot model over that of rays, less 1
    double light_error = 0.0;     // standard error of the rays
    double centroid = 0.0;        // [px]
    double centroid_error = 0.0;  // [px]
};

Agreement compare(const Marked& m, std::int64_t rays) {
    const receiver::Profile spot = m.spot();
    const receiver::RayImage image = m.rays(rays);
    const auto n = static_cast<double>(image.batches.size());
    double light = 0.0;
    double light2 = 0.0;
    double centroid = 0.0;
    double centroid2 = 0.0;
    for (const receiver::Profile& batch : image.batches) {
        const double l = batch.received_power / spot.received_power - 1.0;
        const double c = *receiver::centroid_of(batch) - *receiver::centroid_of(spot);
        light += l / n;
        light2 += l * l / n;
        centroid += c / n;
        centroid2 += c * c / n;
    }
    const auto error = [n](double mean, double square) {
        return std::sqrt(std::max(square - mean * mean, 0.0) / (n - 1.0));
    };
    return {light, error(light, light2), centroid, error(centroid, centroid2)};
}

}  // namespace

TEST_CASE("the image of a border under the spot stands where the closed form puts it", "[receiver]") {
    // The closed form has each lit place imaged by the middle of the lens: the aperture's curvature and the beam's
    // spread move it by less than the 0.02 px that the image promises, twice that with the estimate of the place.
    for (const double border : {-40.0 * um, -20.0 * um, 0.0, 15.0 * um, 50.0 * um}) {
        const Marked m("white-ceramic", border_at(border));
        const double bare = m.surface.reflectance;
        const double covered = m.part.markings->cover->surface->reflectance;
        INFO(border / um);
        CHECK(*receiver::centroid_of(m.spot()) == Approx(centroid_at_border(m, border, bare, covered)).margin(0.04));
    }
}

TEST_CASE("a border that runs along x takes light and moves nothing", "[receiver]") {
    const Marked whole("white-ceramic", {});
    const Marked half("white-ceramic", border_at(0.0, {"target.pattern.turn_deg=90", "detector.height_um=1000"}));
    const Marked tall("white-ceramic", {"detector.height_um=1000"});
    CHECK(*receiver::centroid_of(half.spot()) == Approx(*receiver::centroid_of(tall.spot())).margin(0.02));
    const double bare = half.surface.reflectance;
    const double covered = half.part.markings->cover->surface->reflectance;
    CHECK(half.spot().received_power / tall.spot().received_power ==
          Approx(0.5 * (1.0 + covered / bare)).epsilon(2e-3));
    CHECK(*receiver::centroid_of(whole.spot()) == Approx(*receiver::centroid_of(half.spot())).margin(0.05));
}

TEST_CASE("light on a part of two materials is the light of one where the other is not, both together", "[receiver]") {
    // A border far to either side, and the sum of a pattern and its opposite.
    const double bare = Marked("white-ceramic", {}).spot().received_power;
    const double black = Marked("black-rubber", {}).spot().received_power;
    CHECK(Marked("white-ceramic", border_at(2.0 * mm)).spot().received_power == Approx(bare).epsilon(1e-3));
    CHECK(Marked("white-ceramic", border_at(-2.0 * mm)).spot().received_power == Approx(black).epsilon(1e-3));
    std::vector<std::string> swapped = border_at(0.01 * mm);
    swapped[1] = "target.pattern.material=white-ceramic";
    const double one = Marked("white-ceramic", border_at(0.01 * mm)).spot().received_power;
    const double other = Marked("black-rubber", swapped).spot().received_power;
    CHECK(one + other == Approx(bare + black).epsilon(2e-3));  // each within 1e-3
}

TEST_CASE("spot model and ray model agree on every kind of marking", "[receiver][physics][slow]") {
    // As the random scenes claim: 1 % of light and 0.05 px, beyond four standard errors of the rays (of 24 claims one
    // fails by chance in 600 seeds; the seed is fixed).
    const std::vector<std::string> black{"target.pattern.material=black-rubber"};
    const std::vector<std::vector<std::string>> markings{
        {"target.pattern.kind=border", "target.pattern.turn_deg=30", "target.pattern.softness_um=30"},
        {"target.pattern.kind=bars", "target.pattern.period_mm=0.05", "target.pattern.position_mm=[0.01, 0]"},
        {"target.pattern.kind=dots", "target.pattern.period_mm=0.08", "target.pattern.position_mm=[0.03, 0.01]"},
        {"target.pattern.kind=hatching", "target.pattern.period_mm=0.06", "target.pattern.turn_deg=45"},
        {"target.pattern.kind=weave", "target.pattern.period_mm=0.2", "target.pattern.position_mm=[0.02, 0.01]"},
        {"target.pattern.kind=grain", "target.pattern.period_mm=0.3", "target.pattern.position_mm=[0.05, 0.01]"},
        {"target.pattern.kind=patch", "target.pattern.size_mm=[0.05, 0.2]", "target.pattern.position_mm=[0.02, 0.05]"},
        {"target.texture.deviation=0.2", "target.texture.length_um=40"},
    };
    for (const std::vector<std::string>& marking : markings) {
        for (const std::string shape : {"plane", "cylinder"}) {
            std::vector<std::string> settings = marking;
            settings.push_back("target.shape=" + shape);
            settings.push_back(black.front());
            settings.push_back("target.tilt_deg=[5, -3]");
            const Agreement a = compare(Marked("white-ceramic", settings), 200000);
            INFO(marking.front() << " on a " << shape << ": light " << a.light << " +- " << a.light_error
                                 << ", centroid " << a.centroid << " +- " << a.centroid_error << " px");
            CHECK(std::abs(a.light) < 0.01 + 4.0 * a.light_error);
            CHECK(std::abs(a.centroid) < 0.05 + 4.0 * a.centroid_error);
            CHECK(a.light_error < 0.01);
            CHECK(a.centroid_error < 0.1);
        }
    }
}

TEST_CASE("spot model and ray model agree on feed marks, matt and shiny", "[receiver][physics][slow]") {
    for (const std::string material : {"bead-blasted-aluminium", "turned-steel", "rolled-aluminium"}) {
        for (const double spacing : {40.0, 150.0}) {
            const Agreement a = compare(Marked(material, {"target.feed_marks.spacing_um=" + std::to_string(spacing),
                                                          "target.feed_marks.position_um=13", "target.lay_deg=90"}),
                                        300000);
            INFO(material << " with marks of " << spacing << " um: light " << a.light << " +- " << a.light_error
                          << ", centroid " << a.centroid << " +- " << a.centroid_error << " px");
            CHECK(std::abs(a.light) < 0.01 + 4.0 * a.light_error);
            CHECK(std::abs(a.centroid) < 0.05 + 4.0 * a.centroid_error);
            CHECK(a.light_error < 0.02);
        }
    }
}

TEST_CASE("spot model and ray model agree on a pin that is narrower than the spot", "[receiver][physics]") {
    const Marked pin("black-rubber", {"target.shape=post", "target.post.width_mm=[0.05, 0.05]",
                                      "target.post.height_mm=0.3", "target.pattern.kind=patch",
                                      "target.pattern.material=gold-plated", "target.pattern.size_mm=[0.05, 0.05]"});
    const Agreement a = compare(pin, 400000);
    INFO("light " << a.light << " +- " << a.light_error << ", centroid " << a.centroid << " +- " << a.centroid_error);
    CHECK(std::abs(a.light) < 0.01 + 4.0 * a.light_error);
    CHECK(std::abs(a.centroid) < 0.05 + 4.0 * a.centroid_error);
}

TEST_CASE("spot model and ray model agree on a print on material that lets light in", "[receiver][physics][slow]") {
    // Light enters and leaves where the material is bare. Of the image, 40 pixels on either side of its brightest: the
    // far glow has little light and long levers. The walk of the spot model scatters by 1.5 % of some 60 um of depth
    // from seed to seed (docs/theory/inside.md), 0.07 px here.
    for (const double border : {-30.0 * um, 20.0 * um}) {
        const Marked m("translucent-polymer", border_at(border, {"detector.height_um=500", "target.tilt_deg=[4, 2]"}));
        const receiver::Profile spot = m.spot();
        const auto brightest = std::max_element(spot.rate.begin(), spot.rate.end()) - spot.rate.begin();
        const auto window = [brightest](const receiver::Profile& p) {
            double light = 0.0;
            double moment = 0.0;
            for (std::ptrdiff_t k = brightest - 40; k <= brightest + 40; ++k) {
                const auto rate = static_cast<double>(p.rate[static_cast<std::size_t>(k)]);
                light += rate;
                moment += rate * static_cast<double>(k - brightest);
            }
            return std::array{light, moment / light};
        };
        const receiver::RayImage image = m.rays(60000);
        const auto n = static_cast<double>(image.batches.size());
        const auto expected = window(spot);
        std::array<double, 2> mean{};
        std::array<double, 2> square{};
        for (const receiver::Profile& batch : image.batches) {
            const auto found = window(batch);
            const std::array<double, 2> off{found[0] / expected[0] - 1.0, found[1] - expected[1]};
            for (std::size_t i = 0; i < 2; ++i) {
                mean[i] += off[i] / n;
                square[i] += off[i] * off[i] / n;
            }
        }
        std::array<double, 2> error{};
        for (std::size_t i = 0; i < 2; ++i) error[i] = std::sqrt((square[i] - mean[i] * mean[i]) / (n - 1.0));
        INFO("border at " << border / um << " um: light " << mean[0] << " +- " << error[0] << ", centroid " << mean[1]
                          << " +- " << error[1] << " px");
        CHECK(std::abs(mean[0]) < 0.015 + 4.0 * error[0]);
        CHECK(std::abs(mean[1]) < 0.07 + 4.0 * error[1]);
        CHECK(error[0] < 0.02);
        CHECK(error[1] < 0.2);
    }
}
