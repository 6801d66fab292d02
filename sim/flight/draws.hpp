#pragma once

#include "models/constants.hpp"
#include "models/numeric/elementary.hpp"
#include "models/numeric/vec3.hpp"

// What a tag draws, from uniforms in (0, 1).
namespace driftglow::flight {

using numeric::Vec3;

// A direction uniform over the sphere.
template <class T>
Vec3<T> isotropic(T first, T second) {
  const T z = T(2.0) * first - T(1.0);
  const auto turn = numeric::sine_cosine_of_turns(second);
  const T s = numeric::square_root(numeric::maximum(T(1.0) - z * z, T(0.0)));
  return {s * turn.cosine, s * turn.sine, z};
}

// Six standard normals: what one step of one tag takes from its stream.
template <class T>
struct Kicks {
  Vec3<T> velocity, spin;
};

template <class T>
Kicks<T> kicks_of(const T (&u)[6]) {
  const auto a = numeric::normal_pair(u[0], u[1]);
  const auto b = numeric::normal_pair(u[2], u[3]);
  const auto c = numeric::normal_pair(u[4], u[5]);
  return {{a.first, a.second, b.first}, {b.second, c.first, c.second}};
}

template <class T>
Kicks<T> draw_kicks(std::uint64_t* state, const std::uint64_t* increment) {
  T u[6];
  for (T& x : u) x = numeric::unit_interval(numeric::draw<T>(state, increment));
  return kicks_of(u);
}

}  // namespace driftglow::flight
