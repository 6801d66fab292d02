#include "models/swirl_flow/flow_solver.hpp"

#include <doctest/doctest.h>

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/swirl_flow/settle.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"
#include "tests/swirl_flow/cases.hpp"

using namespace driftglow;
using namespace driftglow::swirl_flow;
using constant::pi;
using test::even_faces;

namespace {

// u_z on the axis: the even parabola through the two innermost cells.
double axis_speed(const FlowSolver& solver, int face) {
  const auto& r = solver.flow_case().r_faces;
  const double r0 = 0.5 * r[1], r1 = 0.5 * (r[1] + r[2]);
  const double a = solver.field().u_z(0, face), b = solver.field().u_z(1, face);
  return a + (a - b) * r0 * r0 / (r1 * r1 - r0 * r0);
}

// Where u_z on the axis changes its sign, between faces 1 and the last.
std::vector<double> stagnation_points(const FlowSolver& solver) {
  std::vector<double> places;
  const auto& z = solver.flow_case().z_faces;
  for (int j = 2; j < solver.flow_case().z_cells(); ++j) {
    const double low = axis_speed(solver, j - 1), high = axis_speed(solver, j);
    if (low * high < 0.0) places.push_back(z[j - 1] + (z[j] - z[j - 1]) * low / (low - high));
  }
  return places;
}

// A cylinder of radius 1 whose lid turns at 1 rad/s, cells closer at its walls; Re = Omega R^2/nu.
FlowSolver rotating_lid(double height, double reynolds, int r_cells, int z_cells) {
  std::vector<double> r, z;
  for (int i = 0; i <= r_cells; ++i) {
    const double t = double(i) / r_cells;
    r.push_back(0.5 * t + 0.5 * std::sin(0.5 * pi * t));
  }
  for (int j = 0; j <= z_cells; ++j) {
    const double t = double(j) / z_cells;
    z.push_back(height * (0.4 * (1.0 - std::cos(pi * t)) + 0.2 * t));
  }
  auto flow = test::walled(r, z, 1.0 / reynolds);
  for (auto& b : flow.top) b.angular_velocity = 1.0;
  FlowSolver solver(flow);
  settle(solver, {1e-6, 20000, 0.7});
  return solver;
}

double axis_peak(const FlowSolver& solver) {
  double peak = 0.0;
  for (int j = 0; j <= solver.flow_case().z_cells(); ++j)
    peak = std::fmax(peak, std::fabs(axis_speed(solver, j)));
  return peak;
}

// Between a turning inner cylinder of radius 1 and an outer one of radius 2 at rest, half a wavelength of the
// vortices high (wave number 3.163 at onset, Chandrasekhar 1961); Re = Omega r_1 gap/nu.
FlowSolver cylinders(double reynolds, int cells) {
  const double height = pi / 3.163;
  auto flow = test::walled(even_faces(1.0, 2.0, cells), even_faces(0.0, height, cells), 1.0 / reynolds);
  for (auto& b : flow.inner) b.angular_velocity = 1.0;
  for (auto* edge : {&flow.bottom, &flow.top}) {
    for (auto& b : *edge) b.kind = BoundaryKind::symmetry;
  }
  FlowSolver solver(flow);
  auto field = solver.field();
  for (int i = 0; i < cells; ++i) {
    const double x = (i + 0.5) / cells, r = 1.0 + x;
    for (int j = 0; j <= cells; ++j) {
      field.u_z(i, j) = 1e-3 * std::sin(pi * j / cells) * std::sin(2.0 * pi * x);
      if (j < cells) field.angular_momentum(i, j) = (4.0 / (r * r) - 1.0) / 3.0 * r * r;
    }
  }
  solver.set_field(field);
  return solver;
}

double vortex_speed_after(FlowSolver& solver, int iterations) {
  for (int n = 0; n < iterations; ++n) solver.iterate(0.7);
  return solver.field().u_z.abs().maxCoeff();
}

// beta Re_D of laminar swirl in developed pipe flow, u ~ f(r) e^(-beta z/D), from the power series of
//   f'' + f'/x - f/x^2 + [c (1 - x^2) + beta^2/4] f = 0,  f(1) = 0,  c = beta Re/2.
double swirl_decay_by_series(double reynolds) {
  const auto end_value = [&](double product) {
    const double c = 0.5 * product, axial = 0.25 * std::pow(product / reynolds, 2);
    double before = 0.0, last = 1.0, sum = 1.0;
    for (int n = 1; n < 60; ++n) {
      const double next = -((c + axial) * last - c * before) / (4.0 * n * (n + 1.0));
      sum += next, before = last, last = next;
    }
    return sum;
  };
  double low = 30.0, high = 55.0;
  for (int n = 0; n < 60; ++n) {
    const double middle = 0.5 * (low + high);
    (end_value(low) * end_value(middle) <= 0.0 ? high : low) = middle;
  }
  return low;
}

// beta [1/m] of turbulent swirl in a pipe of radius 1/2 with mean speed 1 from the developed profiles at cell
// row j, apart from the solver's grid: the lowest eigenvalue of
//   d/dr(nu r^3 d omega/dr) + beta U r^3 omega = 0
// on 500 fine cells, U and the eddy viscosity linear between the solver's nodes, between the last node and
// the wall the logarithmic law's own (nu = kappa u* y down to y = nu/(E u*), where omega is 0), U scaled to
// its mean.
double turbulent_swirl_eigenvalue(const FlowSolver& solver, int j, double reynolds) {
  constexpr double kappa = 0.4187, wall = 9.793, c_mu = 0.09;
  const auto& field = solver.field();
  const int nodes = solver.flow_case().r_cells();
  const double step = 0.5 / nodes, last = 0.5 - 0.5 * step;
  const double friction = std::pow(c_mu, 0.25) * std::sqrt(field.kinetic_energy(nodes - 1, j));
  const double sublayer = 1.0 / (reynolds * wall * friction);
  const auto speed = [&](int i) { return 0.5 * (field.u_z(i, j) + field.u_z(i, j + 1)); };
  const auto eddy = [&](int i) {
    return 1.0 / reynolds + c_mu * std::pow(field.kinetic_energy(i, j), 2) / field.dissipation(i, j);
  };
  const auto between = [&](double r, auto value) {
    const double at = std::fmax(r / step - 0.5, 0.0);
    const int i = std::min(static_cast<int>(at), nodes - 2);
    return value(i) + (at - i) * (value(i + 1) - value(i));
  };
  const auto u = [&](double r) {
    return r < last ? between(r, speed)
                    : speed(nodes - 1) * std::log((0.5 - r) / sublayer) / std::log((0.5 - last) / sublayer);
  };
  const auto nu = [&](double r) { return r < last ? between(r, eddy) : kappa * friction * (0.5 - r); };
  std::vector<double> r;  // faces
  for (int i = 0; i < 300; ++i) r.push_back(last * i / 300.0);
  for (int i = 0; i <= 200; ++i)
    r.push_back(0.5 - (0.5 - last) * std::pow(sublayer / (0.5 - last), i / 200.0));
  const int cells = static_cast<int>(r.size()) - 1;
  const auto middle = [&](int i) { return 0.5 * (r[i] + r[i + 1]); };
  Eigen::MatrixXd matrix = Eigen::MatrixXd::Zero(cells, cells);
  Eigen::VectorXd weight(cells);
  double mean = 0.0;
  for (int i = 0; i < cells; ++i) {
    mean += u(middle(i)) * (r[i + 1] * r[i + 1] - r[i] * r[i]) / 0.25;
    weight(i) = u(middle(i)) * 0.25 * (std::pow(r[i + 1], 4) - std::pow(r[i], 4));
    const double outer = i + 1 < cells ? middle(i + 1) : r[i + 1];
    const double conductance = nu(r[i + 1]) * std::pow(r[i + 1], 3) / (outer - middle(i));
    matrix(i, i) += conductance;
    if (i + 1 == cells) continue;
    matrix(i + 1, i + 1) += conductance;
    matrix(i, i + 1) -= conductance, matrix(i + 1, i) -= conductance;
  }
  const Eigen::VectorXd scale = (weight / mean).cwiseSqrt().cwiseInverse();
  const Eigen::MatrixXd scaled = scale.asDiagonal() * matrix * scale.asDiagonal();
  return Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd>(scaled, Eigen::EigenvaluesOnly).eigenvalues()(0);
}

}  // namespace

