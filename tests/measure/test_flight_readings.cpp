// Readings by time of flight: from the scenario to displacement, error and verdict.
#include <catch2/catch.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <string>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/linear.hpp"
#include "sim/base/units.hpp"
#include "sim/flight/air.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/measure/flight_motion.hpp"
#include "sim/measure/flight_reading.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/stations.hpp"

using namespace spotwright;
using base::mm, base::um, base::nW, base::MHz, base::pi, base::speed_of_light;
using reading::Validity;

namespace {

// A rangefinder over a conveyor, invented for the demonstration; speckle off unless asked for.
scenario::Scenario rangefinder(const std::vector<std::string>& settings = {}) {
    std::vector<std::string> all{"principle=phase-shift",
                                 "mount.reference_distance_mm=4000",
                                 "mount.range_mm=[-2500,2500]",
                                 "emitter.wavelength_nm=850",
                                 "emitter.power_mW=5",
                                 "emitter.waist_radius_um=[3000,3000]",
                                 "receiver.focal_length_mm=40",
                                 "receiver.aperture_mm=30",
                                 "detector.full_well_e=400000",
                                 "detector.read_noise_e=50",
                                 "flight.modulation_MHz=[20,16]",
                                 "exposure.exposure_us=20",
                                 "run.speckle=off",
                                 "run.readings=400",
                                 "requirement.tolerance_um=30000"};
    all.insert(all.end(), settings.begin(), settings.end());
    return scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "rangefinder.toml", all);
}

std::vector<std::string> pulsed(std::vector<std::string> more = {}) {
    std::vector<std::string> settings{"principle=pulsed", "emitter.power_mW=2000", "flight.noise_nW=20",
                                      "run.readings=100", "flight.pulses=50"};
    settings.insert(settings.end(), more.begin(), more.end());
    return settings;
}

sensor::FlightSetup instrument_of(const scenario::Scenario& s) {
    return sensor::set_up_flight(s, 2);
}

measure::ReadResult read(const scenario::Scenario& s, int threads = 2) {
    return measure::read(sensor::set_up(s, threads), {threads, {}, {}});
}

// Noiseless error of the scenario's part. [m]
double error_of(const scenario::Scenario& s) {
    const sensor::FlightSetup i = instrument_of(s);
    const sensor::FlightPose pose = sensor::make_flight_pose(i, s.target.displacement);
    return sensor::noiseless_reading(i, pose).value() - pose.true_displacement;
}

double share_of(const measure::ReadResult& r, Validity validity) {
    return static_cast<double>(r.statistics.validity[static_cast<std::size_t>(validity)]) /
           static_cast<double>(r.statistics.readings);
}

std::string problem_of(const std::vector<std::string>& settings) {
    try {
        static_cast<void>(sensor::set_up(rangefinder(settings), 2));
    } catch (const base::ScenarioError& error) {
        return error.problems().front().location.key;
    }
    return "none";
}

}  // namespace

TEST_CASE("the reference reads true at every place of the range, by phase and by pulse", "[flight][slow]") {
    for (const char* displacement : {"-2400", "-1234.5", "0", "817", "2499"}) {
        const std::string at = std::string("target.displacement_mm=") + displacement;
        CAPTURE(at);
        // The calibration interpolates its own points; between them the cubic is far better than a tenth of a
        // millimetre where light falls as smoothly as here.
        CHECK(std::abs(error_of(rangefinder({at}))) < 0.1 * mm);
        CHECK(std::abs(error_of(rangefinder(pulsed({at})))) < 0.1 * mm);
        // Sine light has no cyclic error and a constant fraction no walk, so the speed of light alone scales them.
        CHECK(std::abs(error_of(rangefinder({at, "flight.calibration=offset"}))) < 0.1 * mm);
        CHECK(std::abs(error_of(rangefinder(pulsed({at, "flight.calibration=offset"})))) < 0.1 * mm);
    }
}

TEST_CASE("scatter of a still part is that of shot and read noise in closed form", "[flight]") {
    const measure::ReadResult r = read(rangefinder({"run.readings=4000", "flight.modulation_MHz=[20]"}));
    const measure::FrequencyResult& f = std::get<measure::PhaseDetails>(r.details).frequencies.front();
    const double expected = speed_of_light / (4.0 * pi * f.frequency) * f.deviation;
    // 4000 readings tell a deviation to 1.1 %; four of these.
    CHECK(*r.statistics.standard_deviation == Approx(expected).epsilon(0.045));
    CHECK(std::abs(*r.bias) < 4.0 * expected / std::sqrt(4000.0));
}

