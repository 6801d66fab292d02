#include "sim/statistics/comparison.hpp"

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <numeric>

namespace driftglow::statistics {

double p_value(const Estimate& estimate) {
  if (estimate.count < 2 || !std::isfinite(estimate.standard_error)) return 1.0;
  if (estimate.standard_error == 0.0) return estimate.mean == 0.0 ? 1.0 : 0.0;
  const boost::math::students_t distribution(estimate.count - 1);
  return 2.0 * boost::math::cdf(complement(distribution, std::fabs(estimate.mean / estimate.standard_error)));
}

std::vector<double> holm_adjusted(std::span<const double> p_values) {
  std::vector<std::size_t> order(p_values.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return p_values[a] < p_values[b]; });
  std::vector<double> adjusted(p_values.size());
  double largest = 0.0;
  for (std::size_t i = 0; i < order.size(); ++i) {
    largest = std::max(largest, std::min(1.0, static_cast<double>(order.size() - i) * p_values[order[i]]));
    adjusted[order[i]] = largest;
  }
  return adjusted;
}

double bonferroni_adjusted(double p_value, double asked) {
  return std::min(1.0, asked * p_value);
}

}  // namespace driftglow::statistics
