// The picture of a reading by time of flight: true to the reading, legible whatever was read.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <map>
#include <span>
#include <stdexcept>
#include <string>
#include <variant>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/detector/array.hpp"
#include "sim/drawing/flight_picture.hpp"
#include "sim/drawing/phase_plot.hpp"
#include "sim/measure/flight_reading.hpp"
#include "tests/support/drawing.hpp"
#include "tests/support/flight_drawing.hpp"
#include "tests/support/profile.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using namespace test::flight_drawing;
using base::mm, base::ns, base::pi, base::speed_of_light;
using reading::Validity;
using test::between, test::check_texts, test::polyline, test::well_formed;
using test::profile::all_words, test::profile::rounding, test::profile::scale_of, test::profile::values_of;

namespace {

const std::vector<FlightCase>& flight_cases() {
    static const std::vector<FlightCase> list{
        {"phases", by_phase, {"target.displacement_mm=-700"}},
        {"dark", by_phase, {"emitter.power_mW=0.00001"}},
        {"saturated", by_phase, {"exposure.exposure_us=12"}},
        {"no light", by_phase, {"target.tilt_deg=[60,0]", "target.displacement_mm=-3999.9"}},
        {"step", by_phase, {"target.shape=step", "target.step.height_mm=400"}},
        {"plate",
         by_phase,
         {"target.shape=plate", "target.material=clear-glass", "target.plate.thickness_mm=300",
          "target.plate.backing=white-paper", "exposure.exposure_us=0.01"}},
        {"four", four_phases, {"exposure.exposure_us=5"}},
        {"fraction", by_fraction, {"target.displacement_mm=300"}},
        {"fraction on a step", by_fraction, {"target.shape=step", "target.step.height_mm=900"}},
        {"edge", by_edge, {}},
        {"edge not reached", by_edge, {"emitter.power_mW=0.1"}},
        {"photons", by_photons, {"target.displacement_mm=500"}},
        {"few photons", by_photons, {"emitter.power_mW=0.000001"}},
    };
    return list;
}

// Calibrated once for all parts: it was without noise, and so is the same at any power of the light.
const sensor::FlightSetup& calibrated(const Settings& sensor) {
    static std::map<Settings, sensor::FlightSetup> made;
    const auto found = made.find(sensor);
    if (found != made.end()) return found->second;
    return made.emplace(sensor, sensor::set_up_flight(scenario_of(sensor), 2)).first->second;
}

struct DrawnReading {
    sensor::FlightSetup setup;
    measure::ReadResult result;
    std::string svg;

    [[nodiscard]] const sensor::FlightPose& pose() const { return measure::timed_light(result.details)->pose; }
    [[nodiscard]] sensor::RawReading reading() const { return sensor::take_reading(setup, pose(), 0); }
};

const DrawnReading& picture(const std::string& name) {
    static std::map<std::string, DrawnReading> made;
    const auto found = made.find(name);
    if (found != made.end()) return found->second;
    const auto c = std::find_if(flight_cases().begin(), flight_cases().end(),
                                [&name](const FlightCase& each) { return each.name == name; });
    if (c == flight_cases().end()) throw std::out_of_range(name);
    DrawnReading drawn{calibrated(c->sensor), {}, {}};
    drawn.setup.scenario = scenario_of(joined(c->sensor, c->part));
    drawn.setup.instrument.optics.beam = sensor::beam_of(drawn.setup.scenario);
    drawn.result = measure::read(drawn.setup, {.threads = 2, .sink = {}, .progress = {}});
    drawn.svg = drawing::draw_flight_reading(drawn.setup, drawn.result);
    return made.emplace(name, std::move(drawn)).first->second;
}

// Centres of the circles in a group.
std::vector<test::Vector2> circles_in(const std::string& svg, const std::string& group) {
    const std::string inside = between(svg, "<g id=\"" + group + "\">", "</g>");
    const std::vector<std::string> x = values_of(inside, "cx");
    const std::vector<std::string> y = values_of(inside, "cy");
    std::vector<test::Vector2> centres;
    for (std::size_t i = 0; i < x.size(); ++i) centres.emplace_back(std::stod(x[i]), std::stod(y.at(i)));
    return centres;
}

// Place of a phase across a panel whose axis has its first tick at 0 and its last at 2 pi.
double phase_at(const std::string& svg, const std::string& panel, double x) {
    const std::vector<std::string> places =
        values_of(between(svg, "<g id=\"phase-axis-" + panel + "\">", "</g>"), "x1");
    const double from = std::stod(places.front());
    const double to = std::stod(places.back());
    return 2.0 * pi * (x - from) / (to - from);
}

}  // namespace

