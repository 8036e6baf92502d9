// Boost 1.74 calls `isnan` unqualified in the interpolator; the C header declares it so.
#include <math.h>  // NOLINT(modernize-deprecated-headers,hicpp-deprecated-headers)

#include <algorithm>
#include <boost/math/interpolators/pchip.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/reading/calibration.hpp"
#include "sim/reading/locate.hpp"
#include "sim/reading/smoothing.hpp"

using namespace spotwright;
using reading::Validity;
using scenario::PeakMethod;
using scenario::PeakRule;

namespace {

void add_spot(std::vector<float>& net, double centre, double height, double deviation) {
    for (std::size_t k = 0; k < net.size(); ++k) {
        const double t = (static_cast<double>(k) - centre) / deviation;
        net[k] += static_cast<float>(height * std::exp(-0.5 * t * t));
    }
}

std::vector<float> one_spot(double centre, double height = 1000.0) {
    std::vector<float> net(128, 0.0F);
    add_spot(net, centre, height, 2.0);
    return net;
}

reading::LocateOptions options(PeakMethod method = PeakMethod::centroid) {
    reading::LocateOptions o;
    o.method = method;
    o.threshold = 50.0F;
    o.saturation = 1e5F;
    return o;
}

}  // namespace

TEST_CASE("every estimator finds a sampled Gaussian spot wherever it stands in a pixel", "[unit]") {
    const auto method = GENERATE(PeakMethod::centroid, PeakMethod::gauss3, PeakMethod::parabola3,
                                 PeakMethod::zero_crossing, PeakMethod::fit);
    for (double centre = 60.0; centre < 61.0; centre += 0.05) {
        const reading::Spot spot = reading::locate(one_spot(centre), options(method));
        REQUIRE(spot.validity == Validity::valid);
        // The largest systematic errors at this width, of parabola and cut centroid, are a few hundredths of a pixel.
        CHECK(std::abs(spot.position - centre) < 0.04);
    }
}

TEST_CASE("log-parabola and fit are exact on a sampled Gaussian", "[unit]") {
    for (double centre = 60.0; centre < 61.0; centre += 0.05) {
        // Float samples: 6e-8 of the highest, magnified by the flat top of the spot.
        CHECK(std::abs(reading::locate(one_spot(centre), options(PeakMethod::gauss3)).position - centre) < 3e-6);
        CHECK(std::abs(reading::locate(one_spot(centre), options(PeakMethod::fit)).position - centre) < 3e-6);
    }
}

TEST_CASE("a position does not depend on the height of the spot or on mirroring", "[unit]") {
    const auto method = GENERATE(PeakMethod::gauss3, PeakMethod::parabola3, PeakMethod::zero_crossing);
    const double position = reading::locate(one_spot(50.3), options(method)).position;
    CHECK(reading::locate(one_spot(50.3, 3e4), options(method)).position == Approx(position).margin(1e-5));
    const double mirrored = reading::locate(one_spot(127.0 - 50.3), options(method)).position;
    CHECK(127.0 - mirrored == Approx(position).margin(1e-5));
}

TEST_CASE("the rule chooses among several peaks", "[unit]") {
    std::vector<float> net(128, 0.0F);
    add_spot(net, 20.0, 500.0, 2.0);
    add_spot(net, 60.0, 900.0, 2.0);
    add_spot(net, 100.0, 700.0, 2.0);
    CHECK(reading::find_peaks(net, 50.0F).size() == 3);
    reading::LocateOptions o = options();
    const auto position = [&] { return std::round(reading::locate(net, o).position); };
    CHECK(position() == 60.0);
    o.choose.rule = PeakRule::nearest;
    CHECK(position() == 100.0);
    o.choose.rule = PeakRule::farthest;
    CHECK(position() == 20.0);
    o.choose = {PeakRule::index, 0};
    CHECK(position() == 100.0);
    o.choose = {PeakRule::index, 2};
    CHECK(position() == 20.0);
    o.choose = {PeakRule::index, 3};
    CHECK(reading::locate(net, o).validity == Validity::no_peak);
}

