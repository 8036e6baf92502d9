// Linear algebra of matrices of any size, in one place: each further decomposition costs seconds of compile time.
#pragma once

#include <Eigen/Core>

namespace spotwright::base {

struct LinearFit {
    Eigen::VectorXd parameters;
    Eigen::Index rank = 0;  ///< of the design; below its columns the parameters are not determined
};

/// Parameters p with the least |design p - values|, by Householder's QR with column pivoting.
/// @param design  A row for each value, a column for each parameter.
[[nodiscard]] LinearFit fit_linear(const Eigen::MatrixXd& design, const Eigen::VectorXd& values);

/// (design' design)^-1: the covariance of fitted parameters in units of the values' variance. Not finite if the columns
/// depend on one another.
[[nodiscard]] Eigen::MatrixXd parameter_covariance(const Eigen::MatrixXd& design);

/// Smallest share of a column that the others do not explain: about 0 for dependent columns, 1 for orthogonal ones.
/// @param columns  Each of length 1.
[[nodiscard]] double independence(const Eigen::MatrixXd& columns);

/// Eigenvalues of a symmetric matrix, in rising order.
[[nodiscard]] Eigen::VectorXd symmetric_eigenvalues(const Eigen::MatrixXd& matrix);

}  // namespace spotwright::base