namespace {

void check_pictures(const char* principle) {
    for (const FlightCase& c : flight_cases()) {
        if (c.sensor.front() != std::string("principle=") + principle) continue;
        CAPTURE(c.name);
        const DrawnReading& d = picture(c.name);
        check_texts(d.svg);
        CHECK(well_formed(d.svg));
        CHECK(d.svg == drawing::draw_flight_reading(d.setup, d.result));
        const std::string words = all_words(d.svg);
        CHECK(words.find("Level of a <bin>") != std::string::npos);
        CHECK(words.find("Verdict: " + std::string(measure::name_of(d.result.verdict.level))) != std::string::npos);
    }
}

}  // namespace

TEST_CASE("texts of a picture of phases keep apart, whatever was read", "[flight][record][drawing]") {
    check_pictures("phase-shift");
}

TEST_CASE("texts of a picture of pulses keep apart, whatever was read", "[flight][record][drawing]") {
    check_pictures("pulsed");
}

TEST_CASE("the cases of the pictures are what they are called", "[flight][record][drawing]") {
    const auto validity = [](const char* name) { return picture(name).reading().validity; };
    CHECK(validity("phases") == Validity::valid);
    CHECK(validity("dark") == Validity::too_dark);
    CHECK(validity("saturated") == Validity::saturated);
    CHECK(validity("no light") == Validity::too_dark);
    CHECK(picture("no light").pose().light.arrivals.empty());
    CHECK(validity("four") == Validity::valid);
    CHECK(validity("fraction") == Validity::valid);
    CHECK(validity("edge") == Validity::valid);
    CHECK(validity("edge not reached") == Validity::no_peak);
    CHECK(validity("photons") == Validity::valid);
    CHECK(validity("few photons") == Validity::no_peak);
    CHECK(picture("step").pose().light.arrivals.size() > 1);
    CHECK(picture("plate").pose().light.arrivals.size() > 1);
}

TEST_CASE("points stand where the charges are, and the phase where the sensor finds it", "[flight][record][drawing]") {
    for (const char* name : {"phases", "dark", "saturated", "no light", "step", "four"}) {
        CAPTURE(name);
        const DrawnReading& d = picture(name);
        const scenario::Scenario& s = d.setup.scenario;
        const auto buckets = static_cast<std::size_t>(s.flight.buckets);
        const std::vector<double>& mean = std::get<sensor::PhasePlan>(d.pose().plan).electrons;
        std::vector<double> charges(mean.size());
        flight::draw_buckets(mean,
                             {s.detector.read_noise, s.detector.full_well,
                              1.0 / detector::make_digitiser(s.detector).gain, static_cast<std::uint64_t>(s.seed)},
                             0, charges);
        CHECK(charges == drawing::read_charges(d.setup, d.pose(), 0));
        const auto signal = scale_of(d.svg, "signal-axis-0", "y");
        for (std::size_t f = 0; f < s.flight.modulation.size(); ++f) {
            const std::string panel = std::to_string(f);
            const std::vector<test::Vector2> points = circles_in(d.svg, "charges-" + panel);
            REQUIRE(points.size() == buckets);
            for (std::size_t k = 0; k < buckets; ++k) {
                const double charge = charges[f * buckets + k];
                CHECK(std::abs(signal.value(points[k].y()) - charge) < signal.margin(points[k].y()));
                // Ticks stand 190 units apart at least, each rounded.
                const double phase = phase_at(d.svg, panel, points[k].x());
                CHECK(std::abs(phase - 2.0 * pi * static_cast<double>(k) / static_cast<double>(buckets)) < 1e-4);
            }
        }
        const std::vector<test::Vector2> line = polyline(d.svg, "phase-0");
        CHECK(line.empty() == (d.reading().validity == Validity::saturated));
        if (!line.empty()) CHECK(std::abs(phase_at(d.svg, "0", line[0].x()) - d.reading().position) < 1e-4);
    }
}

