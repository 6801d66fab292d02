#include "models/swirl_flow/vessel.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/swirl_flow/settle.hpp"
#include "models/swirl_flow/solved_map.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"
#include "tests/swirl_flow/vessels.hpp"

using namespace driftglow;
using namespace driftglow::swirl_flow;
using constant::pi;

namespace {

// u_z [m/s] at the face nearest to z, in the cell around share * R.
double rise(const SolvedVessel& vessel, double share, double z) {
  int i = 0, j = 0;
  while (vessel.flow_case.r_faces[i + 1] < share * vessel.flow_case.r_faces.back()) ++i;
  while (vessel.flow_case.z_faces[j] < z) ++j;
  return vessel.field.u_z(i, j);
}

SolvedVessel solved(const VesselGeometry& vessel, Detail detail = Detail::quick) {
  return solve_vessel(vessel, test::some_fan(), detail);
}

}  // namespace

// Flow through an orifice with a discharge coefficient (ISO 5167's form): the pressure under the lid's
// middle, where the air stands, is 1/2 rho (Q/(C_d 2 pi R g))^2. 4 % is the issue's. On the quick grid a well
// rounded edge (C_d 0.98) was 5 % off at gap/R 0.15 and 0.27, whence normal.
TEST_CASE("a side gap follows the orifice law") {
  const Outside outside("orifice law of ISO 5167's form");
  for (const double discharge : {0.61, 0.75, 0.98}) {
    for (const double share : {0.03, 0.06, 0.15, 0.27}) {
      auto vessel = test::straight_vessel();
      vessel.fan.radius = vessel.radius, vessel.fan.hub_radius = 0.0;
      vessel.mesh_loss = 0.0;
      vessel.side_gap = share * vessel.radius, vessel.side_gap_discharge = discharge;
      const double flow = 0.03, area = 2.0 * pi * vessel.radius * vessel.side_gap;
      FlowSolver solver(vessel_case(vessel, Detail::normal, 2, flow));
      settle(solver, {1e-5, 5000, 0.7});
      const double pressure = solver.field().pressure(0, solver.flow_case().z_cells() - 1);
      const double law = 0.5 * vessel.density * std::pow(flow / (discharge * area), 2);
      outside.matches("pressure under the lid with a side gap [Pa]", pressure, law, 0.04);
      MESSAGE("C_d " << discharge << ", gap/R " << share << ": " << pressure / law << " of the law");
    }
  }
}

// The same for a lid with holes all over it: their share of the lid's area is the open area.
TEST_CASE("a perforated lid follows the orifice law") {
  const Outside outside("orifice law of ISO 5167's form");
  auto vessel = test::straight_vessel();
  vessel.fan.radius = vessel.radius, vessel.fan.hub_radius = 0.0;
  vessel.mesh_loss = 0.0, vessel.side_gap = 0.0;
  vessel.lid_vent = LidVent{0.0, vessel.radius, 0.3, 0.61};
  const double flow = 0.03, area = pi * vessel.radius * vessel.radius;
  FlowSolver solver(vessel_case(vessel, Detail::quick, 1, flow));
  settle(solver, {1e-5, 5000, 0.7});
  // Upstream total pressure: static under the lid and the dynamic pressure of the even flow.
  const double total =
      solver.field().pressure(2, solver.flow_case().z_cells() - 1) +
      0.5 * vessel.density * std::pow(solver.field().u_z(2, solver.flow_case().z_cells() - 1), 2);
  outside.matches("pressure under a perforated lid [Pa]", total,
                  0.5 * vessel.density * std::pow(flow / (0.61 * 0.3 * area), 2), 0.04);
}

// Conservation, whatever the scheme: angular momentum to the 1e-4, mass to rounding, and the fan's
// pressure on its own curve.
TEST_CASE("a solved vessel keeps its balances") {
  const Outside outside("conservation of angular momentum, mass and pressure");
  auto finned = test::swirling_vessel(0.6);
  finned.fins = {{6, 0.02, 0.05, 0.25}};
  auto working = test::straight_vessel();
  working.fan.swirl = FanSwirl::work, working.fan.angular_speed = 260.0, working.fan.efficiency = 0.5;
  for (const auto& vessel : {test::swirling_vessel(0.35), finned, working}) {
    const auto air = solved(vessel);
    outside.below("imbalance of angular momentum [N m]", std::fabs(air.angular_momentum.imbalance()),
                  1e-4 * air.angular_momentum.inflow);
    outside.below("mass defect of a solved vessel", air.mass_defect, 1e-14);
    outside.matches("flow out of the side gap [m3/s]", air.side_gap.out - air.side_gap.in,
                    air.operating_point.flow, 1e-4);
    CHECK(air.settled.residual <= 1e-6);
    // The losses by part make up the fan's pressure less the tags'.
    double lost = 0.0;
    for (const auto& part : air.operating_point.loss_pressures) lost += part.second;
    outside.matches("sum of the pressure losses [Pa]", lost,
                    air.operating_point.pressure - air.operating_point.tag_pressure, 1e-9);
    const double flow = air.operating_point.flow, curve = 40.0 * (0.045 - flow) / 0.025;
    REQUIRE(flow > 0.02);
    outside.matches("fan pressure on its curve [Pa]", air.operating_point.pressure, curve, 1e-6);
    CHECK(air.operating_point.tag_pressure ==
          relative(vessel.tag_weight / (pi * std::pow(vessel.radius, 2))));
    CHECK(air.error.velocity < 0.45);
  }
  // Euler's turbine equation by hand: r u_theta = (Dp + 1/2 rho u_z^2)/(efficiency rho speed).
  const auto air = solved(working);
  const double axial = air.operating_point.flow / (pi * (0.06 * 0.06 - 0.025 * 0.025));
  const double wanted = (air.operating_point.pressure + 0.5 * 1.204 * axial * axial) / (0.5 * 1.204 * 260.0);
  CHECK(air.angular_momentum.inflow == relative(1.204 * air.operating_point.flow * wanted, 1e-4));
}

