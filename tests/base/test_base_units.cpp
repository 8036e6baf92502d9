// Units and constants, by one physical example each.

#include <cmath>

#include <catch2/catch.hpp>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"

using namespace spotwright::base;

namespace {

// rounding: one product, compared with a decimal that is itself rounded.
constexpr double rounding = 2.0 * 2.3e-16;

struct Example {
    const char* key;
    double written;
    double si;
    const char* symbol;
};

}  // namespace

TEST_CASE("a written value is converted by the unit at the end of its name", "[base][unit]") {
    const Example each = GENERATE(values<Example>({
        {"reference_distance_mm", 50.0, 0.05, "mm"},         // a hand's width
        {"pitch_um", 7.0, 7e-6, "um"},                       // a pixel
        {"wavelength_nm", 655.0, 655e-9, "nm"},              // red light
        {"power_mW", 0.3, 0.0003, "mW"},                     // a class 1 beam
        {"exposure_us", 2.5, 2.5e-6, "us"},                  // an exposure
        {"response_ms", 5.0, 0.005, "ms"},                   // a machine's reaction
        {"sampling_kHz", 7.5, 7500.0, "kHz"},                // a sampling rate
        {"angle_deg", 180.0, 3.14159265358979324, "deg"},    // half a turn
        {"temperature_C", 100.0, 373.15, "C"},               // boiling water
        {"illuminance_lx", 500.0, 500.0, "lx"},              // a lit desk
        {"full_well_e", 200000.0, 200000.0, "e"},            // electrons
        {"dark_current_e_per_s", 2000.0, 2000.0, "e/s"},     // electrons per second
        {"reduced_scattering_per_mm", 2.5, 2500.0, "1/mm"},  // white plastic
        {"transmission", 0.6, 0.6, ""},                      // a share
        {"response_nonuniformity", 0.005, 0.005, ""},        // a share; not electrons
    }));
    INFO(each.key);
    const Unit unit = unit_of(each.key);
    CHECK(std::string_view(unit.symbol) == each.symbol);
    CHECK(std::abs(to_si(unit, each.written) - each.si) <= rounding * each.si);
    CHECK(std::abs(from_si(unit, each.si) - each.written) <= 2.0 * rounding * each.written);
}

TEST_CASE("negative temperatures and lengths keep their sign", "[base][unit]") {
    CHECK(std::abs(to_si(unit_of("temperature_C"), -40.0) - 233.15) < 1e-13);
    CHECK(to_si(unit_of("displacement_mm"), -5.0) == -0.005);
}

TEST_CASE("a longer suffix is not taken for the shorter one it ends in", "[base][unit]") {
    for (std::size_t i = 0; i < units.size(); ++i) {
        for (std::size_t j = 0; j < i; ++j) {
            INFO(units[j].suffix << " stands before " << units[i].suffix);
            CHECK_FALSE(units[i].suffix.ends_with(units[j].suffix));
        }
    }
}

TEST_CASE("literals in code are the same units", "[base][unit]") {
    CHECK(50.0 * mm == to_si(unit_of("a_mm"), 50.0));
    CHECK(7.0 * um == to_si(unit_of("a_um"), 7.0));
    CHECK(655.0 * nm == to_si(unit_of("a_nm"), 655.0));
    CHECK(0.3 * mW == to_si(unit_of("a_mW"), 0.3));
    CHECK(2.5 * us == to_si(unit_of("a_us"), 2.5));
    CHECK(5.0 * ms == to_si(unit_of("a_ms"), 5.0));
    CHECK(30.0 * degree == to_si(unit_of("a_deg"), 30.0));
    CHECK(1000.0 * uW == 1.0 * mW);
    CHECK(20.0 + zero_celsius == to_si(unit_of("a_C"), 20.0));
}

TEST_CASE("a photon of 655 nm carries 3.0328e-19 J, 1.8929 eV", "[base][published]") {
    // h c = 1.986445857e-25 J m and e = 1.602176634e-19 C: CODATA 2018 (exact). Tolerance: half of the last digit.
    CHECK(std::abs(photon_energy(655e-9) - 1.986445857e-25 / 655e-9) < 0.5e-34 / 655e-9);
    CHECK(std::abs(photon_energy(655e-9) / 1.602176634e-19 - 1.8929) < 0.5e-4);
    CHECK(speed_of_light == 299792458.0);
    CHECK(boltzmann_constant == 1.380649e-23);
}