TEST_CASE("the light budget is that of a Lambertian part, and that of triangulation with the same lens", "[flight]") {
    const scenario::Scenario s = rangefinder({"flight.detector_diameter_mm=3", "mount.range_mm=[-200,200]"});
    const sensor::FlightSetup i = instrument_of(s);
    const flight::Received received = sensor::make_flight_pose(i, 0.0).received;
    const double reflectance = scenario::reflectance_at(s.target.made_of, s.emitter.wavelength);
    const double half_angle = std::atan(15.0 / 4000.0);
    const double lambert = s.emitter.power * reflectance * s.receiver.transmission * std::pow(std::sin(half_angle), 2);
    // White ceramic is rough: Oren-Nayar sends a little less back along the beam than Lambert, some percent.
    CHECK(received.collected_power == Approx(lambert).epsilon(0.1));
    CHECK(received.received_power == Approx(received.collected_power).epsilon(1e-6));

    scenario::Scenario t = s;
    t.principle = scenario::Triangulation{};
    t.receiver.distance = 4000.0 * mm;
    t.receiver.angle = std::atan(0.05);  // beside the beam, as a triangulating receiver must stand
    const receiver::Receiver r = sensor::receiver_of(t);
    const receiver::Profile profile = receiver::image(
        sensor::beam_of(t), target::square_plane(0.0), target::make_surface(t.target.made_of, t.emitter.wavelength), r,
        receiver::EdgeSpread(r.aperture.shape), t.detector.quantum_efficiency);
    scenario::Scenario beside = s;
    beside.flight.baseline = 4000.0 * mm * 0.05;
    const sensor::FlightSetup j = instrument_of(beside);
    // Distances differ by 0.13 % as one lens stands on a circle about the part and the other on a line: 0.25 % of
    // power, and as much again by the lens's own turn.
    CHECK(sensor::make_flight_pose(j, 0.0).received.collected_power == Approx(profile.collected_power).epsilon(0.006));
}

TEST_CASE("on an edge the reading is that of the sum of both returns", "[flight]") {
    const std::vector<std::string> step{"target.shape=step", "target.step.height_mm=500", "flight.modulation_MHz=[20]",
                                        "receiver.aperture_mm=1", "reading.threshold=0.0001"};
    const scenario::Scenario s = rangefinder(step);
    const sensor::FlightSetup i = instrument_of(s);
    const sensor::FlightPose mixed = sensor::make_flight_pose(i, 0.0);
    // By hand: half of the beam lands 500 mm nearer, and sends back light by the square of the distance.
    const double index = i.index;
    std::complex<double> sum = 0.0;
    for (const double distance : {4.0, 3.5}) {
        sum += std::polar(1.0 / (distance * distance), 4.0 * pi * 20.0 * MHz * distance * index / speed_of_light);
    }
    const double reading = std::arg(sum) * speed_of_light / (4.0 * pi * 20.0 * MHz * index) - 4.0;
    const auto found = sensor::noiseless_reading(i, mixed);
    REQUIRE(found);
    // A small lens, so that the step hides hardly any of the lower half from it: places nearer to the edge than an
    // eighth of its radius, 2 % of that half at most. A column of the footprint's 96 nodes, 4 %, may fall to either
    // side as well. Together 6 % of one return move the mean of two 500 mm apart by 8 mm at most.
    CHECK(*found == Approx(reading).margin(8.0 * mm));
    // Shares of 0.566 and 0.434, a metre of way apart.
    CHECK(mixed.received.path_deviation == Approx(0.4956).epsilon(0.01));
}

