#include "models/air/column.hpp"

#include <doctest/doctest.h>
#include <gsl/gsl_deriv.h>
#include <gsl/gsl_integration.h>

#include <cmath>
#include <functional>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/air/designs.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using air::Column;
using air::ColumnAir;

namespace {

double call(double x, void* f) {
  return (*static_cast<std::function<double(double)>*>(f))(x);
}

// GSL's adaptive central difference.
double derivative(std::function<double(double)> f, double x, double step) {
  gsl_function function{call, &f};
  double result = 0.0, error = 0.0;
  gsl_deriv_central(&function, x, step, &result, &error);
  return result;
}

// GSL's adaptive quadrature with the places given where the integrand has a kink.
double integral(std::function<double(double)> f, std::vector<double> breaks) {
  gsl_function function{call, &f};
  auto* workspace = gsl_integration_workspace_alloc(400);
  double result = 0.0, error = 0.0;
  gsl_integration_qagp(&function, breaks.data(), breaks.size(), 1e-14, 1e-10, 400, workspace, &result,
                       &error);
  gsl_integration_workspace_free(workspace);
  return result;
}

double flow_up(const Column& column, double z, double r_from, double r_to) {
  return integral([&](double r) { return 2.0 * constant::pi * r * column.velocity(r, z).u_z; },
                  {r_from, r_to});
}

}  // namespace

// Definition of the stream function (model.md section 4); the derivatives are GSL's. Tolerance: its rounding.
TEST_CASE("the velocity is the curl of the stream function") {
  const Outside outside("definition of the stream function, GSL's derivatives");
  for (const auto& entry : test_designs()) {
    const auto& design = entry.second;
    CAPTURE(entry.first);
    const Column column(design);
    for (const double r : {0.011, 0.037, 0.0501, 0.081}) {
      for (const double z : {0.013, 0.12, 0.21, 0.261, 0.305}) {
        const auto u = column.velocity(r, z);
        const double u_r = derivative([&](double t) { return column.stream_function(r, t); }, z, 1e-3) / -r;
        const double u_z = derivative([&](double t) { return column.stream_function(t, z); }, r, 1e-3) / r;
        outside.near("radial velocity of the column [m/s]", u.u_r, u_r, 1e-7 * column.mean_speed());
        outside.near("axial velocity of the column [m/s]", u.u_z, u_z, 1e-7 * column.mean_speed());
      }
    }
  }
}

// Conservation of volume, by quadrature of the velocities alone: what enters at the floor passes every
// height, less what has left through the vents; nothing crosses the wall elsewhere; the lid passes only its
// opening.
TEST_CASE("the flow is conserved and leaves where it should") {
  const Outside outside("conservation of volume, quadrature");
  ColumnAir design = plain_design();
  design.side_vents = air::SideVents{0.2, 0.4};
  design.lid_opening = air::LidOpening{0.0, 0.05};
  const Column column(design);
  for (const double z : {0.0, 0.1, 0.2, 0.25, 0.3, 0.32}) {
    const double up = flow_up(column, z, 0.0, 0.05) + flow_up(column, z, 0.05, design.radius);
    const double out =
        z > 0.2 ? integral(
                      [&](double t) {
                        return 2.0 * constant::pi * design.radius * column.velocity(design.radius, t).u_r;
                      },
                      {0.2, z})
                : 0.0;
    outside.matches("flow up and out of the column [m3/s]", up + out, design.flow, 1e-9);
    if (z <= 0.2)
      outside.below("flow through the column's wall [m/s]", std::fabs(column.velocity(design.radius, z).u_r),
                    1e-12);
  }
  outside.matches("flow through the lid's opening [m3/s]", flow_up(column, 0.32, 0.0, 0.05),
                  0.6 * design.flow, 1e-9);
  for (const double r : {0.0501, 0.07, 0.09})
    outside.below("flow through the closed part of the lid [m/s]", std::fabs(column.velocity(r, 0.32).u_z),
                  1e-12);

  design.side_vents.reset();
  design.lid_opening = air::LidOpening{0.04, 0.08};
  const Column ring(design);
  outside.matches("flow through the lid's opening [m3/s]", flow_up(ring, 0.32, 0.04, 0.08), design.flow,
                  1e-9);
  for (const double r : {0.0, 0.02, 0.0399, 0.0801})
    outside.below("flow through the closed part of the lid [m/s]", std::fabs(ring.velocity(r, 0.32).u_z),
                  1e-12);
}

