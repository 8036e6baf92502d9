// Speckle of returned light from spots with very many patterns on the detector.
#include <catch2/catch.hpp>

#include <cmath>

#include "sim/flight/receive.hpp"

using namespace spotwright;

namespace {

flight::Received light_of(double patterns) {
    flight::Received received;
    received.light.arrivals = {{1e-9, 1e6}};
    received.grains = patterns;
    received.scattered_share = 1.0;
    return received;
}

double rate_of(double patterns, std::int64_t patch) {
    return flight::speckled(light_of(patterns), 1, patch).arrivals.front().rate / 1e6;
}

}  // namespace

TEST_CASE("light of a million patterns and more scatters as one over their root", "[flight]") {
    // The same patch is the same share of all patches whatever the number of patterns, so that the deviation from the
    // mean times the root of their number is the same but for the law's skewness, 2 / sqrt(patterns) at 1e5.
    for (std::int64_t patch = 0; patch < 20; ++patch) {
        const double few = (rate_of(1e5, patch) - 1.0) * std::sqrt(1e5);
        for (const double patterns : {9.9e5, 1.01e6, 1e10}) {
            const double many = (rate_of(patterns, patch) - 1.0) * std::sqrt(patterns);
            CHECK(many == Approx(few).margin(0.01));
        }
    }
    // Beside each other, where the formula changes: what changes by more than the law is an error of the formula.
    CHECK(rate_of(0.999999e6, 3) == Approx(rate_of(1.000001e6, 3)).epsilon(1e-8));
}

TEST_CASE("light of any number of patterns is finite", "[flight]") {
    for (const double patterns : {1e11, 1e15, 1e25, 1e300}) {
        for (std::int64_t patch = 0; patch < 5; ++patch) CHECK(rate_of(patterns, patch) == Approx(1.0).margin(1e-4));
    }
}
