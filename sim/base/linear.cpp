#include "sim/base/linear.hpp"

#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <Eigen/QR>

#include <cmath>

namespace spotwright::base {

LinearFit fit_linear(const Eigen::MatrixXd& design, const Eigen::VectorXd& values) {
    const Eigen::ColPivHouseholderQR<Eigen::MatrixXd> decomposition(design);
    return {decomposition.solve(values), decomposition.rank()};
}

Eigen::MatrixXd parameter_covariance(const Eigen::MatrixXd& design) {
    return (design.transpose() * design).inverse();
}

double independence(const Eigen::MatrixXd& columns) {
    const Eigen::ColPivHouseholderQR<Eigen::MatrixXd> decomposition(columns);
    return std::abs(decomposition.matrixQR().diagonal()[columns.cols() - 1]);
}

Eigen::VectorXd symmetric_eigenvalues(const Eigen::MatrixXd& matrix) {
    return Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd>(matrix, Eigen::EigenvaluesOnly).eigenvalues();
}

}  // namespace spotwright::base