// Exact: a solid body feels no shear.
TEST_CASE("air in a turning vessel turns as a solid body") {
  const Outside outside("solid-body rotation, exact");
  auto flow = test::walled(even_faces(0.0, 1.0, 12), even_faces(0.0, 1.5, 14), 0.01);
  for (auto* edge : {&flow.outer, &flow.bottom, &flow.top}) {
    for (auto& b : *edge) b.angular_velocity = 2.0;
  }
  FlowSolver solver(flow);
  settle(solver, {1e-13, 20000, 0.7});
  double error = 0.0;
  for (int i = 0; i < 12; ++i) {
    const double r = (i + 0.5) / 12.0;
    error = std::fmax(error, (solver.field().angular_momentum.row(i) / (2.0 * r * r) - 1.0).abs().maxCoeff());
  }
  outside.below("solid-body rotation, largest error", error, 1e-9);
  CHECK(solver.field().u_z.abs().maxCoeff() < 1e-9);
  CHECK(solver.field().u_r.abs().maxCoeff() < 1e-9);
}

// By its definition, from the whole tensor of a velocity gradient; air that is stretched along z by 1/s and
// drawn in evenly all around gives 3.
TEST_CASE("the rate of strain is that of the tensor") {
  const Outside outside("2 S:S, definition");
  CHECK(strain_rate_squared({-0.5, -0.5, 1.0, 0.0, 0.0, 0.0}) == 3.0);
  Eigen::Matrix3d gradient;  // of (u_r, u_theta, u_z) along (r, theta, z)
  gradient << 0.3, -1.2, 0.7, 0.4, -0.9, 1.1, -0.2, 0.5, 0.6;
  const Eigen::Matrix3d strain = 0.5 * (gradient + gradient.transpose());
  outside.matches("rate of strain squared [1/s2]",
                  strain_rate_squared({gradient(0, 0), gradient(1, 1), gradient(2, 2), 2.0 * strain(0, 2),
                                       2.0 * strain(0, 1), 2.0 * strain(1, 2)}),
                  2.0 * strain.squaredNorm(), 1e-14);
}

