// A second sensor in view of one that times light, and a table that its part's light is beyond, as readings show them.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <variant>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/measure/read.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/flight_neighbour.hpp"
#include "sim/sensor/sensor.hpp"
#include "tests/support/neighbour.hpp"

using namespace spotwright;
using base::mm, base::pi, base::speed_of_light;

namespace {

scenario::Scenario with(const std::vector<std::string>& settings) {
    std::vector<std::string> all = support::phase_shift_beside_another();
    all.insert(all.end(), {"run.speckle=off", "run.readings=2000"});
    all.insert(all.end(), settings.begin(), settings.end());
    return scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "neighbour.toml", all);
}

std::vector<std::string> pulsed(std::vector<std::string> more) {
    std::vector<std::string> all{"principle=pulsed",         "emitter.power_mW=2000", "flight.noise_nW=20",
                                 "flight.pulse_rate_kHz=50", "flight.pulses=50",      "run.readings=600"};
    all.insert(all.end(), more.begin(), more.end());
    return all;
}

measure::ReadResult read_with(const std::vector<std::string>& settings) {
    return measure::read(sensor::set_up(with(settings), 2), {2, {}, {}});
}

template <class Kind>
const Kind* reason_of(const measure::ReadResult& result) {
    for (const measure::Reason& reason : result.verdict.reasons) {
        if (const auto* found = std::get_if<Kind>(&reason)) return found;
    }
    return nullptr;
}

void check_alike(const std::vector<std::string>& settings, const std::vector<std::string>& others) {
    const measure::ReadResult a = read_with(settings);
    const measure::ReadResult b = read_with(others);
    CHECK(*a.statistics.mean == *b.statistics.mean);
    CHECK(*a.statistics.standard_deviation == *b.statistics.standard_deviation);
    CHECK(reason_of<measure::NeighbourBeats>(b) == nullptr);
    CHECK(reason_of<measure::NeighbourPulses>(b) == nullptr);
}

constexpr double metre_per_turn = speed_of_light / 40e6;  // at 20 MHz

}  // namespace

TEST_CASE("a second sensor that is off, in turn, or beyond the filter changes no bit of a timed reading",
          "[measure][flight]") {
    for (const bool pulses : {false, true}) {
        const auto of = [pulses](std::vector<std::string> more) { return pulses ? pulsed(more) : more; };
        check_alike(of({}), of({"neighbour.modulation_MHz=20.0001", "neighbour.pulse_rate_kHz=77"}));
        check_alike(of({}), of({"neighbour.power_mW=5000", "neighbour.timing=alternating"}));
        check_alike(of({}), of({"neighbour.power_mW=5000", "neighbour.wavelength_nm=905"}));
    }
}

// Derived: a weak phasor of ratio r turns the phase by r sin(psi), psi at any place: r / sqrt(2) rms. 0.1 of the light
// on the same spot: 7.3 deg, of 7.5 m in a turn. In the second order by r^2 / 8, 0.1 %; white light of a spot beside
// meets the lens alike, but for depth of focus: 1 %.
TEST_CASE("a beat scatters readings by the ratio of amplitudes over sqrt(2)", "[measure][flight]") {
    const std::vector<std::string> beside{"neighbour.power_mW=0.5", "neighbour.modulation_MHz=20.000137"};
    const measure::ReadResult alone = read_with({});
    const measure::ReadResult r = read_with(beside);
    const double expected = 0.1 / std::sqrt(2.0) / (2.0 * pi) * metre_per_turn;
    CHECK(r.neighbour_scatter == Approx(expected).epsilon(0.02));
    CHECK(std::abs(r.neighbour_shift) < 0.02 * expected);
    // Beats of 137 Hz in 2000 readings of 125 us: 34 of them, and the noise of the readings.
    CHECK(*r.statistics.standard_deviation ==
          Approx(std::hypot(expected, *alone.statistics.standard_deviation)).epsilon(0.03));
    const auto* reason = reason_of<measure::NeighbourBeats>(r);
    REQUIRE(reason != nullptr);
    CHECK(reason->ratio == Approx(0.1).epsilon(0.01));
    CHECK(reason->difference == Approx(137.0).epsilon(1e-3));
    CHECK(reason->kept == Approx(1.0).epsilon(1e-3));
    CHECK_THAT(in_words(measure::Reason(*reason)), Catch::StartsWith("another sensor's light is in view: "));
    CHECK(r.verdict.contributions.front().cause == measure::Cause::neighbour);
    // An average over some beats takes most of it out: 146 readings are two and a half.
    auto averaged = beside;
    averaged.emplace_back("reading.average=146");
    CHECK(read_with(averaged).neighbour_scatter < 0.25 * expected);
}

