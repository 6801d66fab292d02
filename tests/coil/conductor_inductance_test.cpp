#include "models/coil/conductor_inductance.hpp"

#include <doctest/doctest.h>
#include <gsl/gsl_integration.h>

#include <Eigen/Geometry>
#include <cmath>
#include <functional>

#include "models/coil/inductance.hpp"
#include "models/constants.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::coil;
namespace constant = driftglow::constant;
using Eigen::Vector3d;

namespace {
using constant::pi;

TurnPath circle(double radius, const Vector3d& centre, const Vector3d& axis) {
  return {Placement(centre, axis), {{radius, 0.0, 1.0}}};
}

struct Sampled {
  std::vector<Vector3d> at, step;
};
Sampled sampled(const TurnPath& path, int points) {
  const Vector3d n = path.placement.axis(), first = n.unitOrthogonal(), second = n.cross(first);
  const double a = path.turns[0].radius;
  Sampled s;
  for (int i = 0; i < points; ++i) {
    const double t = 2.0 * pi * i / points;
    s.at.push_back(path.placement.centre() + a * (std::cos(t) * first + std::sin(t) * second));
    s.step.push_back(2.0 * pi * a / points * (std::cos(t) * second - std::sin(t) * first));
  }
  return s;
}

// Neumann's formula (1845), mu0/(4 pi) oint oint dl.dl'/|r - r'|, both integrals by the trapezoidal rule,
// which converges geometrically on closed smooth curves.
double neumann(const TurnPath& a, const TurnPath& b, int points) {
  const Sampled first = sampled(a, points), second = sampled(b, points);
  double sum = 0.0;
  for (int i = 0; i < points; ++i) {
    for (int j = 0; j < points; ++j)
      sum += first.step[i].dot(second.step[j]) / (first.at[i] - second.at[j]).norm();
  }
  return constant::mu_0 / (4.0 * pi) * sum;
}

double adaptive(const std::function<double(double)>& f, double begin, double end, double tolerance) {
  gsl_function wrapped{[](double t, void* p) { return (*static_cast<std::function<double(double)>*>(p))(t); },
                       const_cast<std::function<double(double)>*>(&f)};
  gsl_integration_workspace* space = gsl_integration_workspace_alloc(1000);
  double result = 0.0, error = 0.0;
  gsl_integration_qag(&wrapped, begin, end, 0.0, tolerance, 1000, GSL_INTEG_GAUSS31, space, &result, &error);
  gsl_integration_workspace_free(space);
  return result;
}

// The single integral with as many points as the closest approach asks for.
double circulation(const TurnPath& source, const TurnPath& round, int points) {
  const Sampled path = sampled(round, points);
  double sum = 0.0;
  for (int i = 0; i < points; ++i) sum += vector_potential_of(source, path.at[i]).dot(path.step[i]);
  return sum;
}
}  // namespace

// Tolerance: 1e-10, issue 4.
TEST_CASE("circles anywhere agree with Neumann's double integral") {
  const Outside outside("Neumann 1845, double integral by the trapezoidal rule");
  struct Case {
    TurnPath a, b;
  };
  for (const auto& c :
       {Case{circle(0.1, {0.0, 0.0, 0.0}, {0.0, 0.0, 1.0}),
             circle(0.03, {0.02, 0.01, 0.05}, {1.0, 2.0, 2.0})},
        Case{circle(0.1, {0.0, 0.0, 0.0}, {0.3, 0.0, 1.0}), circle(0.1, {0.05, 0.0, 0.1}, {-0.3, 0.0, 1.0})},
        Case{circle(0.1, {0.0, 0.0, 0.0}, {0.0, 0.0, 1.0}), circle(0.1, {0.1, 0.0, 0.0}, {0.0, 1.0, 0.2})},
        Case{circle(0.1, {0.3, 0.0, 0.0}, {0.0, 0.0, 1.0}),
             circle(0.2, {-0.2, 0.1, 0.0}, {0.1, 0.0, 1.0})}}) {
    const auto got = mutual_inductance(c.a, c.b);
    outside.matches("mutual inductance of circles anywhere [H]", got.value, neumann(c.a, c.b, 1200), 1e-10);
    outside.matches("mutual inductance of circles, reciprocity [H]", mutual_inductance(c.b, c.a).value,
                    got.value, 1e-11);
    CHECK(got.error < 1e-10 * std::fabs(got.value));
  }
}

