#pragma once

#include <limits>

#include "models/numeric/lane.hpp"

// Four lanes of single precision in the compilers' portable vector type: what every machine can do. Meaning
// of the operations: lane.hpp. Include it first. The inline namespace gives everything made of this pack a
// symbol of its own.
namespace driftglow::numeric {
inline namespace baseline {

using Floats = float __attribute__((vector_size(16)));
using Ints = std::int32_t __attribute__((vector_size(16)));
using Words = std::uint32_t __attribute__((vector_size(16)));

struct Pack {
  Floats v;
  Pack() = default;
  explicit Pack(Floats x) : v(x) {}
  explicit Pack(double x) : v(Floats{} + static_cast<float>(x)) {}
};
struct PackMask {
  Ints m;  // -1 or 0
};
struct PackIndex {
  Ints v;
};

inline Pack operator+(const Pack& x, const Pack& y) {
  return Pack(x.v + y.v);
}
inline Pack operator-(const Pack& x, const Pack& y) {
  return Pack(x.v - y.v);
}
inline Pack operator*(const Pack& x, const Pack& y) {
  return Pack(x.v * y.v);
}
inline Pack operator/(const Pack& x, const Pack& y) {
  return Pack(x.v / y.v);
}
inline Pack operator-(const Pack& x) {
  return Pack(-x.v);
}
inline PackMask operator<(const Pack& x, const Pack& y) {
  return {x.v < y.v};
}
inline PackMask operator>(const Pack& x, const Pack& y) {
  return {x.v > y.v};
}
inline PackMask operator<=(const Pack& x, const Pack& y) {
  return {x.v <= y.v};
}
inline PackMask operator==(const Pack& x, const Pack& y) {
  return {x.v == y.v};
}
inline Pack select(const PackMask& m, const Pack& x, const Pack& y) {
  return Pack(
      reinterpret_cast<Floats>((m.m & reinterpret_cast<Ints>(x.v)) | (~m.m & reinterpret_cast<Ints>(y.v))));
}
inline std::uint32_t bits(const PackMask& m) {
  return (m.m[0] & 1U) | (m.m[1] & 2U) | (m.m[2] & 4U) | (m.m[3] & 8U);
}
inline bool any(const PackMask& m) {
  return bits(m) != 0;
}
inline Pack multiply_add(const Pack& a, const Pack& b, const Pack& c) {
  return Pack(a.v * b.v + c.v);
}
inline Pack minimum(const Pack& x, const Pack& y) {
  return select(x < y, x, y);
}
inline Pack maximum(const Pack& x, const Pack& y) {
  return select(x > y, x, y);
}
inline Pack square_root(const Pack& x) {
  return Pack(Floats{std::sqrt(x.v[0]), std::sqrt(x.v[1]), std::sqrt(x.v[2]), std::sqrt(x.v[3])});
}
inline Pack absolute(const Pack& x) {
  return Pack(reinterpret_cast<Floats>(reinterpret_cast<Ints>(x.v) & 0x7fffffff));
}
inline Pack round_nearest(const Pack& x) {
  // Adding and taking away 2^23 rounds a magnitude below it to the nearest whole number; others are whole.
  constexpr float shift = 8388608.0f;
  const Ints sign = reinterpret_cast<Ints>(x.v) & std::numeric_limits<std::int32_t>::min();
  const Pack magnitude = absolute(x);
  const Ints rounded = reinterpret_cast<Ints>((magnitude.v + shift) - shift);
  return select(magnitude < Pack(8388608.0), Pack(reinterpret_cast<Floats>(rounded | sign)), x);
}
inline PackIndex truncate(const Pack& x) {
  return {__builtin_convertvector(x.v, Ints)};
}
inline Pack to_real(const PackIndex& i) {
  return Pack(__builtin_convertvector(i.v, Floats));
}
inline Pack scale_exponent(const Pack& x, const Pack& k) {
  return Pack(x.v * reinterpret_cast<Floats>((truncate(k).v + 127) << 23));
}
inline Pack split_exponent(const Pack& x, Pack& mantissa) {
  const Ints raw = reinterpret_cast<Ints>(x.v);
  mantissa.v = reinterpret_cast<Floats>((raw & 0x007fffff) | 0x3f800000);
  return to_real({(raw >> 23) - 127});
}
inline PackIndex operator*(const PackIndex& i, int n) {
  return {i.v * n};
}
inline PackIndex operator+(const PackIndex& i, int n) {
  return {i.v + n};
}
inline PackIndex operator+(const PackIndex& i, const PackIndex& j) {
  return {i.v + j.v};
}

}  // namespace baseline

template <>
struct Lane<Pack> {
  using Mask = PackMask;
  using Index = PackIndex;
  struct Bits {
    Words v;
  };
  using Real = float;
  static constexpr int width = 4;
  static Pack load(const float* from) { return Pack(*reinterpret_cast<const Floats*>(from)); }
  static PackIndex number() { return {Ints{0, 1, 2, 3}}; }
  static Bits draw(std::uint64_t* state, const std::uint64_t* increment) {
    const auto one = [&](int lane) {
      const int slot = stream_slot(lane, 4);
      return numeric::draw<double>(state + slot, increment + slot);
    };
    return {Words{one(0), one(1), one(2), one(3)}};
  }
};

inline namespace baseline {

inline void store(float* to, const Pack& x) {
  *reinterpret_cast<Floats*>(to) = x.v;
}

template <int count>
void load_row(const float* table, const PackIndex& i, Pack (&out)[count]) {
  static_assert(count % 4 == 0);
  unrolled<count>([&](auto k) {
    const float* from = table + k;
    out[k].v = Floats{from[i.v[0]], from[i.v[1]], from[i.v[2]], from[i.v[3]]};
  });
}
inline Pack fixed_value(const Pack& a) {
  return Pack(__builtin_convertvector(reinterpret_cast<Ints>(a.v), Floats));
}
inline Pack fixed_difference(const Pack& a, const Pack& b) {
  return Pack(__builtin_convertvector(reinterpret_cast<Ints>(a.v) - reinterpret_cast<Ints>(b.v), Floats));
}
inline void load_two(const float* table, const PackIndex& i, Pack& first, Pack& second) {
  first.v = Floats{table[i.v[0]], table[i.v[1]], table[i.v[2]], table[i.v[3]]};
  second.v = Floats{table[i.v[0] + 1], table[i.v[1] + 1], table[i.v[2] + 1], table[i.v[3] + 1]};
}

inline Pack unit_interval(const Lane<Pack>::Bits& drawn) {
  const Words in_one_to_two = (drawn.v >> 9) | 0x3f800000U;
  return Pack(reinterpret_cast<Floats>(in_one_to_two) - 0x1.fffffep-1f);
}

}  // namespace baseline
}  // namespace driftglow::numeric
