// The published checks, as `spotwright validate` runs them.
#include <catch2/catch.hpp>

#include <fstream>
#include <limits>
#include <sstream>

#include "sim/record/pages.hpp"
#include "sim/validation/published.hpp"

using namespace spotwright;

namespace {

void require_all(const std::vector<validation::Check>& checks) {
    REQUIRE_FALSE(checks.empty());
    for (const validation::Check& check : checks) {
        INFO(check.id << ": " << check.claim);
        INFO("expected " << validation::symbol_of(check.relation) << check.expected << " +- " << check.tolerance
                         << ", got " << check.got << " " << check.unit);
        CHECK_FALSE(check.source.empty());
        CHECK_FALSE(check.why.empty());
        CHECK(validation::passes(check));
    }
}

}  // namespace

TEST_CASE("geometry agrees with published values", "[published]") {
    require_all(validation::geometry_checks());
}

TEST_CASE("beam, surfaces, link budget and diffraction agree with published values", "[published]") {
    require_all(validation::light_checks());
}

TEST_CASE("clear plates and translucent volumes agree with published values", "[published]") {
    require_all(validation::target_checks());
}

TEST_CASE("simulated frames agree with EMVA 1288", "[published]") {
    require_all(validation::detector_checks());
}

TEST_CASE("phase measurement agrees with worked values, closed forms and the index of air", "[published]") {
    require_all(validation::phase_shift_checks(0));
}

TEST_CASE("pulses and photon counting agree with worked values and bounds", "[published]") {
    require_all(validation::pulse_checks(0));
}

TEST_CASE("peak estimators and filters agree with published values", "[published]") {
    require_all(validation::peak_checks());
}

TEST_CASE("the whole chain agrees with closed forms and bounds", "[published]") {
    require_all(validation::system_checks(0));
}

TEST_CASE("speckle agrees with published statistics", "[published][slow]") {
    require_all(validation::speckle_checks(0));
}

TEST_CASE("uncertainties agree with the examples of the GUM and of its supplement", "[published]") {
    require_all(validation::uncertainty_checks(0));
}

TEST_CASE("Allan deviations and linearity agree with published and worked values", "[published]") {
    require_all(validation::statistics_checks());
}

TEST_CASE("a check that is off by more than its tolerance fails", "[published]") {
    validation::Check check{"id", "claim", "source", "1", 1.0, 1.2, 0.1, "why"};
    CHECK_FALSE(validation::passes(check));
    check.relation = validation::Relation::at_least;
    CHECK(validation::passes(check));
    check.relation = validation::Relation::at_most;
    CHECK_FALSE(validation::passes(check));
    check.got = std::numeric_limits<double>::quiet_NaN();
    for (const auto relation :
         {validation::Relation::equal, validation::Relation::at_least, validation::Relation::at_most}) {
        check.relation = relation;
        CHECK_FALSE(validation::passes(check));
    }
}

TEST_CASE("the pages made from tables of the program are what it would write today", "[published][slow]") {
    const auto page = [](const std::string& name) {
        std::ifstream in(SPOTWRIGHT_SOURCE_DIR "/docs/" + name);
        std::ostringstream text;
        text << in.rdbuf();
        return text.str();
    };
    // Made again by: build/write_docs docs
    CHECK(page("scenario.md") == record::scenario_page());
    CHECK(page("materials.md") == record::materials_page());
    CHECK(page("../tests/fuzz/keys.dict") == record::fuzz_dictionary());
}