TEST_CASE("the wave passes through the mean of the charges with the measured amplitude", "[flight][record][drawing]") {
    const DrawnReading& d = picture("phases");
    const std::vector<double> charges = drawing::read_charges(d.setup, d.pose(), 0);
    const flight::Demodulated found = flight::demodulate(std::span(charges).first(4));
    const auto signal = scale_of(d.svg, "signal-axis-0", "y");
    for (const test::Vector2& point : polyline(d.svg, "wave-0")) {
        const double turn = phase_at(d.svg, "0", point.x());
        // 1e-4 rad of rounding along the page.
        CHECK(std::abs(signal.value(point.y()) - found.offset - found.amplitude * std::cos(turn - found.phase)) <
              signal.margin(point.y()) + 1e-4 * found.amplitude);
    }
    CHECK(polyline(picture("saturated").svg, "wave-0").empty());
}

TEST_CASE("full well and background stand at their charges", "[flight][record][drawing]") {
    const DrawnReading& d = picture("saturated");
    const auto signal = scale_of(d.svg, "signal-axis-0", "y");
    const double full_well = polyline(d.svg, "full-well-0").at(0).y();
    CHECK(std::abs(signal.value(full_well) - 400000.0) < signal.margin(full_well));
    const DrawnReading& dark = picture("dark");
    CHECK(polyline(dark.svg, "full-well-0").empty());
    CHECK(all_words(dark.svg).find("off the scale: full well 400 000 e") != std::string::npos);
    const auto dark_signal = scale_of(dark.svg, "signal-axis-0", "y");
    const double background = polyline(dark.svg, "background-0").at(0).y();
    CHECK(std::abs(dark_signal.value(background) - dark.result.signal.background) < dark_signal.margin(background));
}

TEST_CASE("threshold and the time that the comparator fires stand on the signal", "[flight][record][drawing]") {
    for (const char* name : {"fraction", "fraction on a step", "edge"}) {
        CAPTURE(name);
        const DrawnReading& d = picture(name);
        const auto& plan = std::get<flight::PulsePlan>(d.pose().plan);
        const auto signal = scale_of(d.svg, "signal-axis-pulse", "y");
        const auto time = scale_of(d.svg, "lower-axis-pulse", "x");
        const auto distance = scale_of(d.svg, "upper-axis-pulse", "x");
        const double threshold = polyline(d.svg, "threshold").at(0).y();
        CHECK(std::abs(signal.value(threshold) - plan.receiver.threshold * ns) < signal.margin(threshold));
        const double x = polyline(d.svg, "found-time").at(0).x();
        CHECK(std::abs(time.value(x) - *flight::noiseless_time(plan) / ns) < time.margin(x));
        const double reach = time.value(x) * ns * speed_of_light / (2.0 * d.setup.instrument.assumed_index);
        CHECK(std::abs(distance.value(x) * mm - reach) <
              distance.margin(x) * mm + time.margin(x) * ns * speed_of_light);
        double highest = 0.0;
        for (const test::Vector2& point : polyline(d.svg, "signal")) {
            highest = std::max(highest, signal.value(point.y()) / ns);
        }
        const auto most = static_cast<double>(*std::max_element(plan.signal.begin(), plan.signal.end()));
        // One step of 1200 in the window and the rounding of the page.
        CHECK(highest == Approx(most).epsilon(1e-3));
    }
    CHECK(polyline(picture("edge not reached").svg, "found-time").empty());
}

TEST_CASE("the band about a pulse is the noise of the comparator", "[flight][record][drawing]") {
    const DrawnReading& d = picture("edge");
    const auto& plan = std::get<flight::PulsePlan>(d.pose().plan);
    const std::vector<test::Vector2> band =
        test::points_in(between(d.svg, "<polygon id=\"noise-band\" points=\"", "\""));
    REQUIRE(band.size() > 10);
    const auto signal = scale_of(d.svg, "signal-axis-pulse", "y");
    // Before the pulse, five deviations from it: its own shot noise is below 1e-5 of that at its peak there.
    const double width = signal.value(band.front().y()) - signal.value(band.back().y());
    CHECK(std::abs(0.5 * width - plan.constant_deviation * ns) <
          2.0 * signal.margin(band.front().y()) + 0.01 * plan.constant_deviation * ns);
}

