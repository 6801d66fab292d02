#pragma once

#include "models/numeric/elementary.hpp"
#include "models/numeric/vec3.hpp"

namespace driftglow::motion {

// The unit vector n turned by the finite rotation `turn` [rad] (Rodrigues), renormalised so that rounding
// cannot add up.
template <class T>
numeric::Vec3<T> rotated(const numeric::Vec3<T>& n, const numeric::Vec3<T>& turn) {
  const T angle = numeric::norm(turn);
  const auto [sine, cosine] = numeric::sine_cosine(angle);
  const T inverse = T(1.0) / (angle + T(1e-30));
  const numeric::Vec3<T> axis = inverse * turn;
  const numeric::Vec3<T> moved =
      cosine * n + sine * numeric::cross(axis, n) + ((T(1.0) - cosine) * numeric::dot(axis, n)) * axis;
  return (T(1.0) / numeric::norm(moved)) * moved;
}

}  // namespace driftglow::motion
