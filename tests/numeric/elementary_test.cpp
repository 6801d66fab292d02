#include "models/numeric/elementary.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace driftglow::numeric;

// Reference: long double of the C library (64-bit mantissa), about 1e-19 relative; tolerances are those the
// header states.
TEST_CASE("exponential and logarithm agree with long double") {
  double worst_exp = 0.0, worst_log = 0.0;
  for (int i = -69000; i <= 69000; i += 7) {
    const double x = i * 0.01;
    const long double e = std::exp(static_cast<long double>(x));
    worst_exp = std::fmax(worst_exp, static_cast<double>(std::fabs(exponential(x) / e - 1.0L)));
    const double y = std::pow(10.0, i * 0.004);
    const long double l = std::log(static_cast<long double>(y));
    worst_log = std::fmax(worst_log,
                          static_cast<double>(std::fabs(logarithm(y) - l) / std::fmax(1.0L, std::fabs(l))));
  }
  CHECK(worst_exp <= 4e-16);
  CHECK(worst_log <= 4e-16);
  CHECK(logarithm(1.0) == 0.0);
  CHECK(exponential(0.0) == 1.0);
}

TEST_CASE("sine and cosine agree with long double in every quadrant") {
  double worst = 0.0;
  for (int i = -100000; i <= 100000; ++i) {
    const double x = i * 1.3e-3;
    const auto got = sine_cosine(x);
    const double bound = 3e-16 + 1e-16 * std::fabs(x);
    worst = std::fmax(
        worst, static_cast<double>(std::fabs(got.sine - std::sin(static_cast<long double>(x)))) / bound);
    worst = std::fmax(
        worst, static_cast<double>(std::fabs(got.cosine - std::cos(static_cast<long double>(x)))) / bound);
  }
  CHECK(worst <= 1.0);
}
