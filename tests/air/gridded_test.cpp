#include "models/air/gridded.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "models/air/column.hpp"
#include "models/error.hpp"
#include "tests/air/designs.hpp"
#include "tests/outside.hpp"

using namespace driftglow;
using namespace driftglow::air;
using numeric::Vec3;

namespace {

// A column on a grid, with Gaussian scatter of every velocity.
AirGrid grid_of(const Column& column, int n_r, int n_z, double scatter) {
  const double radius = column.design().radius, height = column.design().height;
  AirGrid grid{radius,
               height,
               {},
               {},
               Eigen::MatrixXd(n_r, n_z),
               Eigen::MatrixXd(n_r, n_z),
               Eigen::MatrixXd(n_r, n_z),
               Eigen::MatrixXd(n_r, n_z),
               Eigen::MatrixXd(n_r, n_z),
               0.1,
               0.0,
               0.13,
               {}};
  std::mt19937 random(3);
  std::normal_distribution<double> normal(0.0, 1.0);
  for (int i = 0; i < n_r; ++i) grid.r.push_back(radius * i / (n_r - 1));
  for (int j = 0; j < n_z; ++j) grid.z.push_back(height * j / (n_z - 1));
  for (int i = 0; i < n_r; ++i) {
    for (int j = 0; j < n_z; ++j) {
      const auto u = column.velocity(grid.r[i], grid.z[j]);
      (*grid.u_r)(i, j) = u.u_r + scatter * normal(random);
      grid.u_theta(i, j) = u.u_theta + scatter * normal(random);
      grid.u_z(i, j) = u.u_z + scatter * normal(random);
      (*grid.kinetic_energy)(i, j) = column.kinetic_energy(grid.r[i], grid.z[j]);
      (*grid.dissipation)(i, j) = column.dissipation(grid.r[i], grid.z[j]);
    }
  }
  return grid;
}

// rms over the volume of map less column, over the largest speed of the grid.
double difference(const GriddedAir& air, const Column& column) {
  double sum = 0.0;
  constexpr int n = 40;
  for (int i = 0; i < n; ++i) {
    for (int j = 0; j < n; ++j) {
      const double r = column.design().radius * std::sqrt((i + 0.5) / n),
                   z = column.design().height * (j + 0.5) / n;
      const auto u = column.velocity(r, z);
      const auto got = air.map.sample(Vec3<double>{r, 0.0, z}).u_W;
      sum += std::pow(got.x - u.u_r, 2) + std::pow(got.y - u.u_theta, 2) + std::pow(got.z - u.u_z, 2);
    }
  }
  return std::sqrt(sum) / n / air.largest_speed;
}

Column some_column() {
  auto design = plain_design();
  design.circulation = 1.5;
  return Column(design);
}

}  // namespace

// Bounds: a tenth above what was measured; a fit of cubic splines falls as the fourth power of the spacing.
TEST_CASE("clean grids of a divergence-free flow come back") {
  const Outside outside("closed form of the column, model.md section 4");
  const Column column = some_column();
  const auto coarse = project(grid_of(column, 9, 13, 0.0)), fine = project(grid_of(column, 25, 49, 0.0));
  outside.matches("flow of a projected grid [m3/s]", coarse.flow, column.design().flow, 5e-3);
  outside.matches("flow of a projected grid [m3/s]", fine.flow, column.design().flow, 1e-3);
  outside.below("velocity of a projected grid, rms error over the largest", difference(coarse, column), 0.02);
  outside.below("velocity of a projected grid, rms error over the largest", difference(fine, column), 2e-3);
  CHECK(fine.change.rms < 2e-3);
  // Turbulence is taken over.
  const auto sample = fine.map.sample(Vec3<double>{0.03, 0.0, 0.15});
  outside.matches("turbulent energy of a projected grid [m2/s2]", 1.5 * sample.sigma * sample.sigma,
                  column.kinetic_energy(0.03, 0.15), 0.02);
}

// Independent scatter of 3 % of the largest speed on every component: the fit must lie nearer to the true
// flow than the data do (rms scatter of three components: sqrt(3) 3 %). A smoothing chosen where no freedom
// is left amplified it.
TEST_CASE("scatter is smoothed, not amplified, on small grids too") {
  const Column column = some_column();
  const double speed = project(grid_of(column, 9, 13, 0.0)).largest_speed;
  struct Size {
    int r, z;
  };
  for (const Size size : {Size{6, 8}, {9, 13}, {17, 25}}) {
    CAPTURE(size.r);
    const auto noisy = project(grid_of(column, size.r, size.z, 0.03 * speed));
    const auto clean = project(grid_of(column, size.r, size.z, 0.0));
    CHECK(difference(noisy, column) < std::hypot(std::sqrt(3.0) * 0.03, difference(clean, column)));
    CHECK(noisy.divergence_before > 2.0 * clean.divergence_before);
  }
}

// Divergence and the flow through the wall, by central differences and at the wall itself.
TEST_CASE("what comes out is divergence-free and tight, whatever goes in") {
  const Outside outside("central differences of the map");
  AirGrid grid = grid_of(some_column(), 9, 13, 0.3);
  for (int leak = 0; leak < 2; ++leak) {
    if (leak == 1) grid.u_r->array() += 0.5;
    const auto air = project(grid);
    const double h = 1e-6, U = air.largest_speed, R = grid.radius;
    for (const double z : {0.03, 0.16, 0.29}) {
      outside.below("flow through the wall of a projected grid [m/s]",
                    std::fabs(air.map.sample(Vec3<double>{R, 0.0, z}).u_W.x), 1e-12 * U);
      const double x = 0.05, y = 0.03;
      const auto at = [&](double dx, double dy, double dz) {
        return air.map.sample(Vec3<double>{x + dx, y + dy, z + dz}).u_W;
      };
      const double divergence =
          (at(h, 0, 0).x - at(-h, 0, 0).x + at(0, h, 0).y - at(0, -h, 0).y + at(0, 0, h).z - at(0, 0, -h).z) /
          (2.0 * h);
      outside.below("divergence of a projected grid [1/s]", std::fabs(divergence), 1e-5 * U / R);
    }
  }
}

TEST_CASE("grids that do not cover the vessel are refused") {
  AirGrid grid = grid_of(some_column(), 9, 13, 0.0);
  grid.height *= 1.5;
  CHECK_THROWS_AS(project(grid), InputError);
  grid = grid_of(some_column(), 9, 13, 0.0);
  grid.radius *= 0.9;
  CHECK_THROWS_AS(project(grid), InputError);
  grid = grid_of(some_column(), 3, 13, 0.0);
  CHECK_THROWS_AS(project(grid), InputError);
}
