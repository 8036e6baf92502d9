#include "sim/study/uncertainty.hpp"

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>

#include <algorithm>
#include <cmath>

#include "sim/base/errors.hpp"
#include "sim/measure/quantities.hpp"

namespace spotwright::study {

namespace {

void require_probability(double coverage) {
    if (!(coverage > 0.0 && coverage < 1.0)) {
        throw base::DomainError("coverage", coverage, "a probability above 0 and below 1");
    }
}

void require_uncertainty(double standard_uncertainty) {
    if (!(standard_uncertainty >= 0.0) || std::isinf(standard_uncertainty)) {
        throw base::DomainError("standard_uncertainty", standard_uncertainty, "finite and not below 0");
    }
}

void require_freedom(double degrees_of_freedom) {
    if (!(degrees_of_freedom > 0.0)) throw base::DomainError("degrees_of_freedom", degrees_of_freedom, "above 0");
}

// Two-sided.
double factor_for(double degrees_of_freedom, double coverage) {
    const double below = 0.5 * (1.0 + coverage);
    if (std::isinf(degrees_of_freedom)) return boost::math::quantile(boost::math::normal(), below);
    return boost::math::quantile(boost::math::students_t(degrees_of_freedom), below);
}

// A model, and its values some standard uncertainties away from its inputs' own.
class Surroundings {
public:
    Surroundings(const Model& model, std::span<const Input> inputs) : model_(model), inputs_(inputs) {
        for (const Input& input : inputs) values_.push_back(input.value);
    }

    [[nodiscard]] double at(std::size_t i, double steps_i, std::size_t j, double steps_j) {
        std::vector<double> moved = values_;
        moved[i] += steps_i * inputs_[i].standard_uncertainty;
        moved[j] += steps_j * inputs_[j].standard_uncertainty;
        return finite(model_(moved));
    }

    [[nodiscard]] double at(std::size_t i, double steps) { return at(i, steps, i, 0.0); }
    [[nodiscard]] double here() { return finite(model_(values_)); }

private:
    static double finite(double value) {
        if (!std::isfinite(value)) throw base::DomainError("value of the model", value, "finite near its inputs");
        return value;
    }