TEST_CASE("through a plate the backing reads deeper by the index, and the face's mirrored light pulls it up",
          "[flight]") {
    const std::vector<std::string> plate{"target.material=clear-glass", "target.shape=plate",
                                         "target.plate.thickness_mm=10", "target.plate.backing=white-ceramic",
                                         "target.plate.gap_mm=90"};
    std::vector<std::string> tilted = plate;
    tilted.emplace_back("target.tilt_deg=[3,0]");  // turns the mirrored light past the lens
    const scenario::Scenario s = rangefinder(tilted);
    const sensor::FlightSetup i = instrument_of(s);
    const flight::Received away = sensor::make_flight_pose(i, 0.0).received;
    const double index = target::make_surface(s.target.made_of, s.emitter.wavelength).gloss->index.real();
    // Twice the way through glass and air, all of it 3 deg aslant: 0.14 % longer at most. Some thousandths of the light
    // have gone to and fro between plate and backing once more, twice the gap farther.
    const double behind = 2.0 * (index * 10.0 * mm + 90.0 * mm);
    CHECK(away.mean_path == Approx(8.0 + behind).margin(0.005 * behind));
    const flight::Received square = sensor::make_flight_pose(instrument_of(rangefinder(plate)), 0.0).received;
    CHECK(square.received_power > 100.0 * away.received_power);
    CHECK(square.mean_path < 8.0 + 0.2 * behind);
}

TEST_CASE("a part that stands where distances repeat is flagged, and never reads as another distance", "[flight]") {
    // 7.5 m are unambiguous; the part stands 8 m on, where phases repeat half a metre behind the reference point.
    const measure::ReadResult r =
        read(rangefinder({"flight.modulation_MHz=[20]", "target.displacement_mm=8000", "exposure.exposure_us=125"}));
    CHECK(share_of(r, Validity::valid) == 0.0);
    CHECK(share_of(r, Validity::ambiguous) > 0.99);
    CHECK(in_words(r.verdict.reasons.front()).find("readings repeat every 749") != std::string::npos);
}

TEST_CASE("wrong wraps are flagged by their likelihood before they are read", "[flight]") {
    // So little light that whole numbers are now and then in doubt.
    const std::vector<std::string> dim{
        "exposure.exposure_us=0.2",       "emitter.power_mW=0.12",       "detector.bits=16",
        "detector.full_well_e=4000",      "detector.read_noise_e=0",     "reading.threshold=0.0001",
        "flight.modulation_MHz=[100,80]", "mount.range_mm=[-3000,3500]", "run.readings=4000"};
    std::vector<std::string> trusting = dim;
    trusting.emplace_back("flight.wrap_risk=1");
    const measure::ReadResult wary = read(rangefinder(dim));
    const measure::ReadResult all = read(rangefinder(trusting));
    REQUIRE(std::get<measure::PhaseDetails>(all.details).wrong_wrap_share > 0.003);
    CHECK(share_of(wary, Validity::ambiguous) > 0.0);
    CHECK(std::get<measure::PhaseDetails>(wary.details).wrong_wrap_share <
          0.1 * std::get<measure::PhaseDetails>(all.details).wrong_wrap_share);
}

TEST_CASE("too much light saturates a bucket and too little is dark, each said so", "[flight]") {
    const measure::ReadResult bright = read(rangefinder({"exposure.exposure_us=60", "emitter.power_mW=500"}));
    CHECK(share_of(bright, Validity::saturated) == 1.0);
    CHECK(in_words(bright.verdict.reasons.front()).find("of full well") != std::string::npos);
    const measure::ReadResult dark = read(rangefinder({"exposure.exposure_us=0.1"}));
    CHECK(share_of(dark, Validity::too_dark) == 1.0);
    CHECK(dark.verdict.level == measure::Level::unreadable);
    const measure::ReadResult settled = read(rangefinder({"exposure.exposure_us=0.1", "exposure.mode=automatic"}));
    CHECK(share_of(settled, Validity::valid) == 1.0);
    CHECK(settled.signal.peak_share == Approx(0.6).epsilon(1e-3));
}

TEST_CASE("what cannot be timed is said before any reading", "[flight]") {
    CHECK(problem_of({"flight.modulation_depth=0"}) == "flight.modulation_depth");
    CHECK(problem_of({"flight.modulation_MHz=[40]"}) == "mount.range_mm");
    CHECK(problem_of({"flight.modulation_MHz=[20.00001,20]", "mount.range_mm=[-3000,8000]"}) ==
          "flight.modulation_MHz");
    CHECK(problem_of({"principle=pulsed", "emitter.power_mW=0.001"}) == "mount.range_mm");
    CHECK(problem_of({"principle=pulsed", "flight.pulse_rate_kHz=50000"}) == "mount.range_mm");
    CHECK(problem_of({}) == "none");
}

