#include "models/coil/self_capacitance.hpp"

#include <doctest/doctest.h>

#include <Eigen/LU>
#include <boost/math/special_functions/ellint_1.hpp>
#include <cmath>
#include <vector>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::coil;
namespace constant = driftglow::constant;
using constant::epsilon_0;
using constant::pi;

namespace {

// A single layer of given length over diameter, 10 cm wide, of wire too thin to matter.
double single_layer(double slimness) {
  const double pitch = 0.1 * slimness / 100.0;
  const double wire = 0.5 * pitch;
  return self_capacitance({0.1 - wire, 100.0, 1, {wire, wire}, pitch}, LayerOrder::to_and_fro).value;
}

// Charge rings on the coil's cylinder at the potential of an even voltage along it, one end at zero, nothing
// else near: twice its energy.
double sheet_capacitance(double slimness) {
  const int n = 120;
  const double radius = 0.05, step = 0.1 * slimness / n;
  Eigen::MatrixXd potential(n, n);
  Eigen::VectorXd volts(n);
  for (int i = 0; i < n; ++i) {
    volts[i] = (i + 0.5) / n;
    for (int k = 0; k < n; ++k) {
      const double d = (i - k) * step, far = std::hypot(2.0 * radius, d);
      potential(i, k) = i == k
                            ? std::log(32.0 * radius / step) / (4.0 * pi * pi * epsilon_0 * radius)
                            : boost::math::ellint_1(2.0 * radius / far) / (2.0 * pi * pi * epsilon_0 * far);
    }
  }
  return potential.partialPivLu().solve(volts).dot(volts);
}

// Second route to the capacitance of facing wires: finite differences on the quarter between one wire, its
// neighbour's border and the plane half-way to the layer below, by over-relaxation; C from the energy.
double facing_by_differences(double bare, double enamelled, double permittivity) {
  const int n = 120;
  const double step = 0.5 * enamelled / n;
  const auto radius = [&](double x, double y) { return std::hypot(x, n - y) * step; };
  const auto at = [&](int x, int y) { return y * (n + 1) + x; };
  // Permittivity of the square between nodes x, x+1 and y, y+1.
  const auto medium = [&](int x, int y) {
    if (x < 0 || y < 0 || x >= n || y >= n) return 0.0;
    return radius(x + 0.5, y + 0.5) < 0.5 * enamelled ? permittivity : 1.0;
  };
  struct Node {
    double right, left, up, down;
    bool fixed;
  };
  std::vector<Node> nodes;
  std::vector<double> v((n + 1) * (n + 1), 0.0);
  for (int y = 0; y <= n; ++y) {
    for (int x = 0; x <= n; ++x) {
      const double a = medium(x, y), b = medium(x - 1, y), c = medium(x, y - 1), d = medium(x - 1, y - 1);
      const bool metal = radius(x, y) <= 0.5 * bare;
      nodes.push_back({0.5 * (a + c), 0.5 * (b + d), 0.5 * (a + b), 0.5 * (c + d), metal || y == 0});
      v[at(x, y)] = metal ? 0.5 : 0.5 * y / n;
    }
  }
  for (int sweep = 0; sweep < 500; ++sweep) {
    for (int y = 1; y <= n; ++y) {
      for (int x = 0; x <= n; ++x) {
        const Node& k = nodes[at(x, y)];
        if (k.fixed) continue;
        const double all = k.right + k.left + k.up + k.down;
        double sum = k.down * v[at(x, y - 1)];
        if (x < n) sum += k.right * v[at(x + 1, y)];
        if (x > 0) sum += k.left * v[at(x - 1, y)];
        if (y < n) sum += k.up * v[at(x, y + 1)];
        v[at(x, y)] += 1.95 * (sum / all - v[at(x, y)]);
      }
    }
  }
  double energy = 0.0;  // twice, of one quarter; four of them at one volt
  for (int y = 0; y <= n; ++y) {
    for (int x = 0; x <= n; ++x) {
      const Node& k = nodes[at(x, y)];
      if (x < n) energy += k.right * std::pow(v[at(x + 1, y)] - v[at(x, y)], 2);
      if (y < n) energy += k.up * std::pow(v[at(x, y + 1)] - v[at(x, y)], 2);
    }
  }
  return 4.0 * epsilon_0 * energy;
}

}  // namespace

// Medhurst 1947 [medhurst1947], table of H [pF per cm of diameter] (from memory; he states 5 %, and his fit
// and the table differ by up to 8 %).
TEST_CASE("single-layer coils against Medhurst's table") {
  const Outside outside("Medhurst 1947, table of H [memory]");
  const double table[][2] = {{0.1, 0.96}, {0.2, 0.70}, {0.5, 0.50},  {1.0, 0.46},
                             {2.0, 0.50}, {4.0, 0.72}, {10.0, 1.32}, {20.0, 2.36}};
  for (const auto& [slimness, H] : table)
    outside.matches("self-capacitance of single-layer coils [F]", single_layer(slimness), 10.0 * H * 1e-12,
                    0.08);
}

