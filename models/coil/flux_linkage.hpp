#pragma once

#include <cstdint>
#include <span>

#include "models/coil/coil_map.hpp"
#include "models/coil/winding.hpp"
#include "models/numeric/lane.hpp"
#include "models/numeric/vec3.hpp"

namespace driftglow::coil {

// A receiver coil as the flux sees it: sums over its turns (radius a, offset zeta along the coil's axis from
// the centre of flux, weight w).
struct FluxMoments {
  double area_turns;     // m2, sum of w pi a^2: N A
  double curvature;      // m4, sum of w pi a^2 (zeta^2/2 - a^2/8)
  double axial_spread;   // m4, sum of w pi a^2 zeta^2/2
  double disc_radius;    // m, root mean square of a, weighted by w a^2
  double centre_offset;  // m, of the centre of flux along the axis from the winding's centre
};

// Throws LogicError without turns.
FluxMoments flux_moments(std::span<const Turn> receiver);

// Where a receiver is and how its axis points: cylindrical place (r, z) [m] and the unit axis in the local
// radial, azimuthal, axial directions there.
template <class T>
struct ReceiverPlace {
  T r, z;
  T n_r, n_t, n_z;
};

// The field along the axis per ampere of drive current.
template <class T>
struct FieldAlongAxis {
  T value;      // T/A, n.B at the centre
  T curvature;  // T/(A m2), (n.grad)^2 (n.B)
};

// n.B and its second derivative along n from P = B_r/r and B_z, with axial symmetry, curl B = 0 and div B = 0
// used so that nothing divides by r: B_r,rr = 2 P_r + r P_rr, B_r,rz = P_z + r P_rz, B_r,zz = r P_zz, (1/r)
// dB_r/dr - B_r/r^2 = P_r, B_z,rr = P_z + r P_rz, B_z,rz = r P_zz, B_z,r/r = P_z, B_z,zz = -(2 P_z + r P_rz).
template <class T>
FieldAlongAxis<T> field_along_axis(const CoilMap& map, const ReceiverPlace<T>& at) {
  const auto jets = map.jets(at.r, at.z);
  const auto& P = jets.radial_over_r;
  const T rr = at.n_r * at.n_r, tt = at.n_t * at.n_t, zz = at.n_z * at.n_z;
  const T rz = T(2.0) * at.n_r * at.n_z;
  const T P_r2 = T(2.0) * P.fx, P_z2 = T(2.0) * P.fy;
  const T mixed = P.fy + at.r * P.fxy;
  const T curve_z = at.r * P.fyy;
  const T radial = rr * (P_r2 + at.r * P.fxx) + rz * mixed + zz * curve_z + tt * P.fx;
  const T azimuthal = at.n_t * (at.n_r * P_r2 + at.n_z * P_z2);
  const T axial = rr * mixed + rz * curve_z - zz * (P_z2 + at.r * P.fxy) + tt * P.fy;
  return {at.n_r * at.r * P.f + at.n_z * jets.axial.f, at.n_r * radial + at.n_t * azimuthal + at.n_z * axial};
}

// Flux linkage per ampere [Wb/A] to second order: sum over turns of the mean over a disc in a harmonic field,
//   n.B - (a^2/8)(n.grad)^2(n.B) + O(a^4),  at each turn's offset zeta.
// Neglected: fourth derivatives, about (a/distance to the wires)^4.
template <class T>
T flux_curvature(const CoilMap& map, const FluxMoments& coil, const ReceiverPlace<T>& at) {
  const auto field = field_along_axis(map, at);
  return T(coil.area_turns) * field.value + T(coil.curvature) * field.curvature;
}

// The outer six of seven points on a disc of radius `disc_radius` [m] about p across the unit axis n: a
// hexagon at a sqrt(2/3). With weights 1/4 for the centre and 3/4 shared by the six exact to fifth degree
// (Abramowitz & Stegun 25.4.61 [abramowitz1964]). Calls use(point) for each.
template <class T, class Use>
void each_hexagon_point(const numeric::Vec3<T>& p, const numeric::Vec3<T>& n, double disc_radius,
                        const Use& use) {
  // Two unit vectors across n, without a branch on the lanes (Duff et al. 2017 [duff2017]).
  using numeric::select;
  const T sign = select(n.z < T(0.0), T(-1.0), T(1.0));
  const T a = T(-1.0) / (sign + n.z);
  const T b = n.x * n.y * a;
  const numeric::Vec3<T> first{T(1.0) + sign * n.x * n.x * a, sign * b, -sign * n.x};
  const numeric::Vec3<T> second{b, sign + n.y * n.y * a, -n.y};

  constexpr double half_root_3 = 0.86602540378443864676;
  constexpr double hexagon[6][2] = {{1.0, 0.0},  {0.5, half_root_3},   {-0.5, half_root_3},
                                    {-1.0, 0.0}, {-0.5, -half_root_3}, {0.5, -half_root_3}};
  const double ring = 0.81649658092772603273 * disc_radius;  // sqrt(2/3) a
  for (const auto& corner : hexagon) use(p + T(ring * corner[0]) * first + T(ring * corner[1]) * second);
}

// The same as flux_curvature() by seven points on the disc of disc_radius, the turns' axial spread by the
// curvature. For receivers close to the wires; seven times the reads.
template <class T>
T flux_seven_point(const CoilMap& map, const FluxMoments& coil, const ReceiverPlace<T>& at) {
  const auto centre = field_along_axis(map, at);
  T sum(0.0);
  // In the local radial, azimuthal and axial directions.
  const numeric::Vec3<T> place{at.r, T(0.0), at.z}, axis{at.n_r, at.n_t, at.n_z};
  each_hexagon_point(place, axis, coil.disc_radius, [&](const numeric::Vec3<T>& p) {
    const auto field = map.field(numeric::square_root(p.x * p.x + p.y * p.y), p.z);
    sum = sum + field.radial_over_r * (at.n_r * p.x + at.n_t * p.y) + at.n_z * field.axial;
  });
  return T(coil.area_turns) * (T(0.25) * centre.value + T(0.125) * sum) +
         T(coil.axial_spread) * centre.curvature;
}

enum class FluxRule { curvature, seven_point };

// What was chosen, and the largest EMF error found, relative to omega N A |B| (|B| with the map's floor near
// nulls).
struct FluxRuleChoice {
  FluxRule rule;
  double curvature_error;    // 1
  double seven_point_error;  // 1
  double error() const { return rule == FluxRule::curvature ? curvature_error : seven_point_error; }
};

// Tries both rules at random places and axes in the reach against fine quadrature of the map over every
// turn's disc (the map's own error, map.error(), comes on top) and takes the curvature rule when its error is
// at most 0.3 %, else the better one. `receiver`: turns with heights as offsets along the coil's axis from
// the tag's centre.
FluxRuleChoice choose_flux_rule(const CoilMap& map, std::span<const Turn> receiver, Reach reach,
                                std::uint64_t seed);

}  // namespace driftglow::coil
