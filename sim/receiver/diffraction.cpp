#include "sim/receiver/diffraction.hpp"

#include <boost/math/interpolators/cardinal_cubic_b_spline.hpp>
#include <boost/math/quadrature/gauss.hpp>

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"

namespace spotwright::receiver {

double round_aperture_transfer(double frequency) {
    const double q = std::abs(frequency);
    if (q >= 1.0) return 0.0;
    return 2.0 / base::pi * (std::acos(q) - q * std::sqrt(1.0 - q * q));
}

double rectangular_aperture_transfer(double frequency) {
    return std::max(0.0, 1.0 - std::abs(frequency));
}

EdgeSpread::EdgeSpread(scenario::ApertureShape shape)
    : shape_(shape),
      tail_slope_(shape == scenario::ApertureShape::round ? base::pi * base::pi * base::pi / 2.0
                                                          : 2.0 * base::pi * base::pi) {
    const auto transfer =
        shape == scenario::ApertureShape::round ? round_aperture_transfer : rectangular_aperture_transfer;
    // The integrand swings up to 24 times over [0, 1]: four panels of 30 nodes take five nodes per swing.
    struct Node {
        double q;
        double weight;
    };
    std::vector<Node> nodes;
    constexpr int panels = 4;
    using Rule = boost::math::quadrature::gauss<double, 30>;
    for (int panel = 0; panel < panels; ++panel) {
        const double half = 0.5 / panels;
        const double centre = (2 * panel + 1) * half;
        for (std::size_t i = 0; i < Rule::abscissa().size(); ++i) {
            for (const double side : {-1.0, 1.0}) {
                const double q = centre + side * half * Rule::abscissa()[i];
                nodes.push_back({q, half * Rule::weights()[i] * transfer(q) / (base::pi * q)});
            }
        }
    }
    constexpr double coarse_step = 1.0 / 64.0;
    std::vector<double> coarse;
    for (double x = 0.0; x <= table_end + 2.0 * coarse_step; x += coarse_step) {
        double sum = 0.5;
        for (const Node& node : nodes) sum += node.weight * std::sin(2.0 * base::pi * node.q * x);
        coarse.push_back(sum);
    }
    const boost::math::interpolators::cardinal_cubic_b_spline<double> spline(coarse.begin(), coarse.end(), 0.0,
                                                                             coarse_step);
    const auto count = static_cast<std::size_t>(table_end * steps_per_unit) + 2;
    table_.resize(count);
    for (std::size_t i = 0; i < count; ++i) table_[i] = spline(static_cast<double>(i) / steps_per_unit);
}

}  // namespace spotwright::receiver
