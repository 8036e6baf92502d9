// Speckle in readings: frozen on a still part, drawn anew on a moved one, and what lowers it.
#include <catch2/catch.hpp>

#include <fmt/format.h>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/measure/read.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using namespace spotwright::base;

namespace {

measure::ReadResult read(std::vector<std::string> settings, int threads = 2) {
    // Pixels taller than the spot and a low threshold, as the closed forms want them.
    settings.insert(settings.begin(), {"run.readings=400", "detector.height_um=200", "reading.threshold=0.002"});
    const scenario::Scenario s =
        scenario::parse("schema = 1\n[target]\nmaterial = \"white-ceramic\"\n", "test.toml", settings);
    return measure::read(sensor::set_up_triangulation(s, threads), {threads, {}, {}});
}

double scatter(std::vector<std::string> settings) {
    settings.emplace_back("run.readings=16");
    settings.emplace_back("run.patches=400");
    return read(std::move(settings)).speckle.value().standard_deviation.value();
}

// Relative error of a ratio of two deviations of 400 patches: 1 / sqrt(400). Patches of both are alike, so that it is
// less where the patterns are.
constexpr double error_of_ratio = 0.05;

}  // namespace

TEST_CASE("averaging a still part lowers its noise and leaves its speckle", "[speckle][physics]") {
    const measure::ReadResult single = read({"run.patches=2"});
    const measure::ReadResult averaged = read({"run.patches=2", "reading.average=64"});
    REQUIRE((single.speckle && averaged.speckle));
    CHECK(*averaged.speckle->offset == *single.speckle->offset);
    CHECK(std::abs(*single.speckle->offset) > 10.0 * *single.statistics.standard_deviation);
    // Means of 400 readings know the offset to a twentieth of a reading's noise; the averaged outputs lean on the same.
    const double noise = *single.statistics.standard_deviation / 20.0;
    CHECK(*averaged.bias == Approx(*single.bias).margin(6.0 * noise));
    // The same light without noise; noise moves the edge of the centroid's window by far less than itself.
    CHECK(*single.bias == Approx(*single.speckle->offset).margin(0.1 * um));
    CHECK(*averaged.statistics.standard_deviation < 0.3 * *single.statistics.standard_deviation);
}

TEST_CASE("averaging over fresh patches lowers speckle by the root of their number", "[speckle][physics]") {
    const auto replaced = [](const std::string& average) {
        return *read({"run.patches=400", "run.readings=4000", "reading.average=" + average})
                    .speckle->replaced_deviation;
    };
    const double single = replaced("1");
    // 4000 outputs of overlapping windows of 16 hold 250 independent ones: 1 / sqrt(500) of error.
    CHECK(replaced("16") == Approx(single / 4.0).epsilon(4.0 / std::sqrt(500.0)));
    CHECK(replaced("4") == Approx(single / 2.0).epsilon(4.0 / std::sqrt(2000.0)));
}

TEST_CASE("the same patch gives the same offset, another patch another", "[speckle][unit]") {
    const auto offset = [](const std::string& patch) {
        return *read({"run.patches=2", "run.readings=2", "target.patch_mm=" + patch}).speckle->offset;
    };
    CHECK(offset("[0.5, 0]") == offset("[0.5, 0]"));
    CHECK(std::abs(offset("[0.5, 0]") - offset("[5, 0]")) > 0.1 * um);
    // A thousandth of the spot's radius on, the offset has moved by no more than about a thousandth of its scatter.
    CHECK(offset("[0.50004, 0]") == Approx(offset("[0.5, 0]")).margin(0.02 * um));
}