// Wires that pass each other closely: crossed circles of nearly one size. exp(-points x gap) is what a
// trapezoidal rule leaves; tolerance as above.
TEST_CASE("close filaments") {
  const Outside outside("Neumann 1845, integral with points by the closest approach");
  for (const double gap : {1e-2, 1e-3, 1e-4}) {
    const TurnPath a = circle(0.1, Vector3d::Zero(), {0.0, 0.3, 1.0});
    const TurnPath b = circle(0.1 + gap * 0.1, Vector3d::Zero(), {0.0, -0.3, 1.0});
    const auto got = mutual_inductance(a, b);
    if (gap == 1e-2)
      outside.matches("mutual inductance of filaments that pass closely [H]", got.value, neumann(a, b, 4000),
                      1e-10);
    outside.matches("mutual inductance of filaments that pass closely [H]", got.value,
                    circulation(a, b, static_cast<int>(40.0 / gap)), 1e-10);
    CHECK(got.error < 1e-10 * got.value);
  }
}

// Tolerance: rounding, and the stated 1e-12 of the quadrature. The limit is reached through a tilt whose
// effect is of second order.
TEST_CASE("coaxial limit") {
  const Outside outside("Maxwell's formula for coaxial circles");
  const Vector3d axis = Vector3d(1.0, -2.0, 0.5).normalized();
  for (const double d : {0.001, 0.05, 0.3}) {
    const double want = mutual_inductance(0.1, 0.08, d);
    const TurnPath a = circle(0.1, {0.2, 0.1, 0.0}, axis);
    outside.matches("mutual inductance in the coaxial limit [H]",
                    mutual_inductance(a, circle(0.08, Vector3d(0.2, 0.1, 0.0) + d * axis, axis)).value, want,
                    1e-12);
    const Vector3d tilted = axis + 1e-7 * axis.unitOrthogonal();
    outside.matches("mutual inductance in the coaxial limit [H]",
                    mutual_inductance(a, circle(0.08, Vector3d(0.2, 0.1, 0.0) + d * axis, tilted)).value,
                    want, 1e-10);
  }
}

// Two magnetic dipoles far apart, M = mu0/(4 pi r^3) (3 (m.e)(m'.e) - m.m'); next terms of order (a/r)^2.
TEST_CASE("far circles are dipoles") {
  const Outside outside("two magnetic dipoles (textbook)");
  const Vector3d n1 = Vector3d(1.0, 2.0, 3.0).normalized(), n2 = Vector3d(-1.0, 0.5, 0.7).normalized();
  const Vector3d apart(300.0, 100.0, -50.0), e = apart.normalized();
  const double m1 = pi * 0.01, m2 = pi * 0.0004;
  const double want = constant::mu_0 * m1 * m2 / (4.0 * pi * std::pow(apart.norm(), 3)) *
                      (3.0 * n1.dot(e) * n2.dot(e) - n1.dot(n2));
  outside.matches("mutual inductance of far circles [H]",
                  mutual_inductance(circle(0.1, Vector3d::Zero(), n1), circle(0.02, apart, n2)).value, want,
                  1e-6);
}

TEST_CASE("crossed circles with one centre are not coupled") {
  const Outside outside("symmetry: crossed circles with one centre");
  const auto got = mutual_inductance(circle(0.1, Vector3d::Zero(), Vector3d::UnitX()),
                                     circle(0.08, Vector3d::Zero(), Vector3d::UnitY()));
  outside.below("mutual inductance of crossed circles [H]", std::fabs(got.value),
                1e-12 * constant::mu_0 * 0.1);
}

// Equal parallel squares of side s at distance d, facing each other (Grover, Inductance Calculations, 1946
// [grover1946], from memory; the test is its second route): 2 mu0/pi (s ln((s + u)/(s + v) u/d) + v - 2 u +
// d), u^2 = s^2 + d^2, v^2 = 2 s^2 + d^2.
TEST_CASE("parallel squares of rods") {
  const Outside outside("Grover 1946, equal parallel squares [memory]");
  const double s = 0.2;
  const auto square = [&](double z) { return RodPath{{{0.0, 0.0, z}, {s, 0.0, z}, {s, s, z}, {0.0, s, z}}}; };
  for (const double d : {0.3, 0.05, 0.002}) {
    const double u = std::hypot(s, d), v = std::hypot(u, s);
    const double want =
        2.0 * constant::mu_0 / pi * (s * std::log((s + u) / (s + v) * u / d) + v - 2.0 * u + d);
    const auto got = mutual_inductance(square(0.1), square(0.1 + d));
    outside.matches("mutual inductance of parallel squares [H]", got.value, want, 1e-10);
  }
}

