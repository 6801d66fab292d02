#pragma once

#include <bit>
#include <cmath>
#include <cstdint>

// The number type of the hot loop. Physics is written over T with the operations of this file: arithmetic,
// comparison giving a mask, select instead of a branch, gather instead of an indexed read. Here T = double,
// one vessel at a time; a pack of lanes (one vessel a lane) needs the same set of overloads and no change in
// the physics.
namespace driftglow::numeric {

template <class T>
struct Lane;

template <>
struct Lane<double> {
  using Mask = bool;
  using Index = std::int64_t;
};

template <class T>
using Mask = typename Lane<T>::Mask;
template <class T>
using Index = typename Lane<T>::Index;

inline double select(bool mask, double if_true, double if_false) {
  return mask ? if_true : if_false;
}
inline bool any(bool mask) {
  return mask;
}
inline double minimum(double a, double b) {
  return a < b ? a : b;
}
inline double maximum(double a, double b) {
  return a > b ? a : b;
}
inline double square_root(double x) {
  return std::sqrt(x);
}
inline double absolute(double x) {
  return std::fabs(x);
}

// Whole number not above x, for 0 <= x < 2^31.
inline std::int64_t truncate(double x) {
  return static_cast<std::int64_t>(x);
}
inline double to_real(std::int64_t i) {
  return static_cast<double>(i);
}
inline double gather(const double* table, std::int64_t i) {
  return table[i];
}

// x = mantissa * 2^exponent with mantissa in [1, 2); x positive and normal.
inline double split_exponent(double x, double& mantissa) {
  const auto bits = std::bit_cast<std::uint64_t>(x);
  mantissa = std::bit_cast<double>((bits & 0x000fffffffffffffULL) | 0x3ff0000000000000ULL);
  return static_cast<double>(static_cast<std::int64_t>(bits >> 52) - 1023);
}

// x * 2^k for a whole k in [-1022, 1023], given as a number.
inline double scale_exponent(double x, double k) {
  const auto biased = static_cast<std::uint64_t>(static_cast<std::int64_t>(k) + 1023);
  return x * std::bit_cast<double>(biased << 52);
}

inline double round_nearest(double x) {
  // Adding and taking away 1.5 * 2^52 rounds to the nearest whole number in the default rounding mode.
  constexpr double shift = 6755399441055744.0;
  return (x + shift) - shift;
}

}  // namespace driftglow::numeric
