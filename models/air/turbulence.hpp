#pragma once

#include <cmath>

#include "models/numeric/lane.hpp"

namespace driftglow::air {

// epsilon [m2/s3] of k [m2/s2] and a length scale [m]: C_mu^(3/4) k^(3/2)/l, C_mu = 0.09 (Launder & Spalding
// 1974 [launder1974]).
inline double dissipation_from_length(double kinetic_energy, double length_scale) {
  return std::pow(0.09, 0.75) * kinetic_energy * std::sqrt(kinetic_energy) / length_scale;
}

// 1/T_L [1/s], T_L = 0.2 k/epsilon the time over which a fluid particle keeps its fluctuation, from sigma
// [m/s], 3/2 sigma^2 = k; 0 without turbulence. The factor is uncertain: 0.15 to 0.3 are in use.
template <class T>
T inverse_lagrangian_time(T sigma, T dissipation) {
  using numeric::maximum;
  using numeric::select;
  const T none(0.0);
  return select(sigma > none, dissipation / maximum(T(0.2 * 1.5) * sigma * sigma, T(1e-24)), none);
}

// sigma [m/s], standard deviation of each velocity component of isotropic turbulence: sqrt(2k/3).
inline double fluctuation(double kinetic_energy) {
  return std::sqrt(2.0 / 3.0 * kinetic_energy);
}

}  // namespace driftglow::air
