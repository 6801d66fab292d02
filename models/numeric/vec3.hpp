#pragma once

#include "models/numeric/lane.hpp"

namespace driftglow::numeric {

// Three Cartesian components over the number type; Eigen's fixed vectors do not take masks, so the hot loop
// has its own.
template <class T>
struct Vec3 {
  T x, y, z;

  Vec3& operator+=(const Vec3& b) { return *this = *this + b; }
  Vec3& operator-=(const Vec3& b) { return *this = *this - b; }
  friend Vec3 operator+(const Vec3& a, const Vec3& b) { return {a.x + b.x, a.y + b.y, a.z + b.z}; }
  friend Vec3 operator-(const Vec3& a, const Vec3& b) { return {a.x - b.x, a.y - b.y, a.z - b.z}; }
  friend Vec3 operator*(const T& s, const Vec3& a) { return {s * a.x, s * a.y, s * a.z}; }
};

template <class T>
T dot(const Vec3<T>& a, const Vec3<T>& b) {
  return multiply_add(a.x, b.x, multiply_add(a.y, b.y, a.z * b.z));
}
template <class T>
Vec3<T> cross(const Vec3<T>& a, const Vec3<T>& b) {
  const auto difference = [](const T& p, const T& q, const T& r, const T& s) {
    return multiply_add(p, q, -(r * s));
  };
  return {difference(a.y, b.z, a.z, b.y), difference(a.z, b.x, a.x, b.z), difference(a.x, b.y, a.y, b.x)};
}
template <class T>
T norm(const Vec3<T>& a) {
  return square_root(dot(a, a));
}
template <class T>
Vec3<T> select(const Mask<T>& mask, const Vec3<T>& a, const Vec3<T>& b) {
  return {select(mask, a.x, b.x), select(mask, a.y, b.y), select(mask, a.z, b.z)};
}

}  // namespace driftglow::numeric
