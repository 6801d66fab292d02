#pragma once

#include <optional>
#include <string>
#include <vector>

#include "models/air/operating_point.hpp"
#include "models/swirl_flow/flow_case.hpp"
#include "models/swirl_flow/settle.hpp"

namespace driftglow::swirl_flow {

enum class FanSwirl {
  none,
  angle,  // u_theta = u_z tan(angle)
  work    // Euler's turbine equation: u_theta = Dp_t/(efficiency rho speed r), follows the operating point
};

struct FanGeometry {
  double radius;      // m
  double hub_radius;  // m, 0: none; the hub is taken as standing still
  FanSwirl swirl;
  double swirl_angle;    // rad, of `angle`; within +-1.2
  double angular_speed;  // rad/s, of `work`; not 0, sign as the swirl's
  double efficiency;     // 1, total, of `work`; (0, 1]
  double guard_loss;     // 1, K on the annulus between hub and fan radius
};

struct FinGeometry {
  int count;        // plates around the circumference
  double depth;     // m, from the wall inwards
  double from, to;  // m, height above the mesh; < 0: under it
};

// Opening of the lid from inner to outer radius; open_share < 1: holes spread over it.
struct LidVent {
  double inner_radius, outer_radius;  // m
  double open_share;                  // 1, (0, 1], see open_share()
  double discharge_coefficient;       // 1, C_d of the edges, [0.5, 1]
};

// An upright round vessel blown from below: fan, inlet chamber of the vessel's radius, mesh, vessel, lid. Its
// wall may be a cone above the mesh. A lid lifted by d is height + d, side_gap + d.
struct VesselGeometry {
  double radius;        // m, up to the mesh
  double height;        // m, mesh to lid
  double inlet_height;  // m, fan to mesh, > 0
  FanGeometry fan;
  double mesh_loss;  // 1, K of the mesh on the vessel's cross-section
  std::vector<FinGeometry> fins;
  double side_gap;                  // m, open height of the wall under the lid, 0: none
  double side_gap_discharge;        // 1, C_d of the gap's edges, [0.5, 1]: 0.61 sharp, 0.98 well rounded
  std::optional<LidVent> lid_vent;  // both may be open
  double tag_weight;                // N, all tags together
  double density;                   // kg/m3
  double dynamic_viscosity;         // Pa s
  // 1, dR/dz of the wall above the mesh, up to the lid: the cone is 0.65 to 1.35 times as wide there, by 15
  // degrees at most. Fins on it follow it: their depth is that at their middle.
  double slope = 0.0;

  double radius_at(double z) const { return radius + slope * (z > 0.0 ? z : 0.0); }
};

enum class Detail { quick, normal, fine };

// Bounds on the error of the numbers a maker reads, from two grids, the second with half the steps:
// Richardson's extrapolation at first order (k and epsilon are upwind, edges are sharp), |fine - coarse|,
// times the safety factor 3 that Roache 1994 [roache1994] asks for where only two grids tell the order.
struct GridError {
  double flow;                // 1, of the flow; at least half of the pressure's, since Q ~ sqrt(p)
  double pressure_under_lid;  // 1, of the pressure under the lid's middle
  double velocity;            // 1, rms over the vessel of the difference, of the rms speed
};

struct VentFlow {
  double out, in;  // m3/s, both >= 0: a vent may breathe in at one place and out at another
};

// Wind on the axis at half the height. With swirl a steady axisymmetric calculation does not know it better
// than to 0.2 of the mean speed (grid, inlet turbulence): show speed +- band.
struct CoreWind {
  double speed;  // m/s, up > 0
  double band;   // m/s, 0 without swirl
};

// Circling of the core about the axis that real swirl above 45 degrees shows, from a Strouhal number f D/U of
// 0.5 to 1 on the fan's diameter and the mean speed through its circle: Cassidy & Falvey 1970
// [cassidy1970], Syred 2006 [syred2006], both from memory: an order of magnitude (the computed core of a test
// vessel turned at 9 Hz where this gives 15 to 29). The mean flow does not hold it.
struct Precession {
  double frequency;        // Hz, at Strouhal number 0.7
  double lowest, highest;  // Hz
};

struct SolvedVessel {
  FlowCase flow_case;  // z = 0 at the mesh
  FlowField field;
  Eigen::ArrayXXd stream_function;  // m3/s, at the grid's corners
  // loss_pressures: guard, mesh, fins, vents, swirl (carried out), rest. The rest is wall and mixing less the
  // dynamic pressure that the fan's jet brings along, and may be negative.
  air::OperatingPoint operating_point;
  double pressure_under_lid;  // Pa, at the lid's middle, above the outside's
  VentFlow side_gap, lid;
  double swirl_angle;  // rad, of the inlet: angle whose tangent is mean u_theta / mean u_z
  CoreWind core_wind;
  std::optional<Precession> precession;  // above 45 degrees of swirl
  AngularMomentumBalance angular_momentum;
  double mass_defect;               // 1
  Settled coarse_settled, settled;  // of the grid with half the steps in numbers, and of the field's
  GridError error;
  std::vector<std::string> warnings;  // whole sentences
};

// Taylor & Batchelor 1949 [taylor1949]: share of the velocity along a mesh that passes it, 1.1/sqrt(1 + K).
double mesh_deflection(double loss);

// Share of the ring between two radii [m] that `count` holes of a diameter [m] open. Throws InputError where
// they do not fit.
double open_share(double hole_diameter, int count, double inner_radius, double outer_radius);

// K of a vent face in the lid for the flow case: 1/(C_d share)^2, the total pressure over the dynamic one of
// the mean flow through the face.
double vent_loss(double discharge_coefficient, double open_share);

// The same of a side gap, of its height over the vessel's radius, in (0, 0.3]: 1/C_d^2 less 0.035 + 0.25
// gap/R, what the grid dissipates of the air's pressure on its way around the wall's edge, which a measured
// C_d holds too. Measured with this solver, at 0.02 (quick) to 0.13 (fine, gap/R 0.27), alike for C_d 0.61 to
// 0.98. (Where a vent balances static pressure instead, the dynamic one adds about 1.5.)
double side_gap_loss(double discharge_coefficient, double gap_over_radius);

// The case on a grid with faces on every edge of the geometry. Throws InputError for a geometry out of range.
// flow [m3/s] sets the inlet's speed. refinement: each cell of the coarse grid is cut in so many each way.
FlowCase vessel_case(const VesselGeometry& geometry, Detail detail, int refinement, double flow);

// The steady flow where the fan's static pressure meets what vessel, guard and tags take. Throws InputError
// when geometry or fan curve are out of range or the flow does not settle: never a field that is not
// converged.
SolvedVessel solve_vessel(const VesselGeometry& geometry, const air::FanCurve& fan, Detail detail);

}  // namespace driftglow::swirl_flow