// Torque between cylinders, inner one turning: 4 pi mu L Omega r1^2 r2^2/(r2^2 - r1^2), exact.
TEST_CASE("Taylor-Couette torque at second order") {
  const Outside outside("Taylor-Couette torque, exact");
  double errors[3];
  int n = 0;
  for (const int cells : {8, 16, 32}) {
    auto flow = test::walled(even_faces(0.5, 1.0, cells), even_faces(0.0, 0.2, 3), 0.01);
    for (auto& b : flow.inner) b.angular_velocity = 1.0;
    for (auto* edge : {&flow.bottom, &flow.top}) {
      for (auto& b : *edge) b.kind = BoundaryKind::symmetry;
    }
    FlowSolver solver(flow);
    settle(solver, {1e-12, 20000, 0.7});
    const double exact = 4.0 * pi * 0.01 * 0.2 * 0.25 * 1.0 / (1.0 - 0.25);
    errors[n++] = std::fabs(solver.wall_torque_outer() / exact - 1.0);
    const auto balance = solver.angular_momentum_balance();
    outside.below("balance of angular momentum between cylinders [N m]", std::fabs(balance.imbalance()),
                  1e-6 * exact);
  }
  outside.below("torque between cylinders, relative error", errors[2], 1e-3);  // the issue's
  // Orders 1.98 and 1.996 were measured; an order of 1.9 leaves what the coarsest grid's next term makes.
  CHECK(std::log2(errors[0] / errors[1]) > 1.9);
  CHECK(std::log2(errors[1] / errors[2]) > 1.9);
}

