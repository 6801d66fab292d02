#pragma once

#include <Eigen/SparseCholesky>
#include <Eigen/SparseCore>
#include <cmath>
#include <memory>
#include <vector>

#include "models/constants.hpp"
#include "models/swirl_flow/flow_case.hpp"

namespace driftglow::swirl_flow {

// Equation of each node: P phi = W phi_(i-1) + E phi_(i+1) + S phi_(j-1) + N phi_(j+1) + b.
struct NodeEquations {
  Eigen::ArrayXXd P, W, E, S, N, b;
};

// Rates [1/s] of stretching along r, around and along z, and of shear in the three planes (t: around).
struct StrainRate {
  double rr, hoop, zz, rz, rt, zt;
};

// 2 S_ij S_ij [1/s2], S the symmetric part of the velocity gradient: times the eddy viscosity it is what
// turbulence takes from the mean flow.
inline double strain_rate_squared(const StrainRate& own) {
  return 2.0 * (own.rr * own.rr + own.zz * own.zz + own.hoop * own.hoop) + own.rz * own.rz + own.rt * own.rt +
         own.zt * own.zt;
}

// Steady flow by finite volumes on a staggered grid: velocity and pressure coupled by SIMPLEC (Van Doormaal &
// Raithby 1984 [vandoormaal1984]), first-order upwind with van Leer's limiter as a deferred correction for
// velocities [vanleer1974], upwind for k and epsilon, swirl as conserved angular momentum r u_theta. Stress:
// full symmetric tensor of an isotropic viscosity. Turbulence: standard k-epsilon (Launder & Spalding 1974
// [launder1974]) with scalable wall functions (Grotjans & Menter 1998 [grotjans1998]). The pressure
// correction is solved by conjugate gradients that an older LDLT factor preconditions.
//
// Where the wall widens or narrows, the grid stretches with it: xi = r/width, z. The unknown of a side face
// is u_r less the face's slope times u_z, what passes it per area of its shadow on the cylinder, so that
// fluxes are single unknowns and mass closes as on a straight grid; its momentum is the projection on (1,
// -slope). Pressure and viscous parts along the other direction stand on the right-hand side; k and epsilon
// diffuse across slanted faces as if they were constant along them.
//
// Validity: incompressible, axisymmetric in the mean. The isotropic viscosity decays swirl in a pipe at
// beta/f 1.08 where 1.49 was measured [steenbergen1998]; cores that precess (above about 45 degrees of
// swirl) are not steady in reality.
class FlowSolver {
 public:
  // At rest, but for inlets and vents. Throws LogicError when the case's shapes or axes do not fit.
  explicit FlowSolver(FlowCase flow_case);

  const FlowCase& flow_case() const { return case_; }
  const FlowField& field() const { return field_; }
  // Starts from a field of these shapes.
  void set_field(const FlowField& field);
  // Starts from a field on another grid, interpolated.
  void set_field(const FlowCase& from, const FlowField& field);

  // One iteration; the largest normalised residual of momentum, swirl, k and epsilon before it [1].
  double iterate(double relaxation);

  // The whole field as it would be with the inlets' speeds f times as large.
  void rescale(double factor);
  // Gives the inlets another swirl, m2/s: r u_theta of each bottom face.
  void set_inlet_angular_momentum(const std::vector<double>& angular_momentum);

  double inlet_flow() const;      // m3/s, through all inlets
  double inlet_pressure() const;  // Pa, mean over the inlets' flow
  double vent_flow() const;       // m3/s, net, through all vents
  double mass_defect() const;     // 1, largest imbalance of a cell over the largest face flow
  AngularMomentumBalance angular_momentum_balance() const;
  PowerBalance power_balance() const;
  double wall_torque_outer() const;  // N m, of the fluid on the outer wall
  // m3/s, psi at the grid's corners, (r_cells + 1, z_cells + 1): 2 pi psi is the upward flow within r.
  Eigen::ArrayXXd stream_function() const;

