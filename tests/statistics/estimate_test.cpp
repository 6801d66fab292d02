#include "sim/statistics/estimate.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include "tests/outside.hpp"

using namespace driftglow::statistics;

// Student's t table, two-sided 95 %: 12.706 (1), 2.776 (4), 2.228 (10), 2.042 (30) (any handbook, e.g.
// Abramowitz & Stegun 26.10).
TEST_CASE("Student's quantiles are those of the table") {
  const Outside outside("Abramowitz & Stegun 26.10, Student's t");
  const double table[][2] = {{1, 12.706}, {4, 2.776}, {10, 2.228}, {30, 2.042}};
  for (const auto& [nu, t] : table)
    outside.near("Student's quantile at 95 %", student_t_95(static_cast<int>(nu)), t, 0.0005);
}

TEST_CASE("mean, standard error and half width of a small set by hand") {
  const Outside outside("worked by hand");
  const std::vector<double> values{1.0, 2.0, std::numeric_limits<double>::quiet_NaN(), 3.0, 4.0, 5.0};
  const auto e = estimate(values);
  CHECK(e.count == 5);
  outside.matches("mean of a small set", e.mean, 3.0, 1e-12);
  outside.matches("standard error of a small set", e.standard_error, std::sqrt(0.5), 1e-14);
  outside.matches("half width of a small set", e.half_width, 2.7764 * std::sqrt(0.5), 1e-4);
  CHECK(std::isinf(estimate(std::span(values).first(1)).half_width));
  CHECK(std::isnan(estimate({}).mean));
}

// 95 % intervals from 6 normal values must cover the true mean in 95 % of 4000 tries: standard error 0.34 %,
// limit 4.5 of them. A normal quantile (1.96) in place of Student's would cover 89 %.
TEST_CASE("intervals cover as often as they say") {
  const Outside outside("coverage of 95 % intervals, 4.5 standard errors");
  std::mt19937_64 engine(7);
  std::normal_distribution<double> normal(3.0, 2.0);
  int covered = 0;
  for (int i = 0; i < 4000; ++i) {
    std::vector<double> values(6);
    for (double& x : values) x = normal(engine);
    const auto e = estimate(values);
    covered += std::fabs(e.mean - 3.0) <= e.half_width;
  }
  outside.near("coverage of the 95 % interval", covered / 4000.0, 0.95, 4.5 * 0.0034);
}
