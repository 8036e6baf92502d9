// Parameters of a model from what was measured, by non-linear least squares.
#pragma once

#include <functional>

#include <Eigen/Dense>

namespace spotwright::bench {

/// What a model leaves of the measured values, each in units of its standard uncertainty.
using Residuals = std::function<Eigen::VectorXd(const Eigen::VectorXd& parameters)>;

struct LeastSquares {
    Eigen::VectorXd parameters;
    Eigen::MatrixXd covariance;  ///< (J^T J)^-1 with the Jacobian at the solution
    double sum = 0.0;            ///< of the squared residuals
    Eigen::Index freedom = 0;    ///< residuals less parameters
    bool converged = false;
    bool determined = false;  ///< the Jacobian has full rank; otherwise the covariance is empty
};

/// By the Levenberg-Marquardt method. Source: K. Levenberg, Q. Appl. Math. 2, 164 (1944); D. W. Marquardt, J. SIAM 11,
/// 431 (1963); as Eigen has it after MINPACK. Derivatives are central differences over `steps`, which must be larger
/// than the roughness of a model that draws random numbers.
/// @param start  First guess.  @param steps  As many as parameters, > 0.
[[nodiscard]] LeastSquares least_squares_fit(const Residuals& residuals, const Eigen::VectorXd& start,
                                             const Eigen::VectorXd& steps);

}  // namespace spotwright::bench