    const Model& model_;
    std::span<const Input> inputs_;
    std::vector<double> values_;
};

// Terms of one input: 1/2 f_ii^2 + f_i f_iii, in steps of u. The square of the half change
// D = f_i + f_iii / 6 holds a third of the last already.
double own_second_order(Surroundings& model, std::size_t i, double here, double change) {
    const double above = model.at(i, 1.0);
    const double below = model.at(i, -1.0);
    const double second = above - 2.0 * here + below;
    const double third = 0.5 * (model.at(i, 2.0) - 2.0 * above + 2.0 * below - model.at(i, -2.0));
    return 0.5 * second * second + 2.0 / 3.0 * change * third;
}

// Terms of a pair: f_ij^2 + f_i f_ijj + f_j f_jii, in steps of u.
double mixed_second_order(Surroundings& model, std::size_t i, std::size_t j, double change_i, double change_j) {
    const double both_above = model.at(i, 1.0, j, 1.0);
    const double i_above = model.at(i, 1.0, j, -1.0);
    const double j_above = model.at(i, -1.0, j, 1.0);
    const double both_below = model.at(i, -1.0, j, -1.0);
    const double mixed = 0.25 * (both_above - i_above - j_above + both_below);
    const double ijj = 0.5 * (both_above + i_above - j_above - both_below) - (model.at(i, 1.0) - model.at(i, -1.0));
    const double jii = 0.5 * (both_above + j_above - i_above - both_below) - (model.at(j, 1.0) - model.at(j, -1.0));
    return mixed * mixed + change_i * ijj + change_j * jii;
}

}  // namespace

Combined combine(std::span<const Component> components, double coverage) {
    require_probability(coverage);
    if (components.empty()) throw base::DomainError("number of components", 0.0, "at least 1");
    double largest = 0.0;
    for (const Component& component : components) {
        require_uncertainty(component.standard_uncertainty);
        require_freedom(component.degrees_of_freedom);
        largest = std::max(largest, component.standard_uncertainty);
    }
    Combined result;
    if (largest > 0.0) {
        // In units of the largest, for fourth powers of metres leave the range of numbers.
        double squares = 0.0;
        double fourths = 0.0;
        for (const Component& component : components) {
            const double square = std::pow(component.standard_uncertainty / largest, 2);
            squares += square;
            fourths += square * square / component.degrees_of_freedom;
        }
        result.standard_uncertainty = largest * std::sqrt(squares);
        if (fourths > 0.0) result.degrees_of_freedom = std::max(1.0, std::floor(squares * squares / fourths));
    }
    result.coverage_factor = factor_for(result.degrees_of_freedom, coverage);
    result.expanded = result.coverage_factor * result.standard_uncertainty;
    return result;
}

Propagated propagate(const Model& model, std::span<const Input> inputs, Order order) {
    for (const Input& input : inputs) require_uncertainty(input.standard_uncertainty);
    Surroundings surroundings(model, inputs);
    Propagated result;
    result.value = surroundings.here();
    for (std::size_t i = 0; i < inputs.size(); ++i) {
        const Input& input = inputs[i];
        double change = 0.0;
        if (input.standard_uncertainty > 0.0) change = 0.5 * (surroundings.at(i, 1.0) - surroundings.at(i, -1.0));
        result.changes.push_back(change);
        result.components.push_back({input.name, input.evaluation, std::abs(change), input.degrees_of_freedom});
    }
    if (order == Order::first) return result;
    for (std::size_t i = 0; i < inputs.size(); ++i) {
        if (inputs[i].standard_uncertainty == 0.0) continue;
        result.second_order += own_second_order(surroundings, i, result.value, result.changes[i]);
        for (std::size_t j = i + 1; j < inputs.size(); ++j) {
            if (inputs[j].standard_uncertainty == 0.0) continue;
            result.second_order += mixed_second_order(surroundings, i, j, result.changes[i], result.changes[j]);
        }
    }
    return result;
}

double correlated_uncertainty(const Propagated& propagated, std::span<const double> correlation) {
    const std::size_t n = propagated.changes.size();
    if (correlation.size() != n * n) {
        throw base::DomainError("number of correlation coefficients", static_cast<double>(correlation.size()),
                                "inputs times inputs");
    }
    constexpr double rounding = 1e-12;
    double variance = 0.0;
    double squares = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) {
            const double r = correlation[i * n + j];
            const bool possible = i == j ? std::abs(r - 1.0) <= rounding : std::abs(r) <= 1.0 + rounding;
            if (!possible || std::abs(r - correlation[j * n + i]) > rounding) {
                throw base::DomainError("correlation coefficient", r, "within -1 and 1, symmetric, 1 with itself");
            }
            variance += r * propagated.changes[i] * propagated.changes[j];
        }
        squares += std::pow(propagated.changes[i], 2);
    }
    if (variance < -rounding * squares) {
        throw base::DomainError("variance", variance, "not below 0: such correlations contradict one another");
    }
    return std::sqrt(std::max(0.0, variance));
}

Interval deviation_interval_of(double deviation, double degrees_of_freedom, double coverage) {
    require_probability(coverage);
    require_uncertainty(deviation);
    require_freedom(degrees_of_freedom);
    if (std::isinf(degrees_of_freedom)) return {deviation, deviation};
    const boost::math::chi_squared distribution(degrees_of_freedom);
    const double outside = 0.5 * (1.0 - coverage);
    const double most = boost::math::quantile(boost::math::complement(distribution, outside));
    const double least = boost::math::quantile(distribution, outside);
    return {deviation * std::sqrt(degrees_of_freedom / most), deviation * std::sqrt(degrees_of_freedom / least)};
}

std::optional<Interval> deviation_interval_or_none(std::optional<double> deviation, std::int64_t count) {
    if (!deviation || count < 2) return std::nullopt;
    if (*deviation == 0.0 && count < measure::few_outputs) return std::nullopt;
    return deviation_interval(*deviation, count);
}

Interval deviation_interval(double deviation, std::int64_t count, double coverage) {
    if (count < 2) throw base::DomainError("count", static_cast<double>(count), "at least 2");
    return deviation_interval_of(deviation, static_cast<double>(count - 1), coverage);
}

}  // namespace spotwright::study
