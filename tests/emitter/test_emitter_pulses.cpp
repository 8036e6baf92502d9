// Limits of emission for repetitive pulses. Expected values are worked by hand from the limits as the header of
// eye_safety gives them: C4(905 nm) = 10^0.41 = 2.570396.
#include <catch2/catch.hpp>

#include <cmath>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/eye_safety.hpp"

using namespace spotwright;
using base::nm, base::ns, base::us, base::kHz;
using Catch::Matchers::WithinRel;

namespace {

constexpr double infrared = 905.0 * nm;
constexpr double red = 655.0 * nm;
constexpr double last_digit = 1e-6;  // relative: of values worked to seven digits

}  // namespace

TEST_CASE("a lone short pulse in the infrared may hold 197.9 nJ in class 1", "[unit]") {
    const emitter::PulseLimits limits = emitter::pulse_limits(infrared, {10.0 * ns, 1.0});
    CHECK_THAT(limits.class_1 / 1e-9, WithinRel(197.9205, last_digit));
    CHECK(limits.class_2 == 0.0);
}

TEST_CASE("at 1 kHz C5 = 5 / 10000^0.25 governs and at 10 kHz its floor of 0.4", "[unit]") {
    CHECK_THAT(emitter::pulse_limits(infrared, {10.0 * ns, 1.0 * kHz}).class_1 / 1e-9, WithinRel(98.96024, last_digit));
    CHECK_THAT(emitter::pulse_limits(infrared, {10.0 * ns, 10.0 * kHz}).class_1 / 1e-9,
               WithinRel(79.16819, last_digit));
}

TEST_CASE("at 100 kHz the mean power governs: 0.39 mW C4 shared among the pulses", "[unit]") {
    CHECK_THAT(emitter::pulse_limits(infrared, {10.0 * ns, 100.0 * kHz}).class_1 / 1e-9,
               WithinRel(10.02454, last_digit));
}

TEST_CASE("a long red pulse is held by its duration when alone and by mean power when repeated", "[unit]") {
    CHECK_THAT(emitter::pulse_limits(red, {50.0 * us, 1.0}).class_1 / 1e-6, WithinRel(0.4162225, last_digit));
    const emitter::PulseLimits repeated = emitter::pulse_limits(red, {50.0 * us, 7.5 * kHz});
    CHECK_THAT(repeated.class_2 / (50.0 * us), WithinRel(2.666667e-3, last_digit));
    CHECK_THAT(repeated.class_1 / (50.0 * us), WithinRel(1.04e-3, last_digit));
}

TEST_CASE("C5 is 1 to 600 pulses, never above 1, and 0.4 from 24414 on", "[unit]") {
    CHECK(emitter::correction_c5(600.0) == 1.0);
    CHECK(emitter::correction_c5(601.0) == 1.0);  // 5 x 601^-0.25 = 1.0098
    CHECK_THAT(emitter::correction_c5(10000.0), WithinRel(0.5, 1e-14));
    CHECK(emitter::correction_c5(24414.0) > 0.4);  // 12.5^4 = 24414.06
    CHECK(emitter::correction_c5(24415.0) == 0.4);
}

TEST_CASE("pulses that crowd within 5 us are held by mean power, stricter than the limit they share", "[unit]") {
    // Shared by 11 pulses of 2 MHz: 0.4 x 7.7e-8 / 11 = 2.8 nJ. By mean power: 0.39 mW / 2 MHz = 0.195 nJ.
    const emitter::PulseLimits crowded = emitter::pulse_limits(red, {1.0 * ns, 2e6});
    CHECK_THAT(crowded.class_1 / 1e-9, WithinRel(0.195, last_digit));
    // Class 3R: 0.4 x 3.8e-7 / 11 = 13.8 nJ against 5 mW / 2 MHz = 2.5 nJ.
    CHECK_THAT(crowded.class_3r / 1e-9, WithinRel(2.5, last_digit));
}

TEST_CASE("no limit rises with the rate of pulses, and none with their shortness", "[unit]") {
    for (const double wavelength : {red, 850.0 * nm, infrared}) {
        emitter::PulseLimits last{1.0, 1.0, 1.0, 1.0};
        for (double rate = 1.0; rate < 1e8; rate *= 1.37) {
            const emitter::PulseLimits now = emitter::pulse_limits(wavelength, {1.0 * ns, rate});
            CHECK((now.class_1 <= last.class_1 && now.class_2 <= last.class_2 && now.class_3r <= last.class_3r &&
                   now.class_3b <= last.class_3b));
            CHECK((now.class_1 < now.class_3r && now.class_3r < now.class_3b));
            last = now;
        }
        last = {1.0, 1.0, 1.0, 1.0};
        for (double duration = 0.2; duration > 1e-12; duration /= 1.5) {
            const emitter::PulseLimits now = emitter::pulse_limits(wavelength, {duration, 1.0});
            CHECK((now.class_1 <= last.class_1 && now.class_3r <= last.class_3r && now.class_3b <= last.class_3b));
            last = now;
        }
    }
}

TEST_CASE("a pulse of just the limit is within the class, and one of more is not", "[unit]") {
    const emitter::PulseTrain train{5.0 * ns, 100.0 * kHz};
    const auto estimate = [&](double energy) { return emitter::estimated_pulse_class(red, train, energy); };
    const emitter::PulseLimits limits = emitter::pulse_limits(red, train);
    CHECK(estimate(limits.class_1) == "1");
    CHECK(estimate(limits.class_1 * 1.001) == "2");
    CHECK(estimate(limits.class_2 * 1.001) == "3R");
    CHECK(estimate(limits.class_3r * 1.001) == "3B");
    CHECK(estimate(limits.class_3b * 1.001) == "4");
    CHECK(emitter::estimated_pulse_class(infrared, train, 1.001 * 10.02454e-9) == "3R");
    // Blue: the mean power of class 1 is the photochemical limit of 0.039 mW, 0.39 nJ of each pulse.
    CHECK(emitter::estimated_pulse_class(450.0 * nm, train, 0.389e-9) == "1");
    CHECK(emitter::estimated_pulse_class(450.0 * nm, train, 0.391e-9) == "2");
}

TEST_CASE("a train that cannot be is refused", "[unit]") {
    CHECK_THROWS_AS(emitter::pulse_limits(red, {1e-14, 1.0}), base::DomainError);
    CHECK_THROWS_AS(emitter::pulse_limits(red, {1.0, 0.5}), base::DomainError);
    CHECK_THROWS_AS(emitter::pulse_limits(red, {1.0 * us, 0.0}), base::DomainError);
    CHECK_THROWS_AS(emitter::pulse_limits(red, {1.0 * us, 1.1e6}), base::DomainError);
    CHECK_THROWS_AS(emitter::pulse_limits(399.0 * nm, {1.0 * ns, 1.0}), base::DomainError);
    CHECK_THROWS_AS(emitter::pulse_limits(1064.0 * nm, {1.0 * ns, 1.0}), base::DomainError);
}

TEST_CASE("the estimate for pulses says that it is none of a competent person", "[unit]") {
    CHECK(emitter::pulse_safety_caution().find("not a classification") != std::string::npos);
}