// Hagen-Poiseuille, exact: f Re = 64 (Darcy).
TEST_CASE("friction of developed laminar pipe flow") {
  const Outside outside("Hagen-Poiseuille, exact");
  FlowSolver solver(test::pipe(even_faces(0.0, 0.5, 24), even_faces(0.0, 24.0, 80), 200.0));
  settle(solver, {1e-9, 5000, 0.7});
  const double slope = (solver.field().pressure(0, 60) - solver.field().pressure(0, 70)) / 3.0;
  outside.matches("friction factor times Re of laminar pipe flow", 2.0 * slope * 200.0, 64.0, 3e-3);
  outside.below("mass defect of pipe flow", solver.mass_defect(), 1e-14);
  CHECK(solver.vent_flow() == relative(solver.inlet_flow(), 1e-12));
}

// Durst et al. 2005 [durst2005]: 99 % of the axis' final speed after (0.619^1.6 + (0.0567 Re)^1.6)^(1/1.6) D
// = 11.41 D at Re 200, from an even inlet. [memory] 2 % is the correlation's claim. The length hangs on the
// last 1 % of the speed, so that cells cost much; three grids show second order and what they run to.
TEST_CASE("entry length of laminar pipe flow") {
  const Outside outside("Durst et al. 2005 [memory]");
  CHECK(std::pow(std::pow(0.619, 1.6) + std::pow(0.0567 * 200.0, 1.6), 1.0 / 1.6) == relative(11.41, 1e-3));
  double lengths[3];
  int n = 0;
  for (const int cells : {12, 24, 48}) {
    std::vector<double> r, z;
    for (int i = 0; i <= cells; ++i) {
      const double t = double(i) / cells;
      r.push_back(0.5 * (0.4 * t + 0.6 * std::sin(0.5 * pi * t)));
    }
    for (int j = 0; j <= 3 * cells; ++j) {
      const double t = j / (3.0 * cells);
      z.push_back(20.0 * t * (0.3 + 0.7 * t));
    }
    FlowSolver solver(test::pipe(r, z, 200.0));
    settle(solver, {1e-8, 20000, 0.8});
    int j = 1;
    while (axis_speed(solver, j) < 1.98) ++j;
    const double low = axis_speed(solver, j - 1), high = axis_speed(solver, j);
    lengths[n++] = z[j - 1] + (z[j] - z[j - 1]) * (1.98 - low) / (high - low);
  }
  const double order = std::log2((lengths[0] - lengths[1]) / (lengths[1] - lengths[2]));
  const double extrapolated = lengths[2] + (lengths[2] - lengths[1]) / 3.0;
  MESSAGE("entry lengths " << lengths[0] << ", " << lengths[1] << ", " << lengths[2] << " D, order " << order
                           << ", extrapolated " << extrapolated);
  outside.matches("entry length of laminar pipe flow [D]", lengths[2], 11.41, 0.02);
  outside.matches("entry length of laminar pipe flow, extrapolated [D]", extrapolated, 11.41, 0.02);
  CHECK(order > 1.8);
}

