#include "models/light/flash.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include "models/constants.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::light;

// Closed form (Blondel & Rey 1911): a rectangular flash of I and t has I t/(0.2 s + t); half of I at t = 0.2
// s.
TEST_CASE("rectangular flash") {
  const Outside outside("Blondel & Rey 1911, closed form");
  outside.matches("effective intensity of a rectangular flash [cd]", effective_intensity(3.0 * 0.2, 0.2), 1.5,
                  1e-15);
  std::vector<double> flash(50, 0.0);
  flash.insert(flash.end(), 200, 3.0);
  flash.insert(flash.end(), 50, 0.0);
  // 200 steps of 1 ms; rounding of sums only.
  outside.matches("effective intensity of a rectangular flash [cd]", largest_effective_intensity(flash, 1e-3),
                  1.5, 1e-12);
  CHECK(largest_effective_intensity({}, 1e-3) == 0.0);
}

// Independent method: all pairs of ends. A half sine of 0.6 s with a second bump behind.
TEST_CASE(
    "the largest sub-interval agrees with exhaustive search, and the ends have the effective intensity") {
  const double step = 2e-3;
  std::vector<double> flash;
  for (int i = 0; i < 500; ++i) {
    const double t = (i + 0.5) * step;
    flash.push_back(t < 0.6 ? std::sin(driftglow::constant::pi * t / 0.6)
                            : 0.3 * std::fabs(std::sin(9.0 * t)));
  }
  double best = 0.0, first_end = 0.0, last_end = 0.0, whole = 0.0;
  for (std::size_t i = 0; i < flash.size(); ++i) {
    whole += flash[i] * step;
    double sum = 0.0;
    for (std::size_t j = i; j < flash.size(); ++j) {
      sum += flash[j] * step;
      const double ratio = sum / (0.2 + static_cast<double>(j - i + 1) * step);
      if (ratio > best) {
        best = ratio;
        first_end = flash[i];
        last_end = flash[j];
      }
    }
  }
  CHECK(largest_effective_intensity(flash, step) == relative(best, 1e-12));
  // Condition of the maximum, stated by Blondel & Rey: I(t1) = I(t2) = I_e; one step of the half sine changes
  // I by 1 %.
  CHECK(first_end == relative(best, 0.012));
  CHECK(last_end == relative(best, 0.012));
  CHECK(effective_intensity(whole, static_cast<double>(flash.size()) * step) < 0.95 * best);
}