TEST_CASE("the cyclic error is there with an offset alone and gone with a full calibration", "[flight]") {
    const std::vector<std::string> square{"flight.waveform=square", "flight.bandwidth_MHz=10000",
                                          "flight.modulation_MHz=[20]"};
    double worst = 0.0;
    double left = 0.0;
    std::vector<std::string> offset = square;
    offset.emplace_back("flight.calibration=offset");
    const sensor::FlightSetup by_offset = instrument_of(rangefinder(offset));
    const sensor::FlightSetup full = instrument_of(rangefinder(square));
    for (double place = -0.9; place < 1.0; place += 0.117) {  // a period of 1.87 m
        const auto rough = sensor::noiseless_reading(by_offset, sensor::make_flight_pose(by_offset, place));
        const auto fine = sensor::noiseless_reading(full, sensor::make_flight_pose(full, place));
        worst = std::max(worst, std::abs(*rough - place));
        left = std::max(left, std::abs(*fine - place));
    }
    // Published extreme of the triangle correlation at 20 MHz: 84.8 mm to either side of the mean; seen from the
    // reference point, at any phase, it is between one and two of them.
    CHECK(worst > 60.0 * mm);
    CHECK(worst < 170.0 * mm);
    CHECK(left < 0.2 * mm);  // of interpolation between 16 points a period
}

TEST_CASE("light inside the housing moves dark parts more, in proportion to the light they lack", "[flight]") {
    const std::vector<std::string> inside{"flight.crosstalk_nW=0.02", "flight.modulation_MHz=[20]",
                                          "flight.calibration=offset", "reading.threshold=0.0001"};
    const auto error_with = [&](const char* material) {
        std::vector<std::string> settings = inside;
        settings.push_back(std::string("target.material=") + material);
        const scenario::Scenario s = rangefinder(settings);
        const sensor::FlightSetup i = instrument_of(s);
        const sensor::FlightPose pose = sensor::make_flight_pose(i, 0.0);
        const double without = sensor::noiseless_reading(i, pose).value();
        return std::pair{without, pose.received.received_power};
    };
    const auto [white, white_power] = error_with("white-ceramic");
    const auto [black, black_power] = error_with("black-rubber");
    // Calibrated on white. An error e of phase is c (1/A_black - 1/A_white), first order in 0.6 % of crosstalk.
    const double phase = 4.0 * pi * 20.0 * MHz * 4.0 / speed_of_light;
    const double expected = -0.02 * nW * std::sin(phase) * (1.0 / black_power - 1.0 / white_power) * speed_of_light /
                            (4.0 * pi * 20.0 * MHz);
    CHECK(std::abs(white) < 0.01 * mm);
    CHECK(black == Approx(expected).epsilon(0.03));
}

TEST_CASE("a leading edge walks with the amplitude, a constant fraction does not", "[flight]") {
    const auto black = [](const char* timing) {
        return error_of(rangefinder(pulsed(
            {std::string("flight.timing=") + timing, "flight.calibration=offset", "target.material=black-rubber"})));
    };
    const scenario::Scenario s = rangefinder(pulsed({"flight.timing=leading-edge"}));
    const sensor::FlightSetup i = instrument_of(s);
    const double white_rate = sensor::make_flight_pose(i, 0.0).received.received_power;
    const scenario::Scenario b = rangefinder(pulsed({"flight.timing=leading-edge", "target.material=black-rubber"}));
    const double black_rate = sensor::make_flight_pose(instrument_of(b), 0.0).received.received_power;
    const flight::PulseReceiver r = sensor::pulse_receiver_of(s);
    const double deviation = flight::signal_deviation(r);
    const double lowered = 5e-9 / (2.0 * std::sqrt(2.0 * std::log(2.0))) / deviation;
    const auto crossing = [&](double power) {
        return -deviation * std::sqrt(2.0 * std::log(power * lowered / (6.0 * 20.0 * nW)));
    };
    const double expected = (crossing(black_rate) - crossing(white_rate)) * speed_of_light / 2.0 / i.index;
    CHECK(black("leading-edge") == Approx(expected).epsilon(0.01));
    CHECK(std::abs(black("constant-fraction")) < 0.01 * expected);
}