// The 42.765 [memory] and the eigenvalue of the linear equation by its power series, the second
// route.
TEST_CASE("laminar swirl decays at its eigenvalue") {
  const Outside outside("eigenvalue 42.765 [memory] and by power series");
  CHECK(swirl_decay_by_series(1e9) == relative(42.765, 1e-4));
  auto flow = test::pipe(even_faces(0.0, 0.5, 24), even_faces(0.0, 16.0, 80), 200.0);
  for (int i = 0; i < 24; ++i) {
    const double x = (i + 0.5) / 24.0;
    flow.bottom[i].speed = 2.0 * (1.0 - x * x);
    flow.bottom[i].swirl_speed = 1e-3 * x;
  }
  FlowSolver solver(flow);
  settle(solver, {1e-10, 8000, 0.8});
  const auto carried = [&](int j) {
    double sum = 0.0;
    for (int i = 0; i < 24; ++i)
      sum += solver.field().u_z(i, j) * solver.field().angular_momentum(i, j) * (2 * i + 1);
    return sum;
  };
  const double measured = -200.0 * std::log(carried(70) / carried(50)) / 4.0;
  outside.matches("decay of laminar swirl, by power series", measured, swirl_decay_by_series(200.0), 3e-3);
  outside.matches("decay of laminar swirl times Re", measured, 42.765, 3e-3);
}

// Onset at Re 68.19 for radius ratio 1/2 (Chandrasekhar 1961 [chandrasekhar1961]; torque ratio 1.139 at Re 80
// is the issue's). [memory]
TEST_CASE("Taylor vortices grow above their onset only, and raise the torque as published") {
  const Outside outside("Chandrasekhar 1961, torque ratio at Re 80 [memory]");
  auto below = cylinders(66.0, 24);
  const double decayed = vortex_speed_after(below, 200);
  CHECK(vortex_speed_after(below, 300) < 0.9 * decayed);
  auto above = cylinders(71.0, 24);
  const double grown = vortex_speed_after(above, 200);
  CHECK(vortex_speed_after(above, 300) > 1.1 * grown);
  auto vortices = cylinders(80.0, 24);
  settle(vortices, {1e-8, 20000, 0.7});
  const double couette = 4.0 * pi / 80.0 * (pi / 3.163) * 4.0 / 3.0;
  outside.matches("torque ratio of Taylor vortices at Re 80", vortices.wall_torque_outer() / couette, 1.139,
                  5e-3);
  MESSAGE("torque ratio " << vortices.wall_torque_outer() / couette);
}

// Peak speeds on the axis and the bubble between its stagnation points, z from the end at rest (values of the
// issue, for H/R 1.5 measured in several laboratories). [memory]
TEST_CASE("a turning lid over a cylinder 1.5 radii high") {
  const Outside outside("lid-driven cylinders measured in several laboratories [memory]");
  const auto smooth = rotating_lid(1.5, 990.0, 40, 60);
  outside.matches("peak speed on the axis under a turning lid", axis_peak(smooth), 0.0994, 0.02);
  CHECK(stagnation_points(smooth).empty());
  const auto bubble = rotating_lid(1.5, 1290.0, 40, 60);
  outside.matches("peak speed on the axis under a turning lid", axis_peak(bubble), 0.0711, 0.03);
  const auto points = stagnation_points(bubble);
  REQUIRE(points.size() == 2);
  outside.near("lower stagnation point under a turning lid", points[0] / 1.5, 0.324, 0.02);
  outside.near("upper stagnation point under a turning lid", points[1] / 1.5, 0.458, 0.02);
  MESSAGE("peaks " << axis_peak(smooth) << ", " << axis_peak(bubble) << ", bubble " << points[0] / 1.5
                   << " to " << points[1] / 1.5);
  Outside("conservation of angular momentum")
      .below("balance of angular momentum under a turning lid [N m]",
             std::fabs(bubble.angular_momentum_balance().imbalance()),
             1e-4 * std::fabs(bubble.wall_torque_outer()));
}

