#pragma once

#include <bit>
#include <cmath>
#include <cstdint>
#include <type_traits>
#include <utility>

// The number type of the hot loop. Physics is written over T with the operations of this file: arithmetic,
// comparison giving a mask, select instead of a branch, load_row instead of an indexed read. Here T = double,
// one vessel at a time; pack_*.hpp have the same set of operations for a pack of single-precision lanes, one
// vessel a lane. A pack's header must stand above the physics, whose qualified calls see what is declared
// before them.
//
// Every operation works on each lane alone and rounds as IEEE 754 says, so a lane's bits depend neither on
// the width of its pack nor on the compiler.
namespace driftglow::numeric {

inline constexpr std::uint64_t pcg32_multiplier = 6364136223846793005ULL;

// Where lane l of a pack keeps its generator: even lanes first, so that a register of 64-bit states holds
// what becomes the low halves, and one the high halves, of a register of 32-bit draws.
constexpr int stream_slot(int lane, int lanes) {
  return lanes == 1 ? 0 : (lane % 2) * (lanes / 2) + lane / 2;
}

// What belongs to a number type: Mask of a comparison, Index into a table, Bits of a random draw, the Real in
// which tables and states are stored, and the number of lanes.
template <class T>
struct Lane;

template <>
struct Lane<double> {
  using Mask = bool;
  using Index = std::int64_t;
  using Bits = std::uint32_t;
  using Real = double;
  static constexpr int width = 1;
  static double load(const double* from) { return *from; }
  static Index number() { return 0; }
  static Bits draw(std::uint64_t* state, const std::uint64_t* increment) {
    const std::uint64_t old = *state;
    *state = old * pcg32_multiplier + *increment;
    return std::rotr(static_cast<std::uint32_t>(((old >> 18) ^ old) >> 27), static_cast<int>(old >> 59));
  }
};

template <class T>
using Mask = typename Lane<T>::Mask;
template <class T>
using Index = typename Lane<T>::Index;
template <class T>
using Real = typename Lane<T>::Real;
template <class T>
inline constexpr int width = Lane<T>::width;
template <class T>
inline constexpr bool single_precision = std::is_same_v<Real<T>, float>;

// `width` values side by side in memory, a lane each; packs ask for an address that their width divides.
template <class T>
T load(const Real<T>* from) {
  return Lane<T>::load(from);
}
inline void store(double* to, double x) {
  *to = x;
}

// Each lane's number: 0, 1, ...
template <class T>
Index<T> lane_number() {
  return Lane<T>::number();
}

// One draw of the pcg32 generator (O'Neill 2014 [oneill2014]) in each lane, from `width` states and
// increments in the order of stream_slot().
template <class T>
typename Lane<T>::Bits draw(std::uint64_t* state, const std::uint64_t* increment) {
  return Lane<T>::draw(state, increment);
}

inline double select(bool mask, double if_true, double if_false) {
  return mask ? if_true : if_false;
}
inline bool any(bool mask) {
  return mask;
}
// Bit l for lane l.
inline std::uint32_t bits(bool mask) {
  return mask;
}
// a b + c. Packs of instruction sets that have it round once (fused): avx2 and avx512 alike.
inline double multiply_add(double a, double b, double c) {
  return a * b + c;
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

// Reads `count` (a multiple of 4) values that follow table[i] in each lane: out[k] = table[i + k]. A row of a
// table is a cache line or two, which single reads through an index would fetch again for every value.
template <int count>
void load_row(const double* table, std::int64_t i, double (&out)[count]) {
  for (int k = 0; k < count; ++k) out[k] = table[i + k];
}
// Of table values in fixed point: their value and their exact difference, both in units of the table's
// quantum. In tables of single precision they are 32-bit integers (as bits; only these two and load_row may
// touch them), whose differences keep digits that rounded values have lost; in double they are plain numbers.
inline double fixed_value(double a) {
  return a;
}
inline double fixed_difference(double a, double b) {
  return a - b;
}
// first = table[i], second = table[i + 1].
inline void load_two(const double* table, std::int64_t i, double& first, double& second) {
  first = table[i];
  second = table[i + 1];
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

// Uniform in (0, 1), never 0 or 1: the 2^23 cell middles that single precision holds exactly, so that scalar
// and lanes see one number.
inline double unit_interval(std::uint32_t drawn) {
  return (static_cast<double>(drawn >> 9) + 0.5) * 0x1p-23;
}

// Calls f with 0, ..., count - 1 as compile-time constants: loops over channels and neighbours must vanish.
template <int count, class F>
void unrolled(F f) {
  [&]<int... i>(std::integer_sequence<int, i...>) {
    (f(std::integral_constant<int, i>{}), ...);
  }
  (std::make_integer_sequence<int, count>{});
}

}  // namespace driftglow::numeric
