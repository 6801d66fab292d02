#pragma once

#include <Eigen/Core>
#include <span>

#include "models/coil/flux_linkage.hpp"
#include "models/coil/winding.hpp"

namespace driftglow::coupling {

// Where a coil is: centre of its winding, unit vector of its axis; turns run right-handed about it.
struct Pose {
  Eigen::Vector3d centre;  // m
  Eigen::Vector3d axis;    // 1
};

// Mutual inductance [H] of two circular filaments anywhere, as the line integral of the first one's vector
// potential along the second, A_phi(rho, zeta) = M(a, rho, zeta)/(2 pi rho) with M Maxwell's coaxial formula:
//   M = int M(a, rho, zeta)/(2 pi rho^2) (x dy - y dx)   in the first one's frame.
// `points` > 2 of the trapezoidal rule, which converges as exp(-points x closest approach/radius): all digits
// from 40 radius/approach on. LogicError for a radius that is not positive. Infinite where the filaments
// touch.
double mutual_inductance(double radius_a, const Pose& a, double radius_b, const Pose& b, int points);

// The same for two windings given as turns (heights as offsets along the axis), all pairs of turns, to 1e-10
// for windings that are apart by a twentieth of their radius or more.
double mutual_inductance(std::span<const coil::Turn> a, const Pose& pose_a, std::span<const coil::Turn> b,
                         const Pose& pose_b);

// Two receivers in the flight, within 1 % of the coaxial value at the same distance (that of the largest
// coupling) for spheres' coils that do not touch, radius up to 0.85 of half the distance:
//   from `far_ratio` mean disc radii on, dipoles with the next order in size over distance,
//     M = mu0 m_a m_b/(4 pi d^3) [f + (q_a F_a + q_b F_b)/d^2],  f = 3 c_a c_b - g,
//     F_a = 105 c_a^3 c_b - 45 c_a c_b - 45 c_a^2 g + 9 g,
//   m area_turns, q = curvature/area_turns of FluxMoments, c the axes' cosines with the line between the
//   centres, g = n_a.n_b (F_b with a and b exchanged): q F/d^2 is d^2 x second derivative of the dipole field
//   along the axis; closer, one filament of disc_radius for each winding, 16 to 64 points: 8 radii over the
//   least approach that the centres' distance allows.
// Neglected there: the axial spread of short windings.
inline constexpr double far_ratio = 6.0;
double pair_mutual_inductance(const coil::FluxMoments& a, const Pose& pose_a, const coil::FluxMoments& b,
                              const Pose& pose_b);

}  // namespace driftglow::coupling
