#include "models/numeric/elementary.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "tests/outside.hpp"

using namespace driftglow::numeric;

namespace {
void keep_largest(double& worst, long double off) {
  worst = std::fmax(worst, static_cast<double>(std::fabs(off)));
}
}  // namespace

// Reference: long double of the C library (64-bit mantissa), about 1e-19 relative; tolerances are those the
// header states.
TEST_CASE("exponential and logarithm agree with long double") {
  const Outside outside("the C library in long double");
  double worst_exp = 0.0, worst_log = 0.0, worst_near = 0.0;
  for (int i = -100000; i <= 100000; ++i) {
    const double x = i * 0.007;
    keep_largest(worst_exp, exponential(x) / std::exp(static_cast<long double>(x)) - 1.0L);
    const double y = std::pow(10.0, i * 0.003);
    if (i != 0) {
      const long double off = logarithm(y) / std::log(static_cast<long double>(y)) - 1.0L;
      keep_largest(y < 0.5 || y > 2.0 ? worst_log : worst_near, off);
    }
    const double near = 1.25 + i * 7.4999e-6;
    if (near != 1.0)
      keep_largest(worst_near, logarithm(near) / std::log(static_cast<long double>(near)) - 1.0L);
  }
  for (double apart = 0.25; apart > 1e-15; apart *= 0.99) {
    for (const double x : {1.0 + apart, 1.0 - apart})
      keep_largest(worst_near, logarithm(x) / std::log(static_cast<long double>(x)) - 1.0L);
  }
  outside.below("exponential, worst error", worst_exp, 2e-16);
  outside.below("logarithm, worst error", worst_log, 1.6e-16);
  outside.below("logarithm, worst error", worst_near, 3.5e-16);
  CHECK(logarithm(1.0) == 0.0);
  CHECK(exponential(0.0) == 1.0);
  CHECK(exponential(1e6) == exponential(700.0));
  CHECK(exponential(-1e6) == exponential(-700.0));
}

TEST_CASE("sine and cosine agree with long double in every quadrant") {
  const Outside outside("the C library in long double");
  double worst = 0.0, worst_turns = 0.0;
  const long double full = 2.0L * std::acos(-1.0L);
  const auto look = [&](double x) {
    const auto angle = static_cast<long double>(x);
    const auto got = sine_cosine(x);
    keep_largest(worst, got.sine - std::sin(angle));
    keep_largest(worst, got.cosine - std::cos(angle));
    const auto turned = sine_cosine_of_turns(x);
    const long double part = full * (angle - std::nearbyint(angle));
    keep_largest(worst_turns, turned.sine - std::sin(part));
    keep_largest(worst_turns, turned.cosine - std::cos(part));
  };
  for (int i = -100000; i <= 100000; ++i) {
    look(i * 1.3e-3);
    look(i * 0.99993);
  }
  look(1e5);
  outside.below("sine and cosine, worst error", worst, 2.5e-16);
  outside.below("sine and cosine, worst error", worst_turns, 2.5e-16);
}
