#pragma once

#include "models/air/air_map.hpp"
#include "models/motion/contact.hpp"
#include "models/motion/fluctuation.hpp"
#include "models/motion/forces.hpp"
#include "models/motion/rotation.hpp"

// One time step of a tag between contacts. Place and mean flow to second order: the air is sampled once, half
// a step ahead, and velocities half a step ahead come from the accelerations of the step before.
namespace driftglow::motion {

template <class T>
struct TagState {
  Movement<T> move;
  Vec3<T> n_W;               // unit, coil axis
  Vec3<T> fluctuation;       // 1, seen u' / sigma
  Vec3<T> spin_fluctuation;  // 1, seen omega' / sigma_Omega
  Vec3<T> acceleration_W;    // m/s2, of the step before
  Vec3<T> spin_up_W;         // rad/s2, of the step before
};

// What the tag sees of the air, averaged over the step.
template <class T>
struct SeenAir {
  Vec3<T> u_W;      // m/s, mean and fluctuation
  Vec3<T> omega_W;  // rad/s, half the curl and its fluctuation
};

// Advances the two seen fluctuations and joins them to the mean air. slip_squared: |u - v|^2 [m2/s2] for
// Csanady's factor. Gusts smaller than the tag are averaged over it: sigma^2 times terms.gust_share, T over
// it.
template <class T>
SeenAir<T> see(const BodyTerms& terms, const air::AirSample<T>& air, T slip_squared, T dt,
               const Vec3<T>& velocity_normal, const Vec3<T>& spin_normal, TagState<T>& tag) {
  const T left(terms.gust_share), factor(std::sqrt(terms.gust_share));
  const T rate = left * forgetting_rate(air.inverse_lagrangian_time, air.sigma, slip_squared);
  const Vec3<T> w =
      advance_fluctuation(tag.fluctuation, factor * air.grad_sigma_W, rate, dt, velocity_normal);
  const T turning = spin_rate(air.epsilon_cbrt, terms.inverse_diameter_two_thirds);
  const Vec3<T> none{T(0.0), T(0.0), T(0.0)};
  const Vec3<T> s = advance_fluctuation(tag.spin_fluctuation, none, turning, dt, spin_normal);
  const SeenAir<T> seen{
      air.u_W + (T(0.5) * factor * air.sigma) * (tag.fluctuation + w),
      T(0.5) * air.curl_W + (T(0.5 * spin_deviation_over_rate) * turning) * (tag.spin_fluctuation + s)};
  tag.fluctuation = w;
  tag.spin_fluctuation = s;
  return seen;
}

// Where a tag will be half a step ahead: where its air is to be sampled.
template <class T>
Vec3<T> place_ahead(const Movement<T>& move, T dt) {
  return move.p_W + (T(0.5) * dt) * move.v_W;
}

// A body with mass. air: the sample at place_ahead().
template <DragLaw law, WallLift lift, WallShape shape = WallShape::straight, class T>
void advance_solid(const Body& body, const BodyTerms& terms, const Enclosure& vessel,
                   const air::AirSample<T>& air, T dt, const Vec3<T>& velocity_normal,
                   const Vec3<T>& spin_normal, TagState<T>& tag) {
  const T half = T(0.5) * dt;
  Movement<T>& move = tag.move;
  const Vec3<T> p_half = place_ahead(move, dt);
  const Vec3<T> v_half = move.v_W + half * tag.acceleration_W;
  const Vec3<T> omega_half = move.omega_W + half * tag.spin_up_W;
  const Vec3<T> n_ahead = tag.n_W + half * numeric::cross(omega_half, tag.n_W);
  const Vec3<T> n_half = (T(1.0) / numeric::norm(n_ahead)) * n_ahead;

  const Vec3<T> slip = air.u_W - v_half;
  const auto seen = see(terms, air, numeric::dot(slip, slip), dt, velocity_normal, spin_normal, tag);
  const Vec3<T> q = seen.u_W - v_half;
  auto load = air_load<law>(body, terms, q, n_half, seen.omega_W - omega_half);
  if constexpr (lift == WallLift::on) load.force_W += wall_lift<shape>(body, terms, vessel, p_half, q);
  load.force_W.z = load.force_W.z - T(terms.weight);

  tag.acceleration_W = T(terms.inverse_mass) * load.force_W;
  tag.spin_up_W = T(terms.inverse_inertia) * load.torque_W;
  const Vec3<T> v_before = move.v_W, omega_before = move.omega_W;
  move.v_W += dt * tag.acceleration_W;
  move.omega_W += dt * tag.spin_up_W;
  move.p_W += half * (v_before + move.v_W);
  tag.n_W = rotated(tag.n_W, half * (omega_before + move.omega_W));
}

// A tracer: goes where the seen air goes and turns with it; its fluctuation is that of a fluid particle.
// air: the sample at place_ahead().
template <class T>
void advance_tracer(const BodyTerms& terms, const air::AirSample<T>& air, T dt,
                    const Vec3<T>& velocity_normal, const Vec3<T>& spin_normal, TagState<T>& tag) {
  Movement<T>& move = tag.move;
  const auto seen = see(terms, air, T(0.0), dt, velocity_normal, spin_normal, tag);
  move.v_W = seen.u_W;
  move.omega_W = seen.omega_W;
  move.p_W += dt * move.v_W;
  tag.n_W = rotated(tag.n_W, dt * move.omega_W);
}

}  // namespace driftglow::motion
