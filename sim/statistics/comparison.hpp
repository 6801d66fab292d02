#pragma once

#include <span>
#include <vector>

#include "sim/statistics/estimate.hpp"

namespace driftglow::statistics {

// Two-sided p-value of "the mean of these independent values is nil" by Student's t: 0 where all are one
// other number, 1 where all are nil or fewer than two are there.
double p_value(const Estimate& estimate);

// Holm's step-down correction for many questions asked of one set of data [holm1979]: p-values, in the order
// given, that may be held against one level for all together.
std::vector<double> holm_adjusted(std::span<const double> p_values);

// Bonferroni's, where only some of the `asked` questions are answered.
double bonferroni_adjusted(double p_value, double asked);

}  // namespace driftglow::statistics