// Escudier 1984 [escudier1984]: at H/R 2 the first bubble appears between Re 1350 and 1450. [memory]
TEST_CASE("a turning lid over a cylinder two radii high") {
  CHECK(stagnation_points(rotating_lid(2.0, 1350.0, 40, 80)).empty());
  CHECK(stagnation_points(rotating_lid(2.0, 1450.0, 40, 80)).size() == 2);
}

// Prandtl-Karman for smooth pipes, 1/sqrt(f) = 2 log10(Re sqrt(f)) - 0.8 (Schlichting), within the 4
// %, and flat: the first cell's y+ goes from 14 (20 cells at Re 2e4) to 277. Blasius' 0.3164 Re^(-1/4) is the
// second route, itself within 4 % of Prandtl-Karman here. Below y+ 11 the wall function is a laminar sublayer
// of the wrong height: f 12 % too large at y+ 10 was measured.
TEST_CASE("friction of turbulent pipe flow does not hang on the wall's cell") {
  const Outside outside("Prandtl-Karman for smooth pipes (Schlichting)");
  for (const double reynolds : {2e4, 5e4, 2e5}) {
    double factors[3];
    int n = 0;
    for (const int cells : {8, 12, 20}) {
      auto flow = test::pipe(even_faces(0.0, 0.5, cells), even_faces(0.0, 60.0, 60), reynolds);
      flow.turbulence = Turbulence::k_epsilon;
      for (auto& b : flow.bottom) b.kinetic_energy = 3.75e-3, b.dissipation = 5.4e-4;
      FlowSolver solver(flow);
      settle(solver, {1e-6, 8000, 0.7});
      factors[n++] =
          2.0 * (solver.field().pressure(cells - 1, 44) - solver.field().pressure(cells - 1, 56)) / 12.0;
    }
    double karman = 0.02;
    for (int k = 0; k < 60; ++k) karman = std::pow(2.0 * std::log10(reynolds * std::sqrt(karman)) - 0.8, -2);
    outside.matches("friction factor of turbulent pipe flow", factors[0], karman, 0.04);
    outside.matches("friction factor of turbulent pipe flow", factors[1], karman, 0.04);
    outside.matches("friction factor of turbulent pipe flow", factors[2], karman, 0.04);
    if (reynolds <= 1e5)
      Outside("Blasius, 0.3164 Re^(-1/4)")
          .matches("friction factor of turbulent pipe flow against Blasius", factors[1],
                   0.3164 / std::pow(reynolds, 0.25), 0.05);
    CHECK(factors[0] == relative(factors[1], 0.01));
    CHECK(factors[2] == relative(factors[1], 0.01));
    MESSAGE("Re " << reynolds << ": f " << factors[0] / karman << ", " << factors[1] / karman << ", "
                  << factors[2] / karman << " of Prandtl-Karman");
  }
}

// Nothing feeds turbulence in an even stream without walls: k = k_0 (1 + (C_2 - 1) epsilon_0 t/k_0)^-n, with
// n = 1/(C_2 - 1) = 1.087 (Pope 2000 [pope2000] [memory]; behind grids 1.15 to 1.45 was measured). The sinks
// are taken at the end of a cell: first order in its length.
TEST_CASE("turbulence behind a grid decays as the closure's closed form") {
  const Outside outside("decay of k and epsilon without production (Pope 2000) [memory]");
  constexpr double c_2 = 1.92, length = 5.0, k_0 = 0.01, dissipation_0 = 0.01;
  double errors[2];
  int n = 0;
  for (const int cells : {100, 200}) {
    auto flow = test::pipe(even_faces(0.0, 0.5, 3), even_faces(0.0, length, cells), 5e4);
    flow.outer.assign(cells, {.kind = BoundaryKind::symmetry});
    flow.turbulence = Turbulence::k_epsilon;
    for (auto& b : flow.bottom) b.kinetic_energy = k_0, b.dissipation = dissipation_0;
    FlowSolver solver(flow);
    settle(solver, {1e-9, 2000, 0.7});
    const double late = length * (cells - 0.5) / cells;  // at a mean speed of 1
    const double growth = 1.0 + (c_2 - 1.0) * dissipation_0 / k_0 * late;
    const double k = solver.field().kinetic_energy(1, cells - 1);
    const double k_there = k_0 * std::pow(growth, -1.0 / (c_2 - 1.0));
    errors[n++] = k / k_there - 1.0;
    outside.matches("turbulence left five turnovers behind a grid", k, k_there, 0.02);
    outside.matches("dissipation left five turnovers behind a grid", solver.field().dissipation(1, cells - 1),
                    dissipation_0 * std::pow(growth, -c_2 / (c_2 - 1.0)), 0.02);
  }
  MESSAGE("error of k " << errors[0] << ", " << errors[1]);
  CHECK(errors[0] / errors[1] == relative(2.0, 0.1));
}