// C1 in z and r, as model.md asks: velocities do not jump where the ramps and openings begin. Slopes reach
// 600 1/s, so 2e-11 m may change them by 1.2e-8 m/s; a jump would be of the order of 1 m/s.
TEST_CASE("no velocity jumps at the edges of ramps and openings") {
  const Outside outside("C1 ramps, model.md section 4");
  for (const auto& entry : test_designs()) {
    const auto& design = entry.second;
    CAPTURE(entry.first);
    const Column column(design);
    const auto jump = [&](double r, double z, double dr, double dz) {
      const auto a = column.velocity(r - dr, z - dz), b = column.velocity(r + dr, z + dz);
      return std::fabs(a.u_r - b.u_r) + std::fabs(a.u_z - b.u_z) + std::fabs(a.u_theta - b.u_theta);
    };
    for (const double z : {0.2, 0.32 - 0.0475})
      outside.below("jump of the velocity at ramps and openings [m/s]", jump(0.03, z, 0.0, 1e-11), 1e-7);
    for (const double r : {0.04, 0.05, 0.08})
      outside.below("jump of the velocity at ramps and openings [m/s]", jump(r, 0.31, 1e-11, 0.0), 1e-7);
  }
}

// Limits in closed form: m = 1 is Poiseuille's parabola 2U(1 - s), m -> infinity a plug.
TEST_CASE("the floor profile has its limits") {
  const Outside outside("Poiseuille's parabola and plug flow");
  ColumnAir design = plain_design();
  design.profile_exponent = 1.0;
  design.circulation = 0.0;
  const Column parabola(design);
  const double U = design.flow / (constant::pi * design.radius * design.radius);
  outside.matches("parabola at the floor [m/s]", parabola.velocity(0.0, 0.1).u_z, 2.0 * U, 1e-12);
  outside.matches("parabola at the floor [m/s]", parabola.velocity(0.5 * design.radius, 0.1).u_z, 1.5 * U,
                  1e-12);
  CHECK(std::fabs(parabola.velocity(design.radius, 0.1).u_z) < 1e-12);
  design.profile_exponent = 1e6;
  const Column plug(design);
  outside.matches("plug at the floor [m/s]", plug.velocity(0.9 * design.radius, 0.1).u_z, U, 2e-6);
}

// With c > 0 the air goes up in the middle and down at the wall at mid height: 1 + c on the axis with the
// plug's U.
TEST_CASE("circulation goes up in the middle and down at the wall") {
  const Outside outside("closed form of the circulation");
  ColumnAir design = plain_design();
  design.profile_exponent = 1e6;
  design.circulation = 1.3;
  const Column column(design);
  const double middle = 0.5 * design.height;
  outside.matches("axial air in a circulating column [m/s]", column.velocity(0.0, middle).u_z,
                  2.3 * column.mean_speed(), 1e-5);
  CHECK(column.velocity(design.radius, middle).u_z < 0.0);
}

// Peak of the viscous-core vortex (Lamb 1932, Oseen): r/r_c = 1.1209, where (1 - e^-x2)/x = 0.63817; a far
// wall with a steep exponent leaves it alone. W is the peak at the floor by definition (model.md section 4).
TEST_CASE("the swirl peaks at W on the floor and decays upwards") {
  const Outside outside("Lamb 1932 (Oseen's vortex), peak at 1.1209 core radii");
  ColumnAir design = plain_design();
  design.swirl_speed = 0.5;
  design.fin_swirl_factor = 0.6;
  design.swirl_core_radius = 0.02;
  design.swirl_wall_exponent = 200.0;
  design.swirl_decay = 0.07;
  const Column column(design);
  outside.matches("peak of the swirl [m/s]", column.velocity(1.1209 * 0.02, 0.0).u_theta, 0.3, 1e-6);
  outside.matches("turn rate on the axis of the swirl [1/s]", column.turn_rate(0.0, 0.0),
                  0.3 / (0.63817 * 0.02), 1e-5);
  Outside("exponential decay, model.md section 4")
      .matches("decay of the swirl with height",
               column.velocity(0.03, 0.19).u_theta / column.velocity(0.03, 0.0).u_theta,
               std::exp(-0.07 * 0.19 / 0.19), 1e-12);
  for (const auto& entry : test_designs()) {
    const auto& other = entry.second;
    CAPTURE(entry.first);
    const Column swirling(other);
    double peak = 0.0;
    for (int i = 0; i <= 20000; ++i) {
      peak = std::fmax(peak, std::fabs(swirling.velocity(other.radius * i / 20000.0, 0.0).u_theta));
    }
    // 20000 places miss a smooth peak by less than 1e-7 of it.
    CHECK(peak == relative(other.swirl_speed * other.fin_swirl_factor, 1e-7));
    CHECK(std::fabs(swirling.velocity(other.radius, 0.1).u_theta) < 1e-12);
  }
}

