#include <catch2/catch.hpp>

#include <cmath>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/flight/air.hpp"

using namespace spotwright;
using base::kPa, base::nm, base::zero_celsius;

namespace {

flight::Air air_at(double celsius, double pressure, double humidity) {
    return {celsius + zero_celsius, pressure, humidity, 450e-6};
}

}  // namespace

TEST_CASE("dry and humid air have the published indices at 633 nm", "[unit]") {
    // Ciddor 1996, table 1, to the tenth of 1e-8 that it prints.
    const auto refractivity = [](double celsius, double pressure, double humidity) {
        return 1e8 * (flight::phase_index(air_at(celsius, pressure, humidity), 633.0 * nm) - 1.0);
    };
    CHECK(refractivity(20.0, 80.0 * kPa, 0.0) == Approx(21458.0).margin(0.05));
    CHECK(refractivity(20.0, 100.0 * kPa, 0.0) == Approx(26824.4).margin(0.05));
    CHECK(refractivity(20.0, 120.0 * kPa, 0.0) == Approx(32191.6).margin(0.05));
    CHECK(refractivity(10.0, 100.0 * kPa, 0.0) == Approx(27774.7).margin(0.05));
    CHECK(refractivity(30.0, 100.0 * kPa, 0.0) == Approx(25937.2).margin(0.05));
    CHECK(refractivity(20.0, 100.0 * kPa, 1.0) == Approx(26739.4).margin(0.05));
}

TEST_CASE("the group index is the phase index less wavelength times slope", "[unit]") {
    for (const double wavelength : {310.0 * nm, 450.0 * nm, 655.0 * nm, 905.0 * nm, 1550.0 * nm}) {
        const flight::Air air = air_at(35.0, 95.0 * kPa, 0.9);
        const double h = 0.05 * nm;
        const double slope =
            (flight::phase_index(air, wavelength + h) - flight::phase_index(air, wavelength - h)) / (2.0 * h);
        const double derived = flight::phase_index(air, wavelength) - wavelength * slope;
        CHECK(flight::group_index(air, wavelength) == Approx(derived).epsilon(0.0).margin(1e-11));
    }
}

TEST_CASE("air slows light less when it is warm, thin, humid or red", "[unit]") {
    const auto index = [](double celsius, double pressure, double humidity, double wavelength) {
        return flight::group_index(air_at(celsius, pressure, humidity), wavelength);
    };
    const double usual = index(20.0, 101.325 * kPa, 0.5, 655.0 * nm);
    CHECK(index(30.0, 101.325 * kPa, 0.5, 655.0 * nm) < usual);
    CHECK(index(20.0, 90.0 * kPa, 0.5, 655.0 * nm) < usual);
    CHECK(index(20.0, 101.325 * kPa, 0.9, 655.0 * nm) < usual);
    CHECK(index(20.0, 101.325 * kPa, 0.5, 905.0 * nm) < usual);
}

TEST_CASE("a thousand parts per million more of carbon dioxide make dry air slow light by 0.0534 % more", "[unit]") {
    const flight::Air usual{293.15, 101325.0, 0.0, 450e-6};
    const flight::Air stale{293.15, 101325.0, 0.0, 1450e-6};
    const double ratio =
        (flight::group_index(stale, 655.0 * nm) - 1.0) / (flight::group_index(usual, 655.0 * nm) - 1.0);
    CHECK(ratio - 1.0 == Approx(0.534e-3).epsilon(1e-6));
}

TEST_CASE("the index has no jump where water freezes", "[unit]") {
    const double above = flight::group_index(air_at(1e-9, 101.325 * kPa, 1.0), 850.0 * nm);
    const double below = flight::group_index(air_at(-1e-9, 101.325 * kPa, 1.0), 850.0 * nm);
    CHECK(std::abs(above - below) < 1e-9);
}

TEST_CASE("air that cannot be is refused", "[unit]") {
    const auto index = [](double celsius, double pressure, double humidity, double wavelength) {
        return flight::group_index(air_at(celsius, pressure, humidity), wavelength);
    };
    CHECK_NOTHROW(index(-40.0, 120.0 * kPa, 1.0, 1690.0 * nm));
    CHECK_THROWS_AS(index(-41.0, 101.0 * kPa, 0.5, 655.0 * nm), base::DomainError);
    CHECK_THROWS_AS(index(121.0, 101.0 * kPa, 0.0, 655.0 * nm), base::DomainError);
    CHECK_THROWS_AS(index(20.0, 49.0 * kPa, 0.5, 655.0 * nm), base::DomainError);
    CHECK_THROWS_AS(index(20.0, 101.0 * kPa, 1.1, 655.0 * nm), base::DomainError);
    CHECK_THROWS_AS(index(120.0, 50.0 * kPa, 1.0, 655.0 * nm), base::DomainError);
    CHECK_THROWS_AS(index(20.0, 101.0 * kPa, 0.5, 200.0 * nm), base::DomainError);
    CHECK_THROWS_AS(index(std::nan(""), 101.0 * kPa, 0.5, 655.0 * nm), base::DomainError);
    CHECK_THROWS_AS(flight::phase_index({293.15, 101325.0, 0.5, 0.5}, 655.0 * nm), base::DomainError);
}