TEST_CASE("the scatter from patch to patch is the closed form's, foreshortened", "[speckle][physics][slow]") {
    const measure::ReadResult r = read({"run.readings=16", "run.patches=600"});
    // A round beam looks narrower to the receiver by cos(30 deg): sqrt of it enters (X3.47). A spot of this size
    // against a speckle takes off another 2 % (X3.46's factor at 17 um), the threshold adds as much.
    CHECK(*r.speckle->standard_deviation ==
          Approx(r.speckle->limit * std::sqrt(std::cos(30.0 * degree))).epsilon(4.0 / std::sqrt(1200.0)));
    CHECK(r.speckle->pattern_contrast == Approx(std::sqrt(0.5)).epsilon(0.05));
}

TEST_CASE("each remedy lowers speckle as theory says", "[speckle][physics][slow]") {
    const double plain = scatter({});
    const double four_errors = 4.0 * error_of_ratio;
    SECTION("a wider aperture, in proportion") {
        CHECK(scatter({"receiver.aperture_mm=8"}) == Approx(plain / 2.0).epsilon(four_errors));
    }
    SECTION("a larger angle, as 1 / sin(theta), foreshortening included") {
        const double expected = plain * std::sin(30.0 * degree) / std::sin(45.0 * degree) *
                                std::sqrt(std::cos(45.0 * degree) / std::cos(30.0 * degree));
        CHECK(scatter({"receiver.angle_deg=45", "mount.range_mm=[-3, 3]"}) == Approx(expected).epsilon(four_errors));
    }
    SECTION("a line-shaped spot under tall pixels, as the root of its sides") {
        CHECK(scatter({"emitter.waist_radius_um=[40, 160]", "detector.height_um=600"}) ==
              Approx(plain / 2.0).epsilon(four_errors));
    }
    SECTION("a wide line on a part whose light comes from many depths") {
        // Contrast of the line's wavelengths, and nothing else, changes.
        const double narrow = scatter({"target.material=bead-blasted-aluminium", "emitter.linewidth_nm=0.1"});
        const double path = 4.0 * um;  // of the material
        const double contrast =
            receiver::spectral_contrast(receiver::wavenumber_deviation(655.0 * nm, 40.0 * nm), path);
        const double wide = scatter({"target.material=bead-blasted-aluminium", "emitter.linewidth_nm=40"});
        CHECK(contrast < 0.8);
        // The slant of the spot takes off a little more: its ends are 20 um nearer and farther, 10 um rms.
        CHECK(wide < narrow * contrast * (1.0 + four_errors));
        CHECK(wide > 0.5 * narrow * contrast);
    }
}

TEST_CASE("short pixels see more speckle than tall ones", "[speckle][physics]") {
    CHECK(scatter({"detector.height_um=7"}) > 1.3 * scatter({}));
}

TEST_CASE("the fast model scatters as the coherent one does", "[speckle][physics][slow]") {
    const std::vector<std::string> part =
        GENERATE(std::vector<std::string>{}, std::vector<std::string>{"target.displacement_mm=3"},
                 std::vector<std::string>{"target.material=bead-blasted-aluminium"});
    std::vector<std::string> fast = part;
    fast.emplace_back("run.speckle=statistical");
    CHECK(scatter(fast) == Approx(scatter(part)).epsilon(4.0 * error_of_ratio));
}

TEST_CASE("on real pixels both models scatter alike, as far as so many patches can tell", "[speckle][physics][slow]") {
    // The sensor as it comes: pixels less tall than the spot, a threshold that cuts off its foot. A deviation of n
    // normal values has a standard error of 1 / sqrt(2 (n - 1)) of itself, a ratio of two root of two of that: 1.6 %
    // here, 6.2 % with the 256 patches of a scenario. Four standard errors.
    constexpr double patches = 4000.0;
    const double tolerance = 4.0 / std::sqrt(patches - 1.0);
    const auto deviation = [&](const char* material, const char* model) {
        const std::vector<std::string> settings{"run.readings=16",
                                                fmt::format("run.patches={}", patches),
                                                fmt::format("run.speckle={}", model),
                                                "exposure.mode=automatic",
                                                "exposure.exposure_us=0.1",
                                                "exposure.period_us=[133, 1000]",
                                                "target.lay_deg=90",
                                                fmt::format("target.material={}", material)};
        const scenario::Scenario s =
            scenario::parse("schema = 1\n[target]\nmaterial = \"white-ceramic\"\n", "test.toml", settings);
        const measure::ReadResult r = measure::read(sensor::set_up_triangulation(s, 2), {2, {}, {}});
        REQUIRE(r.speckle->patches_read > 3990);
        return *r.speckle->standard_deviation;
    };
    for (const char* material : {"white-ceramic", "bead-blasted-aluminium", "ground-steel"}) {
        const double ratio = deviation(material, "statistical") / deviation(material, "coherent");
        INFO(material << ": " << ratio);
        CHECK(ratio == Approx(1.0).epsilon(tolerance));
    }
}

