#pragma once

#include "models/motion/advance.hpp"

namespace driftglow::flight {

// The numbers of a state or a sample in the order in which they stand in memory.
template <class State, class F>
void each_number(State& s, const F& f) {
  const auto vector = [&](auto& v) {
    f(v.x);
    f(v.y);
    f(v.z);
  };
  if constexpr (requires { s.move; }) {
    each_number(s.move, f);
    vector(s.n_W);
    vector(s.fluctuation);
    vector(s.spin_fluctuation);
    vector(s.acceleration_W);
    vector(s.spin_up_W);
  } else if constexpr (requires { s.p_W; }) {
    vector(s.p_W);
    vector(s.v_W);
    vector(s.omega_W);
  } else {
    vector(s.u_W);
    vector(s.curl_W);
    f(s.sigma);
    vector(s.grad_sigma_W);
    f(s.inverse_lagrangian_time);
    f(s.epsilon_cbrt);
  }
}

// Numbers that each_number() visits.
enum StateNumber { place_x = 0, velocity_x = 3, spin_x = 6, axis_x = 9, state_numbers = 24 };
inline constexpr int air_numbers = 12, kick_numbers = 6;

}  // namespace driftglow::flight