// What it is for; the quick grid's against the fine grid's flow, pressure and wind.
TEST_CASE("the estimate of the grid's error covers what a finer grid finds") {
  auto cone = test::swirling_vessel(0.3);
  cone.slope = 0.08;
  for (const auto& vessel : {test::straight_vessel(), cone}) {
    const auto quick = solved(vessel), fine = solved(vessel, Detail::fine);
    const auto apart = [](double a, double b) { return std::fabs(a / b - 1.0); };
    CHECK(apart(quick.operating_point.flow, fine.operating_point.flow) < quick.error.flow);
    CHECK(apart(quick.pressure_under_lid, fine.pressure_under_lid) < quick.error.pressure_under_lid);
    const auto wind = map_of(quick), finer = map_of(fine);
    double square = 0.0, difference = 0.0;  // by area of the section, as the solver by volume
    for (int i = 0; i < 40; ++i) {
      for (int j = 0; j < 80; ++j) {
        const double z = (j + 0.5) / 80 * vessel.height, r = (i + 0.5) / 40 * vessel.radius_at(z);
        const auto a = wind.sample(numeric::Vec3<double>{r, 0.0, z}).u_W,
                   b = finer.sample(numeric::Vec3<double>{r, 0.0, z}).u_W;
        square += r * dot(b, b), difference += r * dot(a - b, a - b);
      }
    }
    CHECK(std::sqrt(difference / square) < quick.error.velocity);
    CHECK(quick.error.velocity < 0.45);
    CHECK(quick.error.flow < 0.05);
    CHECK(quick.error.pressure_under_lid < 0.1);
  }
}

// The trade's rules of thumb, in direction (common practice, no source).
TEST_CASE("rules of thumb come out") {
  const auto straight = solved(test::straight_vessel());
  auto vessel = test::straight_vessel();
  vessel.side_gap = 0.005;
  const auto tight = solved(vessel);
  CHECK(tight.operating_point.flow < 0.7 * straight.operating_point.flow);
  CHECK(tight.pressure_under_lid > 1.5 * straight.pressure_under_lid);
  CHECK(rise(tight, 0.3, 0.16) < rise(straight, 0.3, 0.16));

  vessel = test::straight_vessel();
  vessel.fan.radius = 0.03, vessel.fan.hub_radius = 0.0;
  const auto small = solved(vessel);
  CHECK(rise(small, 0.01, 0.1) > 0.0);
  CHECK(rise(small, 0.95, 0.1) < 0.0);
  vessel.fan.swirl = FanSwirl::angle, vessel.fan.swirl_angle = 0.8;
  const auto turning = solved(vessel);
  CHECK(rise(turning, 0.01, 0.1) < 0.5 * rise(small, 0.01, 0.1));

  const auto slight = solved(test::swirling_vessel(0.2)), strong = solved(test::swirling_vessel(0.9));
  CHECK(rise(slight, 0.01, 0.16) < rise(straight, 0.01, 0.16));
  CHECK(rise(strong, 0.01, 0.16) < 0.0);
  CHECK(rise(strong, 0.95, 0.16) > rise(straight, 0.95, 0.16));

  // Fins under the mesh take the swirl out and give the core its rise back (after stronger swirl what has
  // been flung outwards before them stays there).
  const auto moderate = solved(test::swirling_vessel(0.35));
  vessel = test::swirling_vessel(0.35);
  vessel.fins = {{8, 0.095, -0.04, -0.01}};
  const auto straightened = solved(vessel);
  CHECK(std::fabs(straightened.field.angular_momentum(8, 60)) <
        0.2 * std::fabs(moderate.field.angular_momentum(8, 60)));
  CHECK(rise(straightened, 0.01, 0.16) > 2.0 * rise(moderate, 0.01, 0.16));

  // An opening only in the middle draws the air there up to the lid, where a side gap lets it come to rest.
  vessel = test::straight_vessel();
  vessel.side_gap = 0.0, vessel.lid_vent = LidVent{0.0, 0.03, 1.0, 0.61};
  const auto middle = solved(vessel);
  CHECK(rise(middle, 0.01, 0.31) > 2.0 * rise(straight, 0.01, 0.31));
}