TEST_CASE("all peaks are listed from the near end, each located, the chosen one marked", "[unit]") {
    std::vector<float> net(128, 0.0F);
    add_spot(net, 20.0, 500.0, 2.0);
    add_spot(net, 60.0, 900.0, 2.0);
    add_spot(net, 100.0, 700.0, 2.0);
    add_spot(net, 127.0, 300.0, 2.0);  // cut off by the array's end
    net[20] = reading::saturated_signal;
    const auto method = GENERATE(PeakMethod::centroid, PeakMethod::gauss3, PeakMethod::parabola3,
                                 PeakMethod::zero_crossing, PeakMethod::fit);
    reading::LocateOptions o = options(method);
    for (const scenario::PeakChoice& choice :
         {scenario::PeakChoice{PeakRule::strongest, 0}, scenario::PeakChoice{PeakRule::nearest, 0},
          scenario::PeakChoice{PeakRule::farthest, 0}, scenario::PeakChoice{PeakRule::index, 1},
          scenario::PeakChoice{PeakRule::index, 2}}) {
        o.choose = choice;
        const std::vector<reading::LocatedPeak> peaks = reading::locate_all(net, o);
        REQUIRE(peaks.size() == 4);
        CHECK(peaks[0].spot.validity == Validity::out_of_range);
        CHECK(peaks[1].spot.validity == Validity::valid);
        CHECK(peaks[2].spot.validity == Validity::valid);
        CHECK(peaks[3].spot.validity == Validity::saturated);
        // As above: systematic errors of the estimators at this width.
        CHECK(std::abs(peaks[1].spot.position - 100.0) < 0.04);
        CHECK(std::abs(peaks[2].spot.position - 60.0) < 0.04);
        CHECK(peaks[2].spot.peak == net[60]);
        std::size_t chosen = 0;
        for (std::size_t i = 0; i < peaks.size(); ++i) {
            // The place in the list is the index that chooses the peak, and `locate` answers alike, to the last bit.
            reading::LocateOptions by_index = o;
            by_index.choose = {PeakRule::index, static_cast<std::int64_t>(i)};
            const reading::Spot alone = reading::locate(net, by_index);
            CHECK(alone.validity == peaks[i].spot.validity);
            CHECK(alone.position == peaks[i].spot.position);
            CHECK(alone.peak == peaks[i].spot.peak);
            if (!peaks[i].chosen) continue;
            ++chosen;
            const reading::Spot spot = reading::locate(net, o);
            CHECK(spot.validity == peaks[i].spot.validity);
            CHECK(spot.position == peaks[i].spot.position);
            CHECK(spot.peak == peaks[i].spot.peak);
        }
        CHECK(chosen == 1);
    }
}

TEST_CASE("no peak is chosen where there is none, or none with the index asked for", "[unit]") {
    CHECK(reading::locate_all(one_spot(60.0, 40.0), options()).empty());
    CHECK(reading::locate_all(std::vector<float>{}, options()).empty());
    reading::LocateOptions o = options();
    o.choose = {PeakRule::index, 1};
    const std::vector<reading::LocatedPeak> peaks = reading::locate_all(one_spot(1.0), o);  // starts at pixel 0
    REQUIRE(peaks.size() == 1);
    CHECK_FALSE(peaks[0].chosen);
}

TEST_CASE("a gap that noise tears into a peak does not split it", "[unit]") {
    std::vector<float> net = one_spot(60.0);
    net[61] = 10.0F;
    net[62] = 10.0F;
    CHECK(reading::find_peaks(net, 50.0F).size() == 1);
    net[59] = net[60] = net[61] = net[62] = 10.0F;
    CHECK(reading::find_peaks(net, 50.0F).size() == 2);
}

TEST_CASE("peaks are those of a walk along the samples, at any length, threshold and place", "[unit]") {
    std::mt19937 random(7);
    std::uniform_int_distribution<int> level(0, 9);
    for (std::size_t size = 1; size < 300; size += 1 + size / 7) {
        for (float threshold = -1.0F; threshold < 10.0F; threshold += 1.0F) {
            std::vector<float> net(size);
            // Steps of one level, so that equal samples meet; stretches that stay above longer than a word of bits.
            const int least = level(random);
            for (float& value : net) value = static_cast<float>(std::max(level(random), least));
            std::vector<reading::PeakWindow> walked;
            for (std::size_t k = 0; k < size; ++k) {
                if (!(net[k] > threshold)) continue;
                if (walked.empty() || k > walked.back().last + 2) walked.push_back({k, k, k});
                walked.back().last = k + 1;
                if (net[k] > net[walked.back().highest]) walked.back().highest = k;
            }
            const auto found = reading::find_peaks(net, threshold);
            REQUIRE(found.size() == walked.size());
            for (std::size_t i = 0; i < found.size(); ++i) {
                CHECK(found[i].first == walked[i].first);
                CHECK(found[i].last == walked[i].last);
                CHECK(found[i].highest == walked[i].highest);
            }
        }
    }
}

