// A lens with aberrations and errors of focus, a cover glass, a ghost and dirt.
#include <catch2/catch.hpp>

#include <cmath>
#include <complex>
#include <numeric>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/receiver/image.hpp"
#include "sim/receiver/mirrored_beam.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/receiver/speckle_plan.hpp"
#include "sim/receiver/stray_light.hpp"
#include "sim/scenario/reader.hpp"
#include "tests/support/stations.hpp"

using namespace spotwright;
using base::degree, base::mm, base::um;
using receiver::Receiver, receiver::Wavefront;

namespace {

scenario::Scenario part(const std::string& material, const std::vector<std::string>& settings) {
    return scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "t", settings);
}

Receiver receiver_of(const scenario::Scenario& s) {
    return receiver::make_receiver(s.receiver, s.detector, s.emitter.angle, s.emitter.wavelength);
}

struct Bench {
    explicit Bench(const scenario::Scenario& s)
        : beam(support::beam_of(s)),
          target(support::part_of(s, s.target.displacement)),
          surface(target::make_opaque_surface(s.target.made_of, s.emitter.wavelength)),
          lens(receiver_of(s)),
          edge_spread(lens.aperture.shape) {
        surface.lay = target::lay_direction(s.target, s.mount);
    }
    [[nodiscard]] receiver::Profile spot() const {
        return receiver::image(beam, target, surface, lens, edge_spread, 0.35);
    }

    emitter::Beam beam;
    target::Part target;
    target::Surface surface;
    Receiver lens;
    receiver::EdgeSpread edge_spread;
};

double centroid(const Bench& bench) {
    return receiver::centroid_of(bench.spot()).value();
}

double sum_of(const std::vector<double>& values) {
    return std::accumulate(values.begin(), values.end(), 0.0);
}

}  // namespace

TEST_CASE("the slope of the wavefront is the derivative of its lead", "[lens][unit]") {
    const Wavefront w{1.3e-6, -0.7e-6, 0.4e-6, 2.0 * mm};
    constexpr double step = 1e-7;
    for (const auto& [x, y] :
         std::vector<std::pair<double, double>>{{0.0, 0.0}, {1.1, 0.3}, {-1.9, 0.2}, {0.4, -1.6}}) {
        const double in = x * mm;
        const double out = y * mm;
        const Eigen::Vector2d slope = receiver::slope_at(w, in, out);
        const double along =
            (receiver::lead_at(w, in + step, out) - receiver::lead_at(w, in - step, out)) / (2.0 * step);
        const double across =
            (receiver::lead_at(w, in, out + step) - receiver::lead_at(w, in, out - step)) / (2.0 * step);
        CHECK(slope.x() == Approx(along).epsilon(1e-6).margin(1e-10));
        CHECK(slope.y() == Approx(across).epsilon(1e-6).margin(1e-10));
    }
}

// A full pupil of a matt part: the mean slope is C (3 <x^2> + <y^2>) over the rim, <x^2> = 1/4. Derived.
TEST_CASE("coma moves the spot of a matt part by its mean slope, spherical aberration does not", "[lens][physics]") {
    const std::vector<std::string> flat{"receiver.detector_tilt_deg=0", "detector.height_um=2000"};
    const auto with = [&](const char* setting) {
        std::vector<std::string> settings = flat;
        if (*setting != 0) settings.emplace_back(setting);
        return Bench(part("white-ceramic", settings));
    };
    const Bench ideal = with("");
    const double per_wave = ideal.lens.image_distance * ideal.beam.wavelength / ideal.lens.wavefront.rim;
    const double moved = (centroid(with("receiver.coma_waves=3")) - centroid(ideal)) * ideal.lens.pitch;
    // The pupil is lit a little unevenly: it is seen at 30 deg, and 5 deg wide.
    CHECK(moved == Approx(3.0 * per_wave).epsilon(0.03));
    const double by_spherical = (centroid(with("receiver.spherical_waves=3")) - centroid(ideal)) * ideal.lens.pitch;
    CHECK(std::abs(by_spherical) < 0.03 * 3.0 * per_wave);
}

