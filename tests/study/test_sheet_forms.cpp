// Closed forms between a data sheet and a sensor, against published or independently derived values.
#include <catch2/catch.hpp>

#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/study/sheet_forms.hpp"

namespace {

using namespace spotwright;
using namespace spotwright::base;
using scenario::SheetMount;

}  // namespace

TEST_CASE("the receiver's angle follows from the distance of the windows", "[study][unit]") {
    // A right triangle of 3, 4 and 5; an equilateral one.
    CHECK(std::sin(study::receiver_angle_of(SheetMount::diffuse, 30.0 * mm, 40.0 * mm)) == Approx(0.6));
    CHECK(study::receiver_angle_of(SheetMount::specular, 40.0 * mm, 40.0 * mm) == Approx(30.0 * degree));
    CHECK_THROWS_AS(study::receiver_angle_of(SheetMount::specular, 80.0 * mm, 40.0 * mm), DomainError);
}

TEST_CASE("M^2 is 1 for a beam that is sqrt(2) wider at the Rayleigh length", "[study][unit]") {
    // z_R = pi w0^2 / lambda of ISO 11146-1: 0.5 mm at 632.8 nm, 1.2411 m.
    const double z = pi * std::pow(0.5 * mm, 2) / (632.8 * nm);
    CHECK(z == Approx(1.2411).epsilon(1e-4));
    CHECK(study::beam_quality_of(0.5 * mm, std::sqrt(2.0) * 0.5 * mm, {-z, z}, 632.8 * nm) == Approx(1.0));
    CHECK(study::beam_quality_of(0.5 * mm, 0.4 * mm, {-z, z}, 632.8 * nm) == 0.0);
}

TEST_CASE("the mean range of normal values is d2 of control charts", "[study][unit]") {
    // Constants of ISO 7870-2, three decimals.
    CHECK(study::mean_range(2) == Approx(1.128).margin(6e-4));
    CHECK(study::mean_range(5) == Approx(2.326).margin(6e-4));
    CHECK(study::mean_range(10) == Approx(3.078).margin(6e-4));
    CHECK(study::mean_range(25) == Approx(3.931).margin(6e-4));
    // Tippett (1925) for 1000: 6.48287, from memory.
    CHECK(study::mean_range(1000) == Approx(6.48287).margin(1e-4));
    CHECK_THROWS_AS(study::mean_range(1), DomainError);
}

TEST_CASE("electrons of a centroid's shot noise", "[study][unit]") {
    // Under 45 deg a spot of 100 um radius (standard deviation 50 um) and 10 000 electrons: 50 um / 100.
    CHECK(study::electrons_for(100.0 * um, 45.0 * degree, 0.5 * um) == Approx(10000.0));
    // Half the angle's tangent doubles the scatter of the same light.
    CHECK(study::electrons_for(100.0 * um, std::atan(0.5), 1.0 * um) == Approx(10000.0));
}

TEST_CASE("the full well holds the image's electrons", "[study][unit]") {
    // Pixels of a Gaussian image, added up one by one.
    const double width = 3.0;
    const double peak = 0.6 * study::full_well_for(1e6, width, 0.6);
    double sum = 0.0;
    for (int k = -40; k <= 40; ++k) sum += peak * std::exp(-0.5 * k * k / (width * width));
    CHECK(sum == Approx(1e6));
}

TEST_CASE("photoelectrons of a matt part", "[study][unit]") {
    // 1 mW at 660 nm: 3.3225e15 photons per second (h c / lambda = 3.0098e-19 J). A lens of 10 mm at 100 mm takes
    // sin^2(atan(0.05)) = 1 / 401.
    const study::ReceivedLight light{1.0 * mW, 660.0 * nm, 10.0 * mm, 100.0 * mm, 0.0, 1.0, 1.0};
    CHECK(study::photoelectron_rate(light) == Approx(3.3225e15 / 401.0).epsilon(1e-4));
}

TEST_CASE("a figure of repeatability and the scatter behind it", "[study][unit]") {
    scenario::SheetRepeatability r;
    r.average = 64;
    CHECK(study::single_scatter_of(r, 1.0 * um) == Approx(8.0 * um));
    r.meaning = scenario::Meaning::two_standard_deviations;
    CHECK(study::single_scatter_of(r, 1.0 * um) == Approx(4.0 * um));
    r.meaning = scenario::Meaning::peak_to_peak;
    r.readings = 1000;
    CHECK(study::single_scatter_of(r, 6.48287 * um) == Approx(8.0 * um).epsilon(1e-4));
    CHECK(study::figure_of(r, study::single_scatter_of(r, 3.0 * um)) == Approx(3.0 * um));
}

TEST_CASE("full width at 1/e^2 over full width at half maximum", "[study][unit]") {
    // exp(-2 (d / 2)^2) at half: 1.699, as in texts on laser beams.
    CHECK(scenario::widths_ratio() == Approx(1.699).margin(5e-4));
}
