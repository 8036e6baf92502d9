#include "sim/sensor/neighbour.hpp"

#include <algorithm>
#include <cmath>

#include "sim/receiver/image.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::sensor {

using scenario::NeighbourTiming;

std::vector<float> neighbour_light(const TriangulationSetup& setup, double displacement) {
    const scenario::Scenario& s = setup.scenario;
    const scenario::Neighbour& n = s.neighbour;
    if (n.power == 0.0 || n.timing == NeighbourTiming::alternating) return {};
    if (std::abs(n.wavelength - s.emitter.wavelength) > 0.5 * s.receiver.filter_width) return {};
    emitter::Beam beam = setup.instrument.beam;
    beam.power = n.power;
    beam.face += Eigen::Vector3d(n.position[0], n.position[1], 0.0);
    return receiver::image(beam, part_of(s, displacement), surface_of(s), setup.instrument.receiver,
                           setup.instrument.edge_spread, s.detector.quantum_efficiency)
        .rate;
}

double met_light(const scenario::Neighbour& n, double begin, double exposure) {
    if (n.power == 0.0 || n.timing != NeighbourTiming::free) return 0.0;
    constexpr double start = 0.382;  // of a period: not together with the first reading
    const auto lit_until = [&](double time) {
        const double turns = time / n.period - start;
        const double whole = std::floor(turns);
        return whole * n.exposure + std::min((turns - whole) * n.period, n.exposure);
    };
    return std::clamp(lit_until(begin + exposure) - lit_until(begin), 0.0, exposure);
}

double met_share(const scenario::Neighbour& n, double exposure) {
    if (n.power == 0.0 || n.timing == NeighbourTiming::alternating) return 0.0;
    return n.timing == NeighbourTiming::free ? std::min(1.0, (exposure + n.exposure) / n.period) : 1.0;
}

}  // namespace spotwright::sensor
