#include "models/numeric/bspline_volume.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <functional>

#include "models/error.hpp"
#include "tests/outside.hpp"

using namespace driftglow::numeric;

namespace {
using Field = std::function<Vec3<double>(double, double, double)>;

BsplineVolume sampled(int nx, int ny, int nz, const Field& first, const Field& second) {
  const std::array<UniformAxis, 3> axes{
      {{0.0, 1.0 / (nx - 1), nx}, {-1.0, 2.0 / (ny - 1), ny}, {2.0, 0.5 / (nz - 1), nz}}};
  std::vector<double> values;
  for (int i = 0; i < nx; ++i) {
    for (int j = 0; j < ny; ++j) {
      for (int k = 0; k < nz; ++k) {
        for (const auto& field : {first, second}) {
          const auto v = field(axes[0].at(i), axes[1].at(j), axes[2].at(k));
          values.insert(values.end(), {v.x, v.y, v.z});
        }
      }
    }
  }
  return BsplineVolume(axes, 2, values);
}

Vec3<double> cubic(double x, double y, double z) {
  return {x * x * x - 2.0 * y * y * z, x * y * z + z * z, y * y * y + x * x - z};
}
Vec3<double> wave(double x, double y, double z) {
  return {std::sin(3.0 * x + y) * std::exp(z - 2.0), std::cos(2.0 * y), std::sin(4.0 * z + x)};
}
}  // namespace

// A cubic spline with not-a-knot ends reproduces every cubic exactly, derivatives included [deboor1978].
// Smallest grids, whose tridiagonal system is empty or of one line, among them.
TEST_CASE("cubics in space are reproduced to rounding") {
  const Outside outside("de Boor 1978: splines reproduce cubics");
  for (const auto& n : {std::array{9, 7, 8}, std::array{4, 5, 6}, std::array{5, 4, 4}}) {
    const auto volume = sampled(n[0], n[1], n[2], cubic, wave);
    const double third = 1.0 / 3.0;
    const Vec3<double> directions[] = {
        {1.0, 0.0, 0.0}, {0.0, 1.0, 0.0}, {0.0, 0.0, 1.0}, {-third, 2.0 * third, 2.0 * third}};
    for (const Vec3<double> p :
         {Vec3<double>{0.0, -1.0, 2.0}, Vec3<double>{0.37, 0.21, 2.33}, Vec3<double>{1.0, 1.0, 2.5}}) {
      Vec3<double> values[2];
      volume.values(volume.locate(p), values);
      const auto want = cubic(p.x, p.y, p.z);
      outside.below("cubic in space, value", norm(values[0] - want), 1e-13);
      for (const auto& d : directions) {
        double value[2], curvature[2];
        volume.along(volume.locate(p), d, value, curvature);
        outside.near("cubic in space, value", value[0], dot(d, want), 1e-13);
        // Second derivatives of the three cubics along d, by hand.
        const double xx = 6.0 * p.x * d.x * d.x - 4.0 * p.z * d.y * d.y - 8.0 * p.y * d.y * d.z;
        const double yy = 2.0 * (p.z * d.x * d.y + p.y * d.x * d.z + p.x * d.y * d.z) + 2.0 * d.z * d.z;
        const double zz = 6.0 * p.y * d.y * d.y + 2.0 * d.x * d.x;
        outside.near("cubic in space, curvature", curvature[0], (d.x * xx + d.y * yy + d.z * zz), 2e-10);
      }
    }
  }
}

// Order of convergence of cubic spline interpolation is 4 (de Boor, ch. V); of its second derivative 2.
TEST_CASE("errors of a smooth field fall by the fourth and second power of the step") {
  double error[2] = {0.0, 0.0}, curvature_error[2] = {0.0, 0.0};
  for (int k = 0; k < 2; ++k) {
    const int n = k == 0 ? 33 : 65;
    const auto volume = sampled(n, n, n, cubic, wave);
    for (double s = 0.0; s <= 1.0; s += 0.0037) {
      const Vec3<double> p{s, -1.0 + 2.0 * std::fmod(7.3 * s, 1.0), 2.0 + 0.5 * std::fmod(3.1 * s, 1.0)};
      double value[2], curvature[2];
      volume.along(volume.locate(p), {0.6, 0.0, 0.8}, value, curvature);
      const auto want = wave(p.x, p.y, p.z);
      error[k] = std::fmax(error[k], std::fabs(value[1] - (0.6 * want.x + 0.8 * want.z)));
      const double a = 3.0 * p.x + p.y, b = 4.0 * p.z + p.x;
      const double curve_x =
          std::exp(p.z - 2.0) * ((-9.0 * 0.36 + 0.64) * std::sin(a) + 2.0 * 3.0 * 0.48 * std::cos(a));
      const double curve_z = -(0.6 + 3.2) * (0.6 + 3.2) * std::sin(b);
      curvature_error[k] =
          std::fmax(curvature_error[k], std::fabs(curvature[1] - (0.6 * curve_x + 0.8 * curve_z)));
    }
  }
  CHECK(error[0] / error[1] > 12.0);
  CHECK(error[0] / error[1] < 22.0);
  CHECK(curvature_error[0] / curvature_error[1] > 3.0);
  CHECK(curvature_error[0] / curvature_error[1] < 5.5);
}

TEST_CASE("values that do not fit the three axes are refused") {
  const UniformAxis axis{0.0, 1.0, 5}, thin{0.0, 1.0, 3};
  const std::vector<double> values(5 * 5 * 5 * 3);
  CHECK_THROWS_AS(BsplineVolume({axis, axis, axis}, 2, values), driftglow::LogicError);
  CHECK_THROWS_AS(BsplineVolume({axis, axis, thin}, 1, values), driftglow::LogicError);
}