TEST_CASE("air and drift move readings by as much as light is late", "[flight]") {
    const scenario::Scenario hot = rangefinder({"surroundings.temperature_C=50", "flight.delay_drift_ps_per_K=5"});
    const double index_at_20 = flight::group_index(flight::Air{}, 850e-9);
    const double index_at_50 = flight::group_index({323.15, 101325.0, 0.5, 450e-6}, 850e-9);
    // 5 ps/K over 30 K are 22.48 mm (docs/theory); thinner air over 4 m takes a tenth of a millimetre off.
    const double expected =
        speed_of_light / 2.0 * 150e-12 / index_at_20 + 4.0 * (index_at_50 - index_at_20) / index_at_20;
    CHECK(error_of(hot) == Approx(expected).margin(0.02 * mm));
    const scenario::Scenario fast = rangefinder({"flight.clock_error_ppm=50"});
    CHECK(error_of(fast) == Approx(50e-6 * 4.0).margin(0.02 * mm));
}

TEST_CASE("speckle moves a reading where there is depth under the spot, and only there", "[flight]") {
    const std::vector<std::string> rough{"run.speckle=coherent", "run.patches=300", "run.readings=300",
                                         "flight.modulation_MHz=[20]"};
    std::vector<std::string> tilted = rough;
    tilted.emplace_back("target.tilt_deg=[45,0]");
    const measure::ReadResult flat = read(rangefinder(rough));
    const measure::ReadResult deep = read(rangefinder(tilted));
    CHECK(*flat.speckle->standard_deviation < 0.1 * um);
    // Independent patterns at depths of a standard deviation d: their weighted mean scatters by d / sqrt(M), known to
    // 4 % from 300 patches; patterns taken together into 64 depths leave out 1e-3.
    const double expected = 0.5 * measure::timed_light(deep.details)->path_deviation /
                            std::sqrt(measure::timed_light(deep.details)->grains);
    CHECK(*deep.speckle->standard_deviation == Approx(expected).epsilon(0.17));
    CHECK(measure::timed_light(deep.details)->path_deviation ==
          Approx(2.0 * 1.5 * mm).epsilon(0.05));  // radius 3 mm: deviation 1.5 mm
}

TEST_CASE("readings by time of flight are the same to the last bit whatever the thread count", "[flight]") {
    for (const auto& settings :
         {pulsed(), pulsed({"flight.timing=photon-counting", "emitter.power_mW=0.003", "flight.pulses=2000"}),
          std::vector<std::string>{"run.readings=9000"}}) {
        std::vector<std::string> rough = settings;
        rough.emplace_back("run.speckle=statistical");
        rough.emplace_back("run.patches=8");
        const measure::ReadResult one = read(rangefinder(rough), 1);
        const measure::ReadResult seven = read(rangefinder(rough), 7);
        CHECK(one.statistics.mean.value() == seven.statistics.mean.value());
        CHECK(one.statistics.standard_deviation.value() == seven.statistics.standard_deviation.value());
        CHECK(one.speckle->replaced_deviation.value() == seven.speckle->replaced_deviation.value());
    }
}

