#include "models/numeric/bspline_map.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/error.hpp"
#include "tests/outside.hpp"

using namespace driftglow::numeric;

namespace {
BsplineMap sampled(int nodes, EdgeRule low, double (*f)(double, double)) {
  const UniformAxis x{0.0, 1.0 / (nodes - 1), nodes}, y{-1.0, 2.0 / (nodes - 1), nodes};
  Eigen::MatrixXd values(nodes, nodes);
  for (int i = 0; i < nodes; ++i) {
    for (int j = 0; j < nodes; ++j) values(i, j) = f(x.at(i), y.at(j));
  }
  return BsplineMap(x, y, low, std::span(&values, 1));
}

Jet<double> jet_at(const BsplineMap& map, double x, double y) {
  Jet<double> jets[1];
  map.jets(map.stencil(map.locate(x, y)), jets);
  return jets[0];
}
}  // namespace

// A cubic spline with not-a-knot ends reproduces every cubic exactly, derivatives included [deboor1978].
TEST_CASE("a cubic is reproduced to rounding") {
  const Outside outside("de Boor 1978: splines reproduce cubics");
  const auto map = sampled(9, EdgeRule::not_a_knot,
                           [](double x, double y) { return x * x * x - 2.0 * x * y * y + y * y * y; });
  for (const double x : {0.0, 0.13, 0.77, 1.0}) {
    for (const double y : {-1.0, -0.31, 0.5, 1.0}) {
      const auto j = jet_at(map, x, y);
      outside.near("cubic in the plane, value", j.f, (x * x * x - 2.0 * x * y * y + y * y * y), 1e-13);
      outside.near("cubic in the plane, slopes", j.fx, (3.0 * x * x - 2.0 * y * y), 1e-11);
      outside.near("cubic in the plane, slopes", j.fy, (-4.0 * x * y + 3.0 * y * y), 1e-11);
      outside.near("cubic in the plane, second derivatives", j.fxx, 6.0 * x, 1e-10);
      outside.below("cubic in the plane, second derivatives", std::fabs(j.fxy + 4.0 * y), 1e-10);
      outside.near("cubic in the plane, second derivatives", j.fyy, (-4.0 * x + 6.0 * y), 1e-10);
    }
  }
}

// Order of convergence of cubic spline interpolation is 4 (de Boor, ch. V): halving the step divides the
// error by about 16.
TEST_CASE("the error of a smooth even function falls by the fourth power of the step") {
  const auto f = [](double x, double y) { return std::cos(3.0 * x) * std::exp(y); };
  double errors[2] = {0.0, 0.0};
  for (int k = 0; k < 2; ++k) {
    const auto map = sampled(k == 0 ? 17 : 33, EdgeRule::even, f);
    for (double x = 0.0; x <= 1.0; x += 0.0137) {
      for (double y = -1.0; y <= 1.0; y += 0.0171) {
        errors[k] = std::fmax(errors[k], std::fabs(jet_at(map, x, y).f - f(x, y)));
      }
    }
  }
  CHECK(errors[0] / errors[1] > 12.0);
  CHECK(errors[0] / errors[1] < 22.0);
}

// Every channel of an interleaved map is the map of that channel alone; the same sums in the same order, so
// bit by bit.
TEST_CASE("channels side by side do not mix") {
  const UniformAxis x{0.0, 0.125, 9}, y{-1.0, 0.25, 9};
  Eigen::MatrixXd values[5];
  for (int c = 0; c < 5; ++c) {
    values[c].resize(9, 9);
    for (int i = 0; i < 9; ++i) {
      for (int j = 0; j < 9; ++j)
        values[c](i, j) = std::sin((c + 1.0) * x.at(i)) + c * std::cos(2.0 * y.at(j));
    }
  }
  const BsplineMap together(x, y, EdgeRule::not_a_knot, values);
  for (const double px : {-0.1, 0.0, 0.13, 0.77, 1.0, 1.1}) {
    for (const double py : {-1.1, -0.31, 0.5, 1.0, 1.2}) {
      Jet<double> jets[5];
      together.jets(together.stencil(together.locate(px, py)), jets);
      for (int c = 0; c < 5; ++c) {
        const auto alone = jet_at(BsplineMap(x, y, EdgeRule::not_a_knot, std::span(&values[c], 1)), px, py);
        CHECK(jets[c].f == alone.f);
        CHECK(jets[c].fx == alone.fx);
        CHECK(jets[c].fy == alone.fy);
        CHECK(jets[c].fxx == alone.fxx);
        CHECK(jets[c].fxy == alone.fxy);
        CHECK(jets[c].fyy == alone.fyy);
      }
    }
  }
}

TEST_CASE("values that do not fit the axes are refused") {
  const Eigen::MatrixXd values(3, 5);
  const UniformAxis axis{0.0, 1.0, 5};
  CHECK_THROWS_AS(BsplineMap(axis, axis, EdgeRule::even, std::span(&values, 1)), driftglow::LogicError);
}
