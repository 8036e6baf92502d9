#include "sim/bench/least_squares.hpp"

#include <unsupported/Eigen/NonLinearOptimization>

#include <cmath>

#include "sim/base/linear.hpp"

namespace spotwright::bench {

namespace {

// The model in the form that Eigen's solver asks for.
struct Problem {
    const Residuals& residuals;
    const Eigen::VectorXd& steps;
    Eigen::Index count;

    [[nodiscard]] int inputs() const { return static_cast<int>(steps.size()); }
    [[nodiscard]] int values() const { return static_cast<int>(count); }

    int operator()(const Eigen::VectorXd& at, Eigen::VectorXd& result) const {
        result = residuals(at);
        return result.allFinite() ? 0 : -1;
    }

    int df(const Eigen::VectorXd& at, Eigen::MatrixXd& jacobian) const {
        jacobian.resize(count, at.size());
        for (Eigen::Index k = 0; k < at.size(); ++k) {
            Eigen::VectorXd moved = at;
            moved[k] = at[k] + steps[k];
            const Eigen::VectorXd above = residuals(moved);
            moved[k] = at[k] - steps[k];
            jacobian.col(k) = (above - residuals(moved)) / (2.0 * steps[k]);
        }
        return jacobian.allFinite() ? 0 : -1;
    }
};

}  // namespace

LeastSquares least_squares_fit(const Residuals& residuals, const Eigen::VectorXd& start, const Eigen::VectorXd& steps) {
    Problem problem{residuals, steps, residuals(start).size()};
    Eigen::LevenbergMarquardt<Problem> solver(problem);
    constexpr double close_enough = 1e-5;  // far below any standard uncertainty
    solver.parameters.ftol = close_enough;
    solver.parameters.xtol = close_enough;
    solver.parameters.maxfev = 40;
    LeastSquares result;
    result.parameters = start;
    const auto status = solver.minimize(result.parameters);
    using namespace Eigen::LevenbergMarquardtSpace;
    result.converged = status == RelativeReductionTooSmall || status == RelativeErrorTooSmall ||
                       status == RelativeErrorAndReductionTooSmall || status == CosinusTooSmall ||
                       status == FtolTooSmall || status == XtolTooSmall || status == GtolTooSmall;
    const Eigen::VectorXd left = residuals(result.parameters);
    result.sum = left.squaredNorm();
    result.freedom = left.size() - start.size();
    Eigen::MatrixXd jacobian;
    if (problem.df(result.parameters, jacobian) != 0) return result;
    // Columns in units of their own length, so that parameters of different units compare.
    const Eigen::VectorXd lengths = jacobian.colwise().norm();
    if (!(lengths.minCoeff() > 0.0)) return result;
    const Eigen::MatrixXd scaled = jacobian * lengths.cwiseInverse().asDiagonal();
    constexpr double min_independence = 1e-6;
    if (base::independence(scaled) < min_independence) return result;
    const Eigen::MatrixXd inverse = base::parameter_covariance(scaled);
    result.covariance = lengths.cwiseInverse().asDiagonal() * inverse * lengths.cwiseInverse().asDiagonal();
    result.determined = result.covariance.allFinite();
    return result;
}

}  // namespace spotwright::bench
