// A user's program: the bias of a scenario's reading.
#include <cmath>
#include <cstdio>

#include "sim/measure/read.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/sensor.hpp"

int main(int, char** argv) {
    const spotwright::scenario::Scenario scenario = spotwright::scenario::load(argv[1]);
    const spotwright::sensor::Setup setup = spotwright::sensor::set_up(scenario, 1);
    const spotwright::measure::ReadResult result = spotwright::measure::read(setup, {});
    std::printf("bias_um %.17g\n", *result.bias / 1e-6);
    // Three times what speckle, its largest cause, comes up to from patch to patch: 2.66 um.
    return std::abs(*result.bias) < 8e-6 ? 0 : 1;
}
