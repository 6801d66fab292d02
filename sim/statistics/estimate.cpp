#include "sim/statistics/estimate.hpp"

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

}  // namespace driftglow::statistics
