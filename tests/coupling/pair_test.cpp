#include "models/coupling/pair.hpp"

#include <doctest/doctest.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <random>

#include "models/coil/inductance.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/coupling/examples.hpp"
#include "tests/outside.hpp"

using namespace driftglow;
using namespace driftglow::coupling;
using constant::mu_0;
using constant::pi;

namespace {

// Neumann's double integral, mu0/(4 pi) of dl.dl'/r, by the trapezoidal rule in both angles: independent of
// elliptic integrals.
double neumann(double radius_a, const Pose& a, double radius_b, const Pose& b, int points) {
  const auto frame = [](const Pose& pose) {
    const Eigen::Vector3d first = pose.axis.unitOrthogonal();
    return std::pair(first, Eigen::Vector3d(pose.axis.cross(first)));
  };
  const auto [a1, a2] = frame(a);
  const auto [b1, b2] = frame(b);
  double sum = 0.0;
  for (int i = 0; i < points; ++i) {
    const double u = 2.0 * pi * i / points;
    const Eigen::Vector3d pa = a.centre + radius_a * (std::cos(u) * a1 + std::sin(u) * a2);
    const Eigen::Vector3d ta = radius_a * (std::cos(u) * a2 - std::sin(u) * a1);
    for (int j = 0; j < points; ++j) {
      const double v = 2.0 * pi * j / points;
      const Eigen::Vector3d pb = b.centre + radius_b * (std::cos(v) * b1 + std::sin(v) * b2);
      const Eigen::Vector3d tb = radius_b * (std::cos(v) * b2 - std::sin(v) * b1);
      sum += ta.dot(tb) / (pa - pb).norm();
    }
  }
  return mu_0 * pi / (points * static_cast<double>(points)) * sum;
}

}  // namespace

// Maxwell's formula for coaxial circles, either sense.
TEST_CASE("coaxial filaments are Maxwell's") {
  const Outside outside("Maxwell's formula for coaxial circles");
  for (const double distance : {0.002, 0.02, 0.3}) {
    const Pose a{{0.1, -0.2, 0.3}, Eigen::Vector3d(1.0, 2.0, -0.5).normalized()};
    const Pose b{a.centre + distance * a.axis, -a.axis};
    outside.matches("mutual inductance of coaxial filaments by the pair rule [H]",
                    mutual_inductance(0.015, a, 0.02, b, 400),
                    -coil::mutual_inductance(0.015, 0.02, distance), 1e-12);
  }
}

// Neumann's double integral, and reciprocity: either filament as the source.
TEST_CASE("tilted and offset filaments") {
  const Outside outside("Neumann 1845, double integral by the trapezoidal rule");
  std::mt19937_64 engine(7);
  for (int i = 0; i < 12; ++i) {
    const Pose a{Eigen::Vector3d::Zero(), example::direction(engine)};
    const Pose b{0.045 * example::direction(engine), example::direction(engine)};
    const double M = mutual_inductance(0.015, a, 0.02, b, 400),
                 scale = coil::mutual_inductance(0.015, 0.02, 0.045);
    outside.near("mutual inductance of tilted and offset filaments [H]", M, neumann(0.015, a, 0.02, b, 400),
                 1e-11 * scale);
    outside.near("mutual inductance of tilted filaments, reciprocity [H]", M,
                 mutual_inductance(0.02, b, 0.015, a, 400), 1e-11 * scale);
  }
  // A place of the second filament on the axis of the first.
  const Pose a{Eigen::Vector3d::Zero(), Eigen::Vector3d::UnitZ()};
  const Pose b{{0.02, 0.0, 0.03}, Eigen::Vector3d(0.3, 0.0, 1.0).normalized()};
  outside.matches("mutual inductance of tilted and offset filaments [H]",
                  mutual_inductance(0.015, a, 0.02, b, 400), neumann(0.015, a, 0.02, b, 400), 1e-11);
  CHECK_THROWS_AS(mutual_inductance(0.0, a, 0.02, b, 400), LogicError);
}

// Far away two dipoles, mu0 m m'/(4 pi d^3) (3 c c' - g) (textbook); the size enters by (a/d)^2, 2e-4.
TEST_CASE("far windings are dipoles") {
  const Outside outside("two magnetic dipoles (textbook)");
  const auto wound = example::receiver_coil();
  const double moment = coil::flux_moments(wound.turns).area_turns;
  std::mt19937_64 engine(11);
  for (int i = 0; i < 5; ++i) {
    const Eigen::Vector3d line = example::direction(engine), n = example::direction(engine),
                          m = example::direction(engine);
    const double bracket = 3.0 * n.dot(line) * m.dot(line) - n.dot(m);
    const double M =
        mutual_inductance(wound.turns, {Eigen::Vector3d::Zero(), n}, wound.turns, {1.0 * line, m});
    outside.near("mutual inductance of far windings [H]", M, mu_0 * moment * moment / (4.0 * pi) * bracket,
                 3e-3 * mu_0 * moment * moment / (4.0 * pi));
  }
}

// Against all turns: the flight's rule at random directions, from touching tags outwards, on both sides of
// the change of rule, axes in line among them, where the next order counts most. 1 % of the coaxial value as
// promised.
TEST_CASE("the flight's rule against all pairs of turns") {
  const Outside outside("all pairs of turns");
  const auto wound = example::receiver_coil();
  const auto moments = coil::flux_moments(wound.turns);
  std::mt19937_64 engine(13);
  double worst = 0.0, worst_dipole = 0.0;
  for (const double distance : {0.036, 0.045, 0.06, 0.0903, 0.0918, 0.12, 0.3}) {
    const double scale = std::fabs(mutual_inductance(wound.turns, {{0.0, 0.0, 0.0}, {0.0, 0.0, 1.0}},
                                                     wound.turns, {{0.0, 0.0, distance}, {0.0, 0.0, 1.0}}));
    double here = 0.0;
    for (int i = 0; i < 12; ++i) {
      const Pose a{Eigen::Vector3d::Zero(), example::direction(engine)};
      const Pose b = i == 0   ? Pose{distance * a.axis, a.axis}
                     : i == 1 ? Pose{distance * a.axis.unitOrthogonal(), a.axis}
                              : Pose{distance * example::direction(engine), example::direction(engine)};
      const double exact = mutual_inductance(wound.turns, a, wound.turns, b);
      here = std::max(here, std::fabs(pair_mutual_inductance(moments, a, moments, b) - exact) / scale);
      const Eigen::Vector3d line = b.centre / distance;
      const double dipole = mu_0 * moments.area_turns * moments.area_turns /
                            (4.0 * pi * std::pow(distance, 3)) *
                            (3.0 * a.axis.dot(line) * b.axis.dot(line) - a.axis.dot(b.axis));
      worst_dipole = std::max(worst_dipole, std::fabs(dipole - exact) / scale);
    }
    MESSAGE(distance, " m: ", here);
    worst = std::max(worst, here);
  }
  MESSAGE("worst of the rule ", worst, ", of plain dipoles ", worst_dipole);
  outside.below("mutual inductance by the flight's rule, worst error of the coaxial value", worst, 0.01);
  CHECK(worst_dipole > 0.1);
}
