#include "sim/statistics/estimate.hpp"

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <limits>

namespace driftglow::statistics {

double student_t_95(int degrees_of_freedom) {
  return boost::math::quantile(boost::math::students_t(degrees_of_freedom), 0.975);
}

Estimate estimate(std::span<const double> values) {
  double sum = 0.0;
  int count = 0;
  for (const double x : values) {
    if (std::isnan(x)) continue;
    sum += x;
    ++count;
  }
  constexpr double infinity = std::numeric_limits<double>::infinity();
  if (count == 0) return {std::numeric_limits<double>::quiet_NaN(), infinity, infinity, 0};
  const double mean = sum / count;
  if (count == 1) return {mean, infinity, infinity, 1};
  double squares = 0.0;
  for (const double x : values) {
    if (!std::isnan(x)) squares += (x - mean) * (x - mean);
  }
  const double standard_error = std::sqrt(squares / (count - 1) / count);
  return {mean, standard_error, student_t_95(count - 1) * standard_error, count};
}

double unpaired_half_width(const Estimate& a, const Estimate& b) {
  const double variance_a = a.standard_error * a.standard_error,
               variance_b = b.standard_error * b.standard_error;
  const double variance = variance_a + variance_b;
  if (variance == 0.0) return 0.0;
  if (!std::isfinite(variance)) return std::numeric_limits<double>::infinity();
  const double freedom = variance * variance /
                         (variance_a * variance_a / (a.count - 1) + variance_b * variance_b / (b.count - 1));
  // Rounding may leave the quotient a hair below a whole number.
  return student_t_95(std::max(1, static_cast<int>(freedom * (1.0 + 1e-12)))) * std::sqrt(variance);
}

}  // namespace driftglow::statistics