TEST_CASE("the order of the centroid's sums changes no bit in a spot of some thirty pixels", "[unit]") {
    std::mt19937 random(11);
    std::uniform_real_distribution<float> signal(4000.0F, 100'000.0F);
    for (std::size_t size = 1; size <= 32; ++size) {
        std::vector<float> net(size);
        for (float& value : net) value = signal(random);
        double sum = 0.0;
        double moment = 0.0;
        for (std::size_t k = 0; k < size; ++k) {
            sum += static_cast<double>(net[k] - 4000.0F);
            moment += static_cast<double>(net[k] - 4000.0F) * static_cast<double>(k);
        }
        CHECK(reading::centroid(net, {0, size, 0}, 4000.0F).value() == moment / sum);
    }
}

TEST_CASE("each reason for an invalid reading is told apart", "[unit]") {
    CHECK(reading::locate(one_spot(60.0, 40.0), options()).validity == Validity::too_dark);
    CHECK(reading::locate(one_spot(60.0, 20.0), options()).validity == Validity::no_peak);
    CHECK(reading::locate(std::vector<float>{}, options()).validity == Validity::no_peak);
    CHECK(reading::locate(one_spot(1.0), options()).validity == Validity::out_of_range);
    CHECK(reading::locate(one_spot(126.0), options()).validity == Validity::out_of_range);
    std::vector<float> clipped = one_spot(60.0);
    clipped[60] = reading::saturated_signal;
    const reading::Spot spot = reading::locate(clipped, options());
    CHECK(spot.validity == Validity::saturated);
    CHECK(spot.peak == 1e5F);
}

TEST_CASE("a peak at the edge of a drawn window, but not of the array, is no reason to lose it", "[unit]") {
    reading::LocateOptions o = options();
    o.at_array_start = false;
    CHECK(reading::locate(one_spot(2.0), o).validity == Validity::valid);
}

TEST_CASE("no samples whatever make an estimator return nonsense", "[unit]") {
    const auto method = GENERATE(PeakMethod::centroid, PeakMethod::gauss3, PeakMethod::parabola3,
                                 PeakMethod::zero_crossing, PeakMethod::fit);
    std::uint32_t state = 1;
    for (int trial = 0; trial < 3000; ++trial) {
        state = state * 1664525U + 1013904223U;
        std::vector<float> net(5 + state % 60);
        for (float& value : net) {
            state = state * 1664525U + 1013904223U;
            value = static_cast<float>(static_cast<double>(state % 100000U) * 0.01 - 300.0);
        }
        const reading::Spot spot = reading::locate(net, options(method));
        if (spot.validity != Validity::valid) continue;
        CHECK(std::isfinite(spot.position));
        CHECK(spot.position >= -1.0);
        CHECK(spot.position <= static_cast<double>(net.size()));
    }
}

TEST_CASE("net signal removes the background and marks saturated pixels", "[unit]") {
    const std::vector<float> digits{100.0F, 4095.0F, 64.0F};
    const std::vector<float> background{60.0F, 60.0F, 64.0F};
    std::vector<float> net(3);
    reading::net_signal(digits, background, 0.02F, 4095.0F, net);
    CHECK(net[0] == Approx(2000.0).epsilon(1e-6));
    CHECK(net[1] == reading::saturated_signal);
    CHECK(net[2] == 0.0F);
}

TEST_CASE("the calibration gives its own points back and runs one way between them", "[unit]") {
    std::vector<reading::CalibrationPoint> points;
    for (int i = 0; i <= 20; ++i) {
        const double s = 1e-3 * (i - 10);
        points.push_back({s, 500.0 - 3e4 * s + 1e6 * s * s});
    }
    const reading::Calibration calibration(points);
    for (const auto& point : points) {
        CHECK(calibration.displacement(point.position).value() == Approx(point.displacement).margin(1e-15));
    }
    double last = calibration.displacement(points.back().position).value();
    for (double px = points.back().position; px < points.front().position; px += 0.37) {
        const double s = calibration.displacement(px).value();
        CHECK(s <= last);
        last = s;
    }
    CHECK_FALSE(calibration.displacement(points.front().position + 0.01).has_value());
    CHECK_FALSE(calibration.displacement(std::nan("")).has_value());
    CHECK(calibration.lowest() == points.back().position);
    CHECK(calibration.highest() == points.front().position);
    for (double s = -10e-3; s <= 10e-3; s += 0.37e-3) {
        // Halved to 1e-6 px, and a pixel is some 33 um here.
        CHECK(calibration.displacement(calibration.position(s).value()).value() == Approx(s).margin(1e-6 * 40e-6));
    }
    CHECK_FALSE(calibration.position(10.001e-3).has_value());
    CHECK_FALSE(calibration.position(-10.001e-3).has_value());
    CHECK_FALSE(calibration.position(std::nan("")).has_value());
}

TEST_CASE("the calibration is the library's monotone cubic to the last bit, however uneven its points", "[unit]") {
    std::mt19937 random(3);
    std::exponential_distribution<double> step(1.0);
    for (const int count : {4, 5, 12, 65}) {
        std::vector<reading::CalibrationPoint> points;
        std::vector<double> positions;
        std::vector<double> displacements;
        double position = 100.0;
        double displacement = -5e-3;
        for (int i = 0; i < count; ++i) {
            // Steps from a thousandth to ten pixels: most cells of the table hold none or many of the points.
            position += 1e-3 + std::pow(step(random), 3.0);
            displacement += 1e-4 * step(random) + 1e-9;
            points.push_back({displacement, position});
            positions.push_back(position);
            displacements.push_back(displacement);
        }
        const reading::Calibration calibration(points);
        const double low = positions.front();
        const double high = positions.back();
        std::vector<double> places = positions;
        std::uniform_real_distribution<double> between(low, high);
        for (int i = 0; i < 2000; ++i) places.push_back(between(random));
        for (int i = 0; i <= 4 * count; ++i) places.push_back(std::min(low + (high - low) * i / (4 * count), high));
        const boost::math::interpolators::pchip<std::vector<double>> library(std::move(positions),
                                                                             std::move(displacements));
        for (const double at : places) CHECK(calibration.displacement(at).value() == library(at));
    }
}

TEST_CASE("positions that turn back cannot be calibrated", "[unit]") {
    CHECK_THROWS_AS(reading::Calibration({{0, 1}, {1, 2}, {2, 1.5}, {3, 4}}), base::DomainError);
    CHECK_THROWS_AS(reading::Calibration({{0, 1}, {1, 2}, {2, 3}}), base::DomainError);
}

TEST_CASE("invalid readings are marked, or the last output is held", "[unit]") {
    scenario::Reading o;
    o.average = 2;
    reading::Smoother mark(o);
    CHECK(mark.push(1.0) == 1.0);
    CHECK_FALSE(mark.push(std::nullopt).has_value());
    CHECK(mark.push(3.0) == 2.0);  // the invalid one does not enter the average
    o.on_invalid = scenario::OnInvalid::hold;
    reading::Smoother hold(o);
    CHECK_FALSE(hold.push(std::nullopt).has_value());  // nothing to hold yet
    CHECK(hold.push(1.0) == 1.0);
    CHECK(hold.push(std::nullopt) == 1.0);
}

TEST_CASE("a median of five removes two outliers and delays a step by two readings", "[unit]") {
    scenario::Reading o;
    o.median = 5;
    reading::Smoother smoother(o);
    std::vector<double> outputs;
    for (const double in : {0., 0., 0., 0., 0., 9., 9., 0., 0., 0., 1., 1., 1., 1., 1.}) {
        outputs.push_back(smoother.push(in).value());
    }
    CHECK(outputs[6] == 0.0);
    CHECK(outputs[11] == 0.0);
    CHECK(outputs[12] == 1.0);
    CHECK(reading::step_response_readings(o) == 3);
}

TEST_CASE("a long moving average does not drift from the true mean of its window", "[unit]") {
    scenario::Reading o;
    o.average = 7;
    reading::Smoother smoother(o);
    std::vector<double> in;
    for (int i = 0; i < 100000; ++i) {
        in.push_back(1e3 + std::sin(0.7 * i));
        const double out = smoother.push(in.back()).value();
        if (i < 7) continue;
        double sum = 0.0;
        for (int k = 0; k < 7; ++k) sum += in[in.size() - 1 - static_cast<std::size_t>(k)];
        // At most 14 additions between two fresh sums, each rounding 1e3 * 7 to 1.1e-16 of itself.
        REQUIRE(std::abs(out - sum / 7.0) < 14 * 1.2e-16 * 7e3);
    }
}
