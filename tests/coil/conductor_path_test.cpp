#include "models/coil/conductor_path.hpp"

#include <doctest/doctest.h>
#include <gsl/gsl_integration.h>

#include <Eigen/Geometry>
#include <array>
#include <cmath>
#include <functional>
#include <random>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/coil/crossed_coils.hpp"
#include "tests/coil/wide_turn.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::coil;
namespace constant = driftglow::constant;
using Eigen::Vector3d;

namespace {
using WideVector = std::array<Wide, 3>;

Wide dot(const WideVector& a, const WideVector& b) {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

// The whole of it in 50 digits from the same doubles: axis scaled, place turned, field, vector turned back.
WideVector exact_field(double radius, const Vector3d& centre, const Vector3d& axis, const Vector3d& p) {
  WideVector n{axis.x(), axis.y(), axis.z()}, d, outward;
  const Wide length = sqrt(dot(n, n));
  for (int i = 0; i < 3; ++i) {
    n[i] /= length;
    d[i] = Wide(p[i]) - Wide(centre[i]);
  }
  const Wide zeta = dot(d, n);
  for (int i = 0; i < 3; ++i) outward[i] = d[i] - zeta * n[i];
  const Wide rho = sqrt(dot(outward, outward));
  const WideField own = smythe(radius, rho, zeta);
  WideVector B;
  for (int i = 0; i < 3; ++i) B[i] = own.radial / rho * outward[i] + own.axial * n[i];
  return B;
}

double adaptive(const std::function<double(double)>& f, double begin, double end) {
  gsl_function wrapped{[](double t, void* p) { return (*static_cast<std::function<double(double)>*>(p))(t); },
                       const_cast<std::function<double(double)>*>(&f)};
  gsl_integration_workspace* space = gsl_integration_workspace_alloc(4000);
  double result = 0.0, error = 0.0;
  gsl_integration_qag(&wrapped, begin, end, 0.0, 1e-11, 4000, GSL_INTEG_GAUSS61, space, &result, &error);
  gsl_integration_workspace_free(space);
  return result;
}

// Biot-Savart's law (1820) along a line piece given by its point and slope.
Vector3d biot_savart(const std::function<Vector3d(double)>& at, const std::function<Vector3d(double)>& slope,
                     double begin, double end, const Vector3d& p) {
  Vector3d B;
  // The offset keeps a component that is zero by symmetry from being asked for to relative accuracy.
  const double offset = 1e3;
  for (int i = 0; i < 3; ++i) {
    B[i] = adaptive(
               [&](double t) {
                 const Vector3d r = p - at(t);
                 return slope(t).cross(r)[i] / std::pow(r.squaredNorm(), 1.5) + offset;
               },
               begin, end) -
           offset * (end - begin);
  }
  return constant::mu_0 / (4.0 * constant::pi) * B;
}
}  // namespace

// Tolerance: the 1e-13 of |B| that issue 4 asks for.
TEST_CASE("field of a turn anywhere agrees with the classical form in 50 digits") {
  const Outside outside("Smythe's classical form in 50 digits");
  std::mt19937_64 engine(11);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  double worst[3] = {0.0, 0.0, 0.0};
  for (int i = 0; i < 3000; ++i) {
    const double a = 0.05 + 0.1 * uniform(engine);
    const Vector3d centre = 0.2 * random_direction(engine);
    const Vector3d axis = (0.3 + uniform(engine)) * random_direction(engine);  // not of unit length
    const TurnPath turn{Placement(centre, axis), {{a, 0.0, 1.0}}};
    const Vector3d n = axis.normalized();
    const Vector3d outward = n.cross(random_direction(engine)).normalized();
    const double angle = 2.0 * constant::pi * uniform(engine);
    double rho, zeta;
    if (i % 3 == 0) {  // around the wire, 1e-6 a to a away
      const double distance = a * std::pow(10.0, -6.0 * uniform(engine));
      rho = a + distance * std::cos(angle);
      zeta = distance * std::sin(angle);
    } else if (i % 3 == 1) {  // the axis itself, to the rounding of its points, and near it
      rho = i % 2 == 0 ? 0.0 : a * std::pow(10.0, -12.0 * uniform(engine));
      zeta = 3.0 * a * (2.0 * uniform(engine) - 1.0);
    } else {  // far away, to 1e4 a
      const double distance = a * std::pow(10.0, 4.0 * uniform(engine));
      rho = distance * std::cos(angle);
      zeta = distance * std::sin(angle);
    }
    const Vector3d p = centre + rho * outward + zeta * n;
    const Vector3d got = field_of(turn, p);
    const WideVector want = exact_field(a, centre, axis, p);
    const WideVector error{got.x() - want[0], got.y() - want[1], got.z() - want[2]};
    worst[i % 3] = std::fmax(worst[i % 3], static_cast<double>(sqrt(dot(error, error) / dot(want, want))));
  }
  MESSAGE("largest error of |B|: near the wire ", worst[0], ", near the axis ", worst[1], ", far ", worst[2]);
  for (const double w : worst) outside.below("field of a turn anywhere, error of |B|", w, 1e-13);
}

// On the axis: mu0 a^2/(2 (a^2 + z^2)^(3/2)) along it (Biot-Savart). Here rho is exactly zero.
TEST_CASE("on the axis of a turn that lies across") {
  const Outside outside("Biot-Savart on the axis");
  const TurnPath turn{Placement({0.1, 0.0, 0.2}, {0.0, -2.0, 0.0}), {{0.08, 0.01, 3.0}}};
  const Vector3d B = field_of(turn, {0.1, -0.06, 0.2});
  CHECK(B.x() == 0.0);
  CHECK(B.z() == 0.0);
  outside.matches("field on the axis of a turn that lies across [T/A]", B.y(),
                  -3.0 * constant::mu_0 * 0.0064 / (2.0 * std::pow(0.0064 + 0.0025, 1.5)), 1e-14);
}

// Tolerance: 1e-10, issue 4; GSL's adaptive quadrature is asked for 1e-11.
TEST_CASE("tilted and offset coils agree with Biot-Savart quadrature") {
  const Outside outside("Biot-Savart, GSL quadrature");
  std::mt19937_64 engine(3);
  double worst = 0.0;
  for (int i = 0; i < 60; ++i) {
    const Vector3d centre = 0.05 * random_direction(engine), axis = random_direction(engine);
    const auto coil = wind({0.2, 2.5, 2, {1e-3, 1.1e-3}, 2e-3}, 0.0, Sense::left_handed);
    const TurnPath path{Placement(centre, axis), coil.turns};
    const Vector3d first = axis.unitOrthogonal(), second = axis.cross(first);
    const Vector3d p = 0.09 * random_direction(engine);
    Vector3d want = Vector3d::Zero();
    for (const auto& turn : coil.turns) {
      const Vector3d middle = centre + turn.height * axis;
      want += turn.weight * biot_savart(
                                [&](double t) -> Vector3d {
                                  return middle + turn.radius * (std::cos(t) * first + std::sin(t) * second);
                                },
                                [&](double t) -> Vector3d {
                                  return turn.radius * (std::cos(t) * second - std::sin(t) * first);
                                },
                                0.0, 2.0 * constant::pi, p);
    }
    worst = std::fmax(worst, (field_of(path, p) - want).norm() / want.norm());
  }
  MESSAGE("largest difference of |B|: ", worst);
  outside.below("field of tilted and offset coils, error of |B|", worst, 1e-10);
}

TEST_CASE("rods agree with Biot-Savart quadrature") {
  const Outside outside("Biot-Savart, GSL quadrature");
  const RodPath loop{{{0.1, 0.0, 0.0}, {0.0, 0.1, 0.02}, {-0.1, 0.0, 0.3}, {0.0, -0.08, 0.2}}};
  for (const Vector3d& p : {Vector3d(0.0, 0.0, 0.1), Vector3d(0.05, 0.05, 0.012), Vector3d(0.5, -0.3, 0.2)}) {
    Vector3d want = Vector3d::Zero();
    for (std::size_t i = 0; i < loop.rods(); ++i) {
      const Vector3d step = loop.end(i) - loop.begin(i);
      want += biot_savart([&](double t) -> Vector3d { return loop.begin(i) + t * step; },
                          [&](double) { return step; }, 0.0, 1.0, p);
    }
    outside.below("field of rods, error [T/A]", (field_of(loop, p) - want).norm(), 1e-10 * want.norm());
  }
}

// B = curl A; central differences, error h^2 A'''/6, about (h/distance)^2.
TEST_CASE("the field is the curl of the vector potential") {
  const Outside outside("definition B = curl A, central differences");
  const ConductorPath paths[] = {
      TurnPath{Placement({0.02, -0.01, 0.1}, {0.3, 0.5, 0.6}), {{0.1, 0.003, 1.0}, {0.09, -0.002, -0.5}}},
      RodPath{{{0.1, 0.0, 0.0}, {0.0, 0.1, 0.02}, {-0.1, 0.0, 0.3}}}};
  for (const auto& path : paths) {
    const Vector3d p(0.01, 0.03, 0.06);
    const double h = 1e-5;
    Eigen::Matrix3d slope;  // column j: dA/dx_j
    for (int j = 0; j < 3; ++j)
      slope.col(j) = (vector_potential_of(path, p + h * Vector3d::Unit(j)) -
                      vector_potential_of(path, p - h * Vector3d::Unit(j))) /
                     (2.0 * h);
    const Vector3d curl(slope(2, 1) - slope(1, 2), slope(0, 2) - slope(2, 0), slope(1, 0) - slope(0, 1));
    const Vector3d B = field_of(path, p);
    outside.below("field against the curl of the vector potential [T/A]", (curl - B).norm(), 1e-6 * B.norm());
  }
}

TEST_CASE("distance to the nearest wire") {
  const TurnPath turn{Placement({0.0, 0.0, 0.1}, {1.0, 0.0, 0.0}), {{0.1, 0.02, 1.0}}};
  CHECK(distance_to(turn, {0.02, 0.0, 0.23}) == relative(0.03, 1e-13));
  CHECK(distance_to(turn, {0.06, 0.07, 0.1}) == relative(0.05, 1e-13));
  const RodPath loop{{{0.0, 0.0, 0.0}, {0.1, 0.0, 0.0}, {0.0, 0.1, 0.0}}};
  CHECK(distance_to(loop, {0.05, -0.03, 0.04}) == relative(0.05, 1e-13));
  CHECK(distance_to(loop, {0.13, -0.04, 0.0}) == relative(0.05, 1e-13));
}

TEST_CASE("an axis without length is refused") {
  CHECK_THROWS_AS(Placement(Vector3d::Zero(), Vector3d::Zero()), driftglow::InputError);
  CHECK_THROWS_AS(Placement({0.0, NAN, 0.0}, Vector3d::UnitZ()), driftglow::InputError);
}
