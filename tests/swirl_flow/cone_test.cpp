#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/swirl_flow/flow_solver.hpp"
#include "models/swirl_flow/settle.hpp"
#include "models/swirl_flow/solved_map.hpp"
#include "tests/outside.hpp"
#include "tests/swirl_flow/cases.hpp"
#include "tests/swirl_flow/vessels.hpp"

// Vessels whose wall is a cone.
using namespace driftglow;
using namespace driftglow::swirl_flow;
using constant::pi;
using numeric::Vec3;

namespace {

FlowCase tapered(FlowCase flow, double slope) {
  for (const double z : flow.z_faces) flow.widening.push_back(1.0 + slope * z / flow.r_faces.back());
  return flow;
}

// Creeping flow Q through a cone of half-angle a, from its apex or to it: along the rays alone,
//   u = 3 Q/(2 pi rho^2) (cos^2 theta - cos^2 a)/((1 + 2 cos a)(1 - cos a)^2)
// (Harrison 1920, in Happel & Brenner 1965 [happel1965], from memory); `axial` is its part along the axis at
// (r, z) for a wall of radius 1 at z = 0.
struct ConeFlow {
  double flow, slope;

  double profile(double theta) const {
    const double edge = std::cos(std::atan(std::fabs(slope)));
    return 1.5 * flow / pi * (std::pow(std::cos(theta), 2) - edge * edge) /
           ((1.0 + 2.0 * edge) * std::pow(1.0 - edge, 2));
  }
  double axial(double r, double z) const {
    const double from_apex = std::fabs(z + 1.0 / slope), square = r * r + from_apex * from_apex;
    const double theta = std::atan2(r, from_apex);
    return profile(theta) / square * std::cos(theta);
  }
  // dp/dz over the viscosity, on the axis: u = f/rho^2 has p = mu (C + 2 f - ...)/rho^3, here -4 A/rho^4.
  double axis_gradient(double z) const {
    const double edge = std::cos(std::atan(std::fabs(slope)));
    const double A = profile(0.0) / (1.0 - edge * edge);
    return -4.0 * A / std::pow(std::fabs(z + 1.0 / slope), 4);
  }
};

struct ConeError {
  double speed, pressure, mass;
};

// rms over the radius half-way along a cone six radii long, viscosity so large that inertia is 1e-4 of it.
ConeError creeping_error(double slope, int cells) {
  FlowSolver solver(tapered(
      test::pipe(test::even_faces(0.0, 1.0, cells), test::even_faces(0.0, 6.0, 2 * cells), 5e-4), slope));
  settle(solver, {1e-8, 20000, 0.9});
  const ConeFlow exact{pi, slope};
  const auto& flow = solver.flow_case();
  const int j = cells;
  const double z = flow.z_faces[j];
  double error = 0.0, square = 0.0;
  for (int i = 0; i < cells; ++i) {
    const double r = 0.5 * (flow.r_faces[i] + flow.r_faces[i + 1]) * flow.face_width(j);
    const double want = exact.axial(r, z);
    error += r * std::pow(solver.field().u_z(i, j) - want, 2), square += r * want * want;
  }
  const double step = 0.5 * (flow.z_faces[j + 1] - flow.z_faces[j - 1]);
  const double slope_of_p = (solver.field().pressure(0, j) - solver.field().pressure(0, j - 1)) / step;
  return {std::sqrt(error / square),
          std::fabs(slope_of_p / (flow.dynamic_viscosity * exact.axis_gradient(z)) - 1.0),
          solver.mass_defect()};
}

}  // namespace

