// Hot air, a mount that shakes and a second sensor, as readings and budgets show them.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <variant>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/measure/disturbance.hpp"
#include "sim/measure/read.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/neighbour.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using base::mm, base::ms, base::um, base::us;

namespace {

scenario::Scenario with(const std::vector<std::string>& settings) {
    std::vector<std::string> all{"run.speckle=off", "run.readings=8192"};
    all.insert(all.end(), settings.begin(), settings.end());
    return scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "test.toml", all);
}

measure::ReadResult read_with(const std::vector<std::string>& settings) {
    return measure::read(sensor::set_up(with(settings), 1), {1, {}, {}});
}

template <class Kind>
const Kind* reason_of(const measure::Verdict& verdict) {
    for (const measure::Reason& reason : verdict.reasons) {
        if (const auto* found = std::get_if<Kind>(&reason)) return found;
    }
    return nullptr;
}

}  // namespace

TEST_CASE("calm air, a still mount and no neighbour change no bit of a reading", "[measure][unit]") {
    const auto plain = read_with({});
    const auto named = read_with({"surroundings.hot_air_Cn2=0", "surroundings.hot_air_height_mm=30",
                                  "motion.mount_vibration_um=0", "neighbour.power_mW=0"});
    CHECK(*plain.statistics.mean == *named.statistics.mean);
    CHECK(*plain.statistics.standard_deviation == *named.statistics.standard_deviation);
    CHECK(plain.air_wander == 0.0);
    CHECK(reason_of<measure::HotAirWanders>(plain.verdict) == nullptr);
    CHECK(reason_of<measure::MountShakes>(plain.verdict) == nullptr);
    CHECK(reason_of<measure::NeighbourInView>(plain.verdict) == nullptr);
}

// A sine of 10 um that exposures of 2.5 us leave whole: amplitude / sqrt 2. The noise, 0.06 um, adds in quadrature.
TEST_CASE("a mount that shakes shows in the scatter of a part at rest, and not in its bias", "[measure][unit]") {
    const auto plain = read_with({});
    const auto shaken = read_with({"motion.mount_vibration_um=10", "motion.mount_vibration_Hz=100"});
    const double noise = *plain.statistics.standard_deviation;
    CHECK(*shaken.statistics.standard_deviation == Approx(std::hypot(10.0 * um / std::sqrt(2.0), noise)).epsilon(0.01));
    CHECK(shaken.mount_shake == Approx(10.0 * um / std::sqrt(2.0)).epsilon(1e-4));
    CHECK(*shaken.systematic == Approx(*plain.systematic).margin(0.02 * um));
    const auto* reason = reason_of<measure::MountShakes>(shaken.verdict);
    REQUIRE(reason != nullptr);
    CHECK(reason->passed == Approx(1.0).epsilon(1e-3));
    // 80 readings of 125 us are one period: the average takes the vibration out.
    const auto averaged =
        read_with({"motion.mount_vibration_um=10", "motion.mount_vibration_Hz=100", "reading.average=80"});
    CHECK(*averaged.statistics.standard_deviation < 0.01 * um);
    CHECK(reason_of<measure::MountShakes>(averaged.verdict) == nullptr);
}

// The part that vibrates and the sensor that does give the same readings.
TEST_CASE("a mount that shakes gives the readings of a part that shakes", "[measure][unit]") {
    std::vector<double> of_mount;
    std::vector<double> of_part;
    const auto outputs_into = [](std::vector<double>& list) {
        return [&list](const measure::SeriesBlock& block) {
            list.insert(list.end(), block.displacement.begin(), block.displacement.end());
        };
    };
    const auto run = [&](const std::vector<std::string>& settings, std::vector<double>& into) {
        static_cast<void>(measure::read(sensor::set_up(with(settings), 1), {1, outputs_into(into), {}}));
    };
    run({"motion.mount_vibration_um=5", "motion.mount_vibration_Hz=80", "run.readings=400"}, of_mount);
    run({"motion.vibration_um=5", "motion.vibration_Hz=80", "run.readings=400"}, of_part);
    REQUIRE(of_mount.size() == of_part.size());
    // Noise of its own of either, 0.06 um, and pixels that the one passes over and the other does not.
    double largest = 0.0;
    for (std::size_t i = 0; i < of_mount.size(); ++i) largest = std::max(largest, std::abs(of_mount[i] - of_part[i]));
    CHECK(largest < 0.6 * um);
}