TEST_CASE("a spot on a border of two heights and two materials reads the mixture of both returns", "[flight]") {
    // Half of the spot falls on white ceramic, half on a black step 400 mm nearer. Each side returns its reflectance
    // over the square of its distance to the lens around the beam, less what the wall hides of the lens from the lower
    // side; the phase is that of the sum of both phasors. Both frequencies weigh alike within a few millimetres for so
    // small a step; lens and spot are a hundredth of the distance, which changes the ratio of the returns by less than
    // 1 %.
    const scenario::Scenario s = rangefinder({"target.shape=step", "target.step.height_mm=400",
                                              "target.pattern.kind=border", "target.pattern.material=black-rubber"});
    const sensor::FlightSetup i = instrument_of(s);
    const sensor::FlightPose pose = sensor::make_flight_pose(i, 0.0);
    const double boundary = 2.0 * 3.8 / speed_of_light;
    double far = 0.0;
    double near = 0.0;
    for (const flight::Arrival& arrival : pose.received.light.arrivals) {
        (arrival.delay > boundary ? far : near) += arrival.rate;
    }
    const double white = sensor::surface_of(s).reflectance;
    const double black = sensor::part_of(s, 0.0).markings->cover->surface->reflectance;
    // From a point at q beside the wall the lens is seen up to 9 q beyond the beam, the share of a circle's segment; q
    // has a normal distribution of 1.5 mm.
    double seen = 0.0;
    constexpr int steps = 2000;
    for (int k = 0; k < steps; ++k) {
        const double q = (k + 0.5) / steps * 8.0 * mm;
        const double c = std::min(1.0, 9.0 * q / (15.0 * mm));
        const double share = 1.0 - (std::acos(c) - c * std::sqrt(1.0 - c * c)) / pi;
        seen += share * 2.0 * std::exp(-0.5 * std::pow(q / (1.5 * mm), 2.0)) / (1.5 * mm * std::sqrt(2.0 * pi)) * 8.0 *
                mm / steps;
    }
    const double expected = black / white * std::pow(4.0 / 3.6, 2.0) / seen;
    CHECK(near / far == Approx(expected).epsilon(0.01));

    const double per_metre = 4.0 * pi * 20.0 * MHz / speed_of_light;
    const std::complex<double> sum = 1.0 + expected * std::polar(1.0, -0.4 * per_metre);
    const double mixed = std::arg(sum) / per_metre;  // of displacement, towards the sensor
    CHECK(std::abs(sensor::noiseless_reading(i, pose).value() - mixed) < 3.0 * mm);
    CHECK(mixed < -10.0 * mm);
}

TEST_CASE("a part that moves while buckets collect in turn errs as derived, whatever their number",
          "[flight][motion]") {
    // Forty metres away, so that the light hardly changes on the way. The error swings with twice the phase, by
    // (motion.18); what the growing light adds swings with the phase. Eighteen readings pass through one swing with
    // twice the phase.
    const auto [buckets, taps] = GENERATE(std::pair{4, 1}, std::pair{4, 2}, std::pair{8, 1}, std::pair{5, 1});
    CAPTURE(buckets, taps);
    constexpr double exposure = 0.02;
    constexpr double speed = 2.0;
    constexpr int readings = 18;
    const double swing_length = speed_of_light / (4.0 * 100.0 * MHz);
    const double period = swing_length / speed / readings;
    const scenario::Scenario s =
        rangefinder({"mount.reference_distance_mm=40000", "mount.range_mm=[-650,650]", "target.displacement_mm=-600",
                     "flight.modulation_MHz=[100]", "exposure.exposure_us=20000",
                     fmt::format("exposure.period_us=[{0},{0}]", period * 1e6), "motion.along_mm_per_s=2000",
                     "run.readings=18", "emitter.power_mW=500", "detector.full_well_e=1e9", "detector.bits=16",
                     fmt::format("flight.buckets={}", buckets), fmt::format("flight.taps={}", taps)});
    const sensor::FlightSetup setup = instrument_of(s);
    const sensor::FlightPose start = sensor::make_flight_pose(setup, s.target.displacement);
    Eigen::MatrixXd swings(readings, 5);
    Eigen::VectorXd errors(readings);
    measure::SeriesOptions options{s.run.readings, 2, {}, {}};
    options.sink = [&](const measure::SeriesBlock& block) {
        for (int k = 0; k < readings; ++k) {
            const auto index = static_cast<std::size_t>(k);
            REQUIRE(block.validity[index] == Validity::valid);
            errors[k] = block.displacement[index] - block.moment[index].truth;
            const double phase = pi * k / readings;
            swings.row(k) << 1.0, std::cos(phase), std::sin(phase), std::cos(2.0 * phase), std::sin(2.0 * phase);
        }
    };
    static_cast<void>(measure::take_moving_series(setup, start.timing, false, options));
    const double expected = measure::cyclic_motion_error(s, speed, start.timing.exposure);
    if (buckets == 4 && taps == 1) CHECK(expected == Approx(speed * exposure / 8.0));
    // First order in the turn of the phase, 0.04 to 0.08 rad in a slot; the fit over half a turn tells the two swings
    // apart to some 0.1 mm.
    const Eigen::VectorXd found = base::fit_linear(swings, errors).parameters;
    CHECK(std::hypot(found[3], found[4]) == Approx(expected).epsilon(0.03));
}
