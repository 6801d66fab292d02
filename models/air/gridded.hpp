#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "models/air/air_map.hpp"

namespace driftglow::air {

// Mean flow and turbulence as computed or measured on a grid of (r, z), element (i, j) at (r_i, z_j). The
// outermost nodes lie on axis, wall, floor and lid or at most one spacing from them.
struct AirGrid {
  double radius;                                  // m, of the vessel
  double height;                                  // m
  std::vector<double> r, z;                       // m, rising, need not be even
  std::optional<Eigen::MatrixXd> u_r;             // m/s; absent: continuity gives it
  Eigen::MatrixXd u_theta, u_z;                   // m/s
  std::optional<Eigen::MatrixXd> kinetic_energy;  // m2/s2; absent: 1.5 (I |u|)^2 + floor
  std::optional<Eigen::MatrixXd> dissipation;     // m2/s3; absent: dissipation_from_length()
  double turbulence_intensity;                    // 1, I
  double turbulence_floor;                        // m2/s2
  double length_scale;                            // m
  std::optional<double> open_above;  // m, the wall lets air through from there up; absent: nowhere
};

// What the projection did to the velocities given, each relative to the largest speed given.
struct ProjectionChange {
  double rms;      // 1, mean square over the volume
  double largest;  // 1
  double r, z;     // m, place of the largest
};

struct GriddedAir {
  AirMap map;
  double flow;           // m3/s through the floor, up where > 0
  double largest_speed;  // m/s, of the grid
  ProjectionChange change;
  double divergence_before;  // 1, rms over the grid's cells, times R over the largest speed; 0 without u_r
};

// The divergence-free axisymmetric air nearest to a grid. The unknown is chi = psi/s of the stream function
// psi, s = (r/R)^2, as a cubic spline on even knots of (s, z): each such spline has
//   u_r = -(r/R^2) chi_z,  u_z = (2/R^2)(chi + s chi_s)
// with no divergence anywhere, and no flow through the wall where chi(1, z) is one constant, which stands
// among the unknowns. It is found by least squares over the volume,
//   min sum_i V_i |u_i - u(r_i, z_i)|^2 + lambda U^2 integral (chi_sss^2 + chi_zzz^2),
// V_i the node's share of the volume: in the limit of a fine grid the orthogonal (Helmholtz-Hodge) projection
// in kinetic energy. A projection by a Poisson equation would need u_r, and leave a field that is
// divergence-free on its grid but not as interpolated. Gamma = u_theta/r, sigma and epsilon^(1/3) are fitted
// likewise on their second derivatives (P-splines, Eilers & Marx 1996 [eilers1996]). lambda: the one of
// the best generalised cross-validation [craven1979] among those that leave a tenth of the values' degrees of
// freedom; the trace of the influence exact for few values, else by random vectors [girard1989]. At most 48
// cells in s and 64 in z: finer structure is averaged out. No-slip is not imposed. Throws InputError where
// the nodes do not cover the vessel or are too few, LogicError where shapes differ.
GriddedAir project(const AirGrid& grid);

}  // namespace driftglow::air
