// What comparisons of both principles judge by.
#pragma once

#include <boost/math/distributions/students_t.hpp>

#include <cmath>
#include <ctime>

#include "sim/receiver/ray_model.hpp"

namespace spotwright::test {

/// Standard errors of rays that a single claim may be off besides what is allowed: two-sided, Student's t with the
/// degrees of freedom of the batches, the chance of a false alarm shared evenly between independent claims (Z. Sidak,
/// J. Am. Stat. Assoc. 62, 626 (1967)).
[[nodiscard]] inline double allowed_errors(double false_alarm, int claims) {
    const double each = -std::expm1(std::log1p(-false_alarm) / claims);
    const boost::math::students_t batches(static_cast<double>(receiver::ray_batches - 1));
    return boost::math::quantile(boost::math::complement(batches, each / 2.0));
}

[[nodiscard]] inline double processor_seconds() {
    return static_cast<double>(std::clock()) / CLOCKS_PER_SEC;
}

}  // namespace spotwright::test