// Power is lost where it should be: an even straight stream through a mesh loses K 1/2 rho U^2 there, one out
// of an open end its own dynamic pressure (both by definition of K), and walls and mixing only take.
TEST_CASE("losses by part") {
  const Outside outside("definition of the loss coefficient");
  auto vessel = test::straight_vessel();
  vessel.fan.radius = vessel.radius, vessel.fan.hub_radius = 0.0, vessel.mesh_loss = 4.0;
  vessel.side_gap = 0.0, vessel.lid_vent = LidVent{0.0, vessel.radius, 1.0, 1.0};
  const double speed = 1.0, dynamic = 0.5 * vessel.density * speed * speed;
  const double flow = speed * pi * vessel.radius * vessel.radius;
  FlowSolver solver(vessel_case(vessel, Detail::quick, 1, flow));
  settle(solver, {1e-6, 5000, 0.7});
  const auto power = solver.power_balance();
  // Boundary layers make the stream uneven by a few hundredths.
  outside.matches("power lost in a mesh over the flow [Pa]", power.screens / flow, 4.0 * dynamic, 0.03);
  outside.matches("power lost through an open end over the flow [Pa]", power.vents / flow, dynamic, 0.15);
  CHECK(power.swirl_out == 0.0);
  CHECK(power.fins == 0.0);
  CHECK(power.dissipated() > 0.0);
  CHECK(power.dissipated() / flow < 0.2 * dynamic);
}

TEST_CASE("what a solved vessel warns of") {
  auto vessel = test::swirling_vessel(0.96);
  vessel.side_gap = 0.03;
  const auto strong = solved(vessel);
  CHECK(strong.swirl_angle == relative(0.96, 1e-6));
  REQUIRE(strong.precession);
  // Second route to the Strouhal number's band: the core circles about as fast as its air turns. The band is
  // a factor of two wide, the forced core's turn rate known no better.
  const auto& field = strong.field;
  int j = 0;
  while (strong.flow_case.z_faces[j] < 0.05) ++j;
  double turn = 0.0;
  for (int i = 0; i < strong.flow_case.r_cells(); ++i) {
    const double r = 0.5 * (strong.flow_case.r_faces[i] + strong.flow_case.r_faces[i + 1]);
    turn = std::fmax(turn, field.angular_momentum(i, j) / (2.0 * pi * r * r));
  }
  MESSAGE("precession " << strong.precession->lowest << " to " << strong.precession->highest
                        << " Hz, core turns " << turn << " times a second");
  CHECK(turn > 0.5 * strong.precession->lowest);
  CHECK(turn < 2.0 * strong.precession->highest);
  const auto says = [](const SolvedVessel& air, const char* words) {
    for (const auto& warning : air.warnings)
      if (warning.find(words) != std::string::npos) return true;
    return false;
  };
  CHECK(says(strong, "side gap"));
  CHECK(says(strong, "circle"));
  const auto straight = solved(test::straight_vessel());
  CHECK(!straight.precession);
  CHECK(straight.core_wind.band == 0.0);
  CHECK(straight.warnings.empty());
  // Where the core is about to reverse.
  const auto threshold = solved(test::swirling_vessel(0.61));
  CHECK(threshold.core_wind.band ==
        relative(0.2 * threshold.operating_point.flow / (pi * std::pow(0.095, 2)), 1e-9));
  CHECK(says(threshold, "not known"));
}

// By hand: 60 holes of 8 mm in a ring from 30 to 80 mm, 60 * 4^2/(80^2 - 30^2).
TEST_CASE("holes and their share of a ring") {
  const Outside outside("counted by hand");
  outside.matches("open share of a ring of holes", open_share(0.008, 60, 0.03, 0.08), 960.0 / 5500.0, 1e-12);
  CHECK_THROWS_AS(open_share(0.02, 60, 0.03, 0.08), InputError);
  CHECK_THROWS_AS(open_share(0.008, 0, 0.03, 0.08), InputError);
}

TEST_CASE("what no air comes from is refused in a sentence") {
  auto vessel = test::straight_vessel();
  vessel.side_gap = 0.0;
  CHECK_THROWS_AS(solved(vessel), InputError);
  vessel = test::straight_vessel();
  vessel.fan.radius = 0.1;
  CHECK_THROWS_AS(solved(vessel), InputError);
  vessel = test::straight_vessel();
  vessel.fins = {{4, 0.02, -0.01, 0.01}};
  CHECK_THROWS_AS(solved(vessel), InputError);
  vessel = test::straight_vessel();
  vessel.tag_weight = 5.0;
  CHECK_THROWS_AS(solved(vessel), InputError);
  vessel = test::straight_vessel();
  vessel.fan.swirl = FanSwirl::work;
  CHECK_THROWS_AS(solved(vessel), InputError);
}
