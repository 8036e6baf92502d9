// Logs simulated with known parameters, and what the fit finds in them.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/bench/fit.hpp"
#include "sim/bench/model.hpp"
#include "sim/bench/least_squares.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using base::degree, base::um;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

scenario::Scenario part_of(const std::string& material, const std::vector<std::string>& settings) {
    return scenario::parse("[target]\nmaterial = \"" + material +
                               "\"\n[run]\nspeckle = \"off\"\n[detector]\npixels = 512\npitch_um = 14.0\n",
                           "test.toml", settings);
}

// The log of a part that reflects half as much as the library says, on another day.
bench::BenchLog half_as_bright(double excess, const std::string& exposure) {
    scenario::Scenario s =
        part_of("white-ceramic", {"seed=99", "run.readings=2000", "exposure.exposure_us=" + exposure});
    for (double& value : s.target.made_of.reflectance.value) value *= 0.5;
    bench::BenchLog log = bench::simulated_time_log(sensor::set_up(s, 1), 1);
    std::vector<float> normals((log.reading.size() + 63) / 64 * 64);
    base::fill_normals({5, base::Stream::read_noise}, 0, 0, normals);
    for (std::size_t i = 0; i < log.reading.size(); ++i) log.reading[i] += excess * static_cast<double>(normals[i]);
    return log;
}

const bench::Fitted* find(const bench::BenchFit& fit, const std::string& name) {
    for (const bench::Fitted& fitted : fit.parameters) {
        if (fitted.name == name) return &fitted;
    }
    return nullptr;
}

// Within three standard uncertainties: missed once in 370 seeds; these are fixed.
void check_recovered(const bench::Fitted* fitted, double truth) {
    REQUIRE(fitted != nullptr);
    REQUIRE(fitted->standard_uncertainty);
    INFO(fitted->name << " = " << fitted->value << " +- " << *fitted->standard_uncertainty);
    CHECK(std::abs(fitted->value - truth) <= 3.0 * *fitted->standard_uncertainty);
}

sensor::Setup bright_sensor() {
    return sensor::set_up(part_of("white-ceramic", {"exposure.exposure_us=2", "run.readings=500"}), 1);
}

}  // namespace

TEST_CASE("where nothing can be fitted, likely causes are named", "[study][statistical]") {
    const sensor::Setup setup = bright_sensor();
    const auto remarks_of = [&setup](bench::BenchLog log) {
        for (std::size_t i = 0; i < log.reading.size(); ++i) {
            log.time.push_back(1e-3 * static_cast<double>(i));
            log.lines.push_back(static_cast<int>(i) + 2);
        }
        const bench::BenchFit fit = bench::compare_with_model(log, bench::time_statistics(log), setup, 1).fit;
        CHECK(fit.parameters.empty());
        std::string all;
        for (const std::string& remark : fit.remarks) all += remark + "\n";
        return all;
    };
    bench::BenchLog held;
    held.reading.assign(200, 0.5 * base::mm);
    CHECK_THAT(remarks_of(held), Catch::Contains("likely cause: every reading is 500 um"));
    bench::BenchLog few;
    few.reading = {0.1 * um, 0.2 * um};
    CHECK_THAT(remarks_of(few), Catch::Contains("likely cause: too few rows: 2 valid readings"));
    bench::BenchLog counter;  // of rows, in a column taken for the reading
    for (int i = 0; i < 200; ++i) counter.reading.push_back(i * 0.02 * base::mm);
    CHECK_THAT(remarks_of(counter), Catch::Contains("likely cause: the readings only rise from row to row") &&
                                        Catch::Contains("times as much as predicted: another unit"));
}

TEST_CASE("least squares find the parameters of a curve and how well they are known", "[study][statistical]") {
    // y = a exp(-b x) with noise of a known size.
    std::vector<float> normals(64);
    base::fill_normals({41, base::Stream::read_noise}, 0, 0, normals);
    constexpr double noise = 0.01;
    const auto curve = [](double a, double b, double x) { return a * std::exp(-b * x); };
    const bench::Residuals residuals = [&](const Eigen::VectorXd& p) {
        Eigen::VectorXd left(64);
        for (Eigen::Index i = 0; i < 64; ++i) {
            const double x = 0.05 * static_cast<double>(i);
            const double y = curve(2.0, 0.7, x) + noise * static_cast<double>(normals[static_cast<std::size_t>(i)]);
            left[i] = (y - curve(p[0], p[1], x)) / noise;
        }
        return left;
    };
    const auto found = bench::least_squares_fit(residuals, Eigen::Vector2d(1.0, 0.1), Eigen::Vector2d(1e-4, 1e-4));
    CHECK(found.converged);
    REQUIRE(found.determined);
    CHECK(std::abs(found.parameters[0] - 2.0) < 3.0 * std::sqrt(found.covariance(0, 0)));
    CHECK(std::abs(found.parameters[1] - 0.7) < 3.0 * std::sqrt(found.covariance(1, 1)));
    // Chi-squared of 62 degrees of freedom: 62 +- 11.
    CHECK_THAT(found.sum, WithinAbs(62.0, 5.0 * 11.2));
    CHECK(found.freedom == 62);
}

