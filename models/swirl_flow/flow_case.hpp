#pragma once

#include <Eigen/Core>
#include <vector>

namespace driftglow::swirl_flow {

enum class BoundaryKind { wall, symmetry, inlet, vent };

// One boundary face. Values that its kind does not use are ignored.
struct Boundary {
  BoundaryKind kind;
  double angular_velocity = 0.0;  // rad/s, wall
  double speed = 0.0;             // m/s, inlet: into the domain > 0
  double swirl_speed = 0.0;       // m/s, inlet: u_theta
  double kinetic_energy = 0.0;    // m2/s2, inlet, and what a vent breathes in
  double dissipation = 0.0;       // m2/s3, inlet, and what a vent breathes in
  // 1, vent, > 0: p + 1/2 rho (u_r^2 + u_z^2) of the cell above the outside's pressure is 1/2 rho loss v^2
  // where v leaves; where air is breathed in p is -1/2 rho loss v^2. 1: an open end that loses its dynamic
  // pressure.
  double loss = 1.0;
};

// A mesh across the whole flow, in the plane of z face `face`.
struct Screen {
  int face;           // index into z_faces, neither the first nor the last
  double loss;        // 1, K: pressure drop over 1/2 rho u_z^2
  double deflection;  // 1, what is left of the velocity along the mesh
};

// Radial plates in the cells [first_r, last_r) x [first_z, last_z).
struct Fins {
  int first_r, last_r, first_z, last_z;
  int count;             // plates around the circumference
  double skin_friction;  // 1, c_f of one side
};

enum class Turbulence { laminar, k_epsilon };

// An axisymmetric flow with swirl of constant density between r_faces.front() (0: the axis, an inner wall
// otherwise) and r_faces.back(), z_faces.front() and z_faces.back().
struct FlowCase {
  std::vector<double> r_faces, z_faces;  // m, rising
  double density;                        // kg/m3
  double dynamic_viscosity;              // Pa s
  Turbulence turbulence;
  std::vector<Boundary> inner, outer;  // one per z cell; `inner` is symmetry on the axis
  std::vector<Boundary> bottom, top;   // one per r cell
  std::vector<Screen> screens;
  std::vector<Fins> fins;
  // 1, one per z face, > 0: the radii there over r_faces, straight between; empty: a straight vessel.
  std::vector<double> widening{};

  int r_cells() const { return static_cast<int>(r_faces.size()) - 1; }
  int z_cells() const { return static_cast<int>(z_faces.size()) - 1; }
  double face_width(int j) const { return widening.empty() ? 1.0 : widening[j]; }
  double cell_width(int j) const { return 0.5 * (face_width(j) + face_width(j + 1)); }
  // 1/m, of the width along z
  double cell_slope(int j) const {
    return (face_width(j + 1) - face_width(j)) / (z_faces[j + 1] - z_faces[j]);
  }
};

// Staggered: cell values are (r_cells, z_cells), in the cells' middles.
struct FlowField {
  // m/s, (r_cells + 1, z_cells), on radial faces: u_r, less the face's slope dr/dz times u_z
  Eigen::ArrayXXd u_r;
  Eigen::ArrayXXd u_z;               // m/s, (r_cells, z_cells + 1), on axial faces
  Eigen::ArrayXXd angular_momentum;  // m2/s, r u_theta
  Eigen::ArrayXXd pressure;          // Pa, above the outside's
  Eigen::ArrayXXd kinetic_energy;    // m2/s2, k
  Eigen::ArrayXXd dissipation;       // m2/s3, epsilon
};

// Moments about the axis [N m]; inflow = outflow + walls + screens + fins where the flow is steady.
struct AngularMomentumBalance {
  double inflow, outflow;  // carried through inlets and vents
  double walls, screens, fins;
  double imbalance() const { return inflow - outflow - walls - screens - fins; }
};

// Power [W] that a flow loses, and what it carries in: inflow = all the others where the flow is steady,
// `dissipated` (walls, mixing) being the rest.
struct PowerBalance {
  double inflow;            // static and dynamic pressure through inlets
  double screens, fins;     // with the swirl that they stop
  double vents, swirl_out;  // at vents: without and of the swirl
  double dissipated() const { return inflow - screens - fins - vents - swirl_out; }
};

}  // namespace driftglow::swirl_flow