// The closed form tells what the series shows. The air passes at 10 m/s, so that the second of readings sees some
// hundred eddies; their scatter of a seed's own is some 10 %.
TEST_CASE("readings wander in hot air as its variance says", "[measure][statistical]") {
    const std::vector<std::string> hot{"surroundings.hot_air_Cn2=1e-9", "surroundings.hot_air_mm_per_s=10000"};
    const auto result = read_with(hot);
    const sensor::Setup setup = sensor::set_up(with(hot), 1);
    const auto& before = std::get<sensor::TriangulationSetup>(setup);
    const double variance =
        receiver::wander_variance(measure::hot_air_of(before.scenario), measure::air_paths_of(before));
    CHECK(result.air_wander_single == Approx(std::sqrt(variance)).epsilon(0.01));
    CHECK(*result.statistics.standard_deviation == Approx(result.air_wander).epsilon(0.25));
    CHECK(result.air_wander > 1.0 * um);
    CHECK(result.verdict.contributions.front().cause == measure::Cause::hot_air);
    CHECK(reason_of<measure::HotAirWanders>(result.verdict) != nullptr);
    auto averaged = hot;
    averaged.emplace_back("reading.average=256");
    CHECK(read_with(averaged).air_wander < 0.5 * result.air_wander);
}

TEST_CASE("a second sensor's light falls into the exposures that its clock meets", "[sensor][unit]") {
    scenario::Neighbour n;
    n.power = 1e-3;
    n.period = 131.7 * us;
    n.exposure = 10.0 * us;
    const double begin = 0.382 * n.period;
    CHECK(sensor::met_light(n, begin, 4.0 * us) == Approx(4.0 * us));
    CHECK(sensor::met_light(n, begin - 3.0 * us, 5.0 * us) == Approx(2.0 * us));
    CHECK(sensor::met_light(n, begin + 8.0 * us, 5.0 * us) == Approx(2.0 * us));
    CHECK(sensor::met_light(n, begin + 20.0 * us, 5.0 * us) == Approx(0.0).margin(1e-15));
    CHECK(sensor::met_light(n, begin, 10.0 * n.period) == Approx(10.0 * n.exposure));
    double met = 0.0;
    for (int i = 0; i < 10000; ++i) met += sensor::met_light(n, i * 125.0 * us, 2.5 * us) > 0.0 ? 1e-4 : 0.0;
    CHECK(met == Approx(sensor::met_share(n, 2.5 * us)).epsilon(0.03));
    n.timing = scenario::NeighbourTiming::alternating;
    CHECK(sensor::met_light(n, begin, 4.0 * us) == 0.0);
}

TEST_CASE("a second sensor's brighter spot is read instead of the own one, when it is met", "[measure][unit]") {
    const std::vector<std::string> bright{"neighbour.power_mW=4.5", "neighbour.position_mm=[1.5, 0]",
                                          "exposure.exposure_us=1.2"};
    const auto alone = read_with({"exposure.exposure_us=1.2"});
    auto together = bright;
    together.emplace_back("neighbour.timing=together");
    const auto both = read_with(together);
    // The second spot is out of focus, off the plane through beam and lens that the array is set for: ten times the
    // power makes it no more than half as bright again. A spot at x seems x cot(theta) deeper or higher, seen at 30
    // deg: 2.6 mm at 1.5 mm beside.
    REQUIRE(both.statistics.mean);
    CHECK(std::abs(*both.statistics.mean - *alone.statistics.mean) == Approx(1.5 * mm * std::sqrt(3.0)).epsilon(0.1));
    REQUIRE(reason_of<measure::NeighbourInView>(both.verdict) != nullptr);
    CHECK(reason_of<measure::NeighbourInView>(both.verdict)->share == Approx(1.5).epsilon(0.15));
    auto free = bright;
    free.insert(free.end(), {"neighbour.exposure_us=2.5", "neighbour.period_us=130"});
    const auto beat = read_with(free);
    CHECK(*beat.statistics.greatest - *beat.statistics.least > 2.0 * mm);
    CHECK(*beat.statistics.standard_deviation > 0.1 * mm);
    CHECK(beat.verdict.level == measure::Level::unstable);
    auto alternating = bright;
    alternating.emplace_back("neighbour.timing=alternating");
    CHECK(*read_with(alternating).statistics.mean == *alone.statistics.mean);
    auto other_light = together;
    other_light.emplace_back("neighbour.wavelength_nm=850");
    CHECK(*read_with(other_light).statistics.mean == *alone.statistics.mean);
}

TEST_CASE("the vibration of a mount shows by time of flight too", "[measure][unit]") {
    const std::vector<std::string> flight{"principle=pulsed",
                                          "mount.reference_distance_mm=1000",
                                          "mount.range_mm=[-200, 200]",
                                          "receiver.aperture_mm=20",
                                          "emitter.power_mW=2000",
                                          "motion.mount_vibration_um=50000",
                                          "motion.mount_vibration_Hz=3",
                                          "run.readings=2000"};
    const auto result = read_with(flight);
    REQUIRE(result.statistics.standard_deviation);
    CHECK(*result.statistics.standard_deviation == Approx(50.0 * mm / std::sqrt(2.0)).epsilon(0.05));
}