 private:
  // Solves with a factor of an older matrix.
  class LaggedFactor;
  enum class Edge { inner, outer, bottom, top };
  // Derivatives along r, and along z at constant r.
  struct Slopes {
    Eigen::ArrayXXd r, z;
  };
  static constexpr double two_pi = 2.0 * constant::pi;

  FlowCase case_;
  FlowField field_;
  int nr_, nz_;
  Eigen::ArrayXd r_, z_, rc_, zc_, dr_, dz_;  // m, faces, middles, widths
  Eigen::ArrayXd area_, inner_share_;         // m2 of an axial face; 1, share of it within the middle
  Eigen::ArrayXXd radial_flux_, axial_flux_;  // kg/s
  Eigen::ArrayXXd viscosity_;                 // Pa s, molecular + eddy, of cells
  Eigen::ArrayXXd corner_viscosity_;          // Pa s, (nr + 1, nz + 1)
  std::vector<double> wall_conductance_[4];   // Pa s/m, shear per tangential speed, by edge
  std::vector<double>
      turn_conductance_[4];  // Pa s/m, of the swirl: shear at the wall per radius and turn rate
  std::vector<double> screen_deflection_, screen_loss_;  // 1, by z face; deflection < 0: none
  Eigen::ArrayXXd fin_plates_, fin_friction_;            // 1, by cell
  Eigen::ArrayXXd radial_mobility_, axial_mobility_;     // m/(s Pa)
  // 1, radius of the wall over that of r_faces at z faces and in cells, with its slope; 1, volume over that
  // of the straight cell.
  bool tapered_ = false;
  Eigen::ArrayXd width_z_, width_, slope_, slope_z_, swelling_;
  Eigen::ArrayXXd radial_centrifugal_, axial_centrifugal_;  // m4 of turn rate squared, tapered only
  Slopes slopes_u_r_, slopes_u_z_, slopes_turn_rate_;       // 1/s and 1/(m s), of cells, tapered only
  NodeEquations radial_, axial_, scalar_;
  Eigen::SparseMatrix<double> pressure_matrix_;
  std::unique_ptr<Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>>> factor_;  // never empty
  int since_factor_ = -1;

  const std::vector<Boundary>& boundary(Edge edge) const;
  bool is_wall(Edge edge, int n) const { return boundary(edge)[n].kind == BoundaryKind::wall; }
  double speed_scale() const;
  double cell_speed(int i, int j) const;
  double meridional_square(int i, int j) const;
  void apply_inlets();
  void update_fluxes();
  void update_viscosity();
  double solve_radial(double relaxation);
  double solve_axial(double relaxation);
  double solve_swirl(double relaxation);
  double solve_turbulence(double relaxation);
  void correct_pressure();
  void lay_wall();
  double radial_gradient(const Eigen::ArrayXXd& p, int i, int j) const;
  double axial_gradient(const Eigen::ArrayXXd& p, int i, int j) const;
  double face_u_z(int i, int j) const;
  void differentiate(const Eigen::ArrayXXd& v, bool still_at_wall, Slopes& slopes) const;
  void update_slopes();
  double cell_radius(int i, int j) const { return rc_(i) * width_(j); }
  double cell_volume(int i, int j) const { return area_(i) * dz_(j) * swelling_(j); }
  double level_area(int i, int face) const { return area_(i) * width_z_(face) * width_z_(face); }
  // Of a side face over its shadow on the cylinder, 1/cos of its angle with the axis.
  double wall_stretch(int face, int j) const {
    const double slope = r_(face) * slope_(j);
    return std::sqrt(1.0 + slope * slope);
  }
  double side_area(int face, int j) const {
    return two_pi * dz_(j) * width_(j) * r_(face) * wall_stretch(face, j);
  }
  // Mean of the four cells around a corner.
  static double around(const Eigen::ArrayXXd& v, int i, int j) {
    return 0.25 * (v(i - 1, j - 1) + v(i, j - 1) + v(i - 1, j) + v(i, j));
  }
  double fin_sink(int i, int j) const;  // kg m2/(s m2), what fins take of r u_theta
};

}  // namespace driftglow::swirl_flow
