#pragma once

#include <span>

namespace driftglow::statistics {

// Mean of independent values with its 95 % interval mean +- half_width (Student's t, n - 1 degrees of
// freedom). With one value, the half width and the standard error are infinite.
struct Estimate {
  double mean;
  double standard_error;
  double half_width;
  int count;
};

// Values that are not numbers (a quantity that did not occur in a replicate) are left out; none left: mean
// NaN.
Estimate estimate(std::span<const double> values);

// Welch's 95 % half width for the difference of two independent means. The Welch-Satterthwaite degrees of
// freedom are rounded down, which widens it a little.
double unpaired_half_width(const Estimate& a, const Estimate& b);

// Two-sided 95 % quantile of Student's t.
double student_t_95(int degrees_of_freedom);

}  // namespace driftglow::statistics