TEST_CASE("the fast model draws a pattern of its own for each reading, and noise on top", "[speckle][physics]") {
    const measure::ReadResult r = read({"run.speckle=statistical", "run.patches=400", "run.readings=4000"});
    const double noise = *r.statistics.standard_deviation;
    const double both = std::hypot(*r.speckle->standard_deviation, noise);
    // 400 patches and 4000 readings: the patches' error decides.
    CHECK(*r.speckle->replaced_deviation == Approx(both).epsilon(4.0 / std::sqrt(800.0)));
    CHECK(r.speckle->replaced_valid_share == 1.0);
    const measure::ReadResult averaged =
        read({"run.speckle=statistical", "run.patches=2", "run.readings=20000", "reading.average=64"});
    // 20000 readings hold 312 windows of 64; patterns never repeat, so that all of the root of 64 is gained.
    CHECK(*averaged.speckle->replaced_deviation ==
          Approx(*r.speckle->replaced_deviation / 8.0).epsilon(4.0 / std::sqrt(624.0)));
}

TEST_CASE("speckle is told apart: off, or where only a mirror sends light, there is none", "[speckle][unit][slow]") {
    CHECK_FALSE(read({"run.speckle=off"}).speckle);
    const measure::ReadResult mirror =
        read({"target.material=clear-glass", "emitter.angle_deg=-20", "receiver.angle_deg=20", "mount.range_mm=[-1, 1]",
              "reading.calibrated_on=mirror", "exposure.mode=automatic", "exposure.period_us=[125, 2000]"});
    CHECK((!mirror.speckle || *mirror.speckle->standard_deviation < 0.2 * um));
}

TEST_CASE("where speckle decides, the verdict says what lowers it and that averaging does not", "[speckle][unit]") {
    const measure::ReadResult r = read({"run.patches=64", "requirement.tolerance_um=6"});
    CHECK(r.verdict.level == measure::Level::marginal);
    CHECK(r.verdict.contributions.front().cause == measure::Cause::speckle);
    CHECK(in_words(r.verdict.reasons.back()).find("averaging a still part leaves it") != std::string::npos);
}

TEST_CASE("a footprint too wide for waves is told by the fast model, and the result says so", "[speckle][unit][slow]") {
    const measure::ReadResult r =
        read({"run.readings=16", "run.patches=16", "emitter.waist_radius_um=[600, 600]", "mount.range_mm=[-1, 1]"});
    REQUIRE(r.speckle);
    CHECK(r.speckle->model == scenario::SpeckleModel::statistical);
    CHECK(r.speckle->why_statistical.find("too large a grid") != std::string::npos);
}

TEST_CASE("speckle is the same to the last bit whatever the thread count", "[speckle][unit]") {
    const measure::ReadResult one = read({"run.patches=40"}, 1);
    const measure::ReadResult two = read({"run.patches=40"}, 3);
    CHECK(one.statistics.mean == two.statistics.mean);
    CHECK(one.speckle->standard_deviation == two.speckle->standard_deviation);
    CHECK(one.speckle->replaced_deviation == two.speckle->replaced_deviation);
    CHECK(one.speckle->contrast == two.speckle->contrast);
}