TEST_CASE("at another frequency only the other's shot noise is left", "[measure][flight]") {
    const measure::ReadResult alone = read_with({});
    const measure::ReadResult r = read_with({"neighbour.power_mW=5", "neighbour.modulation_MHz=27.3"});
    // Twice the light: half of the charge more again, and the far lobes of the sinc, 1 / (pi D T) = 9e-4.
    CHECK(*r.statistics.standard_deviation > 1.2 * *alone.statistics.standard_deviation);
    CHECK(r.neighbour_scatter < 9e-4 / (2.0 * pi) * metre_per_turn);
    CHECK(r.signal.background > alone.signal.background);
    const auto* reason = reason_of<measure::NeighbourBeats>(r);
    REQUIRE(reason != nullptr);  // as strong as the own light
    CHECK(reason->kept < 1e-3);
}

TEST_CASE("a synchronised sensor's light on another step of the part mixes two distances", "[measure][flight]") {
    const std::vector<std::string> step{"target.shape=step",          "target.step.height_mm=300",
                                        "target.step.position_mm=20", "flight.detector_diameter_mm=5",
                                        "neighbour.timing=together",  "neighbour.position_mm=[40, 0]"};
    auto lit = step;
    lit.emplace_back("neighbour.power_mW=5");
    const measure::ReadResult alone = read_with(step);
    const measure::ReadResult both = read_with(lit);
    // Equal light from 300 mm nearer: the mean of both phases; the upper step sends back (4000 / 3700)^2 as much.
    const double shift = *both.statistics.mean - *alone.statistics.mean;
    const double ratio = std::pow(4000.0 / 3700.0, 2);
    const double turn = -2.0 * pi * 300.0 * mm / metre_per_turn;
    const double expected =
        std::atan2(ratio * std::sin(turn), 1.0 + ratio * std::cos(turn)) / (2.0 * pi) * metre_per_turn;
    CHECK(shift == Approx(expected).epsilon(0.05));
    CHECK(both.neighbour_shift == Approx(shift).epsilon(0.02));
    const auto* reason = reason_of<measure::NeighbourBeats>(both);
    REQUIRE(reason != nullptr);
    CHECK_FALSE(reason->has_clock);
}

// A share of pulses of (gate before the echo) / interval fires early, anywhere before it. Own pulses every 20 us, the
// other's every 1 / 0.6180339 us: no simple ratio. The echo comes 26.7 ns and the gate begins 1 m and its margin
// before.
TEST_CASE("pulses of a second sensor pull readings towards the sensor", "[measure][flight]") {
    const measure::ReadResult alone = read_with(pulsed({}));
    const measure::ReadResult r = read_with(pulsed({"neighbour.power_mW=20000", "neighbour.pulse_rate_kHz=618.0339"}));
    const auto& pose = measure::timed_light(r.details)->pose;
    const auto& plan = std::get<flight::PulsePlan>(pose.plan);
    const double before = flight::noiseless_time(plan).value() - plan.receiver.gate_begin;
    const double share = before * 618.0339e3;
    const double expected = -0.5 * share * before * 0.5 * speed_of_light;
    // 30000 pulses, of which 1 in 60 is met; overlaps with the echo, which is as long as a tenth of the gate.
    CHECK(*r.statistics.mean - *alone.statistics.mean == Approx(expected).epsilon(0.2));
    CHECK(r.neighbour_shift == Approx(expected).epsilon(0.3));
    CHECK(r.neighbour_scatter > 0.5 * std::abs(expected));
    const auto* reason = reason_of<measure::NeighbourPulses>(r);
    REQUIRE(reason != nullptr);
    CHECK(reason->met > share);
    CHECK_FALSE(reason->counted);
    CHECK_THAT(in_words(measure::Reason(*reason)), Catch::StartsWith("another sensor's light is in view: "));
}