// Steenbergen & Voskamp measured beta/f = 1.49; an isotropic eddy viscosity gives about 1 (1.0 to 1.07 in the
// issue's trial), a known shortcoming that the header states. This holds the statement, and the solver
// against the eigenvalue of its own closure; with the wall's moment taken as on a plane it fell from 1.107 to
// 1.093 with the wall's cell.
TEST_CASE("turbulent swirl decays at its closure's eigenvalue, whatever the wall's cell") {
  double decays[3];
  int n = 0;
  for (const int cells : {8, 12, 20}) {
    auto flow = test::pipe(even_faces(0.0, 0.5, cells), even_faces(0.0, 60.0, 60), 5e4);
    flow.turbulence = Turbulence::k_epsilon;
    for (int i = 0; i < cells; ++i) {
      flow.bottom[i].kinetic_energy = 3.75e-3, flow.bottom[i].dissipation = 5.4e-4;
      flow.bottom[i].swirl_speed = 0.02 * (i + 0.5) / cells;
    }
    FlowSolver solver(flow);
    settle(solver, {1e-6, 8000, 0.7});
    const auto& field = solver.field();
    const double friction = 2.0 * (field.pressure(cells - 1, 44) - field.pressure(cells - 1, 56)) / 12.0;
    const auto carried = [&](int j) {
      double sum = 0.0;
      for (int i = 0; i < cells; ++i) sum += field.u_z(i, j) * field.angular_momentum(i, j) * (2 * i + 1);
      return sum;
    };
    decays[n] = std::log(carried(44) / carried(56)) / 12.0 / friction;
    const double eigenvalue = turbulent_swirl_eigenvalue(solver, 50, 5e4) / friction;
    MESSAGE(cells << " cells: beta/f " << decays[n] << ", eigenvalue " << eigenvalue);
    // With 8 cells the profile between the nodes is a guess: 2 %.
    CHECK(decays[n] == relative(eigenvalue, cells == 8 ? 0.025 : 0.01));
    CHECK(decays[n] > 1.07);
    CHECK(decays[n] < 1.10);
    ++n;
  }
  CHECK(decays[0] == relative(decays[2], 5e-3));
  CHECK(decays[1] == relative(decays[2], 5e-3));
}

TEST_CASE("a flow that does not settle is refused, a case that does not fit too") {
  FlowSolver solver(test::pipe(even_faces(0.0, 0.5, 6), even_faces(0.0, 3.0, 6), 100.0));
  CHECK_THROWS_AS(settle(solver, {1e-12, 5, 0.7}), InputError);
  // Equations met, but never what is steered.
  CHECK_THROWS_WITH_AS(settle(solver, {1.0, 40, 0.7}, [] { return false; }),
                       doctest::Contains("fan and angular momentum are not in balance"), InputError);
  auto flow = test::pipe(even_faces(0.0, 0.5, 6), even_faces(0.0, 3.0, 6), 100.0);
  flow.outer.pop_back();
  CHECK_THROWS_AS(FlowSolver{flow}, LogicError);
}