// Kreith & Sonju 1965, abstract [memory]: swirl decays to about 10-20 % in 50 diameters; their tests ran at
// Re 1.8e4 to 6.1e4, "more rapid at smaller Reynolds numbers"; widened by 3 points for "about". Steenbergen &
// Voskamp 1998 [memory]: 1.49 f. Second route for f: Prandtl's universal law, f = 0.0309 at 1e4 and 0.0180 at
// 1e5 (Moody chart, smooth pipe), which Haaland's form meets within 2 %.
TEST_CASE("the default swirl decay meets the published range") {
  const Outside outside("Steenbergen & Voskamp 1998 with Prandtl's friction [memory]");
  for (const double reynolds : {1.8e4, 3e4, 6.1e4}) {
    const double left = std::exp(-50.0 * air::swirl_decay_rate(reynolds));
    CHECK(left > 0.07);
    Outside("Kreith & Sonju 1965, abstract [memory]")
        .below("swirl left after 50 diameters, upper end of the published range", left, 0.23);
  }
  outside.matches("decay rate of the swirl", air::swirl_decay_rate(1e4), 1.49 * 0.0309, 0.02);
  outside.matches("decay rate of the swirl", air::swirl_decay_rate(1e5), 1.49 * 0.0180, 0.02);
  CHECK(air::swirl_decay_rate(1e4) > air::swirl_decay_rate(1e5));
  CHECK(air::swirl_decay_rate(0.0) == air::swirl_decay_rate(4000.0));
}

// The relations that define k and epsilon, by numbers worked out on paper: |u| = 2 m/s, I = 0.1 gives
// k = 0.06 + floor; C_mu^(3/4) = 0.164317 (0.09^0.75).
TEST_CASE("turbulence follows the mean speed") {
  const Outside outside("C_mu relations of k and epsilon, by hand");
  ColumnAir design = plain_design();
  design.profile_exponent = 1.0;
  design.circulation = 0.0;
  design.swirl_speed = 0.0;
  design.flow = constant::pi * design.radius * design.radius;  // U = 1 m/s: 2 m/s on the axis
  design.turbulence_intensity = 0.1;
  design.turbulence_floor = 0.01;
  const Column column(design);
  outside.matches("turbulent energy on the axis [m2/s2]", column.kinetic_energy(0.0, 0.1), 0.07, 1e-12);
  CHECK(column.length_scale() == relative(0.14 * 0.095, 1e-12));
  outside.matches("dissipation on the axis [m2/s3]", column.dissipation(0.0, 0.1),
                  0.164317 * 0.07 * 0.2645751 / (0.14 * 0.095), 1e-5);
  CHECK(column.kinetic_energy(design.radius, 0.1) == relative(0.01, 1e-9));
  design.length_scale = 0.02;
  outside.matches("dissipation on the axis [m2/s3]", Column(design).dissipation(0.0, 0.1),
                  0.164317 * 0.07 * 0.2645751 / 0.02, 1e-5);
}

TEST_CASE("the table for files holds the closed form at its nodes") {
  const Column column(test_designs()[1].second);
  const auto table = air::tabulate(column, 20, 33);
  CHECK(table.r.last() == relative(0.095, 1e-14));
  CHECK(table.z.last() == relative(0.32, 1e-14));
  CHECK(table.stream_function(19, 0) == relative(column.design().flow / (2.0 * constant::pi)));
  // Central differences over the table's own stream function; 3 % is their truncation at this spacing.
  const double u_z =
      (table.stream_function(11, 10) - table.stream_function(9, 10)) / (2.0 * table.r.step * table.r.at(10));
  CHECK(table.u_z(10, 10) == relative(u_z, 0.03));
  CHECK_THROWS_AS(air::tabulate(column, 1, 5), LogicError);
}

TEST_CASE("values out of range are refused") {
  const auto refused = [](auto change) {
    ColumnAir design = plain_design();
    change(design);
    CHECK_THROWS_AS(Column{design}, InputError);
  };
  refused([](ColumnAir& d) { d.radius = 0.0; });
  refused([](ColumnAir& d) { d.height = 0.04; });
  refused([](ColumnAir& d) { d.flow = -0.01; });
  refused([](ColumnAir& d) { d.profile_exponent = 0.5; });
  refused([](ColumnAir& d) { d.swirl_core_radius = 0.0; });
  refused([](ColumnAir& d) { d.swirl_speed = std::nan(""); });
  refused([](ColumnAir& d) { d.turbulence_floor = -1.0; });
  refused([](ColumnAir& d) { d.side_vents = air::SideVents{0.4, 0.2}; });
  refused([](ColumnAir& d) { d.side_vents = air::SideVents{0.2, 1.2}; });
  refused([](ColumnAir& d) { d.lid_opening = air::LidOpening{0.0, 0.1}; });
  refused([](ColumnAir& d) { d.lid_opening = air::LidOpening{0.05, 0.04}; });
}
