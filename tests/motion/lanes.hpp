#pragma once

#include <array>
#include <cstdint>

#include "models/numeric/lane.hpp"

// A plain pack of four doubles with the operations of lane.hpp, to show that the physics takes a number type
// that is not double. Must be included before the physics, whose qualified calls look up what stands above
// them.
namespace driftglow::numeric {

constexpr int lanes = 4;

struct PackMask {
  std::array<bool, lanes> m;
};
struct PackIndex {
  std::array<std::int64_t, lanes> i;
};

struct Pack {
  std::array<double, lanes> a;
  Pack() = default;
  explicit Pack(double x) { a.fill(x); }
};

template <class F>
Pack each(F f) {
  Pack r;
  for (int k = 0; k < lanes; ++k) r.a[k] = f(k);
  return r;
}
template <class F>
PackMask mask_of(F f) {
  PackMask r;
  for (int k = 0; k < lanes; ++k) r.m[k] = f(k);
  return r;
}
template <class F>
PackIndex index_of(F f) {
  PackIndex r;
  for (int k = 0; k < lanes; ++k) r.i[k] = f(k);
  return r;
}

template <>
struct Lane<Pack> {
  using Mask = PackMask;
  using Index = PackIndex;
};

inline Pack operator+(const Pack& x, const Pack& y) {
  return each([&](int k) { return x.a[k] + y.a[k]; });
}
inline Pack operator-(const Pack& x, const Pack& y) {
  return each([&](int k) { return x.a[k] - y.a[k]; });
}
inline Pack operator*(const Pack& x, const Pack& y) {
  return each([&](int k) { return x.a[k] * y.a[k]; });
}
inline Pack operator/(const Pack& x, const Pack& y) {
  return each([&](int k) { return x.a[k] / y.a[k]; });
}
inline Pack operator-(const Pack& x) {
  return each([&](int k) { return -x.a[k]; });
}
inline PackMask operator<(const Pack& x, const Pack& y) {
  return mask_of([&](int k) { return x.a[k] < y.a[k]; });
}
inline PackMask operator>(const Pack& x, const Pack& y) {
  return y < x;
}
inline PackMask operator<=(const Pack& x, const Pack& y) {
  return mask_of([&](int k) { return x.a[k] <= y.a[k]; });
}
inline PackMask operator==(const Pack& x, const Pack& y) {
  return mask_of([&](int k) { return x.a[k] == y.a[k]; });
}
inline Pack select(const PackMask& m, const Pack& x, const Pack& y) {
  return each([&](int k) { return m.m[k] ? x.a[k] : y.a[k]; });
}
inline bool any(const PackMask& m) {
  for (const bool b : m.m) {
    if (b) return true;
  }
  return false;
}
inline Pack minimum(const Pack& x, const Pack& y) {
  return select(x < y, x, y);
}
inline Pack maximum(const Pack& x, const Pack& y) {
  return select(x > y, x, y);
}
inline Pack square_root(const Pack& x) {
  return each([&](int k) { return square_root(x.a[k]); });
}
inline Pack absolute(const Pack& x) {
  return each([&](int k) { return absolute(x.a[k]); });
}
inline Pack round_nearest(const Pack& x) {
  return each([&](int k) { return round_nearest(x.a[k]); });
}
inline Pack scale_exponent(const Pack& x, const Pack& e) {
  return each([&](int k) { return scale_exponent(x.a[k], e.a[k]); });
}
inline Pack split_exponent(const Pack& x, Pack& mantissa) {
  return each([&](int k) { return split_exponent(x.a[k], mantissa.a[k]); });
}
inline PackIndex truncate(const Pack& x) {
  return index_of([&](int k) { return truncate(x.a[k]); });
}
inline Pack to_real(const PackIndex& i) {
  return each([&](int k) { return to_real(i.i[k]); });
}
inline PackIndex operator*(const PackIndex& i, int n) {
  return index_of([&](int k) { return i.i[k] * n; });
}
inline PackIndex operator+(const PackIndex& i, int n) {
  return index_of([&](int k) { return i.i[k] + n; });
}
inline PackIndex operator+(const PackIndex& i, const PackIndex& j) {
  return index_of([&](int k) { return i.i[k] + j.i[k]; });
}
inline Pack gather(const double* table, const PackIndex& i) {
  return each([&](int k) { return table[i.i[k]]; });
}

}  // namespace driftglow::numeric