// Both ways round Neumann's integral: the rods' potential round the turn, the turn's along the rods.
TEST_CASE("rods and turns") {
  const Outside outside("Neumann's integral the other way round, GSL quadrature");
  const RodPath loop{{{0.12, 0.0, -0.1}, {0.12, 0.0, 0.2}, {0.0, 0.13, 0.2}, {0.0, 0.13, -0.1}}};
  const TurnPath turn = circle(0.1, {0.01, 0.0, 0.05}, {1.0, 1.0, 0.4});
  double along_rods = 0.0;
  for (std::size_t i = 0; i < loop.rods(); ++i) {
    const Vector3d step = loop.end(i) - loop.begin(i);
    along_rods += adaptive(
        [&](double t) { return vector_potential_of(turn, loop.begin(i) + t * step).dot(step) * 1e9 + 1e3; },
        0.0, 1.0, 1e-12);
  }
  along_rods = (along_rods - 4e3) * 1e-9;
  outside.matches("mutual inductance of rods and a turn [H]", mutual_inductance(loop, turn).value, along_rods,
                  1e-8);
  outside.matches("mutual inductance of rods and a turn [H]", mutual_inductance(turn, loop).value, along_rods,
                  1e-8);
}

// Rectangle of round wire (Rosa & Grover 1912 [rosa1912], from memory; second route: Neumann's integral in
// the code under test), without the internal term.
TEST_CASE("inductance of a rectangle of rods") {
  const Outside outside("Rosa & Grover 1912, rectangle of round wire [memory]");
  const double a = 0.3, b = 0.12, w = 1e-3, diagonal = std::hypot(a, b);
  const double want = constant::mu_0 / pi *
                      (a * std::log(2.0 * a / w) + b * std::log(2.0 * b / w) + 2.0 * diagonal -
                       a * std::asinh(a / b) - b * std::asinh(b / a) - 2.0 * (a + b));
  const RodPath loop{{{0.0, 0.0, 0.0}, {a, 0.0, 0.0}, {a, b, 0.0}, {0.0, b, 0.0}}};
  outside.matches("inductance of a rectangle of rods [H]", rod_inductance(loop, loop, w), want, 1e-12);
}

// A polygon of many rods goes over into the circle; the difference is of order 1/corners^2 and of the
// corners' w/a x corners/10.
TEST_CASE("a polygon of many rods is nearly a circle") {
  const Outside outside("limit: a polygon of many rods is a circle");
  RodPath loop;
  constexpr int corners = 90;
  for (int i = 0; i < corners; ++i) {
    const double t = 2.0 * pi * i / corners;
    loop.corners.push_back({0.1 * std::cos(t), 0.1 * std::sin(t), 0.0});
  }
  outside.matches("inductance of a polygon of 90 rods [H]", rod_inductance(loop, loop, 1e-4),
                  loop_inductance(0.1, 1e-4, 0.0), 2e-3);
}

// The rod that two meshes share drops out of their sum, which is the loop round both.
TEST_CASE("meshes that share a rod") {
  const Outside outside("sum of two meshes is the loop round both");
  const Vector3d a(0.0, 0.0, 0.0), b(0.1, 0.0, 0.0), c(0.1, 0.2, 0.05), d(0.0, 0.2, 0.05), e(0.3, 0.0, 0.1),
      f(0.3, 0.25, 0.1);
  const RodPath left{{a, b, c, d}}, right{{b, e, f, c}}, outer{{a, b, e, f, c, d}};
  CHECK(shared_length(left, right) == relative(-(c - b).norm(), 1e-14));
  const auto L = [](const RodPath& first, const RodPath& second) {
    return rod_inductance(first, second, 1e-3);
  };
  outside.matches("inductance of two meshes that share a rod [H]",
                  L(left, left) + 2.0 * L(left, right) + L(right, right), L(outer, outer), 1e-11);
  CHECK(L(left, right) == relative(L(right, left), 1e-11));
}

TEST_CASE("wires that come too close are found") {
  const TurnPath a = circle(0.1, Vector3d::Zero(), Vector3d::UnitZ());
  const TurnPath b = circle(0.1, {0.1, 0.0, 0.003}, Vector3d::UnitZ());
  CHECK(closer_than(a, b, 0.0031));
  CHECK(!closer_than(a, b, 0.0029));
  const RodPath loop{{{0.0, 0.0, -0.1}, {0.0, 0.0, 0.1}, {0.3, 0.0, 0.1}, {0.3, 0.0, -0.1}}};
  CHECK(!closer_than(a, loop, 0.09));
  CHECK(closer_than(a, loop, 0.101));

  const Reach vessel{0.095, 0.0, 0.32};
  CHECK(!enters(circle(0.1, {0.0, 0.0, 0.1}, {0.3, 0.0, 1.0}), vessel));
  CHECK(enters(circle(0.1, {0.06, 0.0, 0.1}, {0.0, 0.0, 1.0}), vessel));
  CHECK(!enters(circle(0.1, {0.06, 0.0, -0.1}, {0.0, 0.0, 1.0}), vessel));
  CHECK(enters(loop, vessel));
}
