#include "models/coil/shorted_turn.hpp"

#include <doctest/doctest.h>

#include <Eigen/Dense>
#include <cmath>
#include <complex>

#include "models/coil/inductance.hpp"
#include "models/coil/round_wire.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/coil/room.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::coil;
namespace constant = driftglow::constant;
using Eigen::Vector3d;

namespace {
using constant::pi;

ConductorPath ring(double radius) {
  return TurnPath{Placement(Vector3d::Zero(), Vector3d::UnitZ()), {{radius, 0.0, 1.0}}};
}

// Second route to the current in a bar's surface: the potential of straight line charges, -ln r, is made
// constant on the perimeter (one unknown a piece, pieces finer towards the corners). Gives the radius of the
// round wire of the same outer inductance, and the loss of the surface current over an even one's.
struct Surface {
  double radius, crowding;
};
Surface surface_by_collocation(double width, double height) {
  constexpr int per_half_side = 60;
  std::vector<Eigen::Vector2d> middle, tangent;
  std::vector<double> size;
  const Eigen::Vector2d corners[4] = {
      {-width / 2, -height / 2}, {width / 2, -height / 2}, {width / 2, height / 2}, {-width / 2, height / 2}};
  for (int side = 0; side < 4; ++side) {
    const Eigen::Vector2d begin = corners[side], step = corners[(side + 1) % 4] - begin;
    const auto edge = [&](int i) {  // graded by the fourth power from both corners
      const double s = static_cast<double>(i) / per_half_side;
      return s <= 1.0 ? 0.5 * std::pow(s, 4) : 1.0 - 0.5 * std::pow(2.0 - s, 4);
    };
    for (int i = 0; i < 2 * per_half_side; ++i) {
      middle.push_back(begin + 0.5 * (edge(i) + edge(i + 1)) * step);
      tangent.push_back(step.normalized());
      size.push_back((edge(i + 1) - edge(i)) * step.norm());
    }
  }
  const int n = static_cast<int>(size.size());
  Eigen::MatrixXd A(n + 1, n + 1);
  for (int i = 0; i < n; ++i) {
    for (int j = 0; j < n; ++j) {
      // Integral of -ln r over a straight piece, from local coordinates along and across it.
      const Eigen::Vector2d d = middle[i] - middle[j];
      const double x = d.dot(tangent[j]), y = std::fabs(d.x() * tangent[j].y() - d.y() * tangent[j].x());
      const auto antiderivative = [&](double u) {
        const double r2 = u * u + y * y;
        return (r2 > 0.0 ? 0.5 * u * std::log(r2) : 0.0) - u + (y > 0.0 ? y * std::atan(u / y) : 0.0);
      };
      A(i, j) = -(antiderivative(x + 0.5 * size[j]) - antiderivative(x - 0.5 * size[j]));
    }
    A(i, n) = -1.0;
    A(n, i) = size[i];
  }
  A(n, n) = 0.0;
  Eigen::VectorXd right = Eigen::VectorXd::Zero(n + 1);
  right[n] = 1.0;
  const Eigen::VectorXd x = A.partialPivLu().solve(right);
  double perimeter = 0.0, square = 0.0;
  for (int i = 0; i < n; ++i) {
    perimeter += size[i];
    square += x[i] * x[i] * size[i];
  }
  return {std::exp(-x[n]), perimeter * square};
}
// Second route to a bar's impedance at any frequency: the section in straight filaments of even current,
// coupled by -(mu0/2 pi) ln of their distance (Silvester 1966 [silvester1966]). A quarter by symmetry.
struct BarImpedance {
  double resistance;     // over DC
  double mean_distance;  // of the inductance, -(mu0/2 pi) ln, in units of the width
};
BarImpedance bar_by_filaments(double height, double width_over_depth) {
  constexpr int per_half = 16;
  std::vector<Eigen::Vector2d> middle, size;
  const auto edge = [](int i) { return 0.5 * std::sin(0.5 * pi * i / per_half); };  // finer to the surface
  for (int i = 0; i < per_half; ++i) {
    for (int j = 0; j < per_half; ++j) {
      middle.push_back({0.5 * (edge(i) + edge(i + 1)), 0.5 * height * (edge(j) + edge(j + 1))});
      size.push_back({edge(i + 1) - edge(i), height * (edge(j + 1) - edge(j))});
    }
  }
  const int n = static_cast<int>(middle.size());
  Eigen::MatrixXcd Z(n, n);  // times 2 pi/(omega mu0)
  for (int i = 0; i < n; ++i) {
    for (int j = 0; j < n; ++j) {
      double log_distance = 0.0;
      for (const double x : {1.0, -1.0}) {
        for (const double y : {1.0, -1.0}) {
          const Eigen::Vector2d image(x * middle[j].x(), y * middle[j].y());
          log_distance +=
              i == j && x > 0.0 && y > 0.0
                  ? std::log(shape_of(RectangularSection{size[i].x(), size[i].y()}).uniform_distance)
                  : std::log((middle[i] - image).norm());
        }
      }
      Z(i, j) = std::complex<double>(0.0, -log_distance);
    }
    // Four filaments in parallel carry four times the current of one: rho/area = (omega mu0/2) delta^2/area.
    Z(i, i) += pi / (width_over_depth * width_over_depth * size[i].x() * size[i].y());
  }
  const Eigen::VectorXcd current = Z.partialPivLu().solve(Eigen::VectorXcd::Ones(n));
  const std::complex<double> bar = 1.0 / (4.0 * current.sum());
  return {bar.real() * width_over_depth * width_over_depth * height / pi, std::exp(-bar.imag())};
}
}  // namespace

