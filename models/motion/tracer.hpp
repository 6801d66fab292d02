#pragma once

#include "models/motion/forces.hpp"

namespace driftglow::motion {

// Mirrors a tracer that has left the region of radius `reach_radius` (at z = 0, changing by `slope` a height)
// and heights [low, high] back into it, together with its velocity and its fluctuation: what keeps well-mixed
// tracers well mixed at a wall.
template <WallShape shape = WallShape::straight, class T>
void reflect(double reach_radius, double low, double high, Vec3<T>& p_W, Vec3<T>& v_W, Vec3<T>& w,
             double slope = 0.0) {
  const auto mirror = [&](const numeric::Mask<T>& outside, const Vec3<T>& normal, T depth) {
    const auto turned = [&](const Vec3<T>& a) {
      return numeric::select(outside, a - (T(2.0) * numeric::dot(a, normal)) * normal, a);
    };
    p_W -= numeric::select(outside, T(2.0) * depth, T(0.0)) * normal;
    v_W = turned(v_W);
    w = turned(w);
  };
  const T zero(0.0), one(1.0);
  const T radius = numeric::square_root(p_W.x * p_W.x + p_W.y * p_W.y + T(1e-30));
  if constexpr (shape == WallShape::tapered) {
    const double cosine = 1.0 / std::sqrt(1.0 + slope * slope);
    const T beyond = radius - (T(reach_radius) + T(slope) * p_W.z);
    if (numeric::any(beyond > zero)) {
      const T share = T(cosine) / radius;
      mirror(beyond > zero, {share * p_W.x, share * p_W.y, T(-cosine * slope)}, T(cosine) * beyond);
    }
  } else if (numeric::any(radius > T(reach_radius))) {
    mirror(radius > T(reach_radius), {p_W.x / radius, p_W.y / radius, zero}, radius - T(reach_radius));
  }
  mirror(p_W.z > T(high), {zero, zero, one}, p_W.z - T(high));
  mirror(p_W.z < T(low), {zero, zero, one}, p_W.z - T(low));
}

}  // namespace driftglow::motion