// The remembered form carries Q, holds at the wall, and satisfies f'' + f' cot(theta) + 6 f = constant, to
// which Stokes' equation comes down for flow along rays: then it is the flow, whoever wrote it first.
TEST_CASE("creeping flow through a cone") {
  const Outside outside("Stokes flow along rays in a cone, Harrison 1920 [memory], and its own equation");
  for (const double slope : {0.1, -0.1, 0.25}) {
    const ConeFlow exact{pi, slope};
    const double edge = std::atan(std::fabs(slope)), h = 1e-3 * edge;
    double sum = 0.0;
    const int steps = 2000;
    for (int n = 0; n < steps; ++n) {
      const double theta = edge * (n + 0.5) / steps;
      sum += 2.0 * pi * std::sin(theta) * exact.profile(theta) * edge / steps;
    }
    outside.matches("flow through a cone by quadrature [m3/s]", sum, pi, 1e-6);
    outside.near("speed at the cone's wall [m/s]", exact.profile(edge), 0.0, 1e-10);
    const auto balance = [&](double theta) {
      const double low = exact.profile(theta - h), here = exact.profile(theta),
                   high = exact.profile(theta + h);
      return (high - 2.0 * here + low) / (h * h) + 0.5 * (high - low) / h / std::tan(theta) + 6.0 * here;
    };
    outside.matches("Stokes' equation for flow along rays", balance(0.3 * edge), balance(0.8 * edge), 1e-4);

    // Second order; measured 0.25 % and 0.4 % at 16 cells.
    const ConeError coarse = creeping_error(slope, 8), fine = creeping_error(slope, 16);
    outside.below("creeping flow through a cone, rms error of u_z", fine.speed, 0.004);
    outside.below("its pressure gradient on the axis, error", fine.pressure, 0.006);
    CHECK(coarse.speed / fine.speed > 3.5);
    CHECK(coarse.pressure / fine.pressure > 3.5);
    outside.below("mass defect in a cone", fine.mass, 1e-15);
  }
}

// The 1e-9 for straight vessels. Pressure and centrifugal force balance on the slanted grid because
// both use the same gradient.
TEST_CASE("a solid body turns in a cone as one") {
  const Outside outside("solid-body rotation");
  auto flow =
      tapered(test::walled(test::even_faces(0.0, 1.0, 12), test::even_faces(0.0, 2.0, 18), 0.02), 0.2);
  for (auto* edge : {&flow.outer, &flow.bottom, &flow.top})
    for (auto& b : *edge) b.angular_velocity = 2.0;
  FlowSolver solver(flow);
  settle(solver, {1e-12, 20000, 0.9});
  double off = 0.0;
  for (int j = 0; j < flow.z_cells(); ++j) {
    for (int i = 0; i < flow.r_cells(); ++i) {
      const double r = 0.5 * (flow.r_faces[i] + flow.r_faces[i + 1]) * flow.cell_width(j);
      off = std::fmax(off, std::fabs(solver.field().angular_momentum(i, j) / (r * r) - 2.0));
    }
  }
  outside.below("turn rate of a solid body in a cone, error [rad/s]", off, 1e-9);
  outside.below("meridional speed beside it [m/s]", solver.field().u_z.abs().maxCoeff(), 1e-9);
}

// Balances as a straight vessel's, and Bernoulli's direction: what widens slows down and leaves its pressure.
TEST_CASE("a solved cone keeps its balances") {
  const Outside outside("conservation of mass, angular momentum and flow");
  const auto solved = [](double slope) {
    auto vessel = test::swirling_vessel(0.3);
    vessel.slope = slope;
    return solve_vessel(vessel, test::some_fan(), Detail::quick);
  };
  const auto narrow = solved(-0.05), wide = solved(0.08);
  for (const auto* air : {&narrow, &wide}) {
    outside.below("mass defect of a solved cone", air->mass_defect, 1e-15);
    outside.below("imbalance of angular momentum in a cone [N m]",
                  std::fabs(air->angular_momentum.imbalance()), 1e-4 * air->angular_momentum.inflow);
    outside.matches("flow out of a cone's side gap [m3/s]", air->side_gap.out - air->side_gap.in,
                    air->operating_point.flow, 1e-4);
    CHECK(air->settled.residual <= 1e-6);
    CHECK(air->error.velocity < 0.45);
  }
  CHECK(wide.pressure_under_lid < narrow.pressure_under_lid);
  auto steep = test::straight_vessel();
  steep.slope = 0.3;
  CHECK_THROWS_AS(solve_vessel(steep, test::some_fan(), Detail::quick), InputError);
}