// Square: logarithmic capacity Gamma(1/4)^2/(4 pi^(3/2)) sides = 0.59017 (Polya & Szego 1951 [polya1951],
// from memory); uniform distance 0.44705 sides (Rosa & Grover 1912 [rosa1912], from memory). Crowding 4/pi:
// the two integrals over a side are the lemniscate's, whose product is pi (Euler).
TEST_CASE("a square bar") {
  const Outside outside("Polya & Szego 1951, capacity of a square [memory]");
  const SectionShape shape = shape_of(RectangularSection{3e-3, 3e-3});
  const double capacity = std::pow(std::tgamma(0.25), 2) / (4.0 * std::pow(pi, 1.5));
  CHECK(capacity == relative(0.59017, 1e-5));
  outside.matches("outer radius of a square bar [m]", shape.surface_radius, 3e-3 * capacity, 1e-10);
  Outside("Rosa & Grover 1912 [memory]")
      .matches("mean distance of a square bar [m]", shape.uniform_distance, 3e-3 * 0.44705, 1e-5);
  Outside("lemniscate integrals (Euler)")
      .matches("crowding of the surface current of a square bar", shape.crowding, 4.0 / pi, 1e-10);
}

// A thin strip: a quarter of its width (Polya & Szego), where its thickness t adds (t/pi) (1 + ln(4 pi
// width/t)) to the width (common in strip-line practice, from memory); exp(-3/2) of it (Rosa & Grover) to the
// order of t/width.
TEST_CASE("a thin strip") {
  const Outside outside("Polya & Szego 1951, strip; strip-line practice for its thickness [memory]");
  const double t = 0.002, effective = 1.0 + t / pi * (1.0 + std::log(4.0 * pi / t));
  for (const auto& strip : {RectangularSection{1.0, t}, RectangularSection{t, 1.0}}) {
    const SectionShape shape = shape_of(strip);
    outside.matches("outer radius of a thin strip [m]", shape.surface_radius, 0.25 * effective, 1e-4);
    Outside("Rosa & Grover 1912 [memory]")
        .matches("mean distance of a thin strip [m]", shape.uniform_distance, std::exp(-1.5), 0.004);
  }
}

// Tolerance: the collocation's, from its own result for the square (radius 2e-4, crowding 1 %).
TEST_CASE("bars agree with collocation of the surface current") {
  const Outside outside("collocation of the surface current");
  for (const double height : {1.0, 0.5, 0.2}) {
    const Surface want = surface_by_collocation(1.0, height);
    const SectionShape shape = shape_of(RectangularSection{1.0, height});
    MESSAGE("height ", height, ": radius ", shape.surface_radius, " (", want.radius, "), crowding ",
            shape.crowding, " (", want.crowding, ")");
    outside.matches("outer radius of rectangular bars [m]", shape.surface_radius, want.radius, 1e-3);
    outside.matches("crowding of the surface current of rectangular bars", shape.crowding, want.crowding,
                    0.015);
  }
}

// Tolerance: what shorted_turn.hpp states for the estimate between its two limits. The bar is 1 m
// wide and the frequency sets the skin depth; radius 100 m, so that it is nearly straight.
TEST_CASE("bars agree with filaments between the limits") {
  const Outside outside("Silvester 1966, section in filaments");
  double worst = 0.0, worst_distance = 0.0;
  for (const double height : {1.0, 0.5, 0.2, 0.1}) {
    const ShortedTurn turn(ring(100.0), RectangularSection{1.0, height}, metal::copper);
    const double rho = constant::copper_resistivity_20, dc = rho * 200.0 * pi / height;
    for (const double width_over_depth : {1.0, 2.0, 4.0, 8.0, 12.0}) {
      const double frequency = rho * width_over_depth * width_over_depth / (pi * constant::mu_0);
      const BarImpedance want = bar_by_filaments(height, width_over_depth);
      const double ratio = turn.resistance(frequency, room) / dc;
      const double distance =
          8.0 * 100.0 * std::exp(-2.0 - turn.inductance(frequency, room) / (constant::mu_0 * 100.0));
      worst = std::fmax(worst, std::fabs(ratio / want.resistance - 1.0));
      worst_distance = std::fmax(worst_distance, std::fabs(distance / want.mean_distance - 1.0));
    }
  }
  MESSAGE("largest error of the resistance ", worst, ", of the mean distance ", worst_distance);
  outside.below("resistance of rectangular bars between the limits, worst error", worst, 0.1);
  outside.below("mean distance of rectangular bars between the limits, worst error", worst_distance, 0.06);
}

