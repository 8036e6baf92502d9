// Places and weights of integrals.
#pragma once

#include <boost/math/quadrature/gauss.hpp>

#include <cstddef>
#include <vector>

namespace spotwright::base {

struct QuadratureNode {
    double at = 0.0;
    double weight = 0.0;  ///< in the unit of `at`
};

/// Appends the nodes of the rule of Gauss and Legendre over an interval: from its middle outwards, both sides in turn.
template <unsigned count>
void add_gauss_nodes(double from, double to, std::vector<QuadratureNode>& nodes) {
    using Rule = boost::math::quadrature::gauss<double, count>;
    const double middle = 0.5 * (from + to);
    const double reach = 0.5 * (to - from);
    for (std::size_t i = 0; i < Rule::abscissa().size(); ++i) {
        const double x = reach * Rule::abscissa()[i];
        const double weight = reach * Rule::weights()[i];
        nodes.push_back({middle + x, weight});
        if (x > 0.0) nodes.push_back({middle - x, weight});
    }
}

}  // namespace spotwright::base
