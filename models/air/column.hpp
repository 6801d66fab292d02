#pragma once

#include <Eigen/Core>
#include <optional>

#include "models/numeric/bspline_map.hpp"

namespace driftglow::air {

// The one opening of the lid, concentric with it.
struct LidOpening {
  double inner_radius;  // m, 0 for a hole
  double outer_radius;  // m
};

// Openings in the side wall, between `bottom` and the lid.
struct SideVents {
  double bottom;    // m, height of their lower edge
  double fraction;  // 1, share of the flow that leaves through them
};

// Design of the closed-form airflow in an upright round vessel that is blown through its floor.
struct ColumnAir {
  double radius;               // m, R
  double height;               // m, H
  double flow;                 // m3/s, Q >= 0
  double kinematic_viscosity;  // m2/s
  double profile_exponent;     // 1, m >= 1: 1 is parabolic, large is a plug
  double circulation;          // 1, c: up in the middle and down at the wall where > 0
  std::optional<SideVents> side_vents;
  std::optional<LidOpening> lid_opening;  // absent: the whole lid is open
  double swirl_speed;                     // m/s, W: peak at the floor, before the fins' factor
  double fin_swirl_factor;                // 1, multiplies W; 1 without fins
  double swirl_core_radius;               // m, r_c
  double swirl_wall_exponent;             // 1, p >= 1
  std::optional<double> swirl_decay;      // 1, beta; absent: swirl_decay_rate()
  double turbulence_intensity;            // 1, I
  double turbulence_floor;                // m2/s2, k_floor
  std::optional<double> length_scale;     // m; absent: 0.14 R (Nikuradse's mixing length on a pipe's axis)
};

// Decay rate beta [1] of swirl along a smooth pipe, u_theta ~ e^(-beta z/D), D the diameter:
//   beta = 1.49 f, f Darcy's friction factor, 1/sqrt(f) = 1.8 log10(Re/6.9) (smooth), Re = U D/nu.
// Measured for Re 5e4 to 3e5 by Steenbergen & Voskamp 1998 [steenbergen1998]; f by Haaland [haaland1983].
// Kreith & Sonju 1965 [kreith1965] give 10-20 % left after 50 D at Re about 2e4 to 6e4, which this meets; the
// coefficients of their own series could not be checked and are not used. Below Re = 4000 the value there is
// kept: behind a fan and mesh the air stays turbulent. Over the 1 to 3 diameters of a vessel it matters
// little: e^(-0.04 z/D).
double swirl_decay_rate(double reynolds);

// Mean velocity, cylindrical components [m/s].
struct CylindricalVelocity {
  double u_r, u_theta, u_z;
};

// Column, closed form, with s = (r/R)^2 and U = Q/(pi R^2):
//   psi = (U R^2/2) [g(z) F(s,z) + c s (1-s) sin^2(pi z/H)],  u_r = -(1/r) dpsi/dz,  u_z = (1/r) dpsi/dr
//   F = F_m + b(z) (F_lid - F_m),  F_m = (m+1)/m (s - s^(m+1)/(m+1))
//   u_theta = W e^(-beta z/(2R)) h(r)/max h,  h = (1 - e^(-(r/r_c)^2))/(r/r_c) (1 - (r/R)^p)
//   k = 1.5 (I |u|)^2 + k_floor,  epsilon = C_mu^(3/4) k^(3/2)/l
// The rest is ours: b, quintic smoothstep 0 -> 1 over the last R/2 below the lid. F_lid of a hole, t =
// s/s_hole: 15/8 (t - 2t^3/3 + t^5/5) up to its edge (a jet of 1.875 times its mean speed in the middle),
// then 1; of a ring, t from edge to edge in s: quintic smoothstep. Both leave the velocity C1, so that a map
// of it needs few nodes. g: 1 up to the vents, cubic smoothstep down to 1 - fraction at the lid. Exactly
// divergence-free. Valid for 0 <= r <= R, 0 <= z <= H, regular on the axis. Neglected: wakes of fan and fins,
// the boundary layers of wall and floor (u_z vanishes at the wall only where c = 0), what the tags do to the
// air.
class Column {
 public:
  // Throws InputError for a value out of range.
  explicit Column(const ColumnAir& design);

  const ColumnAir& design() const { return design_; }
  double swirl_decay() const { return swirl_decay_; }    // 1, beta used
  double length_scale() const { return length_scale_; }  // m, l used
  double mean_speed() const { return mean_speed_; }      // m/s, U

  // psi [m3/s]; the flow through the disc of radius r is 2 pi psi.
  double stream_function(double r, double z) const;
  CylindricalVelocity velocity(double r, double z) const;
  double kinetic_energy(double r, double z) const;  // m2/s2, k
  double dissipation(double r, double z) const;     // m2/s3, epsilon

  // The same without 1/r, at s = (r/R)^2: psi/s [m3/s] and u_theta/r [1/s].
  double stream_over_s(double s, double z) const;
  double turn_rate(double s, double z) const;

 private:
  struct Profile {  // of a share of the flow F(s) inside s
    double over_s, slope;
  };
  struct Ramp {
    double value, slope;
  };
  static Ramp quintic_step(double t);
  Profile floor_profile(double s) const;
  Profile lid_profile(double s) const;
  Ramp lid_ramp(double z) const;
  Ramp vent_ramp(double z) const;

  ColumnAir design_;
  double mean_speed_;
  double swirl_decay_;
  double length_scale_;
  double swirl_turn_rate_;  // 1/s, u_theta/r on the axis at the floor
};

// Values of a column on an even grid, element (i, j) at (r_i, z_j).
struct AirTable {
  numeric::UniformAxis r, z;          // m
  Eigen::MatrixXd u_r, u_theta, u_z;  // m/s
  Eigen::MatrixXd kinetic_energy;     // m2/s2
  Eigen::MatrixXd dissipation;        // m2/s3
  Eigen::MatrixXd stream_function;    // m3/s
};

// r from 0 to R and z from 0 to H, both ends included; at least 2 nodes each, else LogicError.
AirTable tabulate(const Column& column, int r_nodes, int z_nodes);

}  // namespace driftglow::air