// Handbook values (from memory, second route: dimensions): 2 mm round aluminium, 100 mm mean radius, DC
// resistance rho 2 pi a/area. At 118 kHz delta = 0.246 mm; thick wire: R = rho l/(pi (2 w - delta) delta),
// good to 1 % there.
TEST_CASE("a round ring") {
  const Outside outside("thick-wire resistance, handbook resistivity of aluminium [memory]");
  const ShortedTurn turn(ring(0.1), RoundSection{2e-3}, metal::aluminium);
  const double dc = 2.8264e-8 * 2.0 * pi * 0.1 / (pi * 1e-6);
  outside.matches("DC resistance of an aluminium ring [ohm]", turn.resistance(1.0, room), dc, 1e-6);
  const double delta = skin_depth(2.8264e-8, 118e3);
  outside.matches("skin depth of aluminium at 118 kHz [m]", delta, 0.2463e-3, 1e-3);
  outside.matches("resistance of an aluminium ring at 118 kHz [ohm]", turn.resistance(118e3, room),
                  2.8264e-8 * 0.2 * pi / (pi * (2e-3 - delta) * delta), 0.01);
  CHECK(turn.inductance(1.0, room) == relative(loop_inductance(0.1, 1e-3, 0.25), 1e-9));
  CHECK(turn.inductance(118e3, room) == relative(loop_inductance(0.1, 1e-3, 0.5 * delta / 1e-3), 0.01));
}

// Limits: all of the section at low frequency; at high frequency crowding rho l/(perimeter delta) and the
// surface inductance.
TEST_CASE("a bar at both ends of frequency") {
  const ShortedTurn turn(ring(0.1), RectangularSection{2e-3, 5e-3}, metal::brass, 1e-4);
  const SectionShape shape = shape_of(RectangularSection{2e-3, 5e-3});
  const double length = 0.2 * pi;
  CHECK(turn.resistance(1.0, room) == relative(6.6e-8 * length / 1e-5 + 1e-4, 1e-5));
  CHECK(turn.inductance(1.0, room) == relative(loop_inductance(0.1, shape.uniform_distance, 0.0), 1e-6));
  const double delta = skin_depth(6.6e-8, 1e8);
  CHECK(turn.resistance(1e8, room) - 1e-4 ==
        relative(shape.crowding * 6.6e-8 * length / (14e-3 * delta), 0.01));
  CHECK(turn.inductance(1e8, room) == relative(loop_inductance(0.1, shape.surface_radius, 0.0), 0.002));
  // Warm metal resists more.
  CHECK(turn.resistance(1.0, room + 100.0) - 1e-4 ==
        relative(1.16 * (turn.resistance(1.0, room) - 1e-4), 1e-9));
}

TEST_CASE("a loop of rods") {
  const RodPath loop{{{0.1, 0.0, 0.0}, {0.1, 0.0, 0.3}, {-0.1, 0.0, 0.3}, {-0.1, 0.0, 0.0}}};
  const ShortedTurn turn(loop, RoundSection{4e-3}, metal::brass);
  CHECK(turn.resistance(1.0, room) == relative(6.6e-8 * 1.0 / (pi * 4e-6), 1e-6));
}

TEST_CASE("impossible conductors are refused") {
  using driftglow::InputError;
  CHECK_THROWS_AS(ShortedTurn(ring(0.1), RoundSection{0.0}, metal::brass), InputError);
  CHECK_THROWS_AS(ShortedTurn(ring(0.1), RectangularSection{1e-3, 2.0}, metal::brass), InputError);
  CHECK_THROWS_AS(ShortedTurn(ring(0.001), RoundSection{2e-3}, metal::brass), InputError);
  CHECK_THROWS_AS(ShortedTurn(ring(0.1), RoundSection{1e-3}, Metal{0.0, 0.0}), InputError);
  CHECK_THROWS_AS(ShortedTurn(ring(0.1), RoundSection{1e-3}, metal::brass, -1.0), InputError);
  CHECK_THROWS_AS(ShortedTurn(RodPath{{{0.0, 0.0, 0.0}, {0.1, 0.0, 0.0}}}, RoundSection{1e-3}, metal::brass),
                  InputError);
}