TEST_CASE("the map of a cone is free of divergence, tight, and has its own derivatives") {
  const Outside outside("continuity, closed wall, central differences");
  auto vessel = test::swirling_vessel(0.3);
  vessel.slope = 0.08;
  const auto air = solve_vessel(vessel, test::some_fan(), Detail::quick);
  const auto map = map_of(air);
  REQUIRE(map.slope() == doctest::Approx(0.08));
  const double H = map.height();
  double speed = 0.0, leak = 0.0;
  for (int k = 0; k <= 400; ++k)
    speed = std::fmax(speed, norm(map.sample(Vec3<double>{0.05, 0.0, H * k / 400.0}).u_W));
  const double closed = H - vessel.side_gap - 2.0 * H / (map.z_nodes() - 1);
  for (int k = 0; k <= 500; ++k) {
    const double z = closed * k / 500.0, top = map.radius_at(H) * k / 500.0;
    const auto u = map.sample(Vec3<double>{map.radius_at(z), 0.0, z}).u_W;
    leak = std::fmax(leak, std::fabs(u.x - map.slope() * u.z));
    leak = std::fmax(leak, std::fabs(map.sample(Vec3<double>{top, 0.0, H}).u_W.z));
  }
  outside.below("leak of a cone's map [m/s]", leak, 1e-12 * speed);
  const double h = 1e-6;
  for (const int i : {0, 3, 40, 80}) {
    for (const int j : {2, 50, 100}) {
      const double z = H * (j + 0.6) / (map.z_nodes() - 1), angle = 0.7 + i;
      const double r = map.radius_at(z) * std::sqrt((i + 0.4) / (map.s_nodes() - 1));
      const Vec3<double> p{r * std::cos(angle), r * std::sin(angle), z};
      const Vec3<double> axes[] = {{h, 0.0, 0.0}, {0.0, h, 0.0}, {0.0, 0.0, h}};
      Vec3<double> d[3];
      double slope[3];
      for (int k = 0; k < 3; ++k) {
        const auto high = map.sample(p + axes[k]), low = map.sample(p - axes[k]);
        d[k] = 0.5 / h * (high.u_W - low.u_W);
        slope[k] = 0.5 / h * (high.sigma - low.sigma);
      }
      const auto got = map.sample(p);
      const double size = norm(got.curl_W) + 1.0;
      outside.below("divergence of a cone's map [1/s]", std::fabs(d[0].x + d[1].y + d[2].z), 1e-6 * size);
      outside.below("curl of a cone's map, error [1/s]",
                    norm(Vec3<double>{d[1].z - d[2].y, d[2].x - d[0].z, d[0].y - d[1].x} - got.curl_W),
                    1e-5 * size);
      outside.below("gradient of sigma of a cone's map, error [1/s]",
                    norm(Vec3<double>{slope[0], slope[1], slope[2]} - got.grad_sigma_W), 1e-5 * size);
    }
  }
  // The solver's own flow within r at its corners; the gap's edge as in a straight vessel.
  double off = 0.0;
  const auto& flow = air.flow_case;
  for (int i = 0; i <= flow.r_cells(); ++i) {
    for (int j = 0; j <= flow.z_cells(); ++j) {
      if (flow.z_faces[j] < 0.0) continue;
      const double psi = map.stream_function({flow.r_faces[i] * flow.face_width(j), 0.0, flow.z_faces[j]});
      off = std::fmax(off, std::fabs(psi - air.stream_function(i, j)));
    }
  }
  CHECK(off < 0.02 * air.operating_point.flow / (2.0 * pi));
  CHECK(map.error().velocity < 0.015);
}
