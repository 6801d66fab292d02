#pragma once

#include <cmath>

#include "models/air/wall_shape.hpp"
#include "models/constants.hpp"
#include "models/motion/body.hpp"
#include "models/numeric/elementary.hpp"
#include "models/numeric/vec3.hpp"

namespace driftglow::motion {

using air::WallShape;
using numeric::Vec3;

// The vessel's inside: radius at the floor and height [m]; dR/dz of the wall [1].
struct Enclosure {
  double radius;
  double height;
  double slope = 0.0;

  WallShape wall() const { return slope == 0.0 ? WallShape::straight : WallShape::tapered; }
  double radius_at(double z) const { return radius + slope * z; }
  double widest() const { return slope > 0.0 ? radius_at(height) : radius; }
  double narrowest() const { return slope < 0.0 ? radius_at(height) : radius; }
  // Of the wall's angle with the axis.
  double cosine() const { return 1.0 / std::sqrt(1.0 + slope * slope); }
  // m3
  double volume() const {
    const double top = radius_at(height);
    return constant::pi * height * (radius * radius + radius * top + top * top) / 3.0;
  }
};

struct AirProperties {
  double density;            // kg/m3
  double dynamic_viscosity;  // Pa s
};

// Body constants that the step needs, worked out once.
struct BodyTerms {
  explicit BodyTerms(const Body& body, const AirProperties& air)
      : half_density(0.5 * air.density),
        area(constant::pi * body.radius * body.radius),
        reynolds_per_speed(2.0 * body.radius * air.density / air.dynamic_viscosity),
        spin_reynolds_per_rate(air.density * body.radius * body.radius / air.dynamic_viscosity),
        weight((body.mass - air.density * body.displaced_volume) * constant::gravity),
        inverse_mass(1.0 / body.mass),
        inverse_inertia(1.0 / (body.inertia * body.mass * body.radius * body.radius)),
        spin_drag(0.5 * air.density * body.radius * body.radius * body.radius * body.radius * body.radius),
        inverse_diameter_two_thirds(body.radius > 0.0 ? std::pow(2.0 * body.radius, -2.0 / 3.0) : 0.0),
        mean_drag_area(body.drag_law == DragLaw::fixed ? (body.area_along + 2.0 * body.area_across) / 3.0
                                                       : 0.0) {}
  double half_density;                 // kg/m3
  double area;                         // m2, pi a_b^2
  double reynolds_per_speed;           // s/m
  double spin_reynolds_per_rate;       // s
  double weight;                       // N, less buoyancy
  double inverse_mass;                 // 1/kg
  double inverse_inertia;              // 1/(kg m2)
  double spin_drag;                    // kg m2, 1/2 rho a_b^5
  double inverse_diameter_two_thirds;  // m^(-2/3), d^(-2/3), d = 2 a_b: epsilon^(1/3) to the rate of the seen
                                       // spin; 0 for a point, which has no eddies of its own size
  double mean_drag_area;               // m2, of the open frame over all directions; 0 for a smooth sphere
  double gust_share = 1.0;  // 1, energy of the gusts that is left in their mean over the tag, (0, 1]
};

// Drag coefficient of a sphere, Re = d |q| / nu < 3e5 (Clift & Gauvin 1971 [clift1971]); Re is kept above
// 1e-9.
template <class T>
T sphere_drag_coefficient(T reynolds) {
  const T re = numeric::maximum(reynolds, T(1e-9));
  const T log_re = numeric::logarithm(re);
  return T(24.0) / re * (T(1.0) + T(0.15) * numeric::exponential(T(0.687) * log_re)) +
         T(0.42) / (T(1.0) + T(42500.0) * numeric::exponential(T(-1.16) * log_re));
}

// Couple coefficient C_T of a spinning sphere times Re_W: torque = 1/2 rho C_T a^5 |W| W, Re_W = rho a^2 |W|
// / mu, C_T = 6.45/sqrt(Re_W) + 32.1/Re_W (Dennis, Singh & Ingham 1980 [dennis1980]; the Stokes limit 16 pi /
// Re_W below it). The product has no division and ends well at rest.
template <class T>
T sphere_torque_coefficient_times_reynolds(T spin_reynolds) {
  return numeric::maximum(T(6.45) * numeric::square_root(spin_reynolds) + T(32.1), T(16.0 * constant::pi));
}

// Spin lift coefficient min(0.4 a |W| / |q|, 0.35) (Tsuji, Morikawa & Mizuno 1985 [tsuji1985]; the cap is
// ours).
inline constexpr double spin_lift_slope = 0.4, spin_lift_cap = 0.35;

// Lift off a wall: coefficient on 1/2 rho pi a^2 q_parallel^2 (Einstein & El-Samni 1949 [einstein1949]),
// measured on a rough bed; its fading over one radius of gap is ours. The least certain force here.
inline constexpr double wall_lift_coefficient = 0.178;

// What the air does to a tag: force [N] and torque about the centre of mass [N m], frame W.
template <class T>
struct AirLoad {
  Vec3<T> force_W;
  Vec3<T> torque_W;
};

// Drag, spin lift, spin torque, frame torque and the couple of an offset centre of drag.
//   q = u + u' - v [m/s], n unit axis, spin_slip = Omega_f - Omega [rad/s]; back-spin lifts.
//   Frame torque: the drag area K (mean over directions) spread evenly over the sphere r = a_b, linearised in
//   the spin and averaged: 1/2 rho K |q| a_b^2 (2/3 W + 1/3 W across q), |q|^2 -> |q|^2 + (3 pi/16)^2 a_b^2
//   |W|^2, which is exact at |q| = 0 too and within 6 % of the sum over the sphere in between.
template <DragLaw law, class T>
AirLoad<T> air_load(const Body& body, const BodyTerms& terms, const Vec3<T>& q, const Vec3<T>& n,
                    const Vec3<T>& spin_slip) {
  const T tiny(1e-30);
  const T q2 = numeric::dot(q, q), speed = numeric::square_root(q2 + tiny);
  const T slip2 = numeric::dot(spin_slip, spin_slip), slip = numeric::square_root(slip2 + tiny);

  AirLoad<T> load;
  if constexpr (law == DragLaw::sphere) {
    const T drag = sphere_drag_coefficient(speed * T(terms.reynolds_per_speed));
    load.force_W = (T(terms.half_density * terms.area) * drag * speed) * q;
  } else {
    const T along = numeric::dot(q, n);
    const T pressure = T(terms.half_density) * speed;
    load.force_W =
        (pressure * T(body.area_across)) * q + (pressure * T(body.area_along - body.area_across) * along) * n;
  }

  const T lift_over_slip =
      numeric::minimum(T(spin_lift_slope * body.radius), T(spin_lift_cap) * speed / slip);
  load.force_W += (T(terms.half_density * terms.area) * lift_over_slip) * numeric::cross(spin_slip, q);

  const T couple = sphere_torque_coefficient_times_reynolds(slip * T(terms.spin_reynolds_per_rate));
  load.torque_W = (T(terms.spin_drag / terms.spin_reynolds_per_rate) * couple) * spin_slip;
  if constexpr (law == DragLaw::fixed) {
    const T a2(body.radius * body.radius);
    constexpr double at_rest = 3.0 * constant::pi / 16.0;
    const T effective2 = q2 + T(at_rest * at_rest) * a2 * slip2 + tiny;
    const T scale = T(terms.half_density * terms.mean_drag_area) * a2 * numeric::square_root(effective2);
    const T along = numeric::dot(spin_slip, q) / effective2;
    load.torque_W += scale * (spin_slip - (T(1.0 / 3.0) * along) * q);
  }
  load.torque_W += T(body.centre_offset) * numeric::cross(n, load.force_W);
  return load;
}

// Lift off the wall, floor and lid [N] at place p_W of the centre.
template <WallShape wall = WallShape::straight, class T>
Vec3<T> wall_lift(const Body& body, const BodyTerms& terms, const Enclosure& vessel, const Vec3<T>& p_W,
                  const Vec3<T>& q) {
  const T inverse_radius(1.0 / body.radius);
  const T scale(terms.half_density * terms.area * wall_lift_coefficient);
  const T radius = numeric::square_root(p_W.x * p_W.x + p_W.y * p_W.y + T(1e-30));
  const auto nearness = [&](T distance) {
    return numeric::minimum(numeric::maximum(T(2.0) - distance * inverse_radius, T(0.0)), T(1.0));
  };
  constexpr bool tapered = wall == WallShape::tapered;
  T distance = T(vessel.radius) - radius;
  if constexpr (tapered) distance = T(vessel.cosine()) * (distance + T(vessel.slope) * p_W.z);
  const T near_wall = nearness(distance);
  const T near_floor = nearness(p_W.z), near_lid = nearness(T(vessel.height) - p_W.z);
  const T q2 = numeric::dot(q, q);
  const T inverse = T(1.0) / radius;
  T across_wall = (q.x * p_W.x + q.y * p_W.y) * inverse;
  T upward = scale * (near_floor - near_lid) * (q2 - q.z * q.z);
  if constexpr (tapered) {
    across_wall = T(vessel.cosine()) * (across_wall - T(vessel.slope) * q.z);
    const T lift = T(vessel.cosine()) * (scale * near_wall * (q2 - across_wall * across_wall));
    return {-(lift * inverse) * p_W.x, -(lift * inverse) * p_W.y, upward + T(vessel.slope) * lift};
  }
  const T inward = -(scale * near_wall * (q2 - across_wall * across_wall)) * inverse;
  return {inward * p_W.x, inward * p_W.y, upward};
}

}  // namespace driftglow::motion
