#include "sim/statistics/sensitivity.hpp"

#include <doctest/doctest.h>
#include <gsl/gsl_qrng.h>

#include <cmath>
#include <numbers>
#include <numeric>

#include "sim/statistics/sampling.hpp"
#include "tests/outside.hpp"

using namespace driftglow::statistics;

namespace {

constexpr double pi = std::numbers::pi;

// [ishigami1990], a = 7, b = 0.1, every axis uniform in -pi ... pi.
double ishigami(const std::vector<double>& u) {
  const auto x = [&](int i) { return pi * (2.0 * u[i] - 1.0); };
  return std::sin(x(0)) + 7.0 * std::pow(std::sin(x(1)), 2) + 0.1 * std::pow(x(2), 4) * std::sin(x(0));
}

}  // namespace

// The closed form of its variances: V1 = (1 + b pi^4/5)^2/2, V2 = a^2/8, V13 = b^2 pi^8 (1/18 - 1/50).
TEST_CASE("the indices of Ishigami's function") {
  const Outside outside("Ishigami's function, closed form");
  constexpr std::size_t count = 8192, axes = 3;
  const auto points = sobol_points(count, 2 * axes);
  std::vector<std::vector<double>> values(2 + axes);
  for (const auto& point : points) {
    const std::vector<double> a(point.begin(), point.begin() + axes), b(point.begin() + axes, point.end());
    values[0].push_back(ishigami(a));
    values[1].push_back(ishigami(b));
    for (std::size_t axis = 0; axis < axes; ++axis) {
      auto mixed = a;
      mixed[axis] = b[axis];
      values[2 + axis].push_back(ishigami(mixed));
    }
  }
  const double v1 = 0.5 * std::pow(1.0 + 0.1 * std::pow(pi, 4) / 5.0, 2), v2 = 49.0 / 8.0,
               v13 = 0.01 * std::pow(pi, 8) * (1.0 / 18.0 - 1.0 / 50.0), all = v1 + v2 + v13;
  const auto found = with_bootstrap(
      count, 1, [&](std::span<const std::size_t> drawn) { return sampled_indices(values, axes, drawn); });
  const double first[] = {v1 / all, v2 / all, 0.0}, total[] = {(v1 + v13) / all, v2 / all, v13 / all};
  for (std::size_t axis = 0; axis < axes; ++axis) {
    // The sample's own error, some 1/sqrt(8192); a swapped axis would be off by 0.1 and more.
    outside.near("first-order index of Ishigami's function", found[axis].value.first, first[axis], 0.02);
    outside.near("total index of Ishigami's function", found[axis].value.total, total[axis], 0.02);
    CHECK(found[axis].first.low < found[axis].value.first);
    CHECK(found[axis].first.high > found[axis].value.first);
    CHECK(found[axis].total.high - found[axis].total.low < 0.1);
  }
  // The same numbers as published with the function's parameters [memory].
  CHECK(first[0] == doctest::Approx(0.3139).epsilon(2e-4));
  CHECK(first[1] == doctest::Approx(0.4424).epsilon(2e-4));
  CHECK(total[0] == doctest::Approx(0.5576).epsilon(2e-4));
  CHECK(total[2] == doctest::Approx(0.2437).epsilon(2e-4));

  // A constant beside it has no variance; not centred, its chance would be 1000 times the function's.
  for (auto& sample : values)
    for (double& y : sample) y += 1000.0;
  std::vector<std::size_t> all_points(count);
  std::iota(all_points.begin(), all_points.end(), std::size_t{0});
  const auto shifted = sampled_indices(values, axes, all_points);
  for (std::size_t axis = 0; axis < axes; ++axis) {
    CHECK(shifted[axis].first == doctest::Approx(found[axis].value.first).epsilon(1e-9));  // rounding of 1000
    CHECK(shifted[axis].total == doctest::Approx(found[axis].value.total).epsilon(1e-9));
  }
}

// y = x1 + 2 x2 + 3 x1 x2 on {-1, 1}^2: variances 1, 4 and 9 by hand.
TEST_CASE("the indices of a full grid") {
  const Outside outside("variances by hand");
  const double values[] = {-1 - 2 + 3, -1 + 2 - 3, 1 - 2 - 3, 1 + 2 + 3};
  const std::size_t levels[] = {2, 2};
  const auto found = grid_indices(values, levels);
  outside.matches("first-order index of a full grid", found[0].first, 1.0 / 14.0, 1.2e-5);
  outside.matches("total index of a full grid", found[0].total, 10.0 / 14.0, 1.2e-5);
  outside.matches("first-order index of a full grid", found[1].first, 4.0 / 14.0, 1.2e-5);
  outside.matches("total index of a full grid", found[1].total, 13.0 / 14.0, 1.2e-5);
}

// GSL's sequence of up to 40 axes has other direction numbers from the third axis on, and the first two in
// common.
TEST_CASE("Sobol's points are GSL's, and one lies in each cell of every axis") {
  constexpr std::size_t count = 255, axes = 7;
  const auto points = sobol_points(count, axes);
  gsl_qrng* reference = gsl_qrng_alloc(gsl_qrng_sobol, 2);
  for (const auto& point : points) {
    double expected[2];
    gsl_qrng_get(reference, expected);
    CHECK(point[0] == expected[0]);
    CHECK(point[1] == expected[1]);
  }
  gsl_qrng_free(reference);
  for (const auto& sample : {points, latin_hypercube(count, axes, 3)}) {
    for (std::size_t axis = 0; axis < axes; ++axis) {
      std::vector<int> met(count + 1, 0);
      // Sobol's 2^n - 1 points and the origin, left out, make 2^n cells.
      const bool latin = &sample != &points && sample != points;
      const double cells = latin ? count : count + 1;
      for (const auto& point : sample) ++met[static_cast<std::size_t>(point[axis] * cells)];
      for (std::size_t cell = latin ? 0 : 1; cell < static_cast<std::size_t>(cells); ++cell)
        CHECK(met[cell] == 1);
    }
  }
  CHECK(latin_hypercube(9, 2, 3) != latin_hypercube(9, 2, 4));
}

TEST_CASE("drawn numbers are even") {
  pcg32 stream(5);
  std::vector<int> met(3, 0);
  for (int i = 0; i < 30000; ++i) ++met[drawn_index(stream, 3)];
  for (const int count : met)
    CHECK(std::abs(count - 10000) < 410);  // 5 standard errors, sqrt(30000 2/9) = 82
}
