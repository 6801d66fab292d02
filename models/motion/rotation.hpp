#pragma once

#include "models/numeric/vec3.hpp"

namespace driftglow::motion {

// The unit vector n turned by the finite rotation `turn` [rad], by the vector b = tan(|turn|/2) turn/|turn|
// (Rodrigues): n + 2/(1 + b^2) (b x n + b x (b x n)), with tan x = x (945 - 105 x^2 + x^4)/(945 - 420 x^2 +
// 15 x^4) (Lambert's continued fraction). A rotation whatever the angle, off by less than 1e-10 rad up
// to 1 rad, 1.5e-8 up to a quarter turn and 2.5e-5 up to a half; larger ones are no step's business.
// Renormalised to first order, so that rounding cannot add up.
template <class T>
numeric::Vec3<T> rotated(const numeric::Vec3<T>& n, const numeric::Vec3<T>& turn) {
  const T x2 = T(0.25) * numeric::dot(turn, turn);
  const T over = T(945.0) + x2 * (x2 - T(105.0));
  const T under = T(2.0) * (T(945.0) + x2 * (T(15.0) * x2 - T(420.0)));
  const numeric::Vec3<T> c = over * turn;  // b = c / under
  const numeric::Vec3<T> swing = numeric::cross(c, n);
  const T scale = T(2.0) / (under * under + numeric::dot(c, c));
  const numeric::Vec3<T> moved = n + scale * (under * swing + numeric::cross(c, swing));
  return (T(1.5) - T(0.5) * numeric::dot(moved, moved)) * moved;
}

}  // namespace driftglow::motion