// Some 0.2 photons of a pulse of its own, three times as many of the other's.
TEST_CASE("photons of a second sensor raise the background, and equal rates make a peak of their own",
          "[measure][flight]") {
    const auto of = [](std::vector<std::string> more) {
        std::vector<std::string> all = pulsed(
            {"flight.timing=photon-counting", "emitter.power_mW=0.005", "flight.pulses=2000", "run.readings=100"});
        all.insert(all.end(), more.begin(), more.end());
        return all;
    };
    const measure::ReadResult alone = read_with(of({}));
    const measure::ReadResult spread = read_with(of({"neighbour.power_mW=0.015", "neighbour.pulse_rate_kHz=618.0339"}));
    CHECK(spread.signal.background > alone.signal.background);
    // 400 photons of 2.1 ns in each of 100 readings: 1.6 mm of either mean, five of their difference.
    CHECK(std::abs(*spread.statistics.mean - *alone.statistics.mean) < 11.0 * mm);
    const auto* reason = reason_of<measure::NeighbourPulses>(spread);
    CHECK((reason == nullptr || reason->counted));

    const sensor::Setup setup = sensor::set_up(
        with(of({"neighbour.power_mW=0.015", "neighbour.pulse_rate_kHz=50", "mount.range_mm=[-2500,1500]"})), 1);
    const auto& timed = std::get<sensor::FlightSetup>(setup);
    sensor::FlightPose pose = sensor::make_flight_pose(timed, 0.0);
    // The other sends 13 ns before this one, six deviations; it is the stronger, and is read. Of the weaker peak's foot
    // less than a photon in 1e5 counts.
    pose.neighbour->light.pulse_from = 1.0 - 13e-9 * 50e3;
    CHECK(*sensor::noiseless_reading_at(timed, pose, 0) - *sensor::noiseless_reading(timed, pose) ==
          Approx(-0.5 * speed_of_light * 13e-9).margin(0.5 * speed_of_light * 1e-10));
}

TEST_CASE("a part that is brighter or darker than the table reaches is told so", "[measure][flight]") {
    const std::vector<std::string> base{"flight.timing=leading-edge", "flight.calibration=offset",
                                        "flight.noise_nW=0.2", "flight.pulse_ns=5"};
    const auto of = [&](const std::string& material, const char* range, const char* points) {
        std::vector<std::string> all = pulsed(base);
        all.insert(all.end(),
                   {"target.material=" + material, std::string("flight.intensity_range=") + range,
                    std::string("flight.intensity_table_points=") + points, "requirement.tolerance_um=20000"});
        return read_with(all);
    };
    const measure::ReadResult bare = of("black-rubber", "[0.001, 1]", "0");
    CHECK(*bare.systematic > 20.0 * mm);
    const measure::ReadResult corrected = of("black-rubber", "[0.01, 1]", "16");
    CHECK(std::abs(*corrected.systematic) < 2.0 * mm);
    CHECK(reason_of<measure::BeyondTable>(corrected) == nullptr);
    const measure::ReadResult beyond = of("black-rubber", "[0.3, 1]", "16");
    const auto* darker = reason_of<measure::BeyondTable>(beyond);
    REQUIRE(darker != nullptr);
    CHECK_FALSE(darker->brighter);
    CHECK_THAT(in_words(measure::Reason(*darker)),
               Catch::StartsWith("the echo is darker than the correction table reaches"));
    const measure::ReadResult above = of("white-ceramic", "[0.01, 0.1]", "16");
    const auto* brighter = reason_of<measure::BeyondTable>(above);
    REQUIRE(brighter != nullptr);
    CHECK(brighter->brighter);
    CHECK(brighter->times == Approx(10.0).epsilon(0.05));
    CHECK_THAT(in_words(measure::Reason(*brighter)),
               Catch::StartsWith("the echo is brighter than the correction table reaches"));
}
