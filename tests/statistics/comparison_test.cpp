#include "sim/statistics/comparison.hpp"

#include <doctest/doctest.h>
#include <gsl/gsl_cdf.h>

#include <cmath>

#include "tests/outside.hpp"

using namespace driftglow::statistics;

TEST_CASE("the p-value is that of GSL's Student distribution") {
  const Outside outside("GSL's Student distribution");
  for (const double t : {0.3, 2.5, 12.0})
    for (const int count : {2, 9, 200})
      outside.matches("p-value of a paired difference", p_value({-t * 0.02, 0.02, 0.0, count}),
                      2.0 * gsl_cdf_tdist_Q(t, count - 1), 1e-9);  // both to some 1e-12
  CHECK(p_value({0.1, 0.0, 0.0, 5}) == 0.0);
  CHECK(p_value({0.0, 0.0, 0.0, 5}) == 1.0);
  CHECK(p_value({0.1, INFINITY, INFINITY, 1}) == 1.0);
}

// By hand from Holm's rule: sorted 0.005, 0.01, 0.03, 0.04 times 4, 3, 2, 1, never falling.
TEST_CASE("Holm's correction") {
  const Outside outside("Holm's rule, by hand");
  const double given[] = {0.01, 0.04, 0.03, 0.005};
  const auto adjusted = holm_adjusted(given);
  outside.matches("p-values corrected by Holm", adjusted[3], 0.02, 1.2e-5);
  outside.matches("p-values corrected by Holm", adjusted[0], 0.03, 1.2e-5);
  outside.matches("p-values corrected by Holm", adjusted[2], 0.06, 1.2e-5);
  outside.matches("p-values corrected by Holm", adjusted[1], 0.06, 1.2e-5);
  outside.matches("p-value corrected by Bonferroni", bonferroni_adjusted(0.01, 6), 0.06, 1.2e-5);
  CHECK(bonferroni_adjusted(0.01, 1000) == 1.0);
}