TEST_CASE("the histogram holds the photons of the reading", "[flight][record][drawing]") {
    const DrawnReading& d = picture("photons");
    const auto& plan = std::get<flight::CountingPlan>(d.pose().plan);
    const auto photons = scale_of(d.svg, "signal-axis-counts", "y");
    const auto time = scale_of(d.svg, "lower-axis-counts", "x");
    const std::vector<test::Vector2> steps = polyline(d.svg, "counts");
    const std::vector<std::int64_t> counts =
        flight::count_photons(plan, static_cast<std::uint64_t>(d.setup.scenario.seed), 0);
    REQUIRE(steps.size() > 2);
    const auto bins = [&](double x) {
        return static_cast<std::size_t>(std::lround((time.value(x) * ns - plan.counter.gate_begin) / plan.counter.bin));
    };
    std::int64_t drawn = 0;
    for (std::size_t i = 0; i + 1 < steps.size(); i += 2) {
        std::int64_t held = 0;
        for (std::size_t b = bins(steps[i].x()); b < bins(steps[i + 1].x()); ++b) held += counts.at(b);
        REQUIRE(std::abs(photons.value(steps[i].y()) - static_cast<double>(held)) < photons.margin(steps[i].y()));
        drawn += held;
    }
    CHECK(drawn > 100);
    const double x = polyline(d.svg, "found-time").at(0).x();
    CHECK(std::abs(time.value(x) - d.reading().position / ns) < time.margin(x));
    CHECK(polyline(picture("few photons").svg, "found-time").empty());
}

TEST_CASE("returned light stands at the distances it comes from", "[flight][record][drawing]") {
    // Of each bar the corner at which its path begins, upper left; bars are 4 units wide.
    const auto bars = [](const DrawnReading& d) {
        const std::string path = between(d.svg, "<path id=\"arrivals\" d=\"", "\"");
        std::vector<double> places;
        if (path.empty()) return places;
        const auto distance = scale_of(d.svg, "lower-axis-arrivals", "x");
        for (std::size_t at = path.find('M'); at != std::string::npos; at = path.find('M', at + 1)) {
            places.push_back(distance.value(std::stod(path.substr(at + 1)) + 2.0));
        }
        return places;
    };
    const std::vector<double> flat = bars(picture("phases"));
    REQUIRE(flat.size() == 1);
    CHECK(std::abs(flat[0] - 3300.0) < 0.2);  // a hundredth of a unit, ten of the 4500 mm on 470 units
    const std::vector<double> step = bars(picture("step"));
    REQUIRE(step.size() == 2);
    CHECK(std::abs(step[0] - 3600.0) < 0.2);
    CHECK(std::abs(step[1] - 4000.0) < 0.2);
    // Crosstalk from inside the housing is no light of the part.
    CHECK(bars(picture("four")).size() == 1);
    CHECK(all_words(picture("four").svg).find("inside the housing 0.2 nW") != std::string::npos);
    CHECK(bars(picture("no light")).empty());
    CHECK(all_words(picture("no light").svg).find("No light of the part reaches the detector.") != std::string::npos);
}

TEST_CASE("a picture by time of flight says why there is no reading", "[flight][record][drawing]") {
    const auto says = [](const char* name, const std::string& words) {
        CAPTURE(name);
        CHECK_THAT(all_words(picture(name).svg), Catch::Contains(words));
    };
    says("saturated", "buckets are at full well");
    says("dark", "the least amplitude is");
    says("edge not reached", "no pulse made the comparator fire");
    says("few photons", "no peak of the photon histogram");
    says("phases", "the lit point is at −700 mm");
    CHECK_THROWS_AS(drawing::draw_flight_reading(picture("dark").setup, {}), base::InternalError);
}
