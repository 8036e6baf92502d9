#include "sim/receiver/diffraction.hpp"

#include <boost/math/quadrature/gauss.hpp>

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"

namespace spotwright::receiver {

namespace {

constexpr double table_end = static_cast<double>(round_aperture_entries - 1) / round_aperture_steps_per_unit;

// Lets a table of distances from 0 on begin one step earlier, and puts one entry behind its end: the cubic through four
// entries may be asked anywhere between.
std::vector<PatternTerms> with_ends(std::vector<PatternTerms> table) {
    PatternTerms before = table[1];
    for (double& term : before) term = -term;
    table.insert(table.begin(), before);
    PatternTerms beyond = table.back();
    const PatternTerms& last = table[table.size() - 2];
    for (std::size_t r = 0; r < pattern_terms; ++r) beyond[r] = 2.0 * beyond[r] - last[r];
    table.push_back(beyond);
    return table;
}

}  // namespace

// Equation (receiver.12).
double round_aperture_transfer(double frequency) {
    const double q = std::abs(frequency);
    if (q >= 1.0) return 0.0;
    return 2.0 / base::pi * (std::acos(q) - q * std::sqrt(1.0 - q * q));
}

// Equation (receiver.12a).
double rectangular_aperture_transfer(double frequency) {
    return std::max(0.0, 1.0 - std::abs(frequency));
}

EdgeSpread::Table EdgeSpread::round_table() {
    return with_ends({round_aperture_table.begin(), round_aperture_table.end()});
}

EdgeSpread::Table EdgeSpread::rectangular_table() {
    // The integrand swings up to 32 times over [0, 1]: six panels of 30 nodes take five nodes per swing.
    constexpr int panels = 6;
    using Rule = boost::math::quadrature::gauss<double, 30>;
    Table table(round_aperture_entries, PatternTerms{});
    for (std::size_t entry = 0; entry < table.size(); ++entry) {
        const double x = static_cast<double>(entry) / steps_per_unit;
        const auto integrand = [x](double q) {
            return rectangular_aperture_transfer(q) * std::sin(2.0 * base::pi * q * x) / (base::pi * q);
        };
        double sum = 0.0;
        for (int panel = 0; panel < panels; ++panel) {
            sum += Rule::integrate(integrand, panel / static_cast<double>(panels), (panel + 1.0) / panels);
        }
        table[entry][0] = sum;
    }
    return with_ends(std::move(table));
}

EdgeSpread::EdgeSpread(scenario::ApertureShape shape) : shape_(shape) {
    if (shape == scenario::ApertureShape::round) {
        static const Table table = round_table();
        count_ = pattern_terms;
        tail_slope_ = base::pi * base::pi * base::pi / 2.0;  // 1 - E = 2 / (pi^3 x), by the slope of OTF at 0
        signs_ = round_aperture_signs;
        table_ = &table;
    } else {
        static const Table table = rectangular_table();
        count_ = 1;
        tail_slope_ = 2.0 * base::pi * base::pi;
        signs_[0] = 1.0;
        table_ = &table;
    }
}

PatternTerms EdgeSpread::terms(double x) const {
    const double magnitude = std::abs(x);
    PatternTerms result{};
    if (magnitude < table_end) {
        const double place = magnitude * steps_per_unit;
        const auto i = static_cast<std::size_t>(place);
        const double f = place - static_cast<double>(i);
        // Lagrange's cubic through the entries before, at, after and two after the place.
        const double before = -f * (f - 1.0) * (f - 2.0) / 6.0;
        const double at = (f + 1.0) * (f - 1.0) * (f - 2.0) / 2.0;
        const double after = -(f + 1.0) * f * (f - 2.0) / 2.0;
        const double beyond = (f + 1.0) * f * (f - 1.0) / 6.0;
        const PatternTerms* entry = table_->data() + i;
        for (std::size_t r = 0; r < pattern_terms; ++r) {
            result[r] = before * entry[0][r] + at * entry[1][r] + after * entry[2][r] + beyond * entry[3][r];
        }
    } else {
        // The edge spread by its leading tail; what corrects it falls as 1 / x as well.
        const PatternTerms& last = (*table_)[round_aperture_entries];
        for (std::size_t r = 1; r < pattern_terms; ++r) result[r] = last[r] * table_end / magnitude;
        result[0] = 0.5 - 1.0 / (tail_slope_ * magnitude);
    }
    if (x < 0.0) {
        for (double& term : result) term = -term;
    }
    return result;
}

// Equation (receiver.13).
double EdgeSpread::operator()(double x) const {
    return 0.5 + terms(x)[0];
}

// Equations (receiver.14a) and (receiver.14b).
double EdgeSpread::share(double x0, double x1, double y0, double y1) const {
    const PatternTerms left = terms(x0);
    const PatternTerms right = terms(x1);
    const PatternTerms lower = terms(y0);
    const PatternTerms upper = terms(y1);
    double sum = 0.0;
    for (std::size_t r = 0; r < pattern_terms; ++r) {
        sum += signs_[r] * (right[r] - left[r]) * (upper[r] - lower[r]);
    }
    return sum;
}

}  // namespace spotwright::receiver
