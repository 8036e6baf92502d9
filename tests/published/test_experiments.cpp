// Experiments of others: what agrees, and what is known not to.
#include <catch2/catch.hpp>

#include <limits>
#include <set>
#include <string>

#include "sim/validation/experiments.hpp"

using namespace spotwright;

namespace {

// Results that do not agree, each with its probable cause in the experiment's comment. If a model improves, its entry
// is removed; none is added to make the test pass.
const std::set<std::string> known_differences{"receiver.precision.zero-crossing",
                                              "receiver.walk.1280",
                                              "receiver.walk.250000",
                                              "receiver.walk.10",
                                              "marble.bias.far",
                                              "marble.noise",
                                              "camera.motion.range"};

void require_as_known(const validation::Experiment& experiment) {
    CHECK_FALSE(experiment.article.empty());
    CHECK_FALSE(experiment.setup.empty());
    CHECK_FALSE(experiment.model.empty());
    REQUIRE_FALSE(experiment.results.empty());
    for (const validation::ExperimentResult& result : experiment.results) {
        INFO(result.id << ": " << result.quantity << ", published " << result.published << " +- " << result.tolerance
                       << ", simulated " << result.simulated << " " << result.unit);
        CHECK_FALSE(result.why.empty());
        CHECK_FALSE(result.comment.empty());
        CHECK(validation::agrees(result) == (known_differences.count(result.id) == 0));
    }
}

}  // namespace

TEST_CASE("a reading crosses an edge as measured, and the beam grows nearly as measured", "[published]") {
    require_as_known(validation::edge_experiment(0));
}

TEST_CASE("first photons come early by what was measured", "[published]") {
    require_as_known(validation::first_photon_experiment());
}

TEST_CASE("single shots of a rising edge scatter as measured; real comparators walk more than the simulated one",
          "[published]") {
    require_as_known(validation::pulse_receiver_experiment());
}

TEST_CASE("a range camera's noise falls with its integration time as measured", "[published]") {
    require_as_known(validation::range_camera_experiment(0));
}

TEST_CASE("marble reads too far by about what was measured near by, but more evenly", "[published]") {
    require_as_known(validation::marble_experiment(0));
}

TEST_CASE("a range camera errs by what was measured while its object comes nearer", "[published]") {
    require_as_known(validation::moving_phase_experiment(0));
}

TEST_CASE("a result agrees within its tolerance only, and never without a number", "[published]") {
    validation::ExperimentResult result{"id", "quantity", "mm", 1.0, 1.1, 0.2, "why", "comment"};
    CHECK(validation::agrees(result));
    result.simulated = 0.79;
    CHECK_FALSE(validation::agrees(result));
    result.simulated = std::numeric_limits<double>::quiet_NaN();
    CHECK_FALSE(validation::agrees(result));
}