// A weight 1 + g x over the pupil: g (2 S / 3 + A / 2), and g Z lambda / 2 of a defocus of Z waves at the rim, derived.
TEST_CASE("a pupil that is lit on one side moves the centroid by spherical aberration, astigmatism and defocus",
          "[lens][physics]") {
    constexpr double weight = 0.6;
    constexpr int steps = 200;
    const auto moved_by = [&](const std::string& setting) {
        const Receiver r = receiver_of(part("white-ceramic", {"receiver.detector_tilt_deg=0", setting}));
        double light = 0.0;
        double moment = 0.0;
        for (int i = 0; i < steps; ++i) {
            for (int k = 0; k < steps; ++k) {
                const double x = (2.0 * i + 1.0) / steps - 1.0;
                const double y = (2.0 * k + 1.0) / steps - 1.0;
                if (x * x + y * y > 1.0) continue;
                const double half = r.aperture.half_in_plane;
                light += 1.0 + weight * x;
                moment += (1.0 + weight * x) *
                          receiver::trace(r, {r.object_distance, 0.0, 0.0}, x * half, y * half).value().u;
            }
        }
        return moment / light;
    };
    const double unit = 30.0 * mm / (2.0 * mm) * 655e-9 * weight;  // b / h, waves
    CHECK(moved_by("receiver.spherical_waves=2") == Approx(2.0 * 2.0 / 3.0 * unit).epsilon(0.005));
    CHECK(moved_by("receiver.astigmatism_waves=2") == Approx(2.0 / 2.0 * unit).epsilon(0.005));
    // A shift of the array by d away from the lens: Z waves at the rim, Z lambda = d h^2 / (2 b^2).
    const double defocus = 100.0 * um * 2.0 * mm * 2.0 * mm / (2.0 * 30.0 * mm * 30.0 * mm);
    CHECK(moved_by("receiver.focus_error_um=100") ==
          Approx(defocus / 2.0 * weight * 30.0 * mm / (2.0 * mm)).epsilon(0.01));
}

// A mirrored beam passes one small place of the pupil: its image moves by b W'(x) of that place. Derived.
TEST_CASE("light through one place of the pupil lands by the slope of the wavefront there", "[lens][physics]") {
    for (const char* error : {"receiver.spherical_waves=2", "receiver.coma_waves=2", "receiver.astigmatism_waves=2"}) {
        INFO(error);
        const std::vector<std::string> mount{"emitter.angle_deg=-30", "mount.range_mm=[-1, 1]",
                                             "receiver.detector_tilt_deg=0"};
        std::vector<std::string> settings = mount;
        settings.emplace_back(error);
        const Receiver ideal = receiver_of(part("mirror", mount));
        const Receiver real = receiver_of(part("mirror", settings));
        for (const double displacement : {-0.8, -0.3, 0.5, 0.9}) {
            const double place = receiver::mirrored_offset(ideal, displacement * mm);
            const double x = place / ideal.wavefront.rim;
            const double lead = 2.0 * 655e-9;
            const double slope = (std::string(error).find("spherical") != std::string::npos ? 4.0 * x * x * x
                                  : std::string(error).find("coma") != std::string::npos    ? 3.0 * x * x
                                                                                            : 2.0 * x) *
                                 lead / ideal.wavefront.rim;
            const double moved = receiver::mirrored_position(real, displacement * mm).value() -
                                 receiver::mirrored_position(ideal, displacement * mm).value();
            CHECK(moved == Approx(ideal.image_distance * slope).epsilon(1e-9));
        }
    }
}

TEST_CASE("both models of light agree through a lens with aberrations, out of focus, behind glass",
          "[lens][ray][statistical][slow]") {
    const std::vector<std::pair<std::string, std::vector<std::string>>> cases{
        {"white-ceramic", {"receiver.spherical_waves=4", "receiver.coma_waves=3"}},
        {"blasted-steel", {"target.tilt_deg=[-8, 0]", "receiver.coma_waves=4", "receiver.astigmatism_waves=-3"}},
        {"polished-steel", {"target.tilt_deg=[14, 0]", "receiver.spherical_waves=3", "receiver.focus_error_um=200"}},
        {"mirror",
         {"emitter.angle_deg=-30", "mount.range_mm=[-1, 1]", "target.displacement_mm=0.3", "receiver.spherical_waves=3",
          "receiver.focus_error_um=-200"}},
    };
    for (const auto& [material, settings] : cases) {
        for (const double glass : {0.0, 2.0}) {
            INFO(material << ' ' << settings.front() << ", glass " << glass << " mm");
            Bench bench(part(material, settings));
            bench.lens.glass = {glass * mm, 1.515};
            const receiver::Profile spot = bench.spot();
            const receiver::RayImage rays = receiver::trace_rays(bench.beam, bench.target, bench.surface, bench.lens,
                                                                 bench.edge_spread, 0.35, {400000, 1, 2});
            std::vector<double> places;
            for (const receiver::Profile& batch : rays.batches) {
                places.push_back(receiver::centroid_of(batch).value());
            }
            const auto count = static_cast<double>(places.size());
            const double mean = sum_of(places) / count;
            double squares = 0.0;
            for (const double place : places) squares += (place - mean) * (place - mean);
            const double error = std::sqrt(squares / (count * (count - 1.0)));
            // As for an ideal lens: five standard errors, and what the quadrature leaves.
            CHECK(std::abs(mean - receiver::centroid_of(spot).value()) < 5.0 * error + 0.005);
        }
    }
}