TEST_CASE("parameters that the residuals do not tell apart are not determined", "[study][statistical]") {
    const bench::Residuals only_their_sum = [](const Eigen::VectorXd& p) {
        Eigen::VectorXd left(3);
        left << p[0] + p[1] - 1.0, 2.0 * (p[0] + p[1]) - 2.1, p[0] + p[1] - 0.9;
        return left;
    };
    CHECK_FALSE(
        bench::least_squares_fit(only_their_sum, Eigen::Vector2d(0.0, 0.0), Eigen::Vector2d(0.1, 0.1)).determined);
    const bench::Residuals one_alone = [](const Eigen::VectorXd& p) {
        Eigen::VectorXd left(3);
        left << p[0] - 1.0, 2.0 * p[0], 3.0;
        return left;
    };
    CHECK_FALSE(bench::least_squares_fit(one_alone, Eigen::Vector2d(0.0, 0.0), Eigen::Vector2d(0.1, 0.1)).determined);
}

TEST_CASE("a log with its signal tells the reflectance and noise that is no part of the model",
          "[study][statistical]") {
    const bench::BenchLog log = half_as_bright(0.15 * um, "2");
    const bench::TimeStatistics statistics = bench::time_statistics(log);
    const bench::Bench bench = bench::compare_with_model(log, statistics, bright_sensor(), 1);
    check_recovered(find(bench.fit, "reflectance_factor"), 0.5);
    check_recovered(find(bench.fit, "excess_sd_um"), 0.15 * um);
    // The signal is half of what was predicted, and the scatter more.
    for (const bench::Compared& each : bench.compared) {
        if (each.name == "signal_share" || each.name == "still_sd_um") CHECK(each.agree == false);
        if (each.name == "valid_share") CHECK(each.agree == true);
    }
}

TEST_CASE("a log of the model's own agrees with it", "[study][statistical]") {
    const sensor::Setup setup = bright_sensor();
    scenario::Scenario other_day = sensor::scenario_of(setup);
    other_day.seed = 12;
    other_day.run.readings = 2000;
    bench::BenchLog log = bench::simulated_time_log(sensor::with_part(setup, other_day), 1);
    const bench::TimeStatistics statistics = bench::time_statistics(log);
    const bench::Bench bench = bench::compare_with_model(log, statistics, setup, 1);
    for (const bench::Compared& each : bench.compared) {
        INFO(each.name << " " << each.measured << " " << each.predicted);
        CHECK(each.agree.value_or(true));
    }
    check_recovered(find(bench.fit, "reflectance_factor"), 1.0);
    REQUIRE(find(bench.fit, "excess_sd_um") != nullptr);
    CHECK(find(bench.fit, "excess_sd_um")->interval.low == 0.0);
}

TEST_CASE("without the signal the scatter alone tells the reflectance", "[study][statistical]") {
    bench::BenchLog log = half_as_bright(0.0, "2");
    log.signal.clear();
    const bench::Bench bench = bench::compare_with_model(log, bench::time_statistics(log), bright_sensor(), 1);
    CHECK(bench.fit.basis.find("scatter alone") != std::string::npos);
    CHECK(bench.fit.parameters.size() == 1);
    check_recovered(find(bench.fit, "reflectance_factor"), 0.5);
}

TEST_CASE("a linearity log tells the tilt of a part that leans its light, and the offset", "[study][statistical]") {
    const sensor::Setup setup = sensor::set_up(
        part_of("zinc-die-cast", {"exposure.exposure_us=0.5", "detector.pixels=1024", "detector.pitch_um=7"}), 1);
    scenario::Scenario tilted = sensor::scenario_of(setup);
    tilted.target.tilt[0] = 3.0 * degree;
    tilted.seed = 77;
    bench::BenchLog log = bench::simulated_linearity_log(sensor::with_part(setup, tilted), 9, 2);
    for (double& reading : log.reading) reading += 2.0 * um;
    const bench::Bench bench = bench::compare_with_model(log, bench::linearity_statistics(log), setup, 2);
    check_recovered(find(bench.fit, "tilt_deg"), 3.0 * degree);
    check_recovered(find(bench.fit, "offset_um"), 2.0 * um);
    // Sharper than the tilt itself: what the specimen leaves is some 0.05 um at each place, against 0.03 um for a
    // degree.
    CHECK(*find(bench.fit, "tilt_deg")->standard_uncertainty < 1.5 * degree);
    CHECK(bench.compared.size() == 4);
}

TEST_CASE("a matt part's errors do not tell its tilt, and no number is made up", "[study][statistical]") {
    const sensor::Setup setup = sensor::set_up(part_of("white-ceramic", {}), 1);
    const bench::BenchLog log = bench::simulated_linearity_log(setup, 5, 1);
    const bench::Bench bench = bench::compare_with_model(log, bench::linearity_statistics(log), setup, 1);
    CHECK(bench.fit.parameters.empty());
    CHECK_FALSE(bench.fit.remarks.empty());
}

TEST_CASE("what the model does at a factor of light does not depend on threads", "[study][statistical]") {
    const sensor::Setup setup = bright_sensor();
    const bench::SeriesAtLight alone = bench::PartAtLight(setup, 1).at(0.7);
    const bench::SeriesAtLight together = bench::PartAtLight(setup, 3).at(0.7);
    CHECK(alone.variance == together.variance);
    CHECK(alone.share == together.share);
    CHECK_THAT(alone.share.value() / bench::PartAtLight(setup, 1).at(0.35).share.value(), WithinRel(2.0, 1e-3));
}
