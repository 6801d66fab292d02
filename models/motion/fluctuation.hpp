#pragma once

#include "models/numeric/elementary.hpp"
#include "models/numeric/vec3.hpp"

// What a moving tag sees of the turbulence: normalised Ornstein-Uhlenbeck processes with exact steps.
namespace driftglow::motion {

using numeric::Vec3;

// Rate 1/T [1/s] at which the velocity fluctuation seen by a tag is forgotten: T = T_L / sqrt(1 + (|u - v|
// T_L / L_E)^2), L_E = sigma T_L (Csanady 1963 [csanady1963]). slip_squared: |u - v|^2 [m2/s2], u the mean air
// velocity, not with its fluctuation. Zero where there is no turbulence.
template <class T>
T forgetting_rate(T inverse_lagrangian_time, T sigma, T slip_squared) {
  const T ratio_squared = slip_squared / numeric::maximum(sigma * sigma, T(1e-24));
  return inverse_lagrangian_time * numeric::square_root(T(1.0) + ratio_squared);
}

// One step of dw = -w dt/T + drift dt + sqrt(2/T) dW: exact in variance and autocorrelation at any dt; the
// drift (grad sigma, Thomson's well-mixed condition [thomson1987] for the normalised w = u'/sigma) to second
// order.
template <class T>
Vec3<T> advance_fluctuation(const Vec3<T>& w, const Vec3<T>& drift, T rate, T dt, const Vec3<T>& normal) {
  const T memory = numeric::exponential(-(rate * dt));
  const T kick = numeric::square_root(numeric::maximum(T(1.0) - memory * memory, T(0.0)));
  const T push = T(0.5) * dt * (T(1.0) + memory);
  return memory * w + push * drift + kick * normal;
}

// Rate [1/s] of the seen spin: T_Omega = (d^2 / epsilon)^(1/3), d the tag's diameter [m]; the standard
// deviation of the spin per axis is half of it, sigma_Omega = 0.5 (epsilon/d^2)^(1/3) (Parsa & Voth 2014
// [parsa2014, memory]).
inline constexpr double spin_deviation_over_rate = 0.5;
template <class T>
T spin_rate(T epsilon_cbrt, double inverse_diameter_two_thirds) {
  return epsilon_cbrt * T(inverse_diameter_two_thirds);
}

}  // namespace driftglow::motion