TEST_CASE("coherent light is in focus where rays with spherical aberration are", "[lens][speckle][physics]") {
    const auto strehl_at = [](double focus_um) {
        const Bench bench(part("white-ceramic", {"receiver.spherical_waves=0.5", "receiver.detector_tilt_deg=0",
                                                 "receiver.focus_error_um=" + std::to_string(focus_um)}));
        const auto view = receiver::make_speckle_view(bench.beam, bench.target, bench.lens, {});
        return receiver::strehl_ratio(receiver::plan_speckle(*view));
    };
    // Half of the marginal shift 16 N^2 W040 before the paraxial focus, N = b / D = 30 / 4.
    const double best = -8.0 * 7.5 * 7.5 * 0.5 * 0.655;
    const double paraxial = strehl_at(0.0);
    CHECK(strehl_at(best) > 1.3 * paraxial);
    CHECK(strehl_at(-best) < 0.8 * paraxial);
    // sigma = W040 / (6 sqrt(5)) there: M. Born, E. Wolf, Principles of Optics, ch. 9. Focus is by the pupil's rim, and
    // depends on the place along the spot's image.
    const double phase = 2.0 * base::pi * 0.5 / (6.0 * std::sqrt(5.0));
    CHECK(strehl_at(best) == Approx(std::exp(-phase * phase)).margin(0.03));
}

TEST_CASE("a ghost is the image once more, moved and out of focus", "[lens][stray][unit]") {
    Receiver r = receiver_of(part("white-ceramic", {}));
    r.height = 10.0 * mm;  // all of a disc
    r.stray.ghost_share = 0.01;
    r.stray.ghost_shift = 100.5 * r.pitch;
    std::vector<double> power(static_cast<std::size_t>(r.pixels), 0.0);
    power[300] = 2.0;
    SECTION("in focus it falls on the two pixels beside its place") {
        receiver::add_stray_light(r, 2.0, 300.0, power);
        CHECK(power[300] == 2.0);
        CHECK(power[400] == Approx(0.01));
        CHECK(power[401] == Approx(0.01));
    }
    SECTION("out of focus it has the chords of a disc, and all its light") {
        r.stray.ghost_blur = 8.0 * r.pitch;
        receiver::add_stray_light(r, 2.0, 300.0, power);
        CHECK(sum_of(power) == Approx(2.0 + 0.02));
        // Middle pixels of a disc of radius 8 px: about 2 / (pi 8) of its light.
        CHECK(power[400] == Approx(0.02 * 2.0 / (base::pi * 8.0)).epsilon(0.01));
        CHECK(power[390] == 0.0);
    }
    SECTION("pixels that are low see the strip of it that falls on them") {
        r.stray.ghost_blur = 8.0 * r.pitch;
        r.height = 0.02 * r.pitch;
        receiver::add_stray_light(r, 2.0, 300.0, power);
        // A strip of height h through the middle: h 2 R / (pi R^2).
        CHECK(sum_of(power) - 2.0 == Approx(0.02 * 0.02 * 2.0 / (base::pi * 8.0)).epsilon(1e-3));
    }
}

TEST_CASE("dirt takes its share of the light, and some of it comes back as a wide veil", "[lens][stray][unit]") {
    Receiver r = receiver_of(part("white-ceramic", {"detector.pixels=4096"}));
    r.height = 40.0 * mm;
    r.stray.lost = 0.2;
    r.stray.veil = 0.1;
    r.stray.veil_angle = 2.0 * degree;
    std::vector<double> power(static_cast<std::size_t>(r.pixels), 0.0);
    power[2048] = 1.0;
    receiver::add_stray_light(r, 1.5, 2048.0, power);
    CHECK(power[2048] == Approx(0.8).margin(1e-3));
    // What missed the pixels is scattered onto them too.
    CHECK(sum_of(power) == Approx(0.8 + 0.1 * 1.5).epsilon(1e-3));
    const double sigma = r.image_distance * std::tan(2.0 * degree) / r.sin_beta / r.pitch;
    const auto one_off = static_cast<std::size_t>(2048.0 + sigma);
    CHECK(power[one_off] / power[2050] == Approx(std::exp(-0.5)).epsilon(0.01));
}
