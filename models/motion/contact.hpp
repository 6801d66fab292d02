#pragma once

#include "models/motion/body.hpp"
#include "models/motion/forces.hpp"
#include "models/numeric/vec3.hpp"

namespace driftglow::motion {

// Below this approach speed [m/s] an impact does not bounce. Larger than what gravity or the air add in one
// step (about 0.01..0.03 m/s at 1 ms), so that rest does not depend on the step; a bounce this slow would
// rise 0.1 mm. Ours.
inline constexpr double rest_speed = 0.05;

// A surface counts as touched within this share of the tag's radius.
inline constexpr double touch_gap_over_radius = 0.02;

template <class T>
struct Movement {
  Vec3<T> p_W;      // m
  Vec3<T> v_W;      // m/s
  Vec3<T> omega_W;  // rad/s
};

// Contact with a fixed smooth surface: `normal` points into the vessel, gap [m] from the sphere to the
// surface. Where the gap is negative the sphere is set on the surface; where it also approaches, an impulse
// with restitution and Coulomb friction J_t = min(mu J_n, kappa/(1+kappa) m |slip|) coupled to the spin.
// Where the contact sticks, rolling resistance takes rolling_resistance J_n / (m (1 + kappa)) off the rolling
// speed, of place and spin together, and a like couple off the spin about the normal. All of these are shares
// of the normal impulse: at rest J_n = (force) dt, so thresholds of holding and rolling are those of forces
// and do not depend on dt. The place was moved by half_step (v before + v after the free step): it is
// corrected along the surface for the change of v made here, without which a held tag would creep at (push)
// dt.
template <class T>
void touch_surface(const Body& body, const Vec3<T>& normal, T gap, T half_step, Movement<T>& tag) {
  const auto inside = gap < T(0.0);
  if (!numeric::any(inside)) return;
  tag.p_W -= numeric::select(inside, gap, T(0.0)) * normal;

  const T approach =
      numeric::select(inside, numeric::maximum(-numeric::dot(tag.v_W, normal), T(0.0)), T(0.0));
  const T bounce = numeric::select(approach > T(rest_speed), T(body.restitution), T(0.0));
  const T normal_impulse = (T(1.0) + bounce) * approach;  // per mass
  tag.v_W += normal_impulse * normal;

  const T radius(body.radius), inverse_radius(1.0 / body.radius);
  const T across = numeric::dot(tag.v_W, normal);
  const Vec3<T> v_free = tag.v_W - across * normal;
  Vec3<T> v_along = v_free;
  const Vec3<T> slip = v_along - radius * numeric::cross(tag.omega_W, normal);
  const T slip_speed = numeric::norm(slip) + T(1e-30);
  const T to_stick = T(body.inertia / (1.0 + body.inertia)) * slip_speed;
  const T most = T(body.friction) * normal_impulse;
  const auto sticks = to_stick <= most;
  const Vec3<T> kick = (-(numeric::minimum(to_stick, most) / slip_speed)) * slip;
  v_along += kick;
  tag.omega_W -= (inverse_radius / T(body.inertia)) * numeric::cross(normal, kick);

  const T rolling = numeric::norm(v_along) + T(1e-30);
  const T brake = T(body.rolling_resistance / (1.0 + body.inertia)) * normal_impulse;
  const T keep = numeric::select(sticks, numeric::maximum(T(1.0) - brake / rolling, T(0.0)), T(1.0));
  const T pivot = numeric::dot(tag.omega_W, normal);
  const T pivot_brake = T(body.rolling_resistance / body.inertia) * normal_impulse * inverse_radius;
  const T pivot_keep = numeric::select(
      sticks, numeric::maximum(T(1.0) - pivot_brake / (numeric::absolute(pivot) + T(1e-30)), T(0.0)), T(1.0));
  const Vec3<T> tilt = tag.omega_W - pivot * normal;
  v_along = keep * v_along;
  // Lanes without contact keep their bits.
  tag.v_W = numeric::select<T>(inside, across * normal + v_along, tag.v_W);
  tag.p_W = numeric::select<T>(inside, tag.p_W + half_step * (v_along - v_free), tag.p_W);
  tag.omega_W = numeric::select<T>(inside, keep * tilt + (pivot_keep * pivot) * normal, tag.omega_W);
}

// Which surfaces a tag touches, for "pinned by surface".
enum Surface { wall, floor, lid, surfaces };

// Gaps [m] to the wall, the floor mesh and the lid.
template <class T>
struct Gaps {
  T of[surfaces];
};
template <WallShape shape = WallShape::straight, class T>
Gaps<T> gaps(const Body& body, const Enclosure& vessel, const Vec3<T>& p_W) {
  const T radius = numeric::square_root(p_W.x * p_W.x + p_W.y * p_W.y);
  if constexpr (shape == WallShape::tapered) {
    const T apart = T(vessel.radius) + T(vessel.slope) * p_W.z - radius;
    return {{T(vessel.cosine()) * apart - T(body.radius), p_W.z - T(body.radius),
             T(vessel.height - body.radius) - p_W.z}};
  }
  return {{T(vessel.radius - body.radius) - radius, p_W.z - T(body.radius),
           T(vessel.height - body.radius) - p_W.z}};
}

// Contact with the vessel: wall, then floor, then lid. Where floor or lid meet a cone at less than a right
// angle they push the tag back into the wall, by the square of the angle's sine; that is set right along r.
template <WallShape shape = WallShape::straight, class T>
void touch_vessel(const Body& body, const Enclosure& vessel, T half_step, Movement<T>& tag) {
  constexpr bool tapered = shape == WallShape::tapered;
  Gaps<T> gap = gaps<shape>(body, vessel, tag.p_W);
  if (numeric::any(gap.of[wall] < T(0.0))) {
    const T inverse =
        T(-1.0) / numeric::square_root(tag.p_W.x * tag.p_W.x + tag.p_W.y * tag.p_W.y + T(1e-30));
    Vec3<T> normal{inverse * tag.p_W.x, inverse * tag.p_W.y, T(0.0)};
    if constexpr (tapered) {
      const T cosine(vessel.cosine());
      normal = {cosine * normal.x, cosine * normal.y, T(vessel.cosine() * vessel.slope)};
    }
    touch_surface(body, normal, gap.of[wall], half_step, tag);
    if constexpr (tapered) gap = gaps<shape>(body, vessel, tag.p_W);
  }
  touch_surface(body, Vec3<T>{T(0.0), T(0.0), T(1.0)}, gap.of[floor], half_step, tag);
  touch_surface(body, Vec3<T>{T(0.0), T(0.0), T(-1.0)}, gap.of[lid], half_step, tag);
  if constexpr (tapered) {
    const T radius = numeric::square_root(tag.p_W.x * tag.p_W.x + tag.p_W.y * tag.p_W.y + T(1e-30));
    const T most = T(vessel.radius - body.radius / vessel.cosine()) + T(vessel.slope) * tag.p_W.z;
    const T kept = numeric::select(radius > most, most / radius, T(1.0));
    tag.p_W.x = kept * tag.p_W.x;
    tag.p_W.y = kept * tag.p_W.y;
  }
}

// Whether two tags at these places overlap.
template <class T>
numeric::Mask<T> overlap(const Body& a, const Body& b, const Vec3<T>& p_a, const Vec3<T>& p_b) {
  const Vec3<T> apart = p_a - p_b;
  const double reach = a.radius + b.radius;
  return numeric::dot(apart, apart) < T(reach * reach);
}

// Contact between two tags: impulse with the reduced mass, restitution and friction the geometric means of
// the two, friction coupled to both spins; overlap shared by inverse mass. Nothing happens where they do not
// overlap.
template <class T>
void touch_pair(const Body& a, const Body& b, Movement<T>& tag_a, Movement<T>& tag_b) {
  const auto overlaps = overlap(a, b, tag_a.p_W, tag_b.p_W);
  if (!numeric::any(overlaps)) return;

  const Vec3<T> apart = tag_a.p_W - tag_b.p_W;
  const T distance = numeric::square_root(numeric::dot(apart, apart) + T(1e-30));
  const T reach(a.radius + b.radius);
  const Vec3<T> normal = (T(1.0) / distance) * apart;  // from b to a
  const double inverse_a = 1.0 / a.mass, inverse_b = 1.0 / b.mass, inverse_sum = inverse_a + inverse_b;
  const T depth = numeric::select(overlaps, reach - distance, T(0.0));

  const Vec3<T> relative = tag_a.v_W - tag_b.v_W;
  const T approach =
      numeric::select(overlaps, numeric::maximum(-numeric::dot(relative, normal), T(0.0)), T(0.0));
  const T bounce = numeric::select(approach > T(rest_speed),
                                   numeric::square_root(T(a.restitution * b.restitution)), T(0.0));
  const T normal_impulse = (T(1.0) + bounce) * approach * T(1.0 / inverse_sum);

  const Vec3<T> slip = relative - numeric::dot(relative, normal) * normal -
                       numeric::cross(T(a.radius) * tag_a.omega_W + T(b.radius) * tag_b.omega_W, normal);
  const T slip_speed = numeric::norm(slip) + T(1e-30);
  const double compliance = inverse_a * (1.0 + 1.0 / a.inertia) + inverse_b * (1.0 + 1.0 / b.inertia);
  const T tangential = numeric::minimum(numeric::square_root(T(a.friction * b.friction)) * normal_impulse,
                                        slip_speed * T(1.0 / compliance));
  const Vec3<T> kick = (-(tangential / slip_speed)) * slip;
  const Vec3<T> impulse = normal_impulse * normal + kick;
  const Vec3<T> couple = numeric::cross(normal, kick);
  // Lanes without contact keep their bits, and so does a tag that meets one whose state is no longer finite:
  // a lost tag takes no other with it.
  const auto touches = numeric::select(overlaps, slip_speed, T(1e30)) < T(1e30);
  const auto change = [&](Vec3<T>& number, const Vec3<T>& by) {
    number = numeric::select<T>(touches, number + by, number);
  };
  change(tag_a.p_W, (T(inverse_a / inverse_sum) * depth) * normal);
  change(tag_b.p_W, (T(-inverse_b / inverse_sum) * depth) * normal);
  change(tag_a.v_W, T(inverse_a) * impulse);
  change(tag_b.v_W, T(-inverse_b) * impulse);
  change(tag_a.omega_W, T(-inverse_a / (a.inertia * a.radius)) * couple);
  change(tag_b.omega_W, T(-inverse_b / (b.inertia * b.radius)) * couple);
}

}  // namespace driftglow::motion