// Second route: electrostatics of the coil alone is a lower bound (the earth that his coils stood on and the
// leads come on top), and not far below from half a diameter of length on.
TEST_CASE("single-layer coils against the charge on a cylinder") {
  for (const double slimness : {0.5, 1.0, 2.0, 4.0, 10.0, 20.0}) {
    const double ratio = sheet_capacitance(slimness) / single_layer(slimness);
    CAPTURE(slimness);
    CHECK(ratio > 0.5);
    CHECK(ratio < 1.0);
  }
}

TEST_CASE("very short layers say so") {
  CHECK(self_capacitance({0.2, 10.0, 1, {1e-3, 1.06e-3}, 1.5e-3}, LayerOrder::to_and_fro).method ==
        SelfCapacitanceMethod::short_layer);
  CHECK(self_capacitance({0.05, 10.0, 1, {1e-3, 1.06e-3}, 1.5e-3}, LayerOrder::to_and_fro).method ==
        SelfCapacitanceMethod::single_layer);
}

// Staircase of the circle: a few per cent; the straight field lines: some more. 10 % as the header says.
TEST_CASE("facing wires against finite differences") {
  const Outside outside("finite differences by over-relaxation");
  for (const double coat : {1.05, 1.1, 1.2}) {
    for (const double permittivity : {2.5, 3.5}) {
      CAPTURE(coat);
      CAPTURE(permittivity);
      const double got = facing_wires_capacitance(1e-4, coat * 1e-4, permittivity);
      outside.matches("capacitance of facing enamelled wires [F/m]", got,
                      facing_by_differences(1e-4, coat * 1e-4, permittivity), 0.10);
    }
  }
}

// Classical results of the energy method (textbooks on transformers): two layers wound to and fro have a
// third of the capacitance between them, begun at the same end a quarter; many layers p fall as 4/(3p) and
// 1/p. Even steps in place of the integral: 1/n^2. Radii differ by less than 1 %.
TEST_CASE("layers by their energy") {
  const Outside outside("energy method for layers (textbooks on transformers)");
  const Wire wire{1e-4, 1.2e-4};
  const auto of = [&](int layers, LayerOrder order) {
    return self_capacitance({0.1, 40.0 * layers, layers, wire, 1.2e-4}, order);
  };
  const double between = 40.0 * 2.0 * pi * 0.05 * facing_wires_capacitance(1e-4, 1.2e-4, enamel_permittivity);
  CHECK(of(2, LayerOrder::to_and_fro).method == SelfCapacitanceMethod::layers);
  outside.matches("capacitance of wound layers [F]", of(2, LayerOrder::to_and_fro).value, between / 3.0,
                  0.01);
  outside.matches("capacitance of wound layers [F]", of(2, LayerOrder::same_end).value, between / 4.0, 0.01);
  outside.matches("capacitance of wound layers [F]", of(8, LayerOrder::to_and_fro).value,
                  between * 4.0 / 3.0 * 7.0 / 64.0, 0.015);
  outside.matches("capacitance of wound layers [F]", of(8, LayerOrder::same_end).value, between * 7.0 / 64.0,
                  0.015);
  // A last layer of one turn adds the energy of one pair only.
  const auto more = self_capacitance({0.1, 81.0, 3, wire, 1.2e-4}, LayerOrder::to_and_fro);
  CHECK(more.value > 0.0);
  CHECK(std::isfinite(more.value));
}

TEST_CASE("concerns about self-resonance") {
  using Concern = SelfResonance::Concern;
  // 40 uH, 25 pF: 5.03 MHz.
  const auto tag = self_resonance(40e-6, 25e-12, 118e3, 47e-9, 0.05);
  CHECK(tag.frequency == relative(5.033e6, 1e-3));
  CHECK(tag.tank_shift == relative(-0.5 * 25e-12 / 47e-9, 1e-3));
  CHECK(tag.concern == Concern::none);
  CHECK(self_resonance(40e-6, 25e-12, 1.1e6, 500e-12, 0.05).concern == Concern::near_resonance);
  CHECK(self_resonance(1500e-6, 100e-12, 60e3, 1.2e-9, 0.02).concern == Concern::shifts_tank);
  CHECK(self_resonance(1500e-6, 100e-12, 60e3, 1.2e-9, 0.05).concern == Concern::none);
  CHECK_THROWS_AS(self_resonance(0.0, 1e-12, 1.0, 1e-9, 0.0), driftglow::LogicError);
}
